"""Quicker routes round high ground for the legs of one candidate.

Every leg is sought for itself, so that what is found for one source never hangs on which other sources are asked for. A
leg that the search does not shorten stays as it is.
"""

import math
from dataclasses import replace

from geo.base.errors import NotFlyable
from geo.base.prepared import Prepared
from geo.base.recent import Recent
from geo.flight.routing.terrain_legs import TerrainLegs
from geo.records.conditions import SourceConditions
from geo.records.flight import Endpoint, Leg
from geo.records.ranking import Candidate
from geo.records.suitability import MethodAssessment
from geo.search.flown_legs import MOST_FLOWN, FlightContext, fill_ends, in_fire, level_s, without_legs
from geo.search.no_fly_areas import search_ground


def may_fly(method: MethodAssessment, air: SourceConditions, burning: Prepared) -> bool:
    """True for a filling place of known height outside the fire: the only ones with legs."""
    return air.elevation_m is not None and method.fill_point is not None and not in_fire(method, burning)


def _legs_s(one: Candidate) -> float:
    if one.loaded_leg is None or one.empty_leg is None:
        return math.inf
    return one.loaded_leg.time_s + one.empty_leg.time_s


class TerrainRoutes:
    """The search for all candidates of one question: one search ground for each set of no-fly areas."""

    def __init__(self, context: FlightContext) -> None:
        self.context = context
        self._searches: Recent[TerrainLegs] = Recent()
        self._transits: Recent[Leg | NotFlyable] = Recent()

    def quicker(self, one: Candidate, drop: Endpoint, *, brief: bool = False) -> Candidate:
        """Give the candidate with the quickest legs found, and with legs where only the direct route was blocked.

        Parameters: a candidate whose method `may_fly`; brief, a leg whose direct route is blocked takes a plain way,
        and no quicker ones are sought. Where it has no leg, `leg_problem` says why. Where the direct legs of all its
        places are blocked, the one of the nearest by level flight is kept that has the quickest plain ways.
        """
        if one.loaded_leg is not None and one.empty_leg is not None:
            return self._sought(one, drop, brief=brief)
        places = (one.assessment, *one.assessment.alternatives)
        nearest = [
            replace(one, assessment=replace(place, alternatives=()))
            for place in sorted(places, key=lambda m: level_s(self.context, m, drop))[:MOST_FLOWN]
        ]
        plain = min((self._sought(place, drop, brief=True) for place in nearest), key=_legs_s)
        return plain if brief else self._sought(plain, drop, brief=False)

    def _sought(self, one: Candidate, drop: Endpoint, *, brief: bool) -> Candidate:
        level_m = one.conditions.elevation_m
        assert level_m is not None
        touch_down, lift_off = fill_ends(self.context, one.assessment, level_m)
        out = self._leg(drop, lift_off, outward=True, loaded=True, brief=brief)
        back = self._leg(drop, touch_down, outward=False, loaded=False, brief=brief)
        if isinstance(out, NotFlyable) or isinstance(back, NotFlyable):
            return without_legs(one, str(out if isinstance(out, NotFlyable) else back))
        return replace(one, loaded_leg=out, empty_leg=back, leg_problem=None)

    def plain_leg(self, hub: Endpoint, place: Endpoint, *, loaded: bool) -> Leg:
        """Fly loaded from a place to the hub, or empty from the hub to the place: straight or round no-fly areas, and
        where that is barred by a plain way.

        Raises: NotFlyable with the reason and the place.
        """
        found = self._leg(hub, place, outward=loaded, loaded=loaded, brief=True)
        if isinstance(found, NotFlyable):
            raise NotFlyable(str(found))
        return found

    def transit(self, start: Endpoint, end: Endpoint, *, brief: bool = False) -> Leg:
        """Fly empty, straight or round no-fly areas; where that is barred by a plain way, and only where none of these
        can be flown by the best route (never, if brief).

        It is flown once a tank of fuel and hardly ever decides: what is flown may be longer than need be, which never
        counts a source too good.
        Raises: NotFlyable with the reason and the place.
        """

        def flown() -> Leg | NotFlyable:
            found = self._leg(start, end, outward=False, loaded=False, brief=True)
            if isinstance(found, Leg) or brief:
                return found
            return self._leg(start, end, outward=False, loaded=False)

        found = self._transits.get((), (start, end), flown)
        if isinstance(found, NotFlyable):
            raise NotFlyable(str(found))
        return found

    def _leg(
        self, hub: Endpoint, place: Endpoint, *, outward: bool, loaded: bool, brief: bool = False
    ) -> Leg | NotFlyable:
        """Give the best leg from the place to the hub (outward), or from the hub to the place, with a caution for each
        no-fly area that it passes within the corridor's half-width."""
        context = self.context
        space = context.no_fly.between(place, hub)
        search = self._searches.get(
            (space,), (), lambda: TerrainLegs(space, context.book, prepare=search_ground)
        )
        found = search.leg(hub, place, context.state(loaded=loaded), outward=outward, brief=brief)
        if isinstance(found, NotFlyable):
            return found
        said = tuple(
            f"passes {found.route.distance(area):.0f} m from {name}: keep outside it"
            for area, name in context.no_fly.near(found.route, context.profile.corridor_half_width_m)
        )
        return replace(found, cautions=found.cautions + said) if said else found
