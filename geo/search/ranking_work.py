"""The work on one ranking: each source is assessed, its legs are flown, and at last its transits settle its rate."""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.base.prepared import Prepared
from geo.ranking.rank import sustained_rate
from geo.records.conditions import SourceConditions
from geo.records.flight import Endpoint, Leg
from geo.records.question import RankingQuestion
from geo.records.ranking import Candidate
from geo.records.region import Fire
from geo.records.suitability import MethodAssessment
from geo.search.assessments import AssessmentCache, assessments_of
from geo.search.drop_points import Drop, away_from_water
from geo.search.flown_legs import FlightContext, above_ground, with_legs, without_legs
from geo.search.rate_bounds import LeastLegs, most_rate
from geo.search.refuelling import Refuelling, with_transits
from geo.search.stations import JudgedStation, judged_stations
from geo.search.terrain_routes import TerrainRoutes, may_fly

NOT_FLOWN = "not flown: it cannot deliver more here than another fill method"


@dataclass(eq=False)
class Method:
    """One fill method of a source, where its loads are dropped (None: no legs), and the rate it cannot exceed."""

    candidate: Candidate
    drop: Endpoint | None
    most: float
    flown: bool = False


@dataclass(eq=False)
class Entry:
    """A source on the list: its methods, and the rate that it cannot exceed.

    It is assessed first (a bound by its load and place), then flown (its rate), then settled (its rate, where base and
    fuel are in reach, else 0).
    """

    methods: list[Method]
    most: float
    flown: bool = False
    settled: bool = False


@dataclass(eq=False)
class RankingWork:
    """The work on one ranking: the context and the assessments of the day, the fire, and where loads are dropped.

    quick: no best routes round high ground are sought, a plain way will do where the direct one is barred; refuelling:
    the time asked.
    """

    context: FlightContext
    assessments: AssessmentCache
    fire: Fire
    drop: Drop
    quick: bool = False
    stations: tuple[JudgedStation, ...] = ()
    refuelling: Refuelling = field(default_factory=Refuelling)
    routes: TerrainRoutes = field(init=False)

    def __post_init__(self) -> None:
        self.routes = TerrainRoutes(self.context)
        self._least = LeastLegs(self.context)
        self._burning = Prepared(self.fire.area)

    def assessed(self, index: int) -> Entry:
        """Assess a water and say where loads by each usable method are dropped; nothing is flown yet."""
        assessment, air = self.assessments(index)
        body = self.assessments.rate_bounds.bodies[index]
        return self._entry((body.body_id, body.name, body.kind), assessment.methods, air)

    def judged(self) -> list[Entry]:
        """Give the fill stations, judged, and where loads of each are dropped; nothing is flown yet."""
        named = [(one, one.station) for one in self.stations]
        return [
            self._entry((of.station_id, of.name, of.kind or "unknown"), one.methods, one.air)
            for one, of in named
        ]

    @property
    def names(self) -> list[tuple[str, str]]:
        """The id and name of every source: the waters, then the stations, in the order of their entries."""
        waters = [(one.body_id, one.name) for one in self.assessments.rate_bounds.bodies]
        return waters + [(one.station.station_id, one.station.name) for one in self.stations]

    def _entry(
        self, named: tuple[str, str, str], judged: tuple[MethodAssessment, ...], air: SourceConditions
    ) -> Entry:
        methods = []
        for method in judged:
            one = Candidate(*named, method, air, None, None, None, None, None)
            methods.append(self._method(one) if method.verdict == "usable" else Method(one, None, 0.0))
        return Entry(methods, max((one.most for one in methods), default=0.0))

    @cached_property
    def _off_water(self) -> Drop:
        """Where loads of retardant or foam are dropped. Raises: BadArgument where that is nowhere."""
        return away_from_water(self.drop, self.fire, self.context.region)

    def _method(self, one: Candidate) -> Method:
        """Give a usable method with the runs that can be flown from, the best of which bounds its rate."""
        method, air = one.assessment, one.conditions
        try:
            target = self.drop if method.agent == "water" else self._off_water
            what = f"the drop of fire {self.fire.name} for this water"
            height_m = self.context.profile.drop_height_m
            drop = above_ground(self.context.region, target.at(method.fill_point), height_m, what)
        except BadArgument as reason:
            return Method(replace(one, leg_problem=str(reason)), None, 0.0)
        runs = [m for m in (method, *method.alternatives) if may_fly(m, air, self._burning)]
        if not runs:
            return Method(with_legs(self.context, self._burning, one, drop), None, 0.0)
        one = replace(one, assessment=replace(runs[0], alternatives=tuple(runs[1:])))
        most = max(self._most(m, drop) for m in runs)
        return Method(one, drop, max(0.0, most))

    def _most(self, one: MethodAssessment, drop: Endpoint, flown_s: float | None = None) -> float:
        return most_rate(self.context.profile, self._least, one, drop.point, self.refuelling.hours, flown_s)

    def fly(self, entry: Entry) -> None:
        """Fly the legs of a source: straight or round no-fly areas, by a plain way where that is barred and,
        unless it must be quick, by quicker routes.

        A method that cannot deliver more than another one of the source is not flown: only the best is listed.
        """
        left = [one for one in entry.methods if one.drop is not None]
        best = max(left, key=_most_of, default=None)
        while best is not None and not best.flown:
            self._fly(best)
            best = max(left, key=_most_of)
        entry.most, entry.flown = (best.most if best is not None else 0.0), True

    def _fly(self, one: Method) -> None:
        assert one.drop is not None
        one.candidate = with_legs(self.context, self._burning, one.candidate, one.drop)
        barred = one.candidate.loaded_leg is None or one.candidate.empty_leg is None
        if barred or not self.quick:
            one.candidate = self.routes.quicker(one.candidate, one.drop, brief=self.quick)
        loaded, empty = one.candidate.loaded_leg, one.candidate.empty_leg
        bound = 0.0
        if loaded is not None and empty is not None:
            bound = self._most(one.candidate.assessment, one.drop, loaded.time_s + empty.time_s)
        one.most, one.flown = min(one.most, bound), True

    def settle(self, entry: Entry) -> None:
        """Add the transits of the source's best method: its final rate, 0 where base or fuel are out of reach.

        Another method only matters, and only then gets its own, where the best one delivers less than it may.
        """
        left = [one for one in entry.methods if one.drop is not None]
        entry.most, entry.settled = 0.0, True
        while left:
            one = max(left, key=_most_of)
            if entry.most > 0.0 and one.most <= entry.most:
                break
            if not one.flown:
                self._fly(one)
                continue
            left.remove(one)
            assert one.drop is not None
            one.candidate = with_transits(
                self.context, one.candidate, one.drop, self._transit, self.refuelling
            )
            one.most = sustained_rate(one.candidate, self.context.profile, self.refuelling.hours)
            entry.most = max(entry.most, one.most)
        for one in left:
            if one.candidate.leg_problem is None:
                one.candidate = without_legs(one.candidate, NOT_FLOWN)

    def _transit(self, start: Endpoint, end: Endpoint) -> Leg:
        return self.routes.transit(start, end, brief=self.quick)


def _most_of(one: Method) -> float:
    return one.most


def ranking_work(asked: RankingQuestion, drop: Drop, *, quick: bool = False) -> RankingWork:
    """Prepare the work on one ranking.

    Parameters: drop, where loads are dropped; quick, no best routes round high ground are sought: legs go straight or
    round no-fly areas, by a plain way where that is barred, and with `top` no more is assessed than the order needs.
    Raises: BadArgument where no place of the drop has known ground.
    """
    corners, region = shapely.get_coordinates(drop.whole), asked.region
    if region.terrain is None or not np.any(np.isfinite(region.terrain.bilinear(*corners.T))):
        above_ground(region, shapely.Point(corners[0]), 0.0, f"fire {asked.fire.name}")
    refuelling = Refuelling(asked.hours, asked.extras.at)
    day = region, asked.survey, asked.aircraft, asked.weather
    stations = judged_stations(asked.region, asked.aircraft, asked.weather)
    return RankingWork(
        FlightContext(*day), assessments_of(*day), asked.fire, drop, quick, stations, refuelling
    )
