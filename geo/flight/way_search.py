"""One leg's search: the ways found so far, straightened and bent by the leg rule, and the time that bounds the rest."""

import numpy as np

from geo.flight.time_field import Place, TimeField
from geo.flight.way_kernels import Ground, Rule, bend, jitter, shorten, split, way_seconds

# Corners are moved by steps that halve from the first to the last; a long piece gets another corner to bend at.
FIRST_STEP_M, MIDDLE_STEP_M, LAST_STEP_M = 240.0, 60.0, 15.0
LONGEST_STIFF_M = 1500.0
TRIALS = 400
# Of so many ways read, so many are bent: those not slower than the best by more than a factor, nor alike in time.
MOST_WAYS, MOST_BENT, WORTH_BENDING, ALIKE_S = 8, 3, 1.15, 0.2
# Ways slower than the best by more than this share are not worked out.
WORTH_FINISHING = 0.02


class WaySearch:
    """The ways between one place and the hub, in flying order; best_s is the least time known [s], inf for none."""

    def __init__(
        self, place: Place, rule: Rule, ground: Ground, outward: bool, first: np.ndarray, first_s: float
    ) -> None:
        self.place, self.best_s = place, first_s
        self._rule, self._ground, self._outward = rule, ground, outward
        self._ways: list[tuple[float, np.ndarray]] = []
        self._add([first])

    def _add(self, ways: list[np.ndarray]) -> None:
        """Straighten all, bend the most promising."""
        rough = [shorten(np.ascontiguousarray(way), self._ground, self._rule) for way in ways]
        timed = [(self._seconds(way), way) for way in rough]
        timed.sort(key=lambda pair: pair[0])
        last_s, bent = -1.0, 0
        for seconds, way in timed:
            if bent >= MOST_BENT or not seconds <= WORTH_BENDING * self.best_s or seconds - last_s < ALIKE_S:
                continue
            better = bend(way, self._ground, self._rule, FIRST_STEP_M, MIDDLE_STEP_M)
            self._ways.append((self._seconds(better), better))
            self.best_s = min(self.best_s, self._ways[-1][0])
            last_s, bent = seconds, bent + 1

    def _seconds(self, way: np.ndarray) -> float:
        return way_seconds(way, self._ground, self._rule, np.inf)

    def take(self, field: TimeField) -> None:
        """Add the ways that a field shows."""
        ways = field.ways_from(self.place, MOST_WAYS)
        self._add([way if self._outward else way[::-1] for way in ways])

    def finished(self) -> list[np.ndarray]:
        """Give the ways worth flying, worked out to the finest step, quickest first."""
        near = [way for seconds, way in self._ways if seconds <= (1.0 + WORTH_FINISHING) * self.best_s]
        done = []
        for way in near:
            more = split(way, LONGEST_STIFF_M)
            bent = bend(more, self._ground, self._rule, FIRST_STEP_M, LAST_STEP_M)
            loose = jitter(bent, self._ground, self._rule, FIRST_STEP_M, TRIALS)
            short = shorten(loose, self._ground, self._rule)
            done.append((self._seconds(short), short))
        return [way for _, way in sorted(done, key=lambda pair: pair[0])]
