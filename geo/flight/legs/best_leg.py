"""The leg that will be flown: straight where that is free, else round the no-fly areas."""

import numpy as np
import shapely

from geo.base.errors import NotFlyable
from geo.base.geodesy import WGS84, grid_heading_deg, to_degrees, to_plane
from geo.base.grid import Grid
from geo.base.recent import Recent
from geo.flight.legs.corridor import Corridor
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.leg import leg
from geo.flight.legs.no_fly_routes import Airspace, find_route, is_clear
from geo.records.flight import Endpoint, Leg

_PROBE_M = 100.0


def grid_bearing_deg(crs_wkt: str, place_m: tuple[float, float], true_bearing_deg: float) -> float:
    """Give the grid bearing [deg] in the region's plane of a true bearing at a place (the convergence applied)."""
    longitude, latitude = to_degrees(crs_wkt, np.array([place_m[0]]), np.array([place_m[1]]))
    ahead = WGS84.fwd(longitude, latitude, [true_bearing_deg], [_PROBE_M])
    easting, northing = to_plane(crs_wkt, ahead[0], ahead[1])
    return grid_heading_deg(place_m, (float(easting[0]), float(northing[0])))


def best_leg(
    start: Endpoint, end: Endpoint, state: FlightState, surface: Corridor, airspace: Airspace, crs_wkt: str
) -> Leg:
    """Give the straight leg where no no-fly area is in its way, else the least-time route round the areas, flown.

    Parameters: as `leg.leg`; airspace, the no-fly areas of the leg.
    Raises: NotFlyable when an end lies in a no-fly area, no route is left, the wind is too strong or unknown, or the
    ceiling is too low for the terrain on the route; BadArgument as `leg`.
    Notes: the route is chosen for the wind against grid north at the middle of the leg (at the higher end's altitude
    plus the clearance) and then timed on the ellipsoid, in a changing wind piece by piece. Terrain does not take part
    in choosing the route: a leg that the ceiling blocks is refused, not led round.
    """
    route = None
    if airspace.areas and not is_clear(airspace, np.array([start.xy, end.xy])):
        found = route_among(airspace, start, end, state_between(state, start, end, surface.ground), crs_wkt)
        route = found if len(found.coords) > 2 else None
    return leg(start, end, state, surface, crs_wkt, route, airspace)


def _middle(start: Endpoint, end: Endpoint) -> tuple[float, float]:
    (east, north), (to_east, to_north) = start.xy, end.xy
    return 0.5 * (east + to_east), 0.5 * (north + to_north)


def state_between(state: FlightState, start: Endpoint, end: Endpoint, ground: Grid | None) -> FlightState:
    """Give the state in the uniform wind in which routes between two places are compared: that at their middle, the
    clearance above the higher end."""
    if state.winds is None:
        return state
    east, north = _middle(start, end)
    below = np.nan if ground is None else float(ground.nearest(np.array(east), np.array(north)))
    return state.uniform_at(east, north, max(start.altitude_m, end.altitude_m) + state.clearance_m, below)


def route_among(
    airspace: Airspace, start: Endpoint, end: Endpoint, state: FlightState, crs_wkt: str
) -> shapely.LineString:
    """Give the least-time route among no-fly areas in the state's uniform wind, turned to grid north at the leg's
    middle.

    Raises: NotFlyable as `geo.flight.legs.no_fly_routes.find_route`.
    """
    grid_wind = grid_bearing_deg(crs_wkt, _middle(start, end), state.wind_from_true_deg)
    return find_route(airspace, start.xy, end.xy, grid_wind, state.wind_ms, state.tas_ms)


class LegCache:
    """Best legs over one prepared surface, each flown once however often it is asked for."""

    def __init__(self, surface: Corridor, crs_wkt: str) -> None:
        self.surface, self.crs_wkt = surface, crs_wkt
        self._flown: Recent[Leg | NotFlyable] = Recent()

    def fly(self, start: Endpoint, end: Endpoint, state: FlightState, airspace: Airspace) -> Leg:
        """Give the best leg between two ends, as `best_leg`. Raises: NotFlyable, BadArgument as `best_leg`."""

        def flown() -> Leg | NotFlyable:
            try:
                return best_leg(start, end, state, self.surface, airspace, self.crs_wkt)
            except NotFlyable as refusal:
                return refusal

        found = self._flown.get((airspace,), (start, end, state), flown)
        if isinstance(found, NotFlyable):
            raise NotFlyable(str(found))
        return found
