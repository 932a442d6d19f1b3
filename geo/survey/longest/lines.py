"""The longest stretch of water on one given line: through two shore vertices, along a heading, or with clearance.

Only the stretches of shore that the line can meet need be given.
"""

import numpy as np
from numba import njit

from geo.survey.longest.frame import NONE, Frame, Line, Rings, Stretches, order_of, sort_in_place, start_of
from geo.survey.longest.predicates import orientation
from geo.survey.longest.scratch import Scratch


@njit(cache=True)
def longest_union(cuts: np.ndarray, left_count: int, right_count: int) -> tuple[float, float]:
    """Give start and end of the longest interval in the union of two lists of closed intervals, rows of `cuts`.

    A line in the closed polygon has water just left of it, or just right of it, or both; where a stretch with water
    on the left ends in the very vertex where one with water on the right begins, the run goes on.
    """
    sort_in_place(cuts[0], left_count)
    sort_in_place(cuts[1], right_count)
    best_start, best_end = 0.0, -1.0
    start, end = 0.0, -np.inf
    i, j = 0, 0
    while i + 1 < left_count or j + 1 < right_count:
        if j + 1 >= right_count or (i + 1 < left_count and cuts[0, i] <= cuts[1, j]):
            low, high = cuts[0, i], cuts[0, i + 1]
            i += 2
        else:
            low, high = cuts[1, j], cuts[1, j + 1]
            j += 2
        if low > end:
            start, end = low, high
        elif high > end:
            end = high
        if end - start > best_end - best_start:
            best_start, best_end = start, end
    return best_start, best_end


@njit(cache=True, inline="always")
def cut_at(
    cuts: np.ndarray, lefts: int, rights: int, side: float, next_side: float, at: float, next_at: float
) -> tuple[int, int]:
    """Record where an edge crosses the line as seen from just left of it (row 0) and from just right of it (row 1)."""
    if (side > 0.0) == (next_side > 0.0) and (side < 0.0) == (next_side < 0.0):
        return lefts, rights
    if side == 0.0:
        place = at
    elif next_side == 0.0:
        place = next_at
    else:
        place = at + (next_at - at) * (side / (side - next_side))
    if (side > 0.0) != (next_side > 0.0):  # a line shifted to the left sees vertices on it as right of it
        cuts[0, lefts] = place
        lefts += 1
    if (side < 0.0) != (next_side < 0.0):
        cuts[1, rights] = place
        rights += 1
    return lefts, rights


@njit(cache=True)
def water_between(
    shore: Rings, stretches: Stretches, a: int, b: int, cuts: np.ndarray
) -> tuple[float, float]:
    """Give the longest stretch in the closed polygon of the line through vertices a and b, as distances from a.

    Exact in its decisions: sides come from `orientation`. cuts: scratch (2, n).
    """
    x, y = shore.x, shore.y
    ax, ay, bx, by = x[a], y[a], x[b], y[b]
    length = np.hypot(bx - ax, by - ay)
    dx, dy = (bx - ax) / length, (by - ay) / length
    lefts, rights = NONE, NONE
    for k in range(stretches.begin, stretches.stop):
        i = start_of(stretches, k)
        side = orientation(ax, ay, bx, by, x[i], y[i])
        at = (x[i] - ax) * dx + (y[i] - ay) * dy
        for j in range(i + 1, stretches.last[k] + 1):
            next_side = orientation(ax, ay, bx, by, x[j], y[j])
            next_at = (x[j] - ax) * dx + (y[j] - ay) * dy
            lefts, rights = cut_at(cuts, lefts, rights, side, next_side, at, next_at)
            side, at = next_side, next_at
    return longest_union(cuts, lefts, rights)


@njit(cache=True)
def water_along(
    frame: Frame, stretches: Stretches, offset: float, tolerance: float, cuts: np.ndarray
) -> tuple[float, float]:
    """Give the longest stretch in the closed polygon of the line v = offset, as its first and last u.

    Vertices within `tolerance` of the line count as on it: the heading itself is not known better than that.
    """
    u, v = frame.u, frame.v
    lefts, rights = NONE, NONE
    for k in range(stretches.begin, stretches.stop):
        i = start_of(stretches, k)
        side = v[i] - offset
        side = 0.0 if abs(side) <= tolerance else side
        for j in range(i + 1, stretches.last[k] + 1):
            next_side = v[j] - offset
            next_side = 0.0 if abs(next_side) <= tolerance else next_side
            lefts, rights = cut_at(cuts, lefts, rights, side, next_side, u[j - 1], u[j])
            side = next_side
    return longest_union(cuts, lefts, rights)


@njit(cache=True, inline="always")
def _strip_on_line(
    t1: float, h1: float, along: float, across: float, length: float, radius: float
) -> tuple[float, float]:
    """Give the part of the line h = 0 beside a segment from (t1, h1) along (along, across), nearer than radius."""
    low, high = -np.inf, np.inf
    if across != 0.0:
        p, q = t1 + (-along * h1 - radius) / across, t1 + (-along * h1 + radius) / across
        low, high = min(p, q), max(p, q)
    if along != 0.0:
        p, q = t1 + across * h1 / along, t1 + (length + across * h1) / along
        return max(low, min(p, q)), min(high, max(p, q))
    if -across * h1 < 0.0 or -across * h1 > length:
        return np.inf, -np.inf
    return low, high


@njit(cache=True, inline="always")
def capsule_on_line(t1: float, h1: float, t2: float, h2: float, radius: float) -> tuple[float, float]:
    """Give the part of the line h = 0 that is nearer than `radius` to the segment (t1, h1)-(t2, h2).

    Empty as (inf, -inf). The points nearer than a radius to a segment are convex, so the part is one interval.
    """
    low, high = np.inf, -np.inf
    if (h1 >= radius and h2 >= radius) or (h1 <= -radius and h2 <= -radius):
        return low, high
    if abs(h1) < radius:
        half = np.sqrt(radius * radius - h1 * h1)
        low, high = t1 - half, t1 + half
    if abs(h2) < radius:
        half = np.sqrt(radius * radius - h2 * h2)
        low, high = min(low, t2 - half), max(high, t2 + half)
    length = np.hypot(t2 - t1, h2 - h1)
    if length > 0.0:
        strip_low, strip_high = _strip_on_line(t1, h1, (t2 - t1) / length, (h2 - h1) / length, length, radius)
        if strip_low < strip_high:
            low, high = min(low, strip_low), max(high, strip_high)
    return low, high


@njit(cache=True)
def clear_water_on(
    frame: Frame, stretches: Stretches, line: Line, radius: float, scratch: Scratch
) -> tuple[float, float]:
    """Give the longest stretch of a line that keeps `radius` from the shore, in u."""
    u, v, blocks, cuts = frame.u, frame.v, scratch.blocks, scratch.cuts
    left, start_v, slope = line
    norm = np.sqrt(1.0 + slope * slope)
    du, dv = 1.0 / norm, slope / norm
    blocked, crossed = NONE, NONE
    for k in range(stretches.begin, stretches.stop):
        i = start_of(stretches, k)
        t1 = (u[i] - left) * du + (v[i] - start_v) * dv
        h1 = (v[i] - start_v) * du - (u[i] - left) * dv
        for j in range(i + 1, stretches.last[k] + 1):
            t2 = (u[j] - left) * du + (v[j] - start_v) * dv
            h2 = (v[j] - start_v) * du - (u[j] - left) * dv
            low, high = capsule_on_line(t1, h1, t2, h2, radius)
            if low < high:
                blocks[0, blocked], blocks[1, blocked] = low, high
                blocked += 1
            if (h1 > 0.0) != (h2 > 0.0):
                cuts[0, crossed] = t1 + (t2 - t1) * (h1 / (h1 - h2))
                crossed += 1
            t1, h1 = t2, h2
    start, end = _longest_free(blocks, blocked, cuts[0], crossed, scratch.order)
    return left + start * du, left + end * du


@njit(cache=True)
def _longest_free(
    blocks: np.ndarray, blocked: int, crossings: np.ndarray, crossed: int, order: np.ndarray
) -> tuple[float, float]:
    """Give the longest interval between blocked ones that lies in water: an odd number of shore crossings before it."""
    best_start, best_end = 0.0, -1.0
    if blocked == 0:
        return best_start, best_end
    order_of(blocks[0], blocked, order)
    covered = blocks[1, order[0]]
    for k in range(1, blocked):
        low, high = blocks[0, order[k]], blocks[1, order[k]]
        if low - covered > max(best_end - best_start, 0.0):
            before = 0
            for c in range(crossed):
                before += crossings[c] < covered
            if before % 2 == 1:
                best_start, best_end = covered, low
        covered = max(covered, high)
    return best_start, best_end
