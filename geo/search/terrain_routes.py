"""Quicker ways round high ground for the legs of one candidate; the third page of `geo/pipeline.py`.

Every leg is sought for itself, so that what is found for one source never hangs on which other sources are asked for. A
leg that the search does not shorten stays as it is.
"""

from dataclasses import dataclass, replace
from itertools import cycle

import shapely

from geo.base.errors import NotFlyable
from geo.base.prepared import Prepared
from geo.flight.legs.no_fly_routes import Airspace
from geo.flight.routing.terrain_legs import TerrainLegs
from geo.records.conditions import SourceConditions
from geo.records.flight import Leg
from geo.records.ranking import Candidate
from geo.records.suitability import MethodAssessment
from geo.search.flown_legs import FlightContext, ends, ground_m, in_fire, way_of_base, without_legs
from geo.search.no_fly_areas import search_ground


@dataclass(frozen=True)
class Hub:
    """Where a candidate's loads are dropped: position and altitude [m]."""

    point: shapely.Point
    altitude_m: float


def may_fly(method: MethodAssessment, air: SourceConditions, burning: Prepared) -> bool:
    """True for a filling place of known height outside the fire: the only ones with legs."""
    return air.elevation_m is not None and method.fill_point is not None and not in_fire(method, burning)


class TerrainRoutes:
    """The search for all candidates of one question: one search ground for each set of closed areas."""

    def __init__(self, context: FlightContext, *, one_hub: bool = True) -> None:
        """one_hub: all candidates drop at one place; else each is sought for itself alone."""
        self.context, self._one_hub = context, one_hub
        self._ways: dict[int, TerrainLegs] = {}
        self._turns = cycle((True, False))
        self._homes: dict[tuple[float, float, float], Leg | NotFlyable] = {}

    def quicker(self, one: Candidate, hub: Hub) -> Candidate:
        """Give the candidate with the quickest legs found, and with legs where only the direct way was blocked.

        Its transits are left out: see `with_transits`.

        Parameters: a candidate whose method `may_fly`. Where it has no leg, `leg_problem` says why.
        """
        touch_down, lift_off = ends(one.assessment)
        height = one.conditions.elevation_m
        assert height is not None

        def leg(*, loaded: bool) -> Leg | NotFlyable:
            return self._leg(hub, lift_off if loaded else touch_down, height, outward=loaded, loaded=loaded)

        # Of two sources sought at once one begins with its loaded and one with its empty leg: each makes the time field
        # that the other needs next, instead of waiting for it.
        first = next(self._turns)
        legs = {first: leg(loaded=first)}
        legs[not first] = leg(loaded=not first)
        loaded, empty = legs[True], legs[False]
        refused = next((leg for leg in (loaded, empty) if isinstance(leg, NotFlyable)), None)
        if refused is not None:
            return without_legs(one, str(refused))
        return replace(one, loaded_leg=loaded, empty_leg=empty, leg_problem=None)

    def with_transits(self, one: Candidate, hub: Hub) -> Candidate:
        """Give a candidate that has legs with its ways from and to the base; without a base as it is."""
        height = one.conditions.elevation_m
        if one.loaded_leg is None or height is None:
            return one
        to_water, home = self._transits(ends(one.assessment)[0], height, hub)
        refused = next((leg for leg in (to_water, home) if isinstance(leg, NotFlyable)), None)
        base = self.context.region.base
        if refused is not None and base is not None:
            return without_legs(one, f"{way_of_base(base)}: {refused}")
        return replace(one, transit_to=to_water, transit_from=home)

    def _transits(
        self, touch_down: shapely.Point, height_m: float, hub: Hub
    ) -> tuple[Leg | NotFlyable | None, Leg | NotFlyable | None]:
        """Give the ways from the base to the water and from the drop to the base; None without a base."""
        base = self.context.region.base
        if base is None:
            return None, None
        there = Hub(base.point, ground_m(self.context.region, base.point, f"base {base.name}"))
        key = (hub.point.x, hub.point.y, hub.altitude_m)
        if key not in self._homes:
            self._homes[key] = self._transit(hub, base.point, there.altitude_m)
        return self._transit(there, touch_down, height_m), self._homes[key]

    def _transit(self, hub: Hub, place: shapely.Point, height_m: float) -> Leg | NotFlyable:
        """Fly straight or round closed air; a way round high ground is sought only where that is barred.

        It is flown once a tank of fuel and leaves the order as it is; straight it is never counted too short.
        """
        try:
            return self.context.fly(hub.point, hub.altitude_m, place, height_m, loaded=False)
        except NotFlyable:
            return self._leg(hub, place, height_m, outward=False, loaded=False)

    def _ways_in(self, closed: Airspace) -> TerrainLegs:
        key = id(closed)  # FlightContext keeps one object per set of closed areas for as long as it lives
        if key not in self._ways:
            self._ways[key] = TerrainLegs(
                self.context.surface,
                closed,
                self.context.region.frame.crs_wkt,
                book=self.context.book,
                shared=self._one_hub,
                prepare=search_ground,
            )
        return self._ways[key]

    def _leg(
        self, hub: Hub, place: shapely.Point, height_m: float, *, outward: bool, loaded: bool
    ) -> Leg | NotFlyable:
        """Give the best leg from the place to the hub (outward), or from the hub to the place."""
        ways = self._ways_in(self.context.closed.between(place, hub.point))
        fly = ways.legs_to if outward else ways.legs_from
        found = fly(hub.point, hub.altitude_m, [(place, height_m)], self.context.state(loaded=loaded))
        return self._said(found[0])

    def _said(self, leg: Leg | NotFlyable) -> Leg | NotFlyable:
        """Add a caution for each closed area that the leg passes within the corridor's half-width."""
        if isinstance(leg, NotFlyable):
            return leg
        near = self.context.profile.corridor_half_width_m
        said = tuple(
            f"passes {leg.route.distance(area):.0f} m from {name}: keep outside it"
            for area, name in self.context.closed.near(leg.route, near)
        )
        return replace(leg, cautions=leg.cautions + said) if said else leg
