"""One leg: exact wind-triangle time on the ellipsoid, with climb and descent charged as a whole, never per cell."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from geo.errors import BadArgument, NotFlyable
from geo.flight.climb import climb_extra_s, descent_extra_s
from geo.flight.climb_rate import Climb, climb_seconds
from geo.flight.corridor import Corridor, corridor, crop
from geo.flight.heights import Limits, Needs, needs_of
from geo.flight.track import Track, track_of
from geo.geodesy import to_degrees
from geo.grid import Grid
from geo.records.flight import Leg
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
                f"asks for {half_width_m} m with {len(obstacles)} more. Cure: prepare the corridor for the leg"
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


def _place(crs_wkt: str, position: tuple[float, float]) -> str:
    longitude, latitude = to_degrees(crs_wkt, np.array([position[0]]), np.array([position[1]]))
    return f"longitude {longitude[0]:.5f}, latitude {latitude[0]:.5f}"


def _highest_what(track: Track, needs: Needs, limits: Limits, crs_wkt: str) -> str:
    """Say what rules the height of the leg and where."""
    index = needs.greatest
    if index is None:
        return "terrain unknown"
    where = _place(crs_wkt, track.position(float(needs.distance_m[index])))
    if needs.ruling[index] >= 0:
        top = needs.obstacles[needs.ruling[index]]
        return f"{top.what}, top {top.top_m:.0f} m, near {where}"
    return f"terrain, {needs.required_m[index]:.0f} m with the clearance due there, near {where}"


def _check_ceiling(track: Track, needs: Needs, limits: Limits, what: str, crs_wkt: str) -> None:
    index = needs.greatest
    if index is not None and needs.required_m[index] > limits.ceiling_m:
        raise NotFlyable(
            f"the leg needs {needs.required_m[index]:.0f} m above sea level ({what}; clearance "
            f"{limits.clearance_m:.0f} m), the ceiling is {limits.ceiling_m:.0f} m. Cure: another source or a way round"
        )
    for name, altitude, at in (
        ("start", limits.start_altitude_m, 0.0),
        ("end", limits.end_altitude_m, track.length_m),
    ):
        if altitude > limits.ceiling_m:
            raise NotFlyable(
                f"the leg's {name} lies at {altitude:.0f} m ({_place(crs_wkt, track.position(at))}), above the ceiling "
                f"of {limits.ceiling_m:.0f} m. Cure: another source, or another aircraft"
            )


def _corners(start: Position, end: Position, route: shapely.LineString | None) -> np.ndarray:
    if route is None:
        return np.array([xy(start), xy(end)])
    corners = shapely.get_coordinates(route)[:, :2]
    gap = np.hypot(*(corners[[0, -1]] - np.array([xy(start), xy(end)])).T).max()
    if not gap <= 0.01:
        raise BadArgument(
            f"the route's ends lie {gap:.2f} m from the leg's ends. Cure: give a route from start to end"
        )
    return corners


def _climbing(track: Track, limits: Limits, wind: tuple[float, float]) -> tuple[np.ndarray | None, str]:
    """Give the ground speeds at climb speed [m/s], or None and why the track cannot be held at that speed."""
    try:
        return track.ground_speeds_ms(limits.climb_speed_ms, *wind), ""
    except NotFlyable as error:
        return None, str(error)


def _assemble(
    track: Track, prepared: Corridor, limits: Limits, wind: tuple[float, float], crs_wkt: str
) -> dict[str, Any]:
    """Give the fields of the Leg except the route."""
    speeds = track.ground_speeds_ms(limits.tas_ms, *wind)
    cruising = track.elapsed_s(speeds)
    climb_speeds, why_not = _climbing(track, limits, wind)
    fastest = 0.0 if climb_speeds is None else float(climb_speeds.max())
    rise = max(limits.exempt_m, fastest * limits.clearing_s)
    fall = max(limits.exempt_m, limits.clearance_m * float(speeds.max()) / limits.descent_ms)
    needs = needs_of(track, prepared, limits, rise, fall)
    what = _highest_what(track, needs, limits, crs_wkt)
    _check_ceiling(track, needs, limits, what, crs_wkt)
    ends = limits.start_altitude_m, limits.end_altitude_m
    needed = -math.inf if needs.greatest is None else float(needs.required_m[needs.greatest])
    # What is printed for the crew keeps the whole clearance over all that stands in the corridor, ends included.
    safe = max(needs.highest_m + limits.clearance_m, *ends) if math.isfinite(needs.highest_m) else None
    climb_m = max(0.0, ends[1] - ends[0], needed - ends[0])
    if climb_m > 0.0 and climb_speeds is None:
        raise NotFlyable(f"the leg must climb {climb_m:.0f} m and cannot at the climb speed: {why_not}")
    heights, knots = (needs.distance_m, needs.required_m, *ends), track.piece_end_m
    climbing = cruising if climb_speeds is None else track.elapsed_s(climb_speeds)
    up = climb_extra_s(*heights, limits.climb_ms, knots, climbing, cruising)
    down = descent_extra_s(*heights, limits.descent_ms, knots, cruising)
    time_s = float(cruising[-1]) + up + down
    return {
        "time_s": time_s,
        "distance_m": track.length_m,
        "segments": track.segments(limits.tas_ms, speeds),
        "climb_m": climb_m,
        "climb_extra_s": up,
        "descent_extra_s": down,
        "safe_altitude_m": safe,
        "highest_what": what,
        "cautions": needs.cautions + slow_climb_cautions(up, time_s),
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
    tas_ms: float,
    climb_speed_ms: float,
    climb_ms: Climb,
    descent_ms: float,
    clearance_m: float,
    half_width_m: float,
    ceiling_m: float,
    terrain: Grid | Corridor | None,
    obstacles: Sequence[Obstacle],
    wind_from_true_deg: float,
    wind_ms: float,
    route: shapely.LineString | None = None,
    exempt_m: float = 1500.0,
) -> Leg:
    """Fly one leg from start to end and give its time with everything needed to redo it.

    Parameters
    ----------
    start, end : position in the region's plane [easting_m, northing_m], pair or point.
    start_altitude_m, end_altitude_m : [m above the vertical datum].
    tas_ms, climb_speed_ms : true airspeed in cruise and while climbing [m/s]; descent_ms : rate [m/s].
    climb_ms : rate [m/s], or the day's `ClimbClock`; its top is a ceiling that the caller puts into ceiling_m.
    clearance_m : height kept above terrain and obstacle tops [m]; add the terrain's stated error and the canopy to it.
    terrain : a raster, or a `Corridor` prepared once for many legs (which then carries the obstacles), or None.
    route : plane line from start to end flown instead of the straight line.
    exempt_m : distance from either end within which only the ground under the track itself counts.

    Returns
    -------
    Leg with time_s = sum of segment times + climb_extra_s + descent_extra_s.

    Raises
    ------
    NotFlyable : wind too strong for a track, or terrain, obstacle, start or end above the ceiling (place named).
    BadArgument : a value that is not finite or out of range, or a route that does not join start and end.

    Notes
    -----
    Straight pieces are geodesics; the wind triangle is integrated along their turning track. Height needed: highest
    terrain within half_width_m of the track, and obstacle tops there, plus clearance. From either end the clearance
    grows from 0 over exempt_m, or over the distance that the aircraft needs to climb (sink) that much if longer, so
    that flat ground never forces a wait. Climb and descent: see `geo.flight.climb`. Unknown terrain is taken as
    high as the highest known ground of the leg, with a caution; with none known nothing is cleared, and that is said.
    An obstacle of unknown height is named in a caution and not cleared. An end below the raster's ground (a lake drawn
    down) is climbed out of, or sunk into, on the spot.
    """
    limits = Limits(
        start_altitude_m,
        end_altitude_m,
        tas_ms,
        climb_speed_ms,
        climb_ms,
        descent_ms,
        clearance_m,
        half_width_m,
        ceiling_m,
        exempt_m,
    )
    corners = _corners(start, end, route)
    track = track_of(corners, frame_crs_wkt)
    prepared = _prepared(terrain, obstacles, half_width_m, corners)
    if len(track.corners_m) == 1:
        return _standing(limits, corners)
    parts = _assemble(track, prepared, limits, (wind_from_true_deg, wind_ms), frame_crs_wkt)
    return Leg(**parts, route=shapely.LineString(corners), detour=route is not None)


def _standing(limits: Limits, corners: np.ndarray) -> Leg:
    """The leg between two altitudes over one place."""
    change = limits.end_altitude_m - limits.start_altitude_m
    up, down = max(change, 0.0), max(-change, 0.0)
    if max(limits.start_altitude_m, limits.end_altitude_m) > limits.ceiling_m:
        raise NotFlyable(
            f"the place lies above the ceiling of {limits.ceiling_m:.0f} m. Cure: another source"
        )
    extra_down = down / limits.descent_ms
    extra_up = float(climb_seconds(limits.climb_ms, limits.start_altitude_m, limits.start_altitude_m + up))
    time_s = extra_up + extra_down
    line = shapely.LineString(corners)
    return Leg(time_s, 0.0, (), up, extra_up, extra_down, None, "start and end are one place", line, False)
