"""The part of a run that can really be flown: from touch-down to lift-off, with both surfaces clear.

The aircraft comes down over one shore along the approach surface, whose lowest edge lies at the touch-down point, and
climbs out heavy along the departure surface, which rises from the lift-off point over the rest of the water and over
the other shore. A thing of height h at x along the run is under the departure surface of a lift-off at b when
x - b >= h / slope; it is beside it when it lies further aside than half the width + divergence x (x - b). So every
thing bars one open interval of lift-off points, x - h / slope < b < x - (aside - half) / divergence, and the usable
piece ends where no interval holds its end.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely

from geo.errors import BadArgument
from geo.geodesy import grid_heading_deg
from geo.grid import Grid
from geo.records.region import Obstacle
from geo.records.survey import SurveySettings
from geo.survey.clearance import Surroundings, length_words, surroundings
from geo.survey.ground import Ground, WaterMask
from geo.survey.usable.skyline import Axis, Risings, Skyline, axis_of

# An end keeps this much from the edge of a barred interval, far below any accuracy, so that rounding bars nothing.
EDGE_M = 1e-3
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


@dataclass(frozen=True, eq=False)
class Barred:
    """Open intervals (low_m[i], high_m[i]) of a line, sorted and apart, in which an end may not lie."""

    low_m: np.ndarray
    high_m: np.ndarray

    def holds(self, at_m: np.ndarray | float) -> np.ndarray:
        """Say of positions (n,) [m] whether they are barred."""
        at = np.searchsorted(self.low_m, at_m, side="left") - 1
        if self.low_m.size == 0:
            return np.zeros(np.shape(at_m), bool)
        return (at >= 0) & (np.asarray(at_m) < self.high_m[np.maximum(at, 0)])

    def last_free(self, at_m: np.ndarray) -> np.ndarray:
        """Give the last free place at or before each position [m]."""
        if self.low_m.size == 0:
            return np.asarray(at_m, float)
        at = np.maximum(np.searchsorted(self.low_m, at_m, side="left") - 1, 0)
        return np.where(self.holds(at_m), self.low_m[at], at_m)

    def first_free(self, at_m: np.ndarray) -> np.ndarray:
        """Give the first free place at or after each position [m]."""
        if self.low_m.size == 0:
            return np.asarray(at_m, float)
        at = np.maximum(np.searchsorted(self.low_m, at_m, side="left") - 1, 0)
        return np.where(self.holds(at_m), self.high_m[at], at_m)

    def reversed(self, length_m: float) -> "Barred":
        """Give the same intervals seen from the other end of a line of length_m [m]."""
        return Barred((length_m - self.high_m)[::-1], (length_m - self.low_m)[::-1])


def barred(low_m: np.ndarray, high_m: np.ndarray) -> Barred:
    """Give the union of open intervals, each wider by EDGE_M on both sides; empty ones (high <= low) drop out."""
    real = high_m > low_m
    order = np.argsort(low_m[real], kind="stable")
    low, high = low_m[real][order] - EDGE_M, np.maximum.accumulate(high_m[real][order] + EDGE_M)
    if low.size == 0:
        return Barred(low, high)
    opens = np.concatenate(([True], low[1:] > high[:-1]))
    closes = np.concatenate((opens[1:], [True]))
    return Barred(low[opens], high[closes])


def lift_off_barred(
    things: Risings, half_width_m: float, slope: float, divergence: float, look_m: float, *, sure: bool
) -> Barred:
    """Give where a lift-off in the line's direction is barred; sure: also by what is unknown.

    Notes: exact for points; for a thing with extent, of which near, far and least aside are known, it is the union of
    the intervals of all points that it could have, so never too little. Beyond look_m nothing is looked at.
    """
    unknown = np.isnan(things.rise_m)
    reach = np.where(unknown, look_m, np.minimum(np.nan_to_num(things.rise_m) / slope, look_m))
    beyond_side = np.maximum(things.aside_m - half_width_m, 0.0)
    if divergence > 0.0:
        high = things.far_m - beyond_side / divergence
    else:
        high = np.where(beyond_side > 0.0, -np.inf, things.far_m)
    kept = np.isfinite(high) & (sure | ~unknown)
    return barred((things.near_m - reach)[kept], high[kept])


@dataclass(frozen=True, eq=False)
class Chord:
    """A run inside the water with all that bars touch-downs and lift-offs on it.

    touch_down, lift_off: barred places by (ahead, sure): flown from the first to the last point or back; with what is
    unknown counted as barring or not. gaps: stretches [m] of the line that no obstacle crosses.
    """

    line: shapely.LineString
    axis: Axis
    touch_down: dict[tuple[bool, bool], Barred]
    lift_off: dict[tuple[bool, bool], Barred]
    gaps: tuple[tuple[float, float], ...]
    crossing: tuple[str, ...]

    def longest(
        self, ahead: bool, sure: bool, from_m: float = 0.0, to_m: float | None = None
    ) -> tuple[float, float] | None:
        """Give the longest usable stretch within a part of the line, as distances from its start [m], or None."""
        to_m = self.axis.length_m if to_m is None else to_m
        low_rule, high_rule = self.touch_down[ahead, sure], self.lift_off[ahead, sure]
        if not ahead:
            low_rule, high_rule = high_rule, low_rule
        best: tuple[float, float] | None = None
        for gap in self.gaps:
            start, end = max(gap[0], from_m), min(gap[1], to_m)
            if end > start:
                low, high = float(low_rule.first_free(start)), float(high_rule.last_free(end))
                if high > low and (best is None or high - low > best[1] - best[0]):
                    best = (low, high)
        return best

    def piece(self, low_m: float, high_m: float) -> shapely.LineString:
        """Give a stretch of the line, pointing as the line does."""
        ends = self.axis.start + np.array([[low_m], [high_m]]) * self.axis.direction
        return shapely.LineString(ends)

    @cached_property
    def same_both_ways(self) -> bool:
        """True where approach and departure surfaces are the same, so that both directions are."""
        return all(self.touch_down[True, sure] is self.lift_off[False, sure] for sure in (True, False))


def chord(line: shapely.LineString, skyline: Skyline) -> Chord:
    """Give a run with all that bars its ends; the water's level must be known, or every end is barred as unknown."""
    axis, chosen = axis_of(line), skyline.around.settings
    if skyline.around.ground.surface_m is None:
        return _unknown_chord(line, axis)
    things = skyline.along(axis)
    half_m, steep = chosen.corridor_width_m / 2.0, chosen.approach_slope
    touch_down: dict[tuple[bool, bool], Barred] = {}
    lift_off: dict[tuple[bool, bool], Barred] = {}
    for ahead in (True, False):
        seen = things if ahead else things.reversed(axis.length_m)
        for sure in (True, False):
            rule = (half_m, chosen.surface_slope, chosen.surface_divergence, chosen.end_look_m)
            found = lift_off_barred(seen, *rule, sure=sure)
            lift_off[ahead, sure] = found if ahead else found.reversed(axis.length_m)
            # The approach surface behind a touch-down is the departure surface of the opposite direction.
            if steep is None:
                touch_down[not ahead, sure] = lift_off[ahead, sure]
            else:
                found = lift_off_barred(seen, rule[0], steep, *rule[2:], sure=sure)
                touch_down[not ahead, sure] = found if ahead else found.reversed(axis.length_m)
    gaps, crossing = _gaps(things, axis.length_m, half_m)
    return Chord(line, axis, touch_down, lift_off, gaps, crossing)


def _unknown_chord(line: shapely.LineString, axis: Axis) -> Chord:
    never, always = barred(np.empty(0), np.empty(0)), barred(np.array([-np.inf]), np.array([np.inf]))
    rules = {(ahead, sure): always if sure else never for ahead in (True, False) for sure in (True, False)}
    return Chord(line, axis, rules, dict(rules), ((0.0, axis.length_m),), ())


def _gaps(
    things: Risings, length_m: float, half_m: float
) -> tuple[tuple[tuple[float, float], ...], tuple[str, ...]]:
    """Give the stretches of a line that no obstacle in its corridor crosses, and the names of those that do."""
    on = (
        things.solid
        & (things.aside_m < half_m)
        & (things.far_m >= -half_m)
        & (things.near_m <= length_m + half_m)
    )
    taken = barred(things.near_m[on] - half_m, things.far_m[on] + half_m)
    starts = np.concatenate(([0.0], taken.high_m))
    ends = np.concatenate((taken.low_m, [length_m]))
    gaps = tuple(
        (float(max(s, 0.0)), float(min(e, length_m))) for s, e in zip(starts, ends, strict=True) if e > s
    )
    gaps = tuple((s, e) for s, e in gaps if e > s)
    names = tuple(dict.fromkeys(things.labels[k] for k in things.label[on]))
    return gaps, names


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
    BadArgument for a line without length or a width below 0.

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
    chosen = replace(settings or SurveySettings(), corridor_width_m=corridor_width_m)
    if canopy is not None and terrain is not None:
        terrain = with_canopy(terrain, canopy)
    mask = WaterMask(water, terrain) if terrain is not None else None
    error_m = terrain_error_m if terrain_error_m is not None else 0.0
    around = surroundings(
        Ground(water, mask, surface_elevation_m, error_m), obstacles, obstacles_listed, chosen
    )
    return usable_of(chord(line, Skyline(around)), around)


def with_canopy(terrain: Grid, canopy: Grid) -> Grid:
    """Give terrain raised by the highest canopy [m] of all canopy cells that touch each terrain cell; NaN if any is."""
    rows, columns = terrain.values.shape
    east = terrain.west_m + np.arange(columns + 1) * terrain.cell_east_m
    north = terrain.north_m - np.arange(rows + 1) * terrain.cell_north_m
    left, right = _touched((east - canopy.west_m) / canopy.cell_east_m)
    top, bottom = _touched((canopy.north_m - north) / canopy.cell_north_m)
    c_rows, c_columns = canopy.values.shape
    padded = np.pad(canopy.values.astype(float), ((0, 1), (0, 1)), constant_values=np.nan)
    raised = _highest(_highest(padded, top, bottom, 0), left, right, 1)
    raised[(top < 0) | (bottom > c_rows), :] = np.nan
    raised[:, (left < 0) | (right > c_columns)] = np.nan
    return Grid(
        terrain.values + raised, terrain.west_m, terrain.north_m, terrain.cell_east_m, terrain.cell_north_m
    )


def _touched(edges: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Give from and to (exclusive) of the cells between following edges, which are in cells of the other raster."""
    return np.floor(edges[:-1] + 1e-9).astype(int), np.ceil(edges[1:] - 1e-9).astype(int)


def _highest(values: np.ndarray, start: np.ndarray, stop: np.ndarray, axis: int) -> np.ndarray:
    """Give the highest of the rows (columns) start[i] to stop[i] - 1, NaN if any is; what is outside is clipped."""
    most = values.shape[axis] - 1
    pairs = np.stack([np.clip(start, 0, most), np.clip(stop, 0, most)], axis=1).ravel()
    return np.take(np.maximum.reduceat(values, pairs, axis=axis), np.arange(0, pairs.size, 2), axis=axis)
