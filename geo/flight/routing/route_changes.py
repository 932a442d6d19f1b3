"""Compiled: how a route is shortened, and bent to the best that small changes can make of it."""

import numpy as np
from numba import njit

from geo.flight.routing.route_kernels import Ground, Rule, route_seconds

# Sides to which corners are moved (east, north), and so many neighbouring corners at once: one alone is often held
# fast by the greatest need of another. Numbers, not sines, so that every processor moves them alike.
SIDES = np.array([(1.0, 0.0), (0.7071, 0.7071), (0.0, 1.0), (-0.7071, 0.7071)])
SIDES = np.concatenate((SIDES, -SIDES))
MOST_AT_ONCE = 3
# Rounds at one step, and corners, at most; what a corner more or less, a move and a round must gain [s].
ROUNDS, MOST_CORNERS, CORNER_S, MOVE_S, ROUND_S = 3, 40, 0.02, 0.003, 0.03
# A route must stay as good when it lies off by so much [m]: none may owe its time to the very edge of a cell, where
# the ellipsoid, another processor or a fire half a metre off would take it away.
OFF_M = 0.2
LEEWAY = 1.005
LEAST_LOOSE_M = 50.0


@njit(cache=True, nogil=True)
def shorten(points: np.ndarray, ground: Ground, rule: Rule) -> np.ndarray:
    """Leave out corners, one at a time and then in longer runs, wherever the whole route becomes no slower."""
    best = route_seconds(points, ground, rule, np.inf)
    for size in (1, 1, 2, 3):
        at = 1
        while at < len(points) - 1:
            trial = _without(points, at, min(at + size, len(points) - 1))
            seconds = route_seconds(trial, ground, rule, best + 1e-6)
            if seconds <= best + 1e-6 and seconds < np.inf:
                points, best = trial, seconds
            at += 1
    return points


@njit(cache=True, nogil=True)
def _without(points: np.ndarray, first: int, stop: int) -> np.ndarray:
    """Give a route without its corners from first to before stop."""
    fewer = np.empty((len(points) - stop + first, 2))
    for n in range(len(fewer)):
        old = n if n < first else n + stop - first
        fewer[n, 0], fewer[n, 1] = points[old, 0], points[old, 1]
    return fewer


@njit(cache=True, nogil=True)
def _with(points: np.ndarray, at: int, east: float, north: float) -> np.ndarray:
    """Give a route with a corner more, before corner `at`: in the middle of the piece, moved."""
    more = np.empty((len(points) + 1, 2))
    for n in range(len(points)):
        new = n if n < at else n + 1
        more[new, 0], more[new, 1] = points[n, 0], points[n, 1]
    more[at, 0] = 0.5 * (points[at - 1, 0] + points[at, 0]) + east
    more[at, 1] = 0.5 * (points[at - 1, 1] + points[at, 1]) + north
    return more


@njit(cache=True, nogil=True)
def _shift(points: np.ndarray, first: int, stop: int, east: float, north: float) -> None:
    for n in range(first, stop):
        points[n, 0] += east
        points[n, 1] += north


@njit(cache=True, nogil=True)
def steady_seconds(points: np.ndarray, ground: Ground, rule: Rule, useless_s: float) -> float:
    """As `route_seconds`, but the greatest time [s] of the route and of it with its inner corners off by OFF_M."""
    worst = route_seconds(points, ground, rule, useless_s)
    for side in range(1, len(SIDES), 2):
        if worst == np.inf or len(points) == 2:
            break
        _shift(points, 1, len(points) - 1, OFF_M * SIDES[side, 0], OFF_M * SIDES[side, 1])
        worst = max(worst, route_seconds(points, ground, rule, useless_s))
        _shift(points, 1, len(points) - 1, -OFF_M * SIDES[side, 0], -OFF_M * SIDES[side, 1])
    return worst


@njit(cache=True, nogil=True)
def _moved(points: np.ndarray, best: float, step: float, ground: Ground, rule: Rule) -> float:
    """Move runs of inner corners, each way as long as the route gets faster, in place; give its time [s]."""
    for size in range(1, (MOST_AT_ONCE if step >= LEAST_LOOSE_M else 2) + 1):
        for first in range(1, len(points) - size):
            for side in range(len(SIDES)):
                east, north = step * SIDES[side, 0], step * SIDES[side, 1]
                while True:
                    _shift(points, first, first + size, east, north)
                    seconds = steady_seconds(points, ground, rule, best - MOVE_S)
                    if not seconds < best - MOVE_S:
                        _shift(points, first, first + size, -east, -north)
                        break
                    best = seconds
    return best


@njit(cache=True, nogil=True)
def _thinned(points: np.ndarray, best: float, ground: Ground, rule: Rule) -> tuple[np.ndarray, float]:
    """Take corners away where that costs hardly anything."""
    at = 1
    while at < len(points) - 1:
        trial = _without(points, at, at + 1)
        seconds = steady_seconds(trial, ground, rule, best + CORNER_S)
        if seconds < best + CORNER_S:
            points, best = trial, seconds
        else:
            at += 1
    return points, best


@njit(cache=True, nogil=True)
def _enriched(
    points: np.ndarray, best: float, step: float, ground: Ground, rule: Rule
) -> tuple[np.ndarray, float]:
    """Add corners in the middle of pieces where they gain."""
    at = 1
    while at < len(points) and len(points) < MOST_CORNERS:
        for side in range(len(SIDES)):
            trial = _with(points, at, step * SIDES[side, 0], step * SIDES[side, 1])
            seconds = steady_seconds(trial, ground, rule, best - 2.0 * CORNER_S)
            if seconds < best - 2.0 * CORNER_S:
                points, best = trial, seconds
                break
        at += 1
    return points, best


@njit(cache=True, nogil=True)
def split(points: np.ndarray, longest_m: float) -> np.ndarray:
    """Give the route with its pieces cut into equal parts no longer than longest_m, while it has not too many."""
    most = len(points) - 1
    length = np.empty(most)
    for s in range(most):
        length[s] = np.sqrt((points[s + 1, 0] - points[s, 0]) ** 2 + (points[s + 1, 1] - points[s, 1]) ** 2)
    longest_m = max(longest_m, length.sum() / (MOST_CORNERS - most)) if most < MOST_CORNERS else np.inf
    parts = np.maximum(np.ceil(length / longest_m), 1.0)
    more = np.empty((1 + int(parts.sum()), 2))
    n = 0
    for s in range(most):
        for part in range(int(parts[s])):
            share = part / parts[s]
            more[n, 0] = points[s, 0] + share * (points[s + 1, 0] - points[s, 0])
            more[n, 1] = points[s, 1] + share * (points[s + 1, 1] - points[s, 1])
            n += 1
    more[n, 0], more[n, 1] = points[most, 0], points[most, 1]
    return more


@njit(cache=True, nogil=True)
def polish(
    points: np.ndarray, ground: Ground, rule: Rule, first_m: float, last_m: float, loosen: float
) -> tuple[np.ndarray, float]:
    """Move, add and take away corners while the route gets faster, by falling steps from first_m to last_m.

    Parameters: loosen, pieces longer than so many steps are cut before corners are moved; 0 for none.
    Returns: the route and its steady time [s]. A route that cannot be flown stays as it is, and takes inf.
    """
    points = points.copy()
    plain = route_seconds(points, ground, rule, np.inf)
    best = steady_seconds(points, ground, rule, np.inf)
    if best == np.inf:
        best = LEEWAY * plain  # it touches a no-fly area: a little off it will do
    step = first_m
    while step >= last_m and best < np.inf:
        for _ in range(ROUNDS):
            before = best
            if loosen > 0.0 and step >= LEAST_LOOSE_M:
                points = split(points, loosen * step)
            best = _moved(points, best, step, ground, rule)
            points, best = _thinned(points, best, ground, rule)
            if loosen == 0.0 or step < LEAST_LOOSE_M:
                points, best = _enriched(points, best, step, ground, rule)
            if not best < before - ROUND_S:
                break
        step *= 0.4
    return points, best
