"""One leg's search: the ways found so far, straightened and bent by the leg rule, and the time that bounds the rest."""

import numpy as np

from geo.flight.time_field import Place, TimeField
from geo.flight.way_kernels import Ground, Rule, bend, shorten, split, way_seconds

# Corners are moved by steps that halve from the first to the last; a long piece gets another corner to bend at.
FIRST_STEP_M, MIDDLE_STEP_M, LAST_STEP_M = 240.0, 60.0, 15.0
LONGEST_STIFF_M = 1500.0
# Ways slower than the best by more than this share are not worked out.
WORTH_FINISHING = 0.02


class WaySearch:
    """The ways between one place and the hub, in flying order; best_s is the least time known [s], inf for none."""

    def __init__(self, place: Place, rule: Rule, ground: Ground, outward: bool, first: np.ndarray, first_s: float) -> None:
        self.place, self.best_s = place, first_s
        self._rule, self._ground, self._outward = rule, ground, outward
        self._ways: list[tuple[float, np.ndarray]] = []
        self._add(first)

    def _add(self, way: np.ndarray) -> None:
        rough = shorten(np.ascontiguousarray(way), self._ground, self._rule)
        bent = bend(rough, self._ground, self._rule, FIRST_STEP_M, MIDDLE_STEP_M)
        seconds = way_seconds(bent, self._ground, self._rule)
        if np.isfinite(seconds):
            self._ways.append((seconds, bent))
            self.best_s = min(self.best_s, seconds)

    def take(self, field: TimeField, most: int = 2) -> None:
        """Add the ways that a field shows."""
        for way in field.ways_from(self.place, most):
            self._add(way if self._outward else way[::-1])

    def finished(self) -> list[np.ndarray]:
        """Give the ways worth flying, worked out to the finest step, quickest first."""
        near = [way for seconds, way in self._ways if seconds <= (1.0 + WORTH_FINISHING) * self.best_s]
        done = []
        for way in near:
            more = split(way, LONGEST_STIFF_M)
            bent = bend(more, self._ground, self._rule, FIRST_STEP_M, LAST_STEP_M)
            short = shorten(bent, self._ground, self._rule)
            done.append((way_seconds(short, self._ground, self._rule), short))
        return [way for _, way in sorted(done, key=lambda pair: pair[0])]
