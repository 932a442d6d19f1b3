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
from geo.survey.ground import ground_round
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
    ends = [(float(x), float(y)) for x, y in shapely.get_coordinates(found.line)[[0, -1]]]
    first, last = ends if ahead else ends[::-1]
    heading_deg = grid_heading_deg(first, last)
    sure, perhaps = found.longest(ahead, True), found.longest(ahead, False)
    words = _limits(found, around, sure if sure is not None else perhaps, (first, last), ahead=ahead)
    if sure is None:
        return UsablePiece(heading_deg, 0.0 if perhaps is None else None, None, words)
    if perhaps is not None and perhaps[1] - perhaps[0] > sure[1] - sure[0] + 1.0:
        words += f"; {perhaps[1] - perhaps[0]:.0f} m if nothing stands where heights are unknown"
    piece = found.piece(*sure)
    return UsablePiece(heading_deg, sure[1] - sure[0], piece if ahead else shapely.reverse(piece), words)


def _limits(
    found: Chord,
    around: Surroundings,
    best: tuple[float, float] | None,
    ends: tuple[tuple[float, float], tuple[float, float]],
    *,
    ahead: bool,
) -> str:
    """Say what stands over the surfaces of the whole run, and how far each end gives way."""
    cuts: tuple[float | None, float | None] = (None, None)
    if best is not None:
        before, after = best[0], found.axis.length_m - best[1]
        cuts = (before, after) if ahead else (after, before)
    heading_deg = grid_heading_deg(*ends)
    parts = [
        *(f"crossed by {name}" for name in found.crossing),
        _end_limit(around, "touch-down", ends[0], (heading_deg + 180.0) % 360.0, cuts[0]),
        _end_limit(around, "lift-off", ends[1], heading_deg, cuts[1]),
    ]
    if any(parts):
        return "; ".join(part for part in parts if part)
    if best is None:
        return "nothing is left between a touch-down and a lift-off that are clear"
    return "nothing: both surfaces are clear at the run's own ends"


def _end_limit(
    around: Surroundings, what: str, end: tuple[float, float], toward_deg: float, cut_m: float | None
) -> str:
    """Say why a touch-down or lift-off is not at the run's own end; "" where it is. cut_m: how far it gives way [m]."""
    seen = around.beyond(end, toward_deg, around.settings.approach_slope if what == "touch-down" else None)
    side = POINTS[round(toward_deg / 45.0) % 8]
    text = seen.what.replace("beyond the end", f"beyond the {side} end")
    if seen.unknown_heights:
        text += f"; no height known of {', '.join(seen.unknown_heights)}"
    if cut_m is None:
        barred = seen.excess_m is None or seen.excess_m > 0.0 or seen.unknown_heights
        return f"no {what}: {text}" if barred else ""
    if cut_m > 1.0 or seen.excess_m is None:
        return f"{what} {length_words(cut_m)} before the {side} end: {text}"
    return ""


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

    Parameters: line: a straight run inside the water [m]. corridor_width_m: its clear width, the width of both surfaces
    where they begin [m]. surface_elevation_m of the water [m]; terrain [m] with its 90 % error [m]; obstacles of the
    neighbourhood; water, the polygon. settings: slope, divergence and length of the surfaces. canopy: height of trees
    above the terrain [m], NaN where unknown.
    Returns: UsableRun: ahead (from the line's first point to its last) and back, each with length_m, line and
    limited_by.
    Raises: BadArgument for a line without length, one with a bend, or a width below 0.

    Notes: The piece is the longest between a touch-down and a lift-off that nothing bars. Every terrain cell and
    obstacle counts that any position's trapezoid reaches: the trapezoid of each position is used, not the one of the
    run's end, exactly for points; a cell or a slanting wire counts with its whole extent, so that the piece is never
    too long, and too short by at most a cell's size / slope. Where heights are unknown no end is good: length_m is then
    that of the piece that is clear for sure, or None. An obstacle within the corridor splits the run, and half the
    corridor's width is kept from it. Approach and departure have the same surface unless settings.approach_slope says
    another, and only then can the two directions differ.
    References: 14 CFR Part 77 (heliport imaginary surfaces): approach surface 8:1 over 4,000 ft (1,219 m).
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
    covered = terrain.raised_by(canopy) if canopy is not None and terrain is not None else None
    ground = ground_round(water, terrain, surface_elevation_m, terrain_error_m, covered)
    around = surroundings(ground, obstacles, obstacles_listed, chosen)
    return usable_of(chord(line, Skyline(around)), around)
