"""What a flown leg keeps, part by part: the least height above terrain and above obstacles, and where."""

import numpy as np
import shapely

from geo.flight.legs.circles import Room
from geo.flight.legs.climb import Course, Waits, altitudes_m
from geo.flight.legs.heights import Needs, Span
from geo.flight.legs.track import Track
from geo.records.flight import LegPart
from geo.records.geometry import PointM

# The flight from the side is thinned out by no more than this [m].
PATH_WITHIN_M = 0.1
STEP_BACK_M = 0.01


def path_of(course: Course, waits: Waits) -> tuple[tuple[float, float], ...]:
    """Give the flight from the side: pairs of distance along the leg and altitude [m], straight between them.

    Notes: the climb bends (its rate falls with height), so it is read every 50 m at most; upright where it circles.
    """
    length = float(course.knots_m[-1])
    even = np.linspace(0.0, length, max(int(length / 50.0), 1) + 1)
    # Where the climb begins the flight bends upward: a line across the bend would lie above it.
    begun = float(np.interp(course.level_s, course.climbing_s, course.knots_m))
    turns = [begun] + [at for at in (waits.up_at_m, waits.down_at_m) if at is not None]
    steps = np.concatenate((course.distance_m, course.knots_m, even, turns))
    beside = np.maximum(steps - STEP_BACK_M, 0.0), np.minimum(steps + STEP_BACK_M, length)
    places = np.unique(np.concatenate((steps, *beside)))
    heights = altitudes_m(course, places, waits)
    heights = np.concatenate(([course.start_altitude_m], heights, [course.end_altitude_m]))
    line = shapely.LineString(np.stack((np.concatenate(([0.0], places, [length])), heights), axis=1))
    thin = shapely.get_coordinates(line.simplify(PATH_WITHIN_M, preserve_topology=False))
    return tuple((round(along, 3), round(height, 3)) for along, height in thin.tolist())


def parts_of(course: Course, needs: Needs, room: Room, waits: Waits) -> tuple[LegPart, ...]:
    """Give the parts of a leg in flying order; one that has no length is left out."""
    parts, length = room.parts, room.track.length_m
    split = sorted(parts.cuts_m)
    names = ("departure", "en route", "approach")
    if parts.departure_to_m > parts.approach_from_m:  # a short hop: leaving and coming in are one
        split, names = [length, length], ("departure and approach", "", "")
    borders = (0.0, *split, length)
    return tuple(
        _part(name, borders[i], borders[i + 1], course, needs, room, waits)
        for i, name in enumerate(names)
        if borders[i + 1] > borders[i]
    )


def _part(
    name: str, from_m: float, to_m: float, course: Course, needs: Needs, room: Room, waits: Waits
) -> LegPart:
    found, track = needs.stretches, room.track
    inside = (found.first < to_m - 1e-6) & (found.last > from_m + 1e-6)
    first, last, ground = found.first[inside], found.last[inside], found.ground_m[inside]
    places = np.stack((first, np.maximum(last - STEP_BACK_M, first)), axis=1)
    over = altitudes_m(course, places.ravel(), waits).reshape(places.shape) - ground[:, None]
    least, where = _least(over, places, track)
    obstacle = min(
        (
            _above(span, from_m, to_m, course, room, waits)
            for span in needs.spans
            if span.top.top_m is not None
        ),
        key=lambda pair: pair[0],
        default=None,
    )
    if obstacle is None or not np.isfinite(obstacle[0]):
        return LegPart(name, from_m, to_m, least, where)
    place = shapely.Point(track.position(obstacle[1]))
    return LegPart(name, from_m, to_m, least, where, obstacle[0], place, obstacle[2])


def _least(over: np.ndarray, places: np.ndarray, track: Track) -> tuple[float | None, PointM | None]:
    if not over.size or not np.any(np.isfinite(over)):
        return None, None
    index = np.unravel_index(int(np.nanargmin(np.where(np.isfinite(over), over, np.nan))), over.shape)
    return float(over[index]), shapely.Point(track.position(float(places[index])))


def _above(
    span: Span, from_m: float, to_m: float, course: Course, room: Room, waits: Waits
) -> tuple[float, float, str]:
    """Give the least height above an obstacle within a part [m], where [m along the leg], and what it is; inf where it
    does not count there."""
    first, last = max(span.first, from_m), min(span.last, to_m)
    if last < first:
        return np.inf, first, span.top.what
    ends = np.array([first, max(last - STEP_BACK_M, first)])
    width = room.parts.half_width_m(ends, ends, room.state)
    counts = np.isnan(width) | (span.away_m <= width)
    over = np.where(counts, altitudes_m(course, ends, waits) - (span.top.top_m or 0.0), np.inf)
    index = int(np.argmin(over))
    return float(over[index]), float(ends[index]), span.top.what
