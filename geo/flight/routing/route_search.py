"""One leg's search: routes of every kind, each polished by the leg rule as far as it goes; ties go by a rule."""

import numpy as np

from geo.flight.routing.dogleg_kernels import doglegs, opened
from geo.flight.routing.lattice_search import (
    MOST_NODES,
    MOST_NODES_AT_LAST,
    SPACING_M,
    LatticeSearch,
)
from geo.flight.routing.route_changes import polish, shorten
from geo.flight.routing.route_ground import RouteGround
from geo.flight.routing.route_kernels import Rule, route_seconds

# Steps of the first polish, of all routes that may be worth it, and of the last, of the best few [m].
FIRST_M, LAST_M = (400.0, 50.0, 0.0), (400.0, 4.0, 7.0)
MOST_FIRST, WORTH_FIRST, MOST_LAST, WORTH_LAST = 5, 1.10, 2, 1.015
# Heights tried from the highest down, and again between the lowest that serves and the next below [m of slack].
CAPS, FINER_CAPS, CAP_SLACK_M = 6, 2, 2.0
# Routes that take the same time within this share tie: the one with the fewest corners is taken, then the first found.
TIE = 0.0005
# Two routes are of one kind where they never lie farther apart than a share of the leg.
ALIKE_SHARE = 0.02
# Rounded inputs make equal questions equal: significant digits of the rule's numbers, decimals of positions [m].
DIGITS, POSITION_DECIMALS = 6, 3
# Routes are sought between ends on a grid so wide [m], so that a fire half a metre off is hardly ever another search;
# what is found is then fitted to the ends themselves, by steps from the first to the last.
END_GRID_M, FITTED_M = 16.0, (25.0, 4.0, 0.0)


def rounded(rule: Rule) -> Rule:
    """Give the numbers of a leg rounded to what matters."""
    return Rule._make(_to_digits(value) for value in rule)


def _to_digits(value: float | np.ndarray) -> float | np.ndarray:
    size = np.maximum(np.abs(value), 1.0)
    scale = 10.0 ** (DIGITS - 1 - np.floor(np.log10(size)))
    found = np.round(np.asarray(value) * scale) / scale
    return found if isinstance(value, np.ndarray) else float(found)


class RouteSearch:
    """The search for the routes of one leg over a ground, in flying order."""

    def __init__(self, ends: np.ndarray, rule: Rule, ground: RouteGround) -> None:
        self.ends, self.rule, self.ground = np.round(ends, POSITION_DECIMALS), rounded(rule), ground

    def routes(self, first: np.ndarray, first_s: float) -> list[np.ndarray]:
        """Give the routes worth flying, the one to be taken first; none where none was found.

        Parameters: first (n, 2), the direct route or that round no-fly areas; its time where it was flown, else inf.
        """
        near = RouteSearch(END_GRID_M * np.round(self.ends / END_GRID_M), self.rule, self.ground)
        fitted = self._fitted(near.sought(first, first_s))
        # An end on the grid may lie where nothing can be flown.
        return fitted or self._fitted(self.sought(first, first_s))

    def plain_ways(self) -> list[np.ndarray]:
        """Give the quickest ways with a corner about the start and one about the end, found in milliseconds; none where
        none of the few can be flown. They are not polished."""
        return [*doglegs(self.ends[0], self.ends[1], self.ground.open, self.rule, MOST_FIRST)]

    def _fitted(self, routes: list[np.ndarray]) -> list[np.ndarray]:
        return _in_order(self._bent([_between(self.ends, route) for route in routes], FITTED_M))

    def seconds(self, route: np.ndarray) -> float:
        """Give the time of a route by the leg rule in the plane [s], inf where it cannot be flown."""
        return route_seconds(route, self.ground.open, self.rule, np.inf)

    def sought(self, first: np.ndarray, first_s: float) -> list[np.ndarray]:
        """Give the best routes between the ends that differ, the quickest first; parameters as `routes`."""
        first = _between(self.ends, first)
        limit, top = min(self.seconds(first), first_s), self._top_m(first)
        begun = [first]
        if not first_s < np.inf:
            # No lattice knows where a climb has room: a way out and a way in bring the others near.
            begun += self.plain_ways()
        rough, spacing_m, most_nodes = self._timed(begun), np.inf, MOST_NODES
        limit = min(limit, rough[0][0]) if rough else limit
        while spacing_m > SPACING_M:
            search = LatticeSearch(self.ends, self.rule, self.ground, limit, most_nodes)
            if not search.lattice.spacing_m < spacing_m:
                break
            spacing_m = search.lattice.spacing_m
            rough = self._timed([*(route for _, route in rough), *self._ways(search, top)])
            # What was found allows a finer lattice over less ground; where nothing was, a finer one is worth its time.
            limit = min(limit, rough[0][0]) if rough else limit
            most_nodes = MOST_NODES if rough else MOST_NODES_AT_LAST
        bent = self._polished(rough, FIRST_M, MOST_FIRST, WORTH_FIRST)
        return [route for _, route in self._polished(bent, LAST_M, MOST_LAST, WORTH_LAST)]

    def _top_m(self, route: np.ndarray) -> float:
        """Give a height that is enough for a route [m], the ceiling where that is not known."""
        ground = self.ground.open
        highest = max(self.rule.start_altitude_m, self.rule.end_altitude_m)
        for (ax, ay), (bx, by) in zip(route[:-1].tolist(), route[1:].tolist(), strict=True):
            share = np.linspace(0.0, 1.0, 2 + int(np.hypot(bx - ax, by - ay) / (0.5 * ground.cell_east_m)))
            row = ((ground.north_m - (ay + share * (by - ay))) / ground.cell_north_m).astype(int)
            column = (((ax + share * (bx - ax)) - ground.west_m) / ground.cell_east_m).astype(int)
            inside = (row >= 0) & (row < ground.far.shape[0]) & (column >= 0) & (column < ground.far.shape[1])
            if not inside.all():
                return self.rule.ceiling_m
            highest = max(highest, float(ground.far[row, column].max()) + self.rule.clearance_m)
        return min(highest, self.rule.ceiling_m)

    def _ways(self, search: LatticeSearch, top_m: float) -> list[np.ndarray]:
        """Give the ways of a lattice below one height after another, with fewer corners; the best bounds the rest."""
        found: dict[bytes, np.ndarray] = {}
        base = max(self.rule.start_altitude_m, self.rule.end_altitude_m)
        cap, step, halvings = top_m, max(top_m - base, 1.0) / CAPS, 0
        while cap >= base and halvings <= FINER_CAPS:
            ways = search.ways(cap + CAP_SLACK_M)
            for way in ways:
                if way.tobytes() not in found:
                    found[way.tobytes()] = self._shortened(
                        way, cap + CAP_SLACK_M, WORTH_FIRST * search.limit_s
                    )
                    search.limit_s = min(search.limit_s, self.seconds(found[way.tobytes()]))
            if not ways or halvings:  # below the lowest height that serves: back up by half the step
                halvings += 1
                step *= 0.5
                cap = cap - step if ways else cap + step
            else:
                cap -= step
        return list(found.values())

    def _shortened(self, way: np.ndarray, cap_m: float, useless_s: float) -> np.ndarray:
        """Give a way with fewer corners, no higher than its cap where the leg rule lets it; one that cannot be flown
        is opened beside its ends where that takes less than useless_s."""
        low = self.rule._replace(ceiling_m=min(cap_m, self.rule.ceiling_m))
        if route_seconds(way, self.ground.open, low, np.inf) == np.inf:
            low = self.rule
            if self.seconds(way) == np.inf:
                way = opened(way, self.ground.open, self.rule, useless_s)
        return shorten(way, self.ground.open, low)

    def _timed(self, routes: list[np.ndarray]) -> list[tuple[float, np.ndarray]]:
        timed = [(self.seconds(route), route) for route in routes]
        return sorted((pair for pair in timed if pair[0] < np.inf), key=lambda pair: pair[0])

    def _polished(
        self,
        routes: list[tuple[float, np.ndarray]],
        steps_m: tuple[float, float, float],
        most: int,
        worth: float,
    ) -> list[tuple[float, np.ndarray]]:
        """Polish the best routes that differ."""
        chosen: list[np.ndarray] = []
        alike_m = ALIKE_SHARE * float(np.hypot(*(self.ends[1] - self.ends[0])))
        for seconds, route in routes:
            if len(chosen) == most or seconds > worth * routes[0][0]:
                break
            if all(_apart_m(route, other) > alike_m for other in chosen):
                chosen.append(route)
        return self._bent(chosen, steps_m)

    def _bent(
        self, routes: list[np.ndarray], steps_m: tuple[float, float, float]
    ) -> list[tuple[float, np.ndarray]]:
        """Polish routes; give those that can be flown with their steady times [s], the quickest first."""
        bent = [polish(route, self.ground.open, self.rule, *steps_m) for route in routes]
        timed = [(seconds, route) for route, seconds in bent if seconds < np.inf]
        return sorted(timed, key=lambda pair: pair[0])


def _apart_m(one: np.ndarray, other: np.ndarray) -> float:
    """Give about how far apart two routes lead at most: at like shares of their length [m]."""
    share = np.linspace(0.0, 1.0, 33)
    places = []
    for route in (one, other):
        along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(route, axis=0).T))))
        places.append([np.interp(share * along[-1], along, axis) for axis in route.T])
    return float(np.max(np.hypot(*(np.array(places[0]) - np.array(places[1])))))


def _between(ends: np.ndarray, route: np.ndarray) -> np.ndarray:
    """Give a route with other ends."""
    return np.ascontiguousarray(np.vstack((ends[:1], route[1:-1], ends[1:])))


def _in_order(routes: list[tuple[float, np.ndarray]]) -> list[np.ndarray]:
    """Give routes by time, but first of those that tie with the quickest the one with the fewest corners."""
    if not routes:
        return []
    tied = [route for seconds, route in routes if seconds <= (1.0 + TIE) * routes[0][0]]
    first = min(tied, key=len)
    return [first, *(route for _, route in routes if route is not first)]
