"""The leg between a hub and another place by the quickest route found: direct, or round what is in the way.

The direct leg (or the exact route round no-fly areas) is flown first. Where it takes hardly longer than over flat
ground as low as the lowest that any quicker route could reach, nothing can be gained and it stands. For the others
routes of every kind are read from a lattice and polished by the leg rule on the full terrain, and the best is flown
exactly. The quicker of both is given. Each leg is sought for itself: what is found hangs on no other leg.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import shapely

from geo.base.errors import NotFlyable
from geo.base.recent import Recent
from geo.flight.legs.best_leg import LegCache, grid_bearing_deg, route_among, state_between
from geo.flight.legs.corridor import Corridor, corridor, crop
from geo.flight.legs.flight_state import FlightState, rule_of
from geo.flight.legs.leg import leg, slow_climb_cautions
from geo.flight.legs.no_fly_routes import Airspace, is_clear
from geo.flight.routing.lattice_search import SPACING_M, reach_m
from geo.flight.routing.route_ground import RouteGround, route_ground
from geo.flight.routing.route_kernels import Ground, Rule, route_seconds
from geo.flight.routing.route_search import TIE, RouteSearch
from geo.records.flight import Endpoint, Leg

# A leg within this share of its time over flat ground is left as it is.
WORTH_SEEKING = 0.002
# Times over flat ground are those of the plane, which differ from the ellipsoid's by less than this within 200 km of a
# region's middle (see geo.base.geodesy.local_crs).
FLAT_SHARE = 1.0 - 5e-4


@dataclass(frozen=True)
class _Asked:
    """One leg to be found. Routes are sought in the uniform wind of its middle, `uniform`, which blows from
    wind_from_grid_deg against grid north there; they are flown in state."""

    start: Endpoint
    end: Endpoint
    state: FlightState
    uniform: FlightState
    wind_from_grid_deg: float

    @property
    def ends_m(self) -> np.ndarray:
        """Start and end, east and north (2, 2) [m]."""
        return np.array([self.start.xy, self.end.xy])

    def rule(self, lowest_m: float) -> Rule:
        """Give the numbers of the leg as the compiled code takes them."""
        return rule_of(self.start, self.end, self.uniform, self.wind_from_grid_deg, lowest_m)


@dataclass(frozen=True)
class _Flown:
    """The first answer: the leg flown or refused, and its route. uniform_s: its time in the uniform wind in which
    routes are compared, inf where it is refused; least_s: the time there below which no route can be."""

    route: np.ndarray
    first: Leg | NotFlyable
    uniform_s: float
    least_s: float


class TerrainLegs:
    """Best legs over one prepared terrain in one airspace. The search ground is prepared once, at the first need."""

    def __init__(
        self,
        airspace: Airspace,
        book: LegCache,
        *,
        prepare: Callable[[Corridor, Airspace], RouteGround | None] = route_ground,
    ) -> None:
        """book: the surface, and the direct legs already flown over it, so that none is flown twice; prepare: gives the
        search ground, if it is kept somewhere."""
        self.surface, self.airspace, self.book = book.surface, airspace, book
        self._prepare = prepare
        self._ground: Recent[RouteGround | None] = Recent()
        self.legs_sought = 0

    def leg(
        self, hub: Endpoint, place: Endpoint, state: FlightState, *, outward: bool, brief: bool = False
    ) -> Leg | NotFlyable:
        """Give the best leg from a place to the hub (outward), or from the hub to the place.

        Parameters: brief, the first answer is enough, and where it is refused the quickest of a few plain ways with a
        corner about the start and one about the end: a flight, not the best.
        Returns: a Leg, or the NotFlyable that says why there is none (not raised).
        Raises: BadArgument as `geo.flight.legs.leg.leg`.
        """
        start, end = (place, hub) if outward else (hub, place)
        uniform = state_between(state, start, end, self.surface.ground)
        middle = 0.5 * (start.xy[0] + end.xy[0]), 0.5 * (start.xy[1] + end.xy[1])
        wind = grid_bearing_deg(self.book.crs_wkt, middle, uniform.wind_from_true_deg)
        asked = _Asked(start, end, state, uniform, wind)
        flown = self._first(asked)
        if not self._may_gain(flown, asked) or (brief and isinstance(flown.first, Leg)):
            return flown.first
        if flown.uniform_s <= (1.0 + WORTH_SEEKING) * flown.least_s:
            return _settled(flown.first)
        ground = self._ground.get((), (), lambda: self._prepare(self.surface, self.airspace))
        return flown.first if ground is None else self._sought(flown, asked, ground, brief=brief)

    def _fly(self, asked: _Asked, route: np.ndarray, surface: Corridor, state: FlightState) -> Leg:
        line = shapely.LineString(route) if len(route) > 2 else None
        return leg(asked.start, asked.end, state, surface, self.book.crs_wkt, line, self.airspace)

    def _try(self, asked: _Asked, state: FlightState) -> Leg | NotFlyable:
        try:
            return self.book.fly(asked.start, asked.end, state, self.airspace)
        except NotFlyable as refusal:
            return refusal

    def _first(self, asked: _Asked) -> _Flown:
        """Fly the direct leg, or the exact route round no-fly areas; where refused, ask whether any height helps."""
        uniform = asked.uniform
        first = in_uniform = self._try(asked, asked.state)
        if uniform is not asked.state:
            in_uniform = self._try(asked, uniform)
        if isinstance(in_uniform, Leg):
            route = shapely.get_coordinates(in_uniform.route)
            if isinstance(first, NotFlyable):
                return _Flown(route, first, in_uniform.time_s, np.inf)  # it is the wind that forbids it
            return _Flown(route, first, in_uniform.time_s, self._least_s(asked, route, in_uniform))
        route = asked.ends_m
        try:
            if self.airspace.areas:
                found = route_among(self.airspace, asked.start, asked.end, uniform, self.book.crs_wkt)
                route = shapely.get_coordinates(found)
            self._fly(asked, route, corridor(None, self.surface.half_width_m), uniform)
        except NotFlyable:
            return _Flown(route, first, np.inf, np.inf)  # no route at any height
        return _Flown(route, first, np.inf, 0.0)

    def _least_s(self, asked: _Asked, route: np.ndarray, first: Leg) -> float:
        """Give the time of the same route over flat ground, as low as the lowest within reach of any quicker route
        [s]."""
        surface = self.surface.surface
        if surface is None:
            return first.time_s
        corners = asked.ends_m
        direct = float(np.hypot(*(corners[1] - corners[0])))
        reach = reach_m(first.time_s * asked.uniform.fastest_ms(), direct)
        (west, south), (east, north) = corners.min(axis=0), corners.max(axis=0)
        near = crop(surface, (west, south, east, north), reach).values
        if not np.any(np.isfinite(near)):
            return first.time_s
        lowest_m = float(np.nanmin(near))
        seconds = route_seconds(np.ascontiguousarray(route), _level(lowest_m), asked.rule(lowest_m), np.inf)
        return FLAT_SHARE * seconds if np.isfinite(seconds) else 0.0

    def _may_gain(self, flown: _Flown, asked: _Asked) -> bool:
        """True where another route can be sought at all."""
        highest = max(asked.start.altitude_m, asked.end.altitude_m)
        if not np.isfinite(flown.least_s) or highest > asked.state.ceiling_m:
            return False
        return asked.start.xy != asked.end.xy and asked.uniform.wind_ms < asked.uniform.tas_ms

    def _sought(self, flown: _Flown, asked: _Asked, ground: RouteGround, *, brief: bool) -> Leg | NotFlyable:
        """Give the first answer, or the best route found where it is quicker by more than a tie; flown exactly."""
        self.legs_sought += 1
        search = RouteSearch(asked.ends_m, asked.rule(ground.lowest_m), ground)
        first = flown.first
        routes = search.plain_ways() if brief else search.routes(flown.route, flown.uniform_s)
        for route in routes:
            # Routes are sought between rounded ends.
            route[0], route[-1] = asked.ends_m
            if not is_clear(self.airspace, route):
                continue
            try:
                found = self._fly(asked, route, self.surface, asked.state)
            except NotFlyable:
                continue
            if isinstance(first, NotFlyable) or found.time_s < (1.0 - TIE) * first.time_s:
                return _settled(found)
            break
        if isinstance(first, Leg):
            return _settled(first)
        sought = "a few plain ways were tried" if brief else f"sought every {SPACING_M:.0f} m or wider"
        return NotFlyable(f"{first}. No detour was found ({sought})")


def _level(height_m: float) -> Ground:
    """Give flat ground of one height [m] without an end."""
    height = np.array([[height_m]])
    return Ground(height, height, np.empty((0, 4)), -5e7, 5e7, 1e8, 1e8)


def _settled(flown: Leg | NotFlyable) -> Leg | NotFlyable:
    """Take away the hint that a detour may be quicker: there is none, or it was sought."""
    if isinstance(flown, NotFlyable):
        return flown
    hints = slow_climb_cautions(flown.climb_extra_s, flown.time_s)
    return replace(flown, cautions=tuple(text for text in flown.cautions if text not in hints))
