"""Which sources are worked out for a ranking: all of them, or only those that can enter the places asked for.

The order is by litres per hour. Every water has a bound that it cannot exceed (`rate_bounds.py`). Each step of the
work on a source (judged, flown, settled) lowers what it may reach, or leaves it; always the one that may reach most is
worked on next, until the first k are settled and nothing else can enter. The result is that of working out all.
"""

import heapq
import os
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.base.prepared import Prepared
from geo.ranking.rank import best_rate, check_top
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import Weather
from geo.records.ranking import Candidate, Unrefined
from geo.records.region import Fire, Region
from geo.records.suitability import MethodAssessment
from geo.records.survey import BodySurvey, RegionSurvey
from geo.search.assessments import AssessmentCache, assessments_of
from geo.search.drop_points import Drop
from geo.search.flown_legs import FlightContext, ground_m, with_legs, with_transits
from geo.search.rate_bounds import LeastLegs, most_rate
from geo.search.terrain_routes import Hub, TerrainRoutes, may_fly

# In a region of no more waters every one is judged, so that each that is left out has its own reason.
JUDGED_WHOLE = 200
# So many of the sources that were passed over are listed by name.
MOST_LISTED = 1000
# Ties must not be decided by rounding: what comes this close to a place is worked out.
NEAR = 1e-6
NOT_FLOWN = "not flown: it cannot deliver more here than another way to fill"
_WORKERS = min(4, os.cpu_count() or 1)


@dataclass(eq=False)
class _Method:
    """One way to fill at a source, where its loads are dropped (None: no legs), and the rate it cannot exceed."""

    candidate: Candidate
    hub: Hub | None
    most: float
    flown: bool = False


@dataclass(eq=False)
class _Entry:
    """A source on the list: its methods, and the rate that it cannot exceed.

    It is judged first (a bound by its load and place), then flown (its rate), then settled (its rate, where base and
    fuel are in reach, else 0).
    """

    methods: list[_Method]
    most: float
    flown: bool = False
    settled: bool = False


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
    """One ranking to be made: the context and the assessments of the day, the fire, and where loads are dropped.

    quick: no ways round high ground are sought.
    """

    context: FlightContext
    assessments: AssessmentCache
    fire: Fire
    drop: Drop
    quick: bool = False
    ways: TerrainRoutes = field(init=False)

    def __post_init__(self) -> None:
        self.ways = TerrainRoutes(self.context, one_hub=self.drop.whole.geom_type == "Point")
        self._least = LeastLegs(self.context)
        self._burning = Prepared(self.fire.area)

    def judged(self, index: int) -> _Entry:
        """Judge a water and say where loads by each usable method are dropped; nothing is flown yet."""
        assessment, air = self.assessments(index)
        body = self.assessments.rate_bounds.bodies[index]
        entry = _Entry([], 0.0)
        for method in assessment.methods:
            one = Candidate(body.body_id, body.name, body.kind, method, air, None, None, None, None, None)
            hub, most = None, 0.0
            if method.verdict == "usable":
                hub, problem = self._hub(method)
                one = replace(one, leg_problem=problem)
            if hub is not None:
                runs = [m for m in (method, *method.alternatives) if may_fly(m, air, self._burning)]
                if runs:
                    one = replace(one, assessment=replace(runs[0], alternatives=tuple(runs[1:])))
                    most = max(most_rate(self.context.profile, self._least, m, hub.point) for m in runs)
                else:
                    one, hub = with_legs(self.context, self._burning, one, hub.point, hub.altitude_m), None
            entry.methods.append(_Method(one, hub, most))
            entry.most = max(entry.most, most)
        return entry

    def fly(self, entry: _Entry) -> None:
        """Fly the legs of a source: straight or round closed air and, unless it must be quick, by quicker ways.

        A method that cannot deliver more than another one of the source is not flown: only the best is listed.
        """
        rate = 0.0
        for one in sorted(entry.methods, key=lambda m: -m.most):
            if one.hub is None or one.most <= rate:
                continue
            self._fly(one, one.hub)
            rate = max(rate, one.most)
        entry.most, entry.flown = rate, True

    def _fly(self, one: _Method, hub: Hub) -> None:
        one.candidate = with_legs(self.context, self._burning, one.candidate, hub.point, hub.altitude_m)
        if not self.quick:
            one.candidate = self.ways.quicker(one.candidate, hub)
        one.most, one.flown = best_rate([one.candidate], self.context.profile), True

    def settle(self, entry: _Entry) -> None:
        """Add the transits of the source's best method: its final rate, 0 where base or fuel are out of reach.

        Another method only matters, and only then gets its own, where the best one is out of reach.
        """
        left = [one for one in entry.methods if one.hub is not None]
        entry.most, entry.settled = 0.0, True
        while left and entry.most == 0.0:
            one = max(left, key=lambda m: m.most)
            if one.hub is not None and not one.flown:
                self._fly(one, one.hub)
                continue
            left.remove(one)
            if one.most > 0.0 and one.hub is not None:
                one.candidate = self._with_transits(one.candidate, one.hub)
                one.most = entry.most = best_rate([one.candidate], self.context.profile)
        for one in left:
            if not one.flown:
                one.candidate = replace(one.candidate, leg_problem=NOT_FLOWN)

    def _with_transits(self, one: Candidate, hub: Hub) -> Candidate:
        if self.quick:
            return with_transits(self.context, one, hub.point, hub.altitude_m)
        return self.ways.with_transits(one, hub)

    def _hub(self, method: MethodAssessment) -> tuple[Hub | None, str | None]:
        """Give where the loads of a method are dropped, or why its place has no known height."""
        point = self.drop.at(method.fill_point)
        try:
            height_m = ground_m(
                self.context.region, point, f"the drop of fire {self.fire.name} for this water"
            )
        except BadArgument as reason:
            return None, str(reason)
        return Hub(point, height_m + self.context.profile.drop_height_m), None


def question_of(
    region: Region,
    survey: RegionSurvey,
    fire: Fire,
    profile: AircraftProfile,
    weather: Weather,
    drop: Drop,
    *,
    quick: bool = False,
) -> Question:
    """Prepare a question.

    Parameters: quick, no ways round high ground are sought: legs go straight or round closed air; with `top` nothing
    more is judged than the order needs.

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
    context = FlightContext(region, survey, profile, weather)
    return Question(context, assessments_of(region, survey, profile, weather), fire, drop, quick)


def shortlist(question: Question, top: int | None) -> Shortlist:
    """Work out the sources of a question: all, or those that can be among the first `top` (at least 1).

    Returns: candidates for `geo.ranking.rank.rank`, and what was passed over; with top None nothing is.
    Raises: BadArgument for top below 1, or for weather out of range.
    """
    check_top(top)
    count = len(question.assessments.rate_bounds.bodies)
    with _flying(question) as fly:
        if top is None:
            entries = {i: question.judged(i) for i in range(count)}
            fly(list(entries.values()))
            for entry in entries.values():
                question.settle(entry)
            return Shortlist(_candidates(entries))
        bounds = question.assessments.rate_bounds.most_rates(question.context, question.drop.whole)
        entries = _worked_out(question, bounds, top, fly)
    if count <= JUDGED_WHOLE and not question.quick:
        entries |= {index: question.judged(index) for index in range(count) if index not in entries}
    return _sorted_out(entries, bounds, question.assessments.rate_bounds.bodies)


def _worked_out(
    question: Question, bounds: np.ndarray, top: int, fly: Callable[[list[_Entry]], None]
) -> dict[int, _Entry]:
    """Work on whatever may have the best rate, a step at a time, until the first `top` are settled.

    Notes: a water is judged, flown and settled; each step can only lower what it may reach. Where several cores fly,
    the next waters are judged a little ahead, so that each core has one.
    """
    at_once = 1 if question.quick else _WORKERS
    entries: dict[int, _Entry] = {}
    order = np.argsort(-bounds, kind="stable")
    waiting = deque(order[bounds[order] > 0.0].tolist())
    judged: list[tuple[float, int]] = []  # what each may reach, negative, the best first
    flown: list[tuple[float, int]] = []
    needed, done = 0.0, 0

    def judge_next() -> None:
        index = waiting.popleft()
        entries[index] = question.judged(index)
        if entries[index].most > 0.0:
            heapq.heappush(judged, (-entries[index].most, index))

    while waiting or judged or flown:
        untouched = bounds[waiting[0]] if waiting else 0.0
        grounded = -judged[0][0] if judged else 0.0
        reached = -flown[0][0] if flown else 0.0
        if max(untouched, grounded, reached) < needed:
            break
        if untouched > 0.0 and untouched >= max(grounded, reached):
            judge_next()
        elif grounded >= reached:
            while waiting and len(judged) < at_once and bounds[waiting[0]] >= needed:
                judge_next()
            now = [heapq.heappop(judged)[1] for _ in range(min(at_once, len(judged)))]
            fly([entries[i] for i in now])
            for i in now:
                if entries[i].most > 0.0:
                    heapq.heappush(flown, (-entries[i].most, i))
        else:
            most, first = heapq.heappop(flown)
            if not entries[first].settled:
                question.settle(entries[first])
                if entries[first].most > 0.0:
                    heapq.heappush(flown, (-entries[first].most, first))
                continue
            done += 1
            needed = -most * (1.0 - NEAR) if done == top else needed
    return entries


@contextmanager
def _flying(question: Question) -> Iterator[Callable[[list[_Entry]], None]]:
    """Give what flies sources, each on one of the machine's cores: the compiled search leaves the others free.

    A quick answer is all short steps of the interpreter, which threads would only hold up.
    """
    if question.quick or _WORKERS < 2:
        yield lambda entries: list(map(question.fly, entries))
        return
    with ThreadPoolExecutor(_WORKERS) as pool:
        yield lambda entries: list(pool.map(question.fly, entries))


def _candidates(entries: dict[int, _Entry]) -> tuple[Candidate, ...]:
    return tuple(one.candidate for index in sorted(entries) for one in entries[index].methods)


def _sorted_out(entries: dict[int, _Entry], bounds: np.ndarray, bodies: tuple[BodySurvey, ...]) -> Shortlist:
    """Keep what was worked out, or is left out for good; list the others by falling bound."""
    settled = {i: one for i, one in entries.items() if one.settled or one.most <= 0.0}
    most = bounds.copy()
    for index, one in entries.items():
        most[index] = min(most[index], one.most)
    passed = np.ones(len(bodies), dtype=bool)
    passed[list(settled)] = False
    index = np.flatnonzero(passed)
    first = index[np.argsort(-most[index], kind="stable")][:MOST_LISTED].tolist()
    listed = tuple(Unrefined(bodies[i].body_id, bodies[i].name, float(most[i])) for i in first)
    return Shortlist(_candidates(settled), listed, len(index))
