"""One leg: exact wind-triangle time on the ellipsoid, with climb and descent charged as a whole, never per cell."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from geo.base.errors import BadArgument, NotFlyable
from geo.base.grid import Grid
from geo.flight.legs.climb import climbing, descending
from geo.flight.legs.corridor import Corridor, corridor, crop
from geo.flight.legs.course import fly_track
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.heights import Needs
from geo.flight.legs.track import LONGEST_PIECE_IN_WINDS_M, LONGEST_PIECE_M, Track, place_words, track_of
from geo.records.flight import Climbing, Descending, Leg
from geo.records.region import Obstacle

Position = tuple[float, float] | shapely.Point

CLIMB_SHARE_CAUTION = 0.25


def xy(position: Position) -> tuple[float, float]:
    """Give (easting_m, northing_m) of a pair or a point. Raises: BadArgument when it is empty or not finite."""
    pair = (
        (position.x, position.y)
        if isinstance(position, shapely.Point) and not position.is_empty
        else position
    )
    if not isinstance(pair, tuple) or len(pair) != 2 or not all(math.isfinite(value) for value in pair):
        raise BadArgument(
            f"position {position!r}: it must be a finite (easting_m, northing_m) pair or a point"
        )
    return float(pair[0]), float(pair[1])


def _prepared(
    terrain: Grid | Corridor | None, obstacles: Sequence[Obstacle], half_width_m: float, corners: np.ndarray
) -> Corridor:
    if isinstance(terrain, Corridor):
        if obstacles or terrain.half_width_m != half_width_m:
            raise BadArgument(
                f"the prepared corridor has half-width {terrain.half_width_m} m and carries its own obstacles, the leg "
                f"asks for {half_width_m} m with {len(obstacles)} more. Fix: prepare the corridor for the leg"
            )
        return terrain
    if terrain is None:
        return corridor(None, half_width_m, obstacles)
    bounds = (*corners.min(axis=0), *corners.max(axis=0))
    margin = half_width_m + 2.0 * max(terrain.cell_east_m, terrain.cell_north_m)
    near = shapely.box(*bounds).buffer(margin)
    close = [obstacle for obstacle in obstacles if near.intersects(obstacle.shape)]
    if any(obstacle.top_elevation_m is None for obstacle in close):
        return corridor(terrain, half_width_m, close)  # their ground may lie outside the cropped part
    return corridor(crop(terrain, bounds, margin), half_width_m, close)


def _highest_what(track: Track, needs: Needs, crs_wkt: str) -> str:
    """Say what rules the height of the leg and where."""
    index = needs.greatest
    if index is None:
        return "terrain unknown"
    where = place_words(crs_wkt, track.position(float(needs.distance_m[index])))
    if needs.ruling[index] >= 0:
        top = needs.obstacles[needs.ruling[index]]
        return f"{top.what}, top {top.top_m:.0f} m, near {where}"
    return f"terrain, {needs.required_m[index]:.0f} m with the clearance due there, near {where}"


def _check_ceiling(
    track: Track, needs: Needs, state: FlightState, ends_m: tuple[float, float], what: str, crs_wkt: str
) -> None:
    index = needs.greatest
    if index is not None and needs.required_m[index] > state.ceiling_m:
        raise NotFlyable(
            f"the leg needs {needs.required_m[index]:.0f} m above sea level ({what}; clearance "
            f"{state.clearance_m:.0f} m), the ceiling is {state.ceiling_m:.0f} m. Fix: another source or a way round"
        )
    for name, altitude, at in (("start", ends_m[0], 0.0), ("end", ends_m[1], track.length_m)):
        if altitude > state.ceiling_m:
            raise NotFlyable(
                f"the leg's {name} lies at {altitude:.0f} m ({place_words(crs_wkt, track.position(at))}), above the "
                f"ceiling of {state.ceiling_m:.0f} m. Fix: another source, or another aircraft"
            )


def _corners(start: Position, end: Position, route: shapely.LineString | None) -> np.ndarray:
    if route is None:
        return np.array([xy(start), xy(end)])
    corners = shapely.get_coordinates(route)[:, :2]
    gap = np.hypot(*(corners[[0, -1]] - np.array([xy(start), xy(end)])).T).max()
    if not gap <= 0.01:
        raise BadArgument(
            f"the route's ends lie {gap:.2f} m from the leg's ends. Fix: give a route from start to end"
        )
    return corners


def _assemble(
    track: Track, prepared: Corridor, state: FlightState, ends_m: tuple[float, float], crs_wkt: str
) -> dict[str, Any]:
    """Give the fields of the Leg except the route."""
    flight = fly_track(track, prepared, state, ends_m, crs_wkt)
    needs, course = flight.needs, flight.course
    what = _highest_what(track, needs, crs_wkt)
    _check_ceiling(track, needs, state, ends_m, what, crs_wkt)
    # What is printed for the crew keeps the whole clearance over all that stands in the corridor, ends included.
    safe = max(needs.highest_m + state.clearance_m, *ends_m) if math.isfinite(needs.highest_m) else None
    climb_m = course.top_m - ends_m[0]
    if climb_m > 0.0 and flight.why_not:
        raise NotFlyable(
            f"the leg must climb {climb_m:.0f} m and cannot at the climb speed: {flight.why_not}"
        )
    up, down = climbing(course), descending(course)
    up_s = 0.0 if up is None else up.extra_s
    time_s = float(course.cruising_s[-1]) + up_s + down.extra_s
    return {
        "time_s": time_s,
        "distance_m": track.length_m,
        "segments": flight.cruise.segments(track, state.tas_ms),
        "climb_m": climb_m,
        "climb_extra_s": up_s,
        "descent_extra_s": down.extra_s,
        "safe_altitude_m": safe,
        "highest_what": what,
        "cautions": needs.cautions + slow_climb_cautions(up_s, time_s),
        "climb": up,
        "descent": down,
    }


def slow_climb_cautions(up_s: float, time_s: float) -> tuple[str, ...]:
    """Give the hint that belongs to a leg of which climbing takes a great share; none otherwise."""
    if up_s <= CLIMB_SHARE_CAUTION * time_s:
        return ()
    return (f"climbing costs {up_s:.0f} s of {time_s:.0f} s: a way round the high ground may be quicker",)


def leg(
    start: Position,
    end: Position,
    frame_crs_wkt: str,
    start_altitude_m: float,
    end_altitude_m: float,
    state: FlightState,
    terrain: Grid | Corridor | None,
    obstacles: Sequence[Obstacle] = (),
    route: shapely.LineString | None = None,
) -> Leg:
    """Fly one leg from start to end and give its time with everything needed to redo it.

    Parameters
    ----------
    start, end : position in the region's plane [easting_m, northing_m], pair or point.
    start_altitude_m, end_altitude_m : [m above the vertical datum].
    state : the aircraft in the day's air.
    terrain : a raster, or a `Corridor` prepared once for many legs (which then carries the obstacles), or None.
    route : plane line from start to end flown instead of the straight line.

    Returns
    -------
    Leg with time_s = sum of segment times + climb_extra_s + descent_extra_s.

    Raises
    ------
    NotFlyable : wind too strong for a track or unknown on it, or terrain, obstacle, start or end above the ceiling
    (place named).
    BadArgument : a value that is not finite or out of range, or a route that does not join start and end.

    Notes
    -----
    Straight pieces are geodesics; the wind triangle is integrated along their turning track. Height needed: highest
    terrain within half_width_m of the track, and obstacle tops there, plus clearance. From either end the clearance
    grows from 0 over exempt_m, or over the distance that the aircraft needs to climb (sink) that much if longer, so
    that flat ground never forces a wait. Climb and descent: see `climb`; winds that change by height or
    place: see `course`. A leg over unknown terrain is refused; with no terrain at all nothing is cleared,
    and that is said. An obstacle of unknown height is named in a caution and not cleared. An end below the raster's
    ground (a lake drawn down) is climbed out of, or sunk into, on the spot.
    """
    ends_m = start_altitude_m, end_altitude_m
    for name, value in zip(("start_altitude_m", "end_altitude_m"), ends_m, strict=True):
        if not (isinstance(value, (int, float, np.number)) and math.isfinite(value)):
            raise BadArgument(f"{name} is {value}: it must be a finite number. Fix: give it in metres")
    corners = _corners(start, end, route)
    longest_m = LONGEST_PIECE_M if state.winds is None else LONGEST_PIECE_IN_WINDS_M
    track = track_of(corners, frame_crs_wkt, longest_m)
    prepared = _prepared(terrain, obstacles, state.half_width_m, corners)
    if len(track.corners_m) == 1:
        return _standing(state, ends_m, corners)
    parts = _assemble(track, prepared, state, ends_m, frame_crs_wkt)
    return Leg(**parts, route=shapely.LineString(corners), detour=route is not None)


def _standing(state: FlightState, ends_m: tuple[float, float], corners: np.ndarray) -> Leg:
    """The leg between two altitudes over one place."""
    low, high = sorted(ends_m)
    if high > state.ceiling_m:
        raise NotFlyable(f"the place lies above the ceiling of {state.ceiling_m:.0f} m. Fix: another source")
    line, climbs = shapely.LineString(corners), ends_m[1] > ends_m[0]
    up_s = float(state.climb_s(*ends_m)) if climbs else 0.0
    down_s = 0.0 if climbs else (high - low) / state.descent_ms
    up = None
    if climbs:
        up = Climbing(*ends_m, up_s, state.climb_speed_ms, 0.0, 0.0, 0.0, up_s, 0.0, ends_m[1])
    down = Descending(ends_m[0], ends_m[1], 0.0, state.descent_ms, down_s, 0.0)
    what = "start and end are one place"
    climb_m = max(ends_m[1] - ends_m[0], 0.0)
    return Leg(up_s + down_s, 0.0, (), climb_m, up_s, down_s, None, what, line, False, climb=up, descent=down)
