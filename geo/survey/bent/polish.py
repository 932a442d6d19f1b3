"""Lengthen a bent run: shift, add and drop its corners while it still fits, by a repeatable random search.

A run is a chain of corners; each inner corner is rounded by an arc of the given radius. Its two ends are always pushed
on to the shore. A change counts only when the whole run, arcs included, stays off the shore and becomes longer.
"""

import numpy as np
from numba import njit

from geo.survey.bent.shore import Edges, arc_hits_shore, free_ray, hits_shore, in_water

MOST_CORNERS = 40
_PULL_M = 1e-7


@njit(cache=True, inline="always")
def _random(state: np.ndarray) -> float:
    """Give the next number in [0, 1) of a 64-bit xorshift sequence: the same run on every machine."""
    s = state[0]
    s ^= s << np.uint64(13)
    s ^= s >> np.uint64(7)
    s ^= s << np.uint64(17)
    state[0] = s
    return (s >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@njit(cache=True)
def _directions(x: np.ndarray, y: np.ndarray, count: int, legs: np.ndarray) -> bool:
    """Write unit direction and length of each leg; say False when two corners coincide."""
    for k in range(count - 1):
        dx, dy = x[k + 1] - x[k], y[k + 1] - y[k]
        length = np.hypot(dx, dy)
        if length < 1e-9:
            return False
        legs[0, k], legs[1, k], legs[2, k] = dx / length, dy / length, length
    return True


@njit(cache=True)
def _push_ends(
    shore: Edges,
    x: np.ndarray,
    y: np.ndarray,
    count: int,
    legs: np.ndarray,
    turns: np.ndarray,
    radius: float,
) -> bool:
    """Move both ends on to the shore along their legs, from where the arc next to them begins."""
    for end in range(2):
        leg, corner, sign = (0, 1, -1.0) if end == 0 else (count - 2, count - 2, 1.0)
        dx, dy = sign * legs[0, leg], sign * legs[1, leg]
        tangent = radius * np.tan(0.5 * abs(turns[corner]))
        px, py = x[corner] + tangent * dx, y[corner] + tangent * dy
        free = free_ray(shore, px, py, dx, dy) - _PULL_M
        if not 0.0 < free < np.inf:
            return False
        tip = 0 if end == 0 else count - 1
        x[tip], y[tip] = px + free * dx, py + free * dy
        legs[2, leg] = tangent + free
    return True


@njit(cache=True)
def _length(
    count: int, legs: np.ndarray, turns: np.ndarray, radius: float, most_turn: float, charge: float
) -> float:
    """Give the worth of the filleted chain, or -1 where the arcs overlap or the turns are too many."""
    total, spent = 0.0, 0.0
    before = 0.0
    for k in range(count - 1):
        after = 0.0
        if k + 2 < count:
            size = abs(turns[k + 1])
            spent += size
            after = radius * np.tan(0.5 * size)
            total += (radius - charge) * size
        straight = legs[2, k] - before - after
        if straight < 0.0 or spent > most_turn:
            return -1.0
        total += straight
        before = after
    return total


@njit(cache=True)
def _fits(
    shore: Edges,
    x: np.ndarray,
    y: np.ndarray,
    count: int,
    legs: np.ndarray,
    turns: np.ndarray,
    radius: float,
) -> bool:
    """Say whether every arc and straight piece of the chain is in the water and off the shore."""
    before = 0.0
    for k in range(count - 1):
        after = radius * np.tan(0.5 * abs(turns[k + 1])) if k + 2 < count else 0.0
        px, py = x[k] + before * legs[0, k], y[k] + before * legs[1, k]
        qx, qy = x[k + 1] - after * legs[0, k], y[k + 1] - after * legs[1, k]
        if hits_shore(shore, px, py, qx, qy):
            return False
        if k == 0 and not in_water(shore, 0.5 * (px + qx), 0.5 * (py + qy)):
            return False
        if after > 1e-9:
            ix, iy = legs[0, k + 1] - legs[0, k], legs[1, k + 1] - legs[1, k]
            norm = np.hypot(ix, iy)
            ix, iy = ix / norm, iy / norm
            reach = np.cos(0.5 * abs(turns[k + 1]))
            away = radius / reach
            cx, cy = x[k + 1] + away * ix, y[k + 1] + away * iy
            if arc_hits_shore(shore, cx, cy, -ix, -iy, radius, reach):
                return False
        before = after
    return True


@njit(cache=True)
def measure(
    shore: Edges,
    x: np.ndarray,
    y: np.ndarray,
    count: int,
    legs: np.ndarray,
    turns: np.ndarray,
    radius: float,
    most_turn: float,
    charge: float,
    least: float,
) -> float:
    """Give the worth of a chain after pushing its ends to the shore; -1 unless it fits and is worth over `least`."""
    if not _directions(x, y, count, legs):
        return -1.0
    for k in range(1, count - 1):
        sine = legs[0, k] * legs[1, k - 1] - legs[1, k] * legs[0, k - 1]
        cosine = legs[0, k] * legs[0, k - 1] + legs[1, k] * legs[1, k - 1]
        turns[k] = np.arctan2(sine, cosine)  # positive to the right
        if abs(turns[k]) > 0.9 * np.pi:
            return -1.0
    if not _push_ends(shore, x, y, count, legs, turns, radius):
        return -1.0
    length = _length(count, legs, turns, radius, most_turn, charge)
    if length <= least or not _fits(shore, x, y, count, legs, turns, radius):
        return -1.0
    return length


@njit(cache=True)
def _change(x: np.ndarray, y: np.ndarray, count: int, most: int, size: float, state: np.ndarray) -> int:
    """Change a chain in place at random by about `size`; give the new number of corners."""
    choice = _random(state)
    k = int(_random(state) * count)
    dx, dy = size * (2.0 * _random(state) - 1.0), size * (2.0 * _random(state) - 1.0)
    if choice < 0.40:  # one corner or end
        x[k] += dx
        y[k] += dy
    elif choice < 0.65:  # a stretch of the chain as a whole
        last = k + int(_random(state) * (count - k))
        for j in range(k, last + 1):
            x[j] += dx
            y[j] += dy
    elif choice < 0.85:  # everything beyond a corner turns about it, or everything before
        angle = dx / (0.2 * (abs(x[count - 1] - x[0]) + abs(y[count - 1] - y[0])) + size)
        c, s = np.cos(angle), np.sin(angle)
        start, stop = (k + 1, count) if dy > 0.0 else (0, k)
        for j in range(start, stop):
            ux, uy = x[j] - x[k], y[j] - y[k]
            x[j], y[j] = x[k] + c * ux - s * uy, y[k] + s * ux + c * uy
    elif choice < 0.93 and count < most:  # a new corner on a leg
        k = min(k, count - 2)
        for j in range(count, k + 1, -1):
            x[j], y[j] = x[j - 1], y[j - 1]
        u = _random(state)
        x[k + 1] = x[k] + u * (x[k + 2] - x[k]) + dx
        y[k + 1] = y[k] + u * (y[k + 2] - y[k]) + dy
        count += 1
    elif count > 3 and 0 < k < count - 1:  # one corner less
        for j in range(k, count - 1):
            x[j], y[j] = x[j + 1], y[j + 1]
        count -= 1
    return count


@njit(cache=True)
def polish(
    shore: Edges,
    chain_x: np.ndarray,
    chain_y: np.ndarray,
    count: int,
    radius: float,
    most_turn: float,
    charge: float,
    most: int,
    largest: float,
    trials: int,
    seed: int,
) -> tuple[float, int]:
    """Improve a chain in place by `trials` random changes; give its worth (0 where it never fits) and corners.

    Worth: the length less `charge` [m] for each radian of turn. most: corners a chain may have.
    largest [m]: greatest size of a change.
    """
    state = np.array([seed], np.uint64)
    legs, turns = np.empty((3, MOST_CORNERS)), np.zeros(MOST_CORNERS)
    best = max(0.0, measure(shore, chain_x, chain_y, count, legs, turns, radius, most_turn, charge, 0.0))
    x, y = chain_x.copy(), chain_y.copy()
    span = np.log(largest / 1e-4)
    for trial in range(trials):
        ceiling = 1.0 - 0.6 * trial / trials
        size = 1e-4 * np.exp(span * ceiling * _random(state))
        x[:count], y[:count] = chain_x[:count], chain_y[:count]
        made = _change(x, y, count, most, size, state)
        length = measure(shore, x, y, made, legs, turns, radius, most_turn, charge, best)
        if length > best:
            best, count = length, made
            chain_x[:made], chain_y[:made] = x[:made], y[:made]
    return best, count


@njit(cache=True)
def widen(
    shore: Edges,
    chain_x: np.ndarray,
    chain_y: np.ndarray,
    count: int,
    tight: float,
    radius: float,
    most_turn: float,
    charge: float,
    largest: float,
    trials: int,
    seed: int,
) -> int:
    """Change a chain that fits at the radius `tight` until it fits at `radius`; give its corners, 0 where that fails.

    A turn that only just fits is hard to hit from scattered points; it is found by easing a tighter one open. The
    chain may lose a sixth of its worth on the way, so that it cannot fit by not turning at all.
    """
    state = np.array([seed], np.uint64)
    legs, turns = np.empty((3, MOST_CORNERS)), np.zeros(MOST_CORNERS)
    least = measure(shore, chain_x, chain_y, count, legs, turns, tight, most_turn, charge, 0.0) / 1.2
    x, y = chain_x.copy(), chain_y.copy()
    span = np.log(largest / 1e-3)
    for _ in range(trials):
        if least <= 0.0 or tight >= radius:
            break
        size = 1e-3 * np.exp(span * _random(state))
        wider = min(radius, tight * (1.0 + 0.1 * _random(state) ** 4))
        x[:count], y[:count] = chain_x[:count], chain_y[:count]
        made = _change(x, y, count, MOST_CORNERS // 2, size, state)
        if measure(shore, x, y, made, legs, turns, wider, most_turn, charge, least) > 0.0:
            tight, count = wider, made
            chain_x[:made], chain_y[:made] = x[:made], y[:made]
    return count if tight >= radius else 0


@njit(cache=True)
def drop_corners(
    shore: Edges,
    chain_x: np.ndarray,
    chain_y: np.ndarray,
    count: int,
    radius: float,
    most_turn: float,
    charge: float,
    loss: float,
) -> int:
    """Drop in place each corner that is worth less than `loss` [m]; give the new number of corners."""
    legs, turns = np.empty((3, MOST_CORNERS)), np.zeros(MOST_CORNERS)
    worth = measure(shore, chain_x, chain_y, count, legs, turns, radius, most_turn, charge, 0.0)
    k = 1
    while k < count - 1 and count > 3:
        x, y = chain_x.copy(), chain_y.copy()
        x[k : count - 1], y[k : count - 1] = chain_x[k + 1 : count], chain_y[k + 1 : count]
        length = measure(shore, x, y, count - 1, legs, turns, radius, most_turn, charge, worth - loss)
        if length > 0.0:
            chain_x[:], chain_y[:] = x, y
            worth = length
            count -= 1
        else:
            k += 1
    return count
