"""The part of a run that can really be flown: from touch-down to lift-off, with both surfaces clear.

The aircraft comes down over one shore along the approach surface, whose lowest edge lies at the touch-down point, and
climbs out heavy along the departure surface, which rises from the lift-off point over the rest of the water and over
the other shore. `geo.survey.runs` re-exports `usable_run`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.base.geodesy import grid_heading_deg
from geo.base.grid import Grid
from geo.records.region import Obstacle
from geo.records.survey import SurveySettings
from geo.survey.clearance import Surroundings, length_words, surroundings
from geo.survey.ground import WITH_TREES, Ground, WaterMask
from geo.survey.usable.chord import Chord, chord
from geo.survey.usable.skyline import Skyline, axis_of

# A line counts as straight while no corner lies further aside than this.
STRAIGHT_M = 0.01
POINTS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


@dataclass(frozen=True)
class UsablePiece:
    """The longest piece flown in one direction. length_m: 0.0 where there is none, None where only missing knowledge
    stands in the way of one. line points the way flown (None without a piece); limited_by says what limits it."""

    heading_grid_deg: float
    length_m: float | None
    line: shapely.LineString | None
    limited_by: str


@dataclass(frozen=True)
class UsableRun:
    """What of a run is usable, flown from its first point to its last (ahead) and the other way (back)."""

    ahead: UsablePiece
    back: UsablePiece


def usable_of(found: Chord, around: Surroundings) -> UsableRun:
    """Give what of a chord is usable in both directions, with what limits it in words."""
    return UsableRun(_usable(found, around, ahead=True), _usable(found, around, ahead=False))


def _usable(found: Chord, around: Surroundings, *, ahead: bool) -> UsablePiece:
    ends = shapely.get_coordinates(found.line)[[0, -1]]
    first, last = (ends[0], ends[1]) if ahead else (ends[1], ends[0])
    heading = grid_heading_deg(tuple(first), tuple(last))
    sure, perhaps = found.longest(ahead, True), found.longest(ahead, False)
    best = sure if sure is not None else perhaps
    words = _limits(found, around, heading, best, tuple(first), tuple(last), ahead)
    if sure is None:
        return UsablePiece(heading, 0.0 if perhaps is None else None, None, words)
    if perhaps is not None and perhaps[1] - perhaps[0] > sure[1] - sure[0] + 1.0:
        words += f"; {perhaps[1] - perhaps[0]:.0f} m if nothing stands where heights are unknown"
    piece = found.piece(*sure)
    return UsablePiece(heading, sure[1] - sure[0], piece if ahead else shapely.reverse(piece), words)


def _limits(
    found: Chord,
    around: Surroundings,
    heading_deg: float,
    best: tuple[float, float] | None,
    first: tuple[float, float],
    last: tuple[float, float],
    ahead: bool,
) -> str:
    """Say what stands over the surfaces of the whole run, and how far each end gives way."""
    length_m = found.axis.length_m
    low, high = best if best is not None else (None, None)
    if not ahead and best is not None:
        low, high = length_m - best[1], length_m - best[0]
    parts = [f"crossed by {name}" for name in found.crossing]
    for what, end, toward, cut_m in (
        ("touch-down", first, (heading_deg + 180.0) % 360.0, low),
        ("lift-off", last, heading_deg, None if high is None else length_m - high),
    ):
        slope = around.settings.approach_slope if what == "touch-down" else None
        seen = around.beyond(end, toward, slope)
        side = POINTS[round(toward / 45.0) % 8]
        text = seen.what.replace("beyond the end", f"beyond the {side} end")
        if seen.unknown_heights:
            text += f"; no height known of {', '.join(seen.unknown_heights)}"
        if cut_m is None:
            if seen.excess_m is None or seen.excess_m > 0.0 or seen.unknown_heights:
                parts.append(f"no {what}: {text}")
        elif cut_m > 1.0 or seen.excess_m is None:
            parts.append(f"{what} {length_words(cut_m)} before the {side} end: {text}")
    if parts:
        return "; ".join(parts)
    if best is None:
        return "no room between the touch-down and the lift-off that are clear"
    return "nothing: both surfaces are clear at the run's own ends"


def usable_run(
    line: shapely.LineString,
    corridor_width_m: float,
    surface_elevation_m: float | None,
    terrain: Grid | None,
    terrain_error_m: float | None,
    obstacles: Sequence[Obstacle],
    obstacles_listed: bool,
    water: shapely.Polygon,
    settings: SurveySettings | None = None,
    canopy: Grid | None = None,
) -> UsableRun:
    """Give, for each direction flown, the longest piece of a run whose approach and departure surfaces are clear.

    Parameters
    ----------
    line: a straight run inside the water [m]. corridor_width_m: its clear width, the width of both surfaces where
    they begin [m]. surface_elevation_m of the water [m]; terrain [m] with its 90 % error [m]; obstacles of the
    neighbourhood; water, the polygon. settings: slope, divergence and length of the surfaces. canopy: height of trees
    above the terrain [m], NaN where unknown.

    Returns
    -------
    UsableRun: ahead (from the line's first point to its last) and back, each with length_m, line and limited_by.

    Raises
    ------
    BadArgument for a line without length, one with a bend, or a width below 0.

    Notes
    -----
    The piece is the longest between a touch-down and a lift-off that nothing bars. Every terrain cell and obstacle
    counts that any position's trapezoid reaches: the trapezoid of each position is used, not the one of the run's
    end, exactly for points; a cell or a slanting wire counts with its whole extent, so that the piece is never too
    long, and too short by at most a cell's size / slope. Where heights are unknown no end is good: length_m is then
    that of the piece that is clear for sure, or None. An obstacle within the corridor splits the run, and half the
    corridor's width is kept from it. Approach and departure have the same surface unless settings.approach_slope says
    another, and only then can the two directions differ.

    References
    ----------
    14 CFR Part 77 (heliport imaginary surfaces): approach surface 8:1 over 4,000 ft (1,219 m).
    """
    if not (np.isfinite(corridor_width_m) and corridor_width_m >= 0.0):
        raise BadArgument(f"corridor_width_m is {corridor_width_m}: it must be a finite width of 0 m or more")
    if line.is_empty or not line.length > 0.0:
        raise BadArgument("line has no length: give the run's two ends in metres")
    aside_m = np.abs(axis_of(line).place(*shapely.get_coordinates(line).T)[1]).max()
    if aside_m > STRAIGHT_M:
        raise BadArgument(
            f"line leaves the straight between its ends by {aside_m:.2f} m: give a straight run"
        )
    chosen = replace(settings or SurveySettings(), corridor_width_m=corridor_width_m)
    error_m = terrain_error_m if terrain_error_m is not None else 0.0
    if canopy is not None and terrain is not None:
        mask = WaterMask(water, terrain.raised_by(canopy))
        ground = Ground(water, mask, surface_elevation_m, error_m, WITH_TREES, terrain)
    else:
        mask = WaterMask(water, terrain) if terrain is not None else None
        ground = Ground(water, mask, surface_elevation_m, error_m)
    around = surroundings(ground, obstacles, obstacles_listed, chosen)
    return usable_of(chord(line, Skyline(around)), around)
