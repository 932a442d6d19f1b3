"""Compiled: first routes for a leg that cannot be flown straight: out to one side, and in from one side."""

import numpy as np
from numba import njit

from geo.flight.routing.route_kernels import route_seconds
from geo.flight.routing.rule_kernels import Ground, Rule

# Corners are tried in so many directions from either end, and so far away [m]: alone, and on ways that are known.
DIRECTIONS = 12
AWAY_M, BESIDE_M = np.array([1500.0, 3500.0]), np.array([800.0, 2000.0])


@njit(cache=True, nogil=True)
def _corner(place: np.ndarray, number: int, aways: np.ndarray) -> tuple[float, float]:
    """Give a corner about a place; number 0 is the place itself."""
    if number == 0:
        return place[0], place[1]
    angle = 2.0 * np.pi * ((number - 1) % DIRECTIONS) / DIRECTIONS
    away = aways[(number - 1) // DIRECTIONS]
    return place[0] + away * np.sin(angle), place[1] + away * np.cos(angle)


@njit(cache=True, nogil=True)
def doglegs(start: np.ndarray, end: np.ndarray, ground: Ground, rule: Rule, most: int) -> np.ndarray:
    """Give the quickest routes (k, 4, 2) with a corner about the start and one about the end, k at most `most`, each
    with another corner about the start; the quickest first, none where none can be flown."""
    count = 1 + DIRECTIONS * len(AWAY_M)
    seconds = np.full(most + 1, np.inf)
    routes = np.empty((most + 1, 4, 2))
    trial = np.empty((4, 2))
    trial[0], trial[3] = start, end
    for first in range(count):
        trial[1, 0], trial[1, 1] = _corner(start, first, AWAY_M)
        best_s = seconds[most - 1]
        for last in range(count):
            trial[2, 0], trial[2, 1] = _corner(end, last, AWAY_M)
            takes_s = route_seconds(trial, ground, rule, best_s)
            if takes_s < best_s:
                best_s, seconds[most] = takes_s, takes_s
                routes[most] = trial
        # Sorted in: the last place is a spare one.
        at = most
        while at > 0 and seconds[at] < seconds[at - 1]:
            for k in range(4):
                for axis in range(2):
                    kept = routes[at - 1, k, axis]
                    routes[at - 1, k, axis] = routes[at, k, axis]
                    routes[at, k, axis] = kept
            seconds[at - 1], seconds[at] = seconds[at], seconds[at - 1]
            at -= 1
        seconds[most] = np.inf
    found = 0
    while found < most and seconds[found] < np.inf:
        found += 1
    return routes[:found]


@njit(cache=True, nogil=True)
def opened(way: np.ndarray, ground: Ground, rule: Rule, useless_s: float) -> np.ndarray:
    """Give a way (n, 2) that cannot be flown with a corner more behind its start, before its end, or both, where one of
    all these makes it the quickest that can, below useless_s; else as it is.

    Notes: the lattice knows little of what is asked close to the ends. Corners are tried at one end, and then at both.
    """
    count, corners = 1 + DIRECTIONS * len(BESIDE_M), len(way) + 2
    best_s, best = useless_s, way
    trial = np.empty((corners, 2))
    for n in range(corners):
        old = min(max(n - 1, 0), len(way) - 1)
        trial[n, 0], trial[n, 1] = way[old, 0], way[old, 1]
    for both in range(2):
        for first in range(count):
            trial[1, 0], trial[1, 1] = _corner(way[0], first, BESIDE_M)
            for last in range(count):
                if (first > 0 and last > 0) != (both == 1):
                    continue
                trial[-2, 0], trial[-2, 1] = _corner(way[-1], last, BESIDE_M)
                takes_s = route_seconds(trial, ground, rule, best_s)
                if takes_s < best_s:
                    best_s, best = takes_s, trial.copy()
    return best
