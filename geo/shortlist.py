"""Which sources are worked out for a ranking: all of them, or only those that can enter the places asked for.

The order is by litres per hour. Every water has a bound that it cannot exceed (`geo/prospects.py`); they are taken by
falling bound, judged and flown straight, until no bound reaches the k-th best rate so far. A way round high ground is
only taken where it is quicker than straight, so that rate only rises, and what is passed over cannot enter. Then ways
are sought for those that are left, again by falling bound. The result is that of working out every source.
"""

import heapq
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

import numpy as np
import shapely

from geo.errors import BadArgument
from geo.prospects import Prospects, most_rate
from geo.ranking.rank import best_rate, check_top
from geo.recent import Recent
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import SourceConditions, Weather
from geo.records.ranking import Candidate, Unrefined
from geo.records.region import Fire, Region
from geo.records.suitability import BodyAssessment, MethodAssessment
from geo.records.survey import RegionSurvey
from geo.sites import sites_on
from geo.sorties import Sky, candidate, closures_in_force, conditions_at, ground_m
from geo.suitability.assess import assess_body
from geo.targets import Drop
from geo.ways_round import Hub, WaysRound, may_fly

# In a region of no more waters every one is judged, so that each that is left out has its own reason.
JUDGED_WHOLE = 200
# So many of the sources that were passed over are listed by name.
MOST_LISTED = 1000
# Ties must not be decided by rounding: what comes this close to a place is worked out.
NEAR = 1e-6
_WORKERS = min(4, os.cpu_count() or 1)


_prospects: Recent[Prospects] = Recent(6)
_judges: Recent["Judge"] = Recent(6)


class Judge:
    """The assessments of one survey for one aircraft in one weather, each made once, at the first need."""

    def __init__(
        self, region: Region, prospects: Prospects, profile: AircraftProfile, weather: Weather
    ) -> None:
        self._region, self._profile, self._weather = region, profile, weather
        self.prospects = prospects
        self._closures = closures_in_force(region, weather)
        self._sites = sites_on(region.sites, weather.day)
        self._kept: dict[int, tuple[BodyAssessment, SourceConditions]] = {}

    def __call__(self, index: int) -> tuple[BodyAssessment, SourceConditions]:
        """Give the assessment of a water, by its place in the survey, and the air there."""
        if index not in self._kept:
            body, water = self.prospects.bodies[index], self.prospects.waters[index]
            air = conditions_at(body, self._region, self._profile, self._weather, water)
            judged = assess_body(body, water, self._profile, air, self._closures, self._sites)
            self._kept[index] = judged, air
        return self._kept[index]


@dataclass(eq=False)
class _Entry:
    """A source on the list: its methods, where each drops, the rate it cannot exceed, the best rate known of it."""

    candidates: list[Candidate]
    hubs: list[Hub | None]
    most: float
    rate: float
    refined: bool = False


def judge_of(region: Region, survey: RegionSurvey, profile: AircraftProfile, weather: Weather) -> Judge:
    """Give the judge of a survey, an aircraft and a weather; the last few are kept."""
    prospects = _prospects.get((region, survey), (profile,), lambda: Prospects(region, survey, profile))
    return _judges.get(
        (region, survey), (profile, weather), lambda: Judge(region, prospects, profile, weather)
    )


@dataclass(frozen=True, eq=False)
class Shortlist:
    """What was worked out: all candidates of the sources that can matter, and those that were passed over."""

    candidates: tuple[Candidate, ...]
    passed: tuple[Unrefined, ...] = ()
    passed_count: int = 0

    def words(self, top: int | None) -> dict[str, str]:
        """Say what was not worked out, as topic -> sentence."""
        if not self.passed_count:
            return {}
        most = max(one.most_litres_per_hour for one in self.passed)
        were = "source was" if self.passed_count == 1 else "sources were"
        return {
            "passed over": f"{self.passed_count:,} {were} not worked out: none can enter the first {top}, at "
            f"best {most:,.0f} L/h (straight over level ground with the greatest load); ask for all to see each"
        }


@dataclass(eq=False)
class Question:
    """One ranking to be made: the sky and the judge of the day, the fire, and where loads are dropped."""

    sky: Sky
    judge: Judge
    fire: Fire
    drop: Drop
    ways: WaysRound = field(init=False)

    def __post_init__(self) -> None:
        self.ways = WaysRound(self.sky, one_hub=self.drop.whole.geom_type == "Point")

    def direct(self, index: int) -> _Entry:
        """Judge a water and fly its usable methods straight, or round closed air."""
        assessment, air = self.judge(index)
        body = self.judge.prospects.bodies[index]
        candidates: list[Candidate] = []
        hubs: list[Hub | None] = []
        for method in assessment.methods:
            plain = Candidate(body.body_id, body.name, body.kind, method, air, None, None, None, None, None)
            one, hub = plain, None
            if method.verdict == "usable":
                hub, problem = self._hub(method)
                one = replace(plain, leg_problem=problem)
            if hub is not None:
                one = candidate(self.sky, self.fire, body, method, air, hub.point, hub.altitude_m)
            candidates.append(one)
            hubs.append(hub if hub is not None and may_fly(one, self.fire) else None)
        rate = best_rate(candidates, self.sky.profile)
        most = max(
            (
                most_rate(self.sky, one.assessment, hub.point)
                for one, hub in zip(candidates, hubs, strict=True)
                if hub is not None
            ),
            default=0.0,
        )
        return _Entry(candidates, hubs, most, rate)

    def _hub(self, method: MethodAssessment) -> tuple[Hub | None, str | None]:
        """Give where the loads of a method are dropped, or why its place has no known height."""
        point = self.drop.at(method.fill_point)
        try:
            height_m = ground_m(self.sky.region, point, f"the drop of fire {self.fire.name} for this water")
        except BadArgument as reason:
            return None, str(reason)
        return Hub(point, height_m + self.sky.profile.drop_height_m), None

    def refine(self, entry: _Entry) -> None:
        """Seek quicker ways for the legs of a source."""
        entry.candidates = [
            one if hub is None else self.ways.quicker(one, hub)
            for one, hub in zip(entry.candidates, entry.hubs, strict=True)
        ]
        entry.rate, entry.refined = best_rate(entry.candidates, self.sky.profile), True


def question_of(
    region: Region,
    survey: RegionSurvey,
    fire: Fire,
    profile: AircraftProfile,
    weather: Weather,
    drop: Drop,
) -> Question:
    """Prepare a question.

    Raises: BadArgument where no place of the drop has known ground.
    """
    corners = shapely.points(shapely.get_coordinates(drop.whole))
    heights = (
        []
        if region.terrain is None
        else region.terrain.bilinear(shapely.get_x(corners), shapely.get_y(corners))
    )
    if not np.any(np.isfinite(heights)):
        ground_m(region, corners[0], f"fire {fire.name}")
    sky = Sky(region, survey, profile, weather)
    return Question(sky, judge_of(region, survey, profile, weather), fire, drop)


def shortlist(question: Question, top: int | None, *, quick: bool = False) -> Shortlist:
    """Work out the sources of a question: all, or those that can be among the first `top` (at least 1).

    Parameters: quick, no ways round high ground are sought: legs go straight or round closed air; with top nothing more
    is judged than the order needs.
    Returns: candidates for `geo.ranking.rank.rank`, and what was passed over; with top None nothing is.
    Raises: BadArgument for top below 1, or for weather out of range.
    """
    check_top(top)
    count = len(question.judge.prospects.bodies)
    if top is None:
        entries = {i: question.direct(i) for i in range(count)}
        if not quick:
            _in_parallel(question.refine, list(entries.values()))
        return Shortlist(_candidates(entries))
    bounds = question.judge.prospects.most_rates(question.sky, question.drop.whole)
    entries = _straight(question, bounds, top)
    if quick:
        for one in entries.values():
            one.refined = True  # it stands as it was flown straight
        return _sorted_out(question, entries, bounds)
    _refined(question, list(entries.values()), top)
    if count <= JUDGED_WHOLE:
        for index in range(count):
            if index not in entries:
                entries[index] = question.direct(index)
    return _sorted_out(question, entries, bounds)


def _straight(question: Question, bounds: np.ndarray, top: int) -> dict[int, _Entry]:
    """Take waters by falling bound until none of the rest can enter the first `top`."""
    entries: dict[int, _Entry] = {}
    best: list[float] = []  # a heap of the best rates so far, the least of them first
    for index in np.argsort(-bounds, kind="stable").tolist():
        needed = best[0] * (1.0 - NEAR) if len(best) == top else 0.0
        if bounds[index] <= 0.0 or bounds[index] < needed:
            break
        entries[index] = question.direct(index)
        heapq.heappush(best, entries[index].rate)
        if len(best) > top:
            heapq.heappop(best)
    return entries


def _needed(rates: Sequence[float], top: int) -> float:
    """Give the rate [L/h] below which no source enters the first `top`, from the rates known of single sources."""
    if len(rates) < top:
        return 0.0
    return float(np.partition(np.array(rates), len(rates) - top)[len(rates) - top]) * (1.0 - NEAR)


def _refined(question: Question, entries: list[_Entry], top: int) -> None:
    """Seek ways by falling bound, a few sources at a time, until none of the rest can enter."""
    left = sorted((one for one in entries if one.most > 0.0), key=lambda one: -one.most)
    while left:
        needed = _needed([one.rate for one in entries], top)
        now = [one for one in left[:_WORKERS] if one.most >= needed]
        if not now:
            return
        _in_parallel(question.refine, now)
        left = left[_WORKERS:]


def _in_parallel(work: Callable[[_Entry], None], entries: list[_Entry]) -> None:
    """Do each on one of the machine's cores: the compiled search leaves the others free. Order does not matter."""
    if len(entries) < 2 or _WORKERS < 2:
        for one in entries:
            work(one)
        return
    with ThreadPoolExecutor(_WORKERS) as pool:
        list(pool.map(work, entries))


def _candidates(entries: dict[int, _Entry]) -> tuple[Candidate, ...]:
    return tuple(one for index in sorted(entries) for one in entries[index].candidates)


def _sorted_out(question: Question, entries: dict[int, _Entry], bounds: np.ndarray) -> Shortlist:
    """Keep what was worked out, or is left out for good; list the others by falling bound."""
    bodies = question.judge.prospects.bodies
    settled = {i: one for i, one in entries.items() if one.refined or one.most <= 0.0}
    most = bounds.copy()
    for index, one in entries.items():
        most[index] = min(most[index], one.most)
    passed = np.ones(len(bodies), dtype=bool)
    passed[list(settled)] = False
    index = np.flatnonzero(passed)
    first = index[np.argsort(-most[index], kind="stable")][:MOST_LISTED].tolist()
    listed = tuple(Unrefined(bodies[i].body_id, bodies[i].name, float(most[i])) for i in first)
    return Shortlist(_candidates(settled), listed, len(index))
