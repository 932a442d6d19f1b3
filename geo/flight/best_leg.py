"""The leg that will be flown: straight where that is free, else round the no-fly areas."""

from collections.abc import Sequence

import numpy as np

from geo.flight.climb_rate import Climb
from geo.flight.corridor import Corridor
from geo.flight.legs import Position, leg, xy
from geo.flight.ways import Airspace, airspace, find_way
from geo.geodesy import WGS84, grid_heading_deg, to_degrees, to_plane
from geo.grid import Grid
from geo.records.flight import Leg
from geo.records.region import Closure, Obstacle

_PROBE_M = 100.0


def grid_bearing_deg(crs_wkt: str, place_m: tuple[float, float], true_bearing_deg: float) -> float:
    """Give the grid bearing [deg] in the region's plane of a true bearing at a place (the convergence applied)."""
    longitude, latitude = to_degrees(crs_wkt, np.array([place_m[0]]), np.array([place_m[1]]))
    ahead = WGS84.fwd(longitude, latitude, [true_bearing_deg], [_PROBE_M])
    easting, northing = to_plane(crs_wkt, ahead[0], ahead[1])
    return grid_heading_deg(place_m, (float(easting[0]), float(northing[0])))


def best_leg(
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
    no_fly: Sequence[Closure] | Airspace,
    wind_from_true_deg: float,
    wind_ms: float,
    exempt_m: float = 1500.0,
) -> Leg:
    """Give the straight leg where no no-fly area is in its way, else the least-time way round the areas, flown.

    Parameters: as `geo.flight.legs.leg`; no_fly closures (those of kind "no flying" count; choose the day's beforehand)
    or an `Airspace` prepared once for many legs.
    Raises: NotFlyable when an end lies in a no-fly area, no way is left, the wind is too strong, or the ceiling is too
    low for the terrain on the way; BadArgument as `leg`.
    Notes: the way is chosen for the wind against grid north at the middle of the leg and then timed on the ellipsoid.
    Terrain does not take part in choosing the way: a leg that the ceiling blocks is refused, not led round.
    """
    ends = xy(start), xy(end)
    prepared = no_fly if isinstance(no_fly, Airspace) else _closed(no_fly)
    route = None
    if prepared.areas:
        middle = (0.5 * (ends[0][0] + ends[1][0]), 0.5 * (ends[0][1] + ends[1][1]))
        grid_wind = grid_bearing_deg(frame_crs_wkt, middle, wind_from_true_deg)
        way = find_way(prepared, *ends, grid_wind, wind_ms, tas_ms)
        route = way if len(way.coords) > 2 else None
    return leg(
        *ends,
        frame_crs_wkt,
        start_altitude_m,
        end_altitude_m,
        tas_ms,
        climb_speed_ms,
        climb_ms,
        descent_ms,
        clearance_m,
        half_width_m,
        ceiling_m,
        terrain,
        obstacles,
        wind_from_true_deg,
        wind_ms,
        route,
        exempt_m,
    )


def _closed(closures: Sequence[Closure]) -> Airspace:
    closed = [closure for closure in closures if closure.kind == "no flying"]
    return airspace(
        [closure.area for closure in closed], [closure.name or closure.closure_id for closure in closed]
    )
