"""The leg that will be flown: straight where that is free, else round the no-fly areas."""

from collections.abc import Sequence

import numpy as np
import shapely

from geo.base.errors import NotFlyable
from geo.base.geodesy import WGS84, grid_heading_deg, to_degrees, to_plane
from geo.base.grid import Grid
from geo.flight.legs.corridor import Corridor
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.leg import Position, leg, xy
from geo.flight.legs.no_fly_routes import Airspace, airspace, find_way, is_clear
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
    state: FlightState,
    terrain: Grid | Corridor | None,
    obstacles: Sequence[Obstacle],
    no_fly: Sequence[Closure] | Airspace,
) -> Leg:
    """Give the straight leg where no no-fly area is in its way, else the least-time way round the areas, flown.

    Parameters: as `leg.leg`; no_fly closures (those of kind "no flying" count; choose the day's beforehand)
    or an `Airspace` prepared once for many legs.
    Raises: NotFlyable when an end lies in a no-fly area, no way is left, the wind is too strong or unknown, or the
    ceiling is too low for the terrain on the way; BadArgument as `leg`.
    Notes: the way is chosen for the wind against grid north at the middle of the leg (at the higher end's altitude plus
    the clearance) and then timed on the ellipsoid, in a changing wind piece by piece. Terrain does not take part in
    choosing the way: a leg that the ceiling blocks is refused, not led round.
    """
    ends = xy(start), xy(end)
    prepared = no_fly if isinstance(no_fly, Airspace) else _closed(no_fly)
    route = None
    if prepared.areas and not is_clear(prepared, np.array(ends)):
        ground = terrain.ground if isinstance(terrain, Corridor) else terrain
        top_m = max(start_altitude_m, end_altitude_m)
        way = way_among(prepared, *ends, frame_crs_wkt, state_between(state, *ends, top_m, ground))
        route = way if len(way.coords) > 2 else None
    return leg(*ends, frame_crs_wkt, start_altitude_m, end_altitude_m, state, terrain, obstacles, route)


def state_between(
    state: FlightState,
    start: tuple[float, float],
    end: tuple[float, float],
    top_m: float,
    ground: Grid | None,
) -> FlightState:
    """Give the state in the uniform wind in which ways between two places are compared: that at their middle, the
    clearance above the higher end [m]."""
    if state.winds is None:
        return state
    east, north = 0.5 * (start[0] + end[0]), 0.5 * (start[1] + end[1])
    below = np.nan if ground is None else float(ground.nearest(np.array(east), np.array(north)))
    return state.uniform_at(east, north, top_m + state.clearance_m, below)


def way_among(
    closed: Airspace, start: tuple[float, float], end: tuple[float, float], crs_wkt: str, state: FlightState
) -> shapely.LineString:
    """Give the least-time way among closed areas in the state's uniform wind, turned to grid north at the leg's middle.

    Raises: NotFlyable as `geo.flight.legs.no_fly_routes.find_way`.
    """
    middle = (0.5 * (start[0] + end[0]), 0.5 * (start[1] + end[1]))
    grid_wind = grid_bearing_deg(crs_wkt, middle, state.wind_from_true_deg)
    return find_way(closed, start, end, grid_wind, state.wind_ms, state.tas_ms)


class LegCache:
    """Best legs over one prepared surface, each flown once however often it is asked for."""

    def __init__(self, surface: Corridor, frame_crs_wkt: str) -> None:
        self.surface, self.frame_crs_wkt = surface, frame_crs_wkt
        self._kept: dict[tuple, Leg | NotFlyable] = {}
        self._closed: dict[int, Airspace] = {}  # kept alive, so that no other airspace takes its id

    def fly(
        self,
        start: Position,
        start_m: float,
        end: Position,
        end_m: float,
        state: FlightState,
        closed: Airspace,
    ) -> Leg:
        """Give the best leg between two places at two altitudes [m], as `best_leg`. Raises: as `best_leg`."""
        self._closed[id(closed)] = closed
        key = (xy(start), start_m, xy(end), end_m, state, id(closed))
        if key not in self._kept:
            try:
                self._kept[key] = best_leg(
                    start, end, self.frame_crs_wkt, start_m, end_m, state, self.surface, (), closed
                )
            except NotFlyable as refusal:
                self._kept[key] = refusal
        found = self._kept[key]
        if isinstance(found, NotFlyable):
            raise NotFlyable(str(found))
        return found


def _closed(closures: Sequence[Closure]) -> Airspace:
    closed = [closure for closure in closures if closure.kind == "no flying"]
    return airspace(
        [closure.area for closure in closed], [closure.name or closure.closure_id for closure in closed]
    )
