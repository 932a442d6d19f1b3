"""One leg's search: the routes found so far, straightened and bent by the leg rule; the best time bounds the rest."""

import numpy as np

from geo.flight.routing.dogleg_kernels import doglegs
from geo.flight.routing.route_changes import bend, jitter, shorten, split
from geo.flight.routing.route_kernels import Ground, Rule, route_seconds
from geo.flight.routing.time_field import TimeField
from geo.records.flight import Endpoint

# Corners of the routes read are moved by steps that halve from the first to the last.
FIRST_STEP_M, LAST_STEP_M = 240.0, 60.0
# Then the most promising are loosened, each round with shorter pieces: longest piece and first step of a trial [m]; on
# legs longer than LONG_M all pieces are longer by as much, so that no route has more corners than trials can move.
ROUNDS_M = ((2500.0, 400.0), (1200.0, 300.0), (600.0, 200.0))
TRIALS, LONG_M = 300, 24_000.0
# Of so many routes read, so many are bent: those not slower than the best by more than a factor, nor alike in time.
MOST_ROUTES, MOST_BENT, WORTH_BENDING, ALIKE_S = 8, 3, 1.15, 0.2
# Of the routes bent, so many are loosened: those not slower than the best by more than this share, before and after a
# round. (Measured against far finer searches; see tests/bench/bench_flight.py.)
MOST_LOOSENED, WORTH_LOOSENING, WORTH_GOING_ON = 3, 0.04, 0.005


class RouteSearch:
    """The routes between one place and the hub, in flying order; best_s is the least time known [s], inf for none."""

    def __init__(
        self, place: Endpoint, rule: Rule, ground: Ground, outward: bool, first: np.ndarray, first_s: float
    ) -> None:
        self.place, self.best_s = place, first_s
        self._rule, self._ground, self._outward = rule, ground, outward
        self._stretch = max(1.0, float(np.hypot(*(first[-1] - first[0]))) / LONG_M)
        self._routes: list[tuple[float, np.ndarray]] = []
        self._add([first])
        if not first_s < np.inf:
            # No field knows where a climb has room: a way out and a way in bring the others near.
            ends = np.ascontiguousarray(first[0]), np.ascontiguousarray(first[-1])
            self._add([*doglegs(*ends, ground, rule, MOST_BENT)])

    def _add(self, routes: list[np.ndarray]) -> None:
        """Straighten all, bend the most promising."""
        rough = [shorten(np.ascontiguousarray(route), self._ground, self._rule) for route in routes]
        timed = [(self._seconds(route), route) for route in rough]
        timed.sort(key=lambda pair: pair[0])
        last_s, bent = -1.0, 0
        for seconds, route in timed:
            if bent >= MOST_BENT or not seconds <= WORTH_BENDING * self.best_s or seconds - last_s < ALIKE_S:
                continue
            better = bend(route, self._ground, self._rule, FIRST_STEP_M, LAST_STEP_M)
            self._routes.append((self._seconds(better), better))
            self.best_s = min(self.best_s, self._routes[-1][0])
            last_s, bent = seconds, bent + 1

    def _seconds(self, route: np.ndarray) -> float:
        return route_seconds(route, self._ground, self._rule, np.inf)

    def take(self, field: TimeField) -> None:
        """Add the routes that a field shows."""
        routes = field.routes_from(self.place, MOST_ROUTES)
        self._add([route if self._outward else route[::-1] for route in routes])

    def finished(self) -> list[np.ndarray]:
        """Give the routes worth flying, loosened with ever shorter pieces, quickest first."""
        near = _nearly_best(self._routes, WORTH_LOOSENING)[:MOST_LOOSENED]
        for longest_m, step_m in ROUNDS_M:
            loose = [
                jitter(split(route, self._stretch * longest_m), self._ground, self._rule, step_m, TRIALS)
                for _, route in near
            ]
            near = _nearly_best([(self._seconds(route), route) for route in loose], WORTH_GOING_ON)
        done = [shorten(route, self._ground, self._rule) for _, route in near]
        timed = [(self._seconds(route), route) for route in done]
        return [route for _, route in sorted(timed, key=lambda pair: pair[0])]


def _nearly_best(routes: list[tuple[float, np.ndarray]], share: float) -> list[tuple[float, np.ndarray]]:
    """Give the routes not slower than the quickest by more than a share, quickest first."""
    least = min((seconds for seconds, _ in routes), default=np.inf)
    near = [pair for pair in routes if pair[0] <= (1.0 + share) * least and pair[0] < np.inf]
    return sorted(near, key=lambda pair: pair[0])
