"""The longest stretch of water on one given line: through two shore vertices, along a heading, or with clearance.

Boundary pieces come as stretches (first[k], last[k]) of vertex numbers into rings that are stored twice in a row, so
that a stretch never wraps. Only pieces that the line can meet need be given; acceptance of a new best run always
repeats the test with every ring.
"""

import numpy as np
from numba import njit

from geo.survey.run_predicates import orientation


@njit(cache=True)
def sort_in_place(values: np.ndarray, count: int) -> None:
    """Sort the first `count` values ascending: by insertion when few, which beats a general sort there."""
    if count > 48:
        values[:count] = np.sort(values[:count])
        return
    for i in range(1, count):
        value = values[i]
        j = i - 1
        while j >= 0 and values[j] > value:
            values[j + 1] = values[j]
            j -= 1
        values[j + 1] = value


@njit(cache=True)
def longest_union(
    below: np.ndarray, below_count: int, above: np.ndarray, above_count: int
) -> tuple[float, float]:
    """Give start and end of the longest interval in the union of two sorted lists of closed intervals.

    A line in the closed polygon has water just left of it, or just right of it, or both; where a stretch with water
    on the left ends in the very vertex where one with water on the right begins, the run goes on.
    """
    best_start, best_end = 0.0, -1.0
    i, j = 0, 0
    start, end = 0.0, -np.inf
    while i + 1 < below_count or j + 1 < above_count:
        if j + 1 >= above_count or (i + 1 < below_count and below[i] <= above[j]):
            low, high = below[i], below[i + 1]
            i += 2
        else:
            low, high = above[j], above[j + 1]
            j += 2
        if low > end:
            start, end = low, high
        elif high > end:
            end = high
        if end - start > best_end - best_start:
            best_start, best_end = start, end
    return best_start, best_end


@njit(cache=True)
def water_between(
    x: np.ndarray,
    y: np.ndarray,
    first: np.ndarray,
    last: np.ndarray,
    begin: int,
    stop: int,
    a: int,
    b: int,
    cuts: np.ndarray,
) -> tuple[float, float]:
    """Give the longest stretch in the closed polygon of the line through vertices a and b, as distances from a.

    Exact in its decisions: sides come from `orientation`. cuts: scratch (2, n).
    """
    ax, ay, bx, by = x[a], y[a], x[b], y[b]
    length = np.hypot(bx - ax, by - ay)
    dx, dy = (bx - ax) / length, (by - ay) / length
    left_count, right_count = 0, 0
    for k in range(begin, stop):
        i = first[k] if first[k] >= 0 else -first[k] - 1
        side = orientation(ax, ay, bx, by, x[i], y[i])
        along = (x[i] - ax) * dx + (y[i] - ay) * dy
        for j in range(i + 1, last[k] + 1):
            next_side = orientation(ax, ay, bx, by, x[j], y[j])
            next_along = (x[j] - ax) * dx + (y[j] - ay) * dy
            left_count, right_count = _cut(cuts, left_count, right_count, side, next_side, along, next_along)
            side, along = next_side, next_along
    sort_in_place(cuts[0], left_count)
    sort_in_place(cuts[1], right_count)
    return longest_union(cuts[0], left_count, cuts[1], right_count)


@njit(cache=True)
def water_along(
    u: np.ndarray,
    v: np.ndarray,
    first: np.ndarray,
    last: np.ndarray,
    begin: int,
    stop: int,
    offset: float,
    tolerance: float,
    cuts: np.ndarray,
) -> tuple[float, float]:
    """Give the longest stretch in the closed polygon of the line v = offset, as its first and last u.

    Vertices within `tolerance` of the line count as on it: the heading itself is not known better than that.
    """
    left_count, right_count = 0, 0
    for k in range(begin, stop):
        i = first[k] if first[k] >= 0 else -first[k] - 1
        side = v[i] - offset
        if abs(side) <= tolerance:
            side = 0.0
        for j in range(i + 1, last[k] + 1):
            next_side = v[j] - offset
            if abs(next_side) <= tolerance:
                next_side = 0.0
            left_count, right_count = _cut(cuts, left_count, right_count, side, next_side, u[j - 1], u[j])
            side = next_side
    sort_in_place(cuts[0], left_count)
    sort_in_place(cuts[1], right_count)
    return longest_union(cuts[0], left_count, cuts[1], right_count)


@njit(cache=True, inline="always")
def _cut(
    cuts: np.ndarray,
    left_count: int,
    right_count: int,
    side: float,
    next_side: float,
    along: float,
    next_along: float,
) -> tuple[int, int]:
    """Record where an edge crosses the line as seen from just left of it and from just right of it."""
    if (side > 0.0) == (next_side > 0.0) and (side < 0.0) == (next_side < 0.0):
        return left_count, right_count
    if side == 0.0:
        place = along
    elif next_side == 0.0:
        place = next_along
    else:
        place = along + (next_along - along) * (side / (side - next_side))
    if (side > 0.0) != (next_side > 0.0):  # a line shifted to the left sees vertices on it as right of it
        cuts[0, left_count] = place
        left_count += 1
    if (side < 0.0) != (next_side < 0.0):
        cuts[1, right_count] = place
        right_count += 1
    return left_count, right_count


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
    if length == 0.0:
        return low, high
    et, eh = (t2 - t1) / length, (h2 - h1) / length
    # Beside the segment: foot of the perpendicular on it, and less than the radius away from it.
    if eh != 0.0:
        p, q = t1 + (-et * h1 - radius) / eh, t1 + (-et * h1 + radius) / eh
        strip_low, strip_high = min(p, q), max(p, q)
    else:
        strip_low, strip_high = -np.inf, np.inf
    if et != 0.0:
        p, q = t1 + eh * h1 / et, t1 + (length + eh * h1) / et
        strip_low, strip_high = max(strip_low, min(p, q)), min(strip_high, max(p, q))
    elif eh * -h1 < 0.0 or eh * -h1 > length:
        return low, high
    if strip_low < strip_high:
        low, high = min(low, strip_low), max(high, strip_high)
    return low, high


@njit(cache=True)
def clear_water_on(
    u: np.ndarray,
    v: np.ndarray,
    first: np.ndarray,
    last: np.ndarray,
    begin: int,
    stop: int,
    start_v: float,
    slope: float,
    start_u: float,
    radius: float,
    blocks: np.ndarray,
    cuts: np.ndarray,
) -> tuple[float, float]:
    """Give the longest stretch of a line that keeps `radius` from the shore, as distances along it from start_u.

    The line is v = start_v + slope (u - start_u). blocks: scratch (2, n); cuts: scratch (1+, n).
    """
    norm = np.sqrt(1.0 + slope * slope)
    du, dv = 1.0 / norm, slope / norm
    block_count, cut_count = 0, 0
    for k in range(begin, stop):
        i = first[k] if first[k] >= 0 else -first[k] - 1
        t1 = (u[i] - start_u) * du + (v[i] - start_v) * dv
        h1 = (v[i] - start_v) * du - (u[i] - start_u) * dv
        for j in range(i + 1, last[k] + 1):
            t2 = (u[j] - start_u) * du + (v[j] - start_v) * dv
            h2 = (v[j] - start_v) * du - (u[j] - start_u) * dv
            low, high = capsule_on_line(t1, h1, t2, h2, radius)
            if low < high:
                blocks[0, block_count], blocks[1, block_count] = low, high
                block_count += 1
            if (h1 > 0.0) != (h2 > 0.0):
                cuts[0, cut_count] = t1 + (t2 - t1) * (h1 / (h1 - h2))
                cut_count += 1
            t1, h1 = t2, h2
    return _longest_free(blocks, block_count, cuts, cut_count)


@njit(cache=True)
def _longest_free(
    blocks: np.ndarray, block_count: int, cuts: np.ndarray, cut_count: int
) -> tuple[float, float]:
    """Give the longest interval between blocked ones that lies in water: an odd number of shore crossings before it."""
    best_start, best_end = 0.0, -1.0
    if block_count == 0:
        return best_start, best_end
    order = np.argsort(blocks[0, :block_count])
    covered = blocks[1, order[0]]
    for k in range(1, block_count):
        low, high = blocks[0, order[k]], blocks[1, order[k]]
        if low - covered > max(best_end - best_start, 0.0):
            before = 0
            for c in range(cut_count):
                if cuts[0, c] < covered:
                    before += 1
            if before % 2 == 1:
                best_start, best_end = covered, low
        covered = max(covered, high)
    return best_start, best_end
