"""Which sources are evaluated for a ranking: all of them, or only those that can enter the places asked for.

The order is by sustained litres per hour. Every water has an upper bound (`rate_bounds.py`). Each step of the work on
a source (assessed, flown, settled) lowers its bound, or leaves it. The source with the highest bound is evaluated next;
the search stops when the first k are settled and none left can enter the list. The result is that of evaluating all.
"""

import heapq
import os
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np

from geo.ranking.rank import check_top
from geo.records.ranking import Candidate, Unrefined
from geo.search.ranking_work import Entry, RankingWork

# In a region of no more waters every one is assessed, so that each that is left out has its own reason.
ASSESSED_WHOLE = 200
# So many of the sources that were not worked out are listed by name.
MOST_LISTED = 1000
# Ties must not be decided by rounding: what comes this close to a place is evaluated.
NEAR = 1e-6
_WORKERS = min(4, os.cpu_count() or 1)

Fly = Callable[[list[Entry]], object]


@dataclass(frozen=True, eq=False)
class Shortlist:
    """What was evaluated: all candidates of the sources that can matter, and those that were not worked out."""

    candidates: tuple[Candidate, ...]
    passed: tuple[Unrefined, ...] = ()
    passed_count: int = 0

    def words(self, top: int | None) -> dict[str, str]:
        """Say what was not worked out, as topic -> sentence; top, how many sources are listed."""
        if not self.passed_count:
            return {}
        most = max(one.most_litres_per_hour for one in self.passed)
        were = "source was" if self.passed_count == 1 else "sources were"
        return {
            "not worked out": f"{self.passed_count:,} {were} not worked out: none can enter the first {top}, at "
            f"best {most:,.0f} L/h (straight over level ground with the greatest load); ask for all to see each"
        }


def shortlist(work: RankingWork, top: int | None) -> Shortlist:
    """Evaluate the sources of a ranking: all, or those that can be among the first `top` (at least 1).

    Returns: candidates for `geo.ranking.rank.rank`, and what was not worked out; with top None nothing is left.
    Raises: BadArgument for top below 1, or for weather out of range.
    """
    check_top(top)
    rate_bounds = work.assessments.rate_bounds
    count = len(rate_bounds.bodies)
    # Fill stations come after the waters; they are few, and judged without a bound of their own.
    stations = dict(enumerate(work.judged(), start=count))
    with _flying(work) as fly:
        if top is None:
            entries = {i: work.assessed(i) for i in range(count)} | stations
            fly(list(entries.values()))
            for entry in entries.values():
                work.settle(entry)
            return Shortlist(_candidates(entries))
        bounds = rate_bounds.most_rates(work.context, work.drop.whole, work.refuelling.hours)
        entries = _BestFirst(work, bounds, stations, fly).run(top)
    if count <= ASSESSED_WHOLE and not work.quick:
        entries |= {index: work.assessed(index) for index in range(count) if index not in entries}
    bounds = np.append(bounds, [one.most for one in stations.values()])
    return _sorted_out(entries, bounds, work.names)


class _Queue(list[tuple[float, int]]):
    """A heap of sources by the rate that they may still reach, negative: the highest rate first."""

    @property
    def most(self) -> float:
        """The highest rate, 0 without any."""
        return -self[0][0] if self else 0.0

    def add(self, index: int, entry: Entry) -> None:
        """Add a source that can deliver at all."""
        if entry.most > 0.0:
            heapq.heappush(self, (-entry.most, index))

    def take(self) -> int:
        """Take the first source out."""
        return heapq.heappop(self)[1]


class _BestFirst:
    """The search: sources wait, untouched, by their bound; then they are assessed, flown and settled."""

    def __init__(self, work: RankingWork, bounds: np.ndarray, judged: dict[int, Entry], fly: Fly) -> None:
        self._work, self._bounds, self._fly = work, bounds, fly
        order = np.argsort(-bounds, kind="stable")
        self._waiting = deque(order[bounds[order] > 0.0].tolist())
        self._assessed, self._flown = _Queue(), _Queue()
        self._entries = dict(judged)
        for index, entry in judged.items():
            self._assessed.add(index, entry)
        self._needed, self._done = 0.0, 0
        # Where several cores fly, the next waters are assessed a little ahead, so that each core has one.
        self._at_once = 1 if work.quick else _WORKERS

    def run(self, top: int) -> dict[int, Entry]:
        """Work on whatever may have the best rate, a step at a time, until the first `top` are settled."""
        while self._waiting or self._assessed or self._flown:
            untouched, grounded, reached = self._untouched, self._assessed.most, self._flown.most
            if max(untouched, grounded, reached) < self._needed:
                break
            if untouched > 0.0 and untouched >= max(grounded, reached):
                self._assess_next()
            elif grounded >= reached:
                self._fly_next()
            else:
                self._settle_next(top)
        return self._entries

    @property
    def _untouched(self) -> float:
        return self._bounds[self._waiting[0]] if self._waiting else 0.0

    def _assess_next(self) -> None:
        index = self._waiting.popleft()
        self._entries[index] = self._work.assessed(index)
        self._assessed.add(index, self._entries[index])

    def _fly_next(self) -> None:
        while self._waiting and len(self._assessed) < self._at_once and self._untouched >= self._needed:
            self._assess_next()
        now = [self._assessed.take() for _ in range(min(self._at_once, len(self._assessed)))]
        self._fly([self._entries[index] for index in now])
        for index in now:
            self._flown.add(index, self._entries[index])

    def _settle_next(self, top: int) -> None:
        rate, index = self._flown.most, self._flown.take()
        entry = self._entries[index]
        if not entry.settled:
            self._work.settle(entry)
            self._flown.add(index, entry)
            return
        self._done += 1
        if self._done == top:
            self._needed = rate * (1.0 - NEAR)


@contextmanager
def _flying(work: RankingWork) -> Iterator[Fly]:
    """Give what flies sources, each on one of the machine's cores: the compiled search leaves the others free.

    A quick answer is all short steps of the interpreter, which threads would only hold up.
    """
    if work.quick or _WORKERS < 2:
        yield lambda entries: list(map(work.fly, entries))
        return
    with ThreadPoolExecutor(_WORKERS) as pool:
        yield lambda entries: list(pool.map(work.fly, entries))


def _candidates(entries: dict[int, Entry]) -> tuple[Candidate, ...]:
    return tuple(one.candidate for index in sorted(entries) for one in entries[index].methods)


def _sorted_out(entries: dict[int, Entry], bounds: np.ndarray, names: list[tuple[str, str]]) -> Shortlist:
    """Keep what was evaluated, or is left out for good; list the others by falling bound."""
    settled = {i: one for i, one in entries.items() if one.settled or one.most <= 0.0}
    most = bounds.copy()
    for index, one in entries.items():
        most[index] = min(most[index], one.most)
    passed = np.ones(len(names), dtype=bool)
    passed[list(settled)] = False
    left = np.flatnonzero(passed)
    first = left[np.argsort(-most[left], kind="stable")][:MOST_LISTED].tolist()
    listed = tuple(Unrefined(names[i][0], names[i][1], float(most[i])) for i in first)
    return Shortlist(_candidates(settled), listed, len(left))
