"""Compiled: how a route is shortened and bent while the leg rule makes it no slower."""

import numpy as np
from numba import njit

from geo.flight.routing.route_kernels import Ground, Rule, crosses_shut, open_seconds, route_seconds


@njit(cache=True, nogil=True)
def shorten(points: np.ndarray, ground: Ground, rule: Rule) -> np.ndarray:
    """Leave out corners, in runs of 32 down to 1, wherever the whole route becomes no slower."""
    best = route_seconds(points, ground, rule, np.inf)
    size = 32
    while size >= 1:
        at = 1
        while at < len(points) - 1:
            stop = min(at + size, len(points) - 1)
            trial = np.concatenate((points[:at], points[stop:]))
            seconds = route_seconds(trial, ground, rule, best + 1e-6)
            if seconds <= best + 1e-6 and seconds < np.inf:
                points, best = trial, seconds
            else:
                at += max(1, size // 2)
        size //= 2
    return points


@njit(cache=True, nogil=True)
def bend(points: np.ndarray, ground: Ground, rule: Rule, first_m: float, last_m: float) -> np.ndarray:
    """Move inner corners to eight sides while the route gets faster, by steps that halve from first_m to last_m."""
    points = points.copy()
    best = route_seconds(points, ground, rule, np.inf)
    step = first_m
    while step >= last_m:
        moved, rounds = True, 0
        while moved and rounds < 8:
            moved, rounds = False, rounds + 1
            for at in range(1, len(points) - 1):
                for side in range(8):
                    angle = side * np.pi / 4.0
                    east, north = step * np.cos(angle), step * np.sin(angle)
                    points[at, 0] += east
                    points[at, 1] += north
                    seconds = open_seconds(points, ground, rule, best)
                    # Only the pieces at the corner that moved can have met a shut edge.
                    if seconds < best - 0.01 and not crosses_shut(points[at - 1 : at + 2], ground.shut):
                        best, moved = seconds, True
                    else:
                        points[at, 0] -= east
                        points[at, 1] -= north
        step *= 0.5
    return points


@njit(cache=True, nogil=True)
def jitter(points: np.ndarray, ground: Ground, rule: Rule, first_m: float, trials: int) -> np.ndarray:
    """Shift runs of neighbouring inner corners at random while the route gets faster; the step follows the success.

    One corner alone is often held fast by the greatest need of another. The numbers drawn are the same in every run.
    """
    points, inner = points.copy(), len(points) - 2
    if inner < 1:
        return points
    best, step, drawn = route_seconds(points, ground, rule, np.inf), first_m, np.uint64(88172645463325252)
    number = np.empty(4)
    for _ in range(trials):
        for n in range(4):  # xorshift
            drawn ^= drawn << np.uint64(13)
            drawn ^= drawn >> np.uint64(7)
            drawn ^= drawn << np.uint64(17)
            number[n] = float(drawn >> np.uint64(11)) / 9007199254740992.0
        start = 1 + int(number[0] * inner)
        stop = min(start + 1 + int(number[1] * 3), inner + 1)
        angle, size = 2.0 * np.pi * number[2], step * 2.0 * number[3]
        east, north = size * np.cos(angle), size * np.sin(angle)
        points[start:stop, 0] += east
        points[start:stop, 1] += north
        seconds = open_seconds(points, ground, rule, best)
        if seconds < best - 1e-3 and not crosses_shut(points[start - 1 : stop + 1], ground.shut):
            best, step = seconds, min(step * 1.5, 2.0 * first_m)
        else:
            points[start:stop, 0] -= east
            points[start:stop, 1] -= north
            step = max(step * 0.97, 5.0)
    return points


@njit(cache=True, nogil=True)
def split(points: np.ndarray, longest_m: float) -> np.ndarray:
    """Give the route with every piece cut into equal parts no longer than longest_m."""
    parts = np.ones(len(points) - 1, np.int64)
    for s in range(len(parts)):
        length = np.hypot(points[s + 1, 0] - points[s, 0], points[s + 1, 1] - points[s, 1])
        parts[s] = max(1, int(np.ceil(length / longest_m)))
    result = np.empty((1 + parts.sum(), 2))
    result[0], n = points[0], 1
    for s in range(len(parts)):
        for part in range(1, parts[s] + 1):
            result[n] = points[s] + part / parts[s] * (points[s + 1] - points[s])
            n += 1
        result[n - 1] = points[s + 1]
    return result
