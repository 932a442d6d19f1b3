"""Legs as tests ask for them: positions and heights as plain numbers, terrain as a raster or a prepared corridor."""

from collections.abc import Sequence

import shapely

from geo.base.grid import Grid
from geo.flight.legs import best_leg as best
from geo.flight.legs import leg as flown
from geo.flight.legs.best_leg import LegCache
from geo.flight.legs.corridor import Corridor, corridor
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.no_fly_routes import Airspace, airspace, find_route
from geo.flight.routing import terrain_legs
from geo.records.flight import Endpoint, Leg


def at(place: Sequence[float], altitude_m: float = 0.0) -> Endpoint:
    """An end of a leg at (easting, northing) [m], or at a point."""
    return Endpoint(shapely.Point(place), altitude_m)


def surface_of(terrain: Grid | Corridor | None, state: FlightState, obstacles: Sequence = ()) -> Corridor:
    """The corridor of a state over a raster, or the prepared one that was given."""
    if isinstance(terrain, Corridor):
        return terrain
    return corridor(terrain, state.half_width_m, obstacles)


def leg(
    start, end, frame_crs_wkt, start_altitude_m, end_altitude_m, state, terrain=None, obstacles=(), route=None
) -> Leg:
    """One leg, straight or along a route."""
    ends = at(start, start_altitude_m), at(end, end_altitude_m)
    return flown.leg(*ends, state, surface_of(terrain, state, obstacles), frame_crs_wkt, route)


def best_leg(
    start, end, frame_crs_wkt, start_altitude_m, end_altitude_m, state, terrain, obstacles, no_fly
) -> Leg:
    """The leg round no-fly areas: an airspace, or closures."""
    if not isinstance(no_fly, Airspace):
        shut = [one for one in no_fly if one.kind == "no flying"]
        no_fly = airspace([one.area for one in shut], [one.name for one in shut])
    ends = at(start, start_altitude_m), at(end, end_altitude_m)
    return best.best_leg(*ends, state, surface_of(terrain, state, obstacles), no_fly, frame_crs_wkt)


def route_round(start, end, no_fly, wind_from_grid_deg, wind_ms, tas_ms, names=None) -> shapely.LineString:
    """The least-time route round areas that are prepared for this one."""
    return find_route(airspace(no_fly, names), start, end, wind_from_grid_deg, wind_ms, tas_ms)


class TerrainLegs:
    """The search for legs between a hub and many places."""

    def __init__(self, surface: Corridor, space: Airspace, crs_wkt: str) -> None:
        self.search = terrain_legs.TerrainLegs(space, LegCache(surface, crs_wkt))

    def legs_to(self, hub, hub_m, others, state) -> list:
        """The legs from each (place, height) to the hub."""
        return [self.search.leg(at(hub, hub_m), at(*other), state, outward=True) for other in others]

    def legs_from(self, hub, hub_m, others, state) -> list:
        """The legs from the hub to each (place, height)."""
        return [self.search.leg(at(hub, hub_m), at(*other), state, outward=False) for other in others]

    @property
    def legs_sought(self) -> int:
        """For how many legs routes were sought so far."""
        return self.search.legs_sought
