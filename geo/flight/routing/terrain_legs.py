"""The leg between a hub and another place by the quickest route found: direct, or round what is in the way.

The direct leg (or the exact route round no-fly areas) is flown first. Where it takes hardly longer than over flat
ground as low as the lowest that any quicker route could reach, nothing can be gained and it stands. For the others a
time field is computed, first coarse, then fine as far as the coarse routes leave room; routes are read from it,
straightened and bent by the leg rule on the full terrain, and the best is flown exactly. The quicker of both is given.
What is found for one leg does not depend on the others (see `geo.flight.routing.shared_fields`).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from geo.base.errors import NotFlyable
from geo.base.recent import Recent
from geo.flight.legs.best_leg import LegCache, grid_bearing_deg, route_among, state_between
from geo.flight.legs.corridor import Corridor, corridor, crop
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.leg import leg, slow_climb_cautions
from geo.flight.legs.no_fly_routes import Airspace, is_clear
from geo.flight.routing.route_ground import RouteGround, route_ground
from geo.flight.routing.route_kernels import Ground, route_seconds
from geo.flight.routing.route_search import RouteSearch
from geo.flight.routing.shared_fields import SharedFields
from geo.flight.routing.time_field import FieldSettings, HubLegs, reach_m
from geo.records.flight import Endpoint, Leg

# A leg within this share of its time over flat ground is left as it is.
WORTH_SEEKING = 0.005
# Times over flat ground are those of the plane, which differ from the ellipsoid's by less than this within 200 km of a
# region's middle (see geo.base.geodesy.local_crs).
FLAT_SHARE = 1.0 - 5e-4
COARSE = FieldSettings(240.0, 15_000, 100.0)
FINE = FieldSettings(150.0, 45_000, 50.0)


@dataclass(frozen=True)
class _Asked:
    """One leg to be found. Routes are sought in the uniform wind of `legs`; they are flown in state."""

    legs: HubLegs
    place: Endpoint
    state: FlightState

    @property
    def ends(self) -> tuple[Endpoint, Endpoint]:
        return self.legs.ends(self.place)


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
        stages: Sequence[FieldSettings] = (COARSE, FINE),
        *,
        shared: bool = True,
        prepare: Callable[[Corridor, Airspace], RouteGround | None] = route_ground,
    ) -> None:
        """book: the surface, and the direct legs already flown over it, so that none is flown twice; shared: many legs
        have one hub, so that fields are worth sharing; prepare: gives the search ground, if it is kept somewhere."""
        self.surface, self.airspace, self.book, self.stages = book.surface, airspace, book, stages
        self._shared, self._prepare = shared, prepare
        self._fields: Recent[SharedFields | None] = Recent()

    def leg(self, hub: Endpoint, place: Endpoint, state: FlightState, *, outward: bool) -> Leg | NotFlyable:
        """Give the best leg from a place to the hub (outward), or from the hub to the place.

        Returns: a Leg, or the NotFlyable that says why there is none (not raised).
        Raises: BadArgument as `geo.flight.legs.leg.leg`.
        """
        in_uniform = state_between(state, hub, hub, self.surface.ground)
        wind = grid_bearing_deg(self.book.crs_wkt, hub.xy, in_uniform.wind_from_true_deg)
        asked = _Asked(HubLegs(hub, in_uniform, outward, wind), place, state)
        flown = self._first(asked)
        if not self._may_gain(flown, asked):
            return flown.first
        if flown.uniform_s <= (1.0 + WORTH_SEEKING) * flown.least_s:
            return _settled(flown.first)
        fields = self.fields()
        return flown.first if fields is None else self._sought(flown, asked, fields)

    def fields(self) -> SharedFields | None:
        """Give the time fields over the search ground; None without terrain."""

        def made() -> SharedFields | None:
            ground = self._prepare(self.surface, self.airspace)
            return None if ground is None else SharedFields(ground, shared=self._shared)

        return self._fields.get((), (), made)

    def _fly(self, asked: _Asked, route: np.ndarray, surface: Corridor, state: FlightState) -> Leg:
        line = shapely.LineString(route) if len(route) > 2 else None
        return leg(*asked.ends, state, surface, self.book.crs_wkt, line, self.airspace)

    def _try(self, asked: _Asked, state: FlightState) -> Leg | NotFlyable:
        try:
            return self.book.fly(*asked.ends, state, self.airspace)
        except NotFlyable as refusal:
            return refusal

    def _first(self, asked: _Asked) -> _Flown:
        """Fly the direct leg, or the exact route round no-fly areas; where refused, ask whether any height helps."""
        uniform = asked.legs.state
        first = in_uniform = self._try(asked, asked.state)
        if uniform is not asked.state:
            in_uniform = self._try(asked, uniform)
        if isinstance(in_uniform, Leg):
            route = shapely.get_coordinates(in_uniform.route)
            if isinstance(first, NotFlyable):
                return _Flown(route, first, in_uniform.time_s, np.inf)  # it is the wind that forbids it
            return _Flown(route, first, in_uniform.time_s, self._least_s(asked, route, in_uniform))
        start, end = asked.ends
        route = np.array([start.xy, end.xy])
        try:
            if self.airspace.areas:
                found = route_among(self.airspace, start, end, uniform, self.book.crs_wkt)
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
        corners = np.array([asked.place.xy, asked.legs.hub.xy])
        direct = float(np.hypot(*(corners[1] - corners[0])))
        reach = reach_m(first.time_s * asked.legs.state.fastest_ms(), direct)
        (west, south), (east, north) = corners.min(axis=0), corners.max(axis=0)
        near = crop(surface, (west, south, east, north), reach).values
        if not np.any(np.isfinite(near)):
            return first.time_s
        lowest_m = float(np.nanmin(near))
        rule = asked.legs.rule(asked.place, lowest_m)
        seconds = route_seconds(np.ascontiguousarray(route), _level(lowest_m), rule, np.inf)
        return FLAT_SHARE * seconds if np.isfinite(seconds) else 0.0

    def _may_gain(self, flown: _Flown, asked: _Asked) -> bool:
        """True where another route can be sought at all."""
        hub, place, uniform = asked.legs.hub, asked.place, asked.legs.state
        if not np.isfinite(flown.least_s) or max(place.altitude_m, hub.altitude_m) > asked.state.ceiling_m:
            return False
        return place.xy != hub.xy and uniform.wind_ms < uniform.tas_ms

    def _sought(self, flown: _Flown, asked: _Asked, fields: SharedFields) -> Leg | NotFlyable:
        """Seek routes stage by stage; what one stage finds bounds the next. Give the quicker of the first answer and
        the best route found, both flown exactly."""
        ground, legs = fields.ground, asked.legs
        rule = legs.rule(asked.place, ground.lowest_m)
        search = RouteSearch(asked.place, rule, ground.open, legs.outward, flown.route, flown.uniform_s)
        for settings in self.stages:
            search.take(fields.of(legs, asked.place, search.best_s, settings))
        first = flown.first
        for route in search.finished():
            if not is_clear(self.airspace, route):
                continue
            try:
                found = self._fly(asked, route, self.surface, asked.state)
            except NotFlyable:
                continue
            if isinstance(first, NotFlyable) or found.time_s < first.time_s:
                return _settled(found)
        if isinstance(first, Leg):
            return _settled(first)
        least = min(settings.spacing_m for settings in self.stages)
        return NotFlyable(f"{first}. No detour was found (sought every {least:.0f} m or wider)")


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
