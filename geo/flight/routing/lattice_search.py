"""Routes of one leg that differ in kind, read from a lattice: below one height after another, on one side and another.

For each height (the cap) two searches over the lattice give the least times from the start and to the end, with the
waits for climb and descent; where their sum is least in its neighbourhood, a way of its own leads through. The lattice
lies at whole multiples of its spacing in the plane, so that it does not follow the ends of the leg. All this only
finds routes; what they take is computed by the leg rule.
"""

import math

import numpy as np
from scipy.ndimage import maximum_filter, minimum_filter

from geo.base.wind import displacement_s
from geo.flight.routing.lattice_kernels import MOVES, Apart, Lattice, Moves, move_heights, spread
from geo.flight.routing.route_ground import RouteGround
from geo.flight.routing.route_kernels import Rule

# Least spacing; greatest number of nodes, and where nothing else was found.
SPACING_M, MOST_NODES, MOST_NODES_AT_LAST = 200.0, 20_000, 80_000
# Times of the lattice lie above those of the routes read from it by up to about this factor.
LATTICE_ERROR = 1.06
# Ways at one cap: at most so many, none slower than the best by more than the factor, apart by a share of the leg.
MOST_WAYS, WORTH_TAKING, APART_SHARE = 3, 1.08, 0.07


class LatticeSearch:
    """The lattice of one leg, laid where routes within a time limit can lead."""

    def __init__(
        self, ends: np.ndarray, rule: Rule, ground: RouteGround, limit_s: float, most_nodes: int
    ) -> None:
        """ends (2, 2): start and end [m]; limit_s: the time [s] at which a route is of no more use, or inf."""
        self.ends, self.rule, self.ground, self.limit_s = ends, rule, ground, limit_s
        self.lattice = _lattice(*_box(ends, rule, ground, limit_s), most_nodes)
        node = np.arange(self.lattice.columns * self.lattice.rows)
        self._east = self.lattice.west_m + (node % self.lattice.columns) * self.lattice.spacing_m
        self._north = self.lattice.south_m + (node // self.lattice.columns) * self.lattice.spacing_m
        self._near = [self._near_to(place) for place in ends]
        # Straight from the start to every node, and from every node to the end.
        self._from_start_s, self._to_end_s = (self._straight_s(onward=onward) for onward in (True, False))
        self._heights_m = self._heights()

    def _moving_s(self, east_m: np.ndarray, north_m: np.ndarray, tas_ms: float) -> np.ndarray:
        return displacement_s(east_m, north_m, tas_ms, (self.rule.blow_east_ms, self.rule.blow_north_ms))

    def _straight_s(self, *, onward: bool) -> np.ndarray:
        place, sense = (self.ends[0], 1.0) if onward else (self.ends[1], -1.0)
        east, north = sense * (self._east - place[0]), sense * (self._north - place[1])
        return self._moving_s(east, north, self.rule.tas_ms)

    def _near_to(self, place: np.ndarray) -> np.ndarray:
        off = np.maximum(abs(self._east - place[0]), abs(self._north - place[1]))
        return off <= 1.6 * self.lattice.spacing_m

    def _climb_s(self, height_m: float) -> float:
        """Give the seconds of climb from the start to a height [m]."""
        rule = self.rule
        heights = rule.clock_low_m + rule.clock_step_m * np.arange(len(rule.climb_s))
        return float(np.diff(np.interp((rule.start_altitude_m, height_m), heights, rule.climb_s))[0])

    def _heights(self) -> np.ndarray:
        """Give the heights needed on the moves (8, nodes), where a route within the limit may lead."""
        rule = self.rule
        climb_s = self._climb_s(rule.start_altitude_m + rule.clearance_m)
        rise = max(rule.exempt_m, climb_s * rule.climb_speed_ms, 1.0)
        fall = max(rule.exempt_m, rule.clearance_m * rule.tas_ms / rule.descent_ms, 1.0)
        apart = Apart(self.ends, rule.exempt_m, rise, fall, rule.clearance_m)
        useful = self._from_start_s + self._to_end_s <= LATTICE_ERROR * self.limit_s
        return move_heights(self.lattice, self.ground.barred, apart, useful)

    def _onward(self, cap_m: float) -> Moves:
        """Give the moves from the start: slow while the aircraft climbs to the cap."""
        rule, step = self.rule, MOVES * self.lattice.spacing_m
        cruise, slow = (
            self._moving_s(step[:, 0], step[:, 1], tas) for tas in (rule.tas_ms, rule.climb_speed_ms)
        )
        until = max(0.0, self._climb_s(cap_m))
        start_s = self._climb_s(rule.clock_low_m)
        clock = rule.climb_s - rule.climb_s[0] + start_s
        return Moves(cruise, slow, until, clock, rule.clock_low_m, rule.clock_step_m, cap_m)

    def _backward(self, cap_m: float) -> Moves:
        """Give the moves from the end, flown the other way: a height must be lost before the end is reached."""
        rule, step = self.rule, MOVES * self.lattice.spacing_m
        cruise = self._moving_s(-step[:, 0], -step[:, 1], rule.tas_ms)
        clock = np.array((0.0, 1000.0 / rule.descent_ms))
        return Moves(cruise, cruise, 0.0, clock, rule.end_altitude_m, 1000.0, cap_m)

    def _spread(
        self, moves: Moves, near: np.ndarray, straight_s: np.ndarray, last_s: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """Give the least seconds between one end and every node, and the node before each."""
        times = np.where(near, straight_s, np.inf)
        return times, spread(self.lattice, self._heights_m, moves, times, last_s)

    def ways(self, cap_m: float) -> list[np.ndarray]:
        """Give routes (n, 2) that need no more than a height by the lattice; none where none does.

        Notes: the best by the climb alone, the best by the descent alone, and those that lead through a place between
        both, where the sum of the times from the start and to the end is least in its neighbourhood.
        """
        limit = LATTICE_ERROR * self.limit_s
        onward = self._onward(cap_m)
        slower = self.rule.tas_ms / self.rule.climb_speed_ms if onward.slow_until_s > 0.0 else 1.0
        there, from_start = self._spread(
            onward, self._near[0], slower * self._from_start_s, limit - self._to_end_s
        )
        at_end = np.where(self._near[1], there + self._to_end_s, np.inf)
        last = int(np.argmin(at_end))
        if not at_end[last] < np.inf:
            return []
        limit = min(limit, WORTH_TAKING * at_end[last] + 30.0)
        back, to_end = self._spread(
            self._backward(cap_m), self._near[1], self._to_end_s, limit - self._from_start_s
        )
        at_start = np.where(self._near[0], back + self._from_start_s, np.inf)
        first = int(np.argmin(at_start))
        found = [self._route(_followed(from_start, last)[::-1])]
        if at_start[first] < np.inf:
            found.append(self._route(_followed(to_end, first)))
        sinking = (cap_m - self.rule.end_altitude_m) / self.rule.descent_ms
        level = (there >= onward.slow_until_s) & (back >= sinking)
        through = np.where(level, np.minimum(there + back, 1e9), 1e9)
        return found + self._between(
            through.reshape(self.lattice.rows, self.lattice.columns), from_start, to_end
        )

    def _route(self, nodes: list[int]) -> np.ndarray:
        corners = np.column_stack((self._east[nodes], self._north[nodes]))
        return np.ascontiguousarray(np.vstack((self.ends[:1], corners, self.ends[1:])))

    def _between(self, through: np.ndarray, from_start: np.ndarray, to_end: np.ndarray) -> list[np.ndarray]:
        """Read the ways through the places where the seconds through them are least in their neighbourhood."""
        lowest = through <= minimum_filter(through, 5) + 1e-3
        open_ = np.where(lowest, through, np.inf).ravel()
        apart = APART_SHARE * math.dist(*self.ends) / self.lattice.spacing_m
        wide = 2 * max(2, round(apart)) + 1
        ways: list[np.ndarray] = []
        most = min(1e8, WORTH_TAKING * float(through.min()))
        while len(ways) < MOST_WAYS:
            node = int(np.argmin(open_))
            if not open_[node] < most:
                break
            nodes = [*_followed(from_start, node)[::-1], *_followed(to_end, node)[1:]]
            ways.append(self._route(nodes))
            used = np.zeros(through.shape, bool)
            used.ravel()[nodes] = True
            open_[maximum_filter(used, wide).ravel()] = np.inf
        return ways


def _followed(before: np.ndarray, node: int) -> list[int]:
    nodes = [node]
    while before[nodes[-1]] >= 0:
        nodes.append(int(before[nodes[-1]]))
    return nodes


def reach_m(longest_m: float, direct_m: float) -> float:
    """Give how far a route of at most longest_m can lead off the box about its two ends: half an ellipse's width."""
    return 0.5 * math.sqrt(max(longest_m**2 - direct_m**2, 0.0))


def _box(ends: np.ndarray, rule: Rule, ground: RouteGround, limit_s: float) -> tuple[np.ndarray, np.ndarray]:
    """Give the corners of the box of the ground that holds every route within the limit [m]."""
    low, high = np.array(ground.bounds[:2]), np.array(ground.bounds[2:])
    if math.isfinite(limit_s):
        fastest = rule.tas_ms + math.hypot(rule.blow_east_ms, rule.blow_north_ms)
        margin = reach_m(limit_s * fastest, math.dist(*ends)) + 2.0 * SPACING_M
        low, high = np.maximum(low, ends.min(axis=0) - margin), np.minimum(high, ends.max(axis=0) + margin)
    return low, high


def _lattice(low: np.ndarray, high: np.ndarray, most_nodes: int) -> Lattice:
    """Lay nodes at whole multiples of a spacing of a fixed row, the least that needs not too many."""
    spacing = SPACING_M
    while float(np.prod((high - low) / spacing + 1.0)) > most_nodes:
        spacing *= math.sqrt(2.0)
    first, last = np.ceil(low / spacing).astype(int), np.floor(high / spacing).astype(int)
    columns, rows = np.maximum(last - first + 1, 1).tolist()
    return Lattice(float(first[0] * spacing), float(first[1] * spacing), spacing, columns, rows)
