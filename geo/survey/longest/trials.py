"""Lines of a bundle that may hold the longest run, tried one by one.

Each new best run is measured again against every ring before it counts, so that no best run rests on what was left
out of a bundle.
"""

import numpy as np
from numba import njit

from geo.survey.longest.frame import (
    NONE,
    Bundle,
    Frame,
    Line,
    Rings,
    Stretches,
    middle_of,
    order_of,
    sort_in_place,
    start_of,
)
from geo.survey.longest.lines import clear_water_on, cut_at, longest_union, water_along, water_between
from geo.survey.longest.predicates import orientation
from geo.survey.longest.scratch import Hunt, Scratch

_TIE = 2e-15  # of the body's size: rounding of offsets when a frame is turned


@njit(cache=True, inline="always")
def _all_rings(shore: Rings) -> Stretches:
    return Stretches(shore.first, shore.last, 0, shore.first.size)


@njit(cache=True)
def _keep_framed(frame: Frame, u1: float, v1: float, u2: float, v2: float, best: np.ndarray) -> None:
    """Keep a run given in a frame when it beats the best."""
    length = np.hypot(u2 - u1, v2 - v1) / frame.norm
    if u2 > u1 and length > best[0]:
        c, s = frame.cosine / frame.norm**2, frame.sine / frame.norm**2
        best[0], best[1], best[2] = length, u1 * c - v1 * s, u1 * s + v1 * c
        best[3], best[4] = u2 * c - v2 * s, u2 * s + v2 * c


@njit(cache=True)
def _keep_on(frame: Frame, line: Line, start: float, end: float, best: np.ndarray) -> None:
    """Keep the run on a line between two u when it beats the best."""
    start_v = line.start_v + line.slope * (start - line.left)
    end_v = line.start_v + line.slope * (end - line.left)
    _keep_framed(frame, start, start_v, end, end_v, best)


@njit(cache=True)
def _try_pair(hunt: Hunt, stretches: Stretches, i: int, j: int) -> None:
    """Try the line through two vertices."""
    shore, cuts, best = hunt.shore, hunt.scratch.cuts, hunt.best
    start, end = water_between(shore, stretches, i, j, cuts)
    if end - start <= best[0]:
        return
    start, end = water_between(shore, _all_rings(shore), i, j, cuts)
    if end - start > best[0]:
        length = np.hypot(shore.x[j] - shore.x[i], shore.y[j] - shore.y[i])
        dx, dy = (shore.x[j] - shore.x[i]) / length, (shore.y[j] - shore.y[i]) / length
        best[0], best[1], best[2] = end - start, shore.x[i] + dx * start, shore.y[i] + dy * start
        best[3], best[4] = shore.x[i] + dx * end, shore.y[i] + dy * end


@njit(cache=True)
def _water_beside(
    frame: Frame, stretches: Stretches, line: Line, near: float, cuts: np.ndarray
) -> tuple[float, float]:
    """Give the longest stretch of a line in water, in u.

    None, as (0, -1), where a vertex lies so near that rounding could decide its side: another line will do.
    """
    u, v = frame.u, frame.v
    left, start_v, slope = line
    count = NONE
    for k in range(stretches.begin, stretches.stop):
        i = start_of(stretches, k)
        side = v[i] - start_v - slope * (u[i] - left)
        for j in range(i + 1, stretches.last[k] + 1):
            next_side = v[j] - start_v - slope * (u[j] - left)
            if abs(next_side) <= near:
                return 0.0, -1.0
            if (side > 0.0) != (next_side > 0.0):
                cuts[0, count] = u[j - 1] + (u[j] - u[j - 1]) * (side / (side - next_side))
                count += 1
            side = next_side
    return longest_union(cuts, count, NONE)


@njit(cache=True)
def try_middle(hunt: Hunt, stretches: Stretches, bundle: Bundle, near: float) -> None:
    """Try the middle line of a bundle: no longest run, but one that lets other bundles be dropped."""
    shore, frame, scratch, best = hunt
    line = middle_of(bundle)
    norm = np.sqrt(1.0 + line.slope * line.slope) / frame.norm
    start, end = _water_beside(frame, stretches, line, near, scratch.cuts)
    if (end - start) * norm > best[0]:
        start, end = _water_beside(frame, _all_rings(shore), line, near, scratch.cuts)
        _keep_on(frame, line, start, end, best)


@njit(cache=True)
def try_pairs(hunt: Hunt, stretches: Stretches, bundle: Bundle, count: int) -> None:
    """Try the line through each pair of the first `count` vertices of a bundle."""
    u, v, scratch = hunt.frame.u, hunt.frame.v, hunt.scratch
    for p in range(count):
        i = scratch.inner[p]
        for q in range(p + 1, count):
            j = scratch.inner[q]
            step = u[j] - u[i]
            if abs(step) * 4.0 < abs(v[j] - v[i]) or step == 0.0:
                continue
            slope = (v[j] - v[i]) / step
            at_left = v[i] + slope * (bundle.left - u[i])
            at_right = at_left + slope * bundle.width
            # The two vertices' rounding, carried to the gates.
            near = 1e-12 * bundle.width * (2.0 + bundle.width / abs(step))
            if (
                bundle.a1 - near <= at_left <= bundle.b1 + near
                and bundle.a2 - near <= at_right <= bundle.b2 + near
            ):
                _try_pair(hunt, stretches, i, j)


@njit(cache=True)
def try_hull(hunt: Hunt, stretches: Stretches, count: int) -> None:
    """Try the lines along the hull of the first `count` vertices of a bundle: a shore so straight that they fit."""
    shore, frame, scratch, _ = hunt
    along = np.empty(count)
    for p in range(count):
        along[p] = frame.u[scratch.inner[p]]
    order_of(along, count, scratch.order)
    chain = np.empty(count, np.int64)
    for sign in (1.0, -1.0):
        size = 0
        for p in range(count):
            k = scratch.inner[scratch.order[p]]
            while size > 1:
                i, j = chain[size - 2], chain[size - 1]
                bend = orientation(shore.x[i], shore.y[i], shore.x[j], shore.y[j], shore.x[k], shore.y[k])
                if sign * bend > 0.0:
                    break
                size -= 1
            chain[size] = k
            size += 1
        for p in range(size - 1):
            i, j = chain[p], chain[p + 1]
            if shore.x[i] != shore.x[j] or shore.y[i] != shore.y[j]:
                _try_pair(hunt, stretches, i, j)


@njit(cache=True)
def _line_up(frame: Frame, scratch: Scratch, stretches: Stretches, count: int) -> int:
    """Sort the edges by their lower ends and the offsets of the first `count` vertices; give the number of edges."""
    edges = 0
    for k in range(stretches.begin, stretches.stop):
        for j in range(start_of(stretches, k) + 1, stretches.last[k] + 1):
            scratch.edges[edges] = j
            scratch.spans[0, edges] = min(frame.v[j - 1], frame.v[j])
            edges += 1
    order_of(scratch.spans[0], edges, scratch.order)
    for p in range(count):
        scratch.offsets[p] = frame.v[scratch.inner[p]]
    sort_in_place(scratch.offsets, count)
    return edges


@njit(cache=True)
def _cut_active(
    frame: Frame, scratch: Scratch, active: int, offset: float, tolerance: float
) -> tuple[int, int, int]:
    """Cut the active edges at an offset, drop those that end below it; give the edges left and both counts of cuts."""
    u, v = frame.u, frame.v
    kept, lefts, rights = NONE, NONE, NONE
    for t in range(active):
        j = scratch.active[t]
        side, next_side = v[j - 1] - offset, v[j] - offset
        if max(side, next_side) < -tolerance:
            continue
        scratch.active[kept] = j
        kept += 1
        side = 0.0 if abs(side) <= tolerance else side
        next_side = 0.0 if abs(next_side) <= tolerance else next_side
        lefts, rights = cut_at(scratch.cuts, lefts, rights, side, next_side, u[j - 1], u[j])
    return kept, lefts, rights


@njit(cache=True)
def sweep_offsets(hunt: Hunt, stretches: Stretches, count: int, size: float) -> None:
    """Try the line along u through each of the first `count` vertices of a bundle, in one sweep over the offsets."""
    shore, frame, scratch, best = hunt
    tolerance = _TIE * size
    edges = _line_up(frame, scratch, stretches, count)
    longest, found = best[0] * frame.norm, np.nan
    active, entered = 0, 0
    for p in range(count):
        offset = scratch.offsets[p]
        while entered < edges and scratch.spans[0, scratch.order[entered]] <= offset + tolerance:
            scratch.active[active] = scratch.edges[scratch.order[entered]]
            active, entered = active + 1, entered + 1
        active, lefts, rights = _cut_active(frame, scratch, active, offset, tolerance)
        start, end = longest_union(scratch.cuts, lefts, rights)
        if end - start > longest:
            longest, found = end - start, offset
    if not np.isnan(found):
        start, end = water_along(frame, _all_rings(shore), found, tolerance, scratch.cuts)
        _keep_framed(frame, start, found, end, found, best)


@njit(cache=True)
def try_clear(hunt: Hunt, stretches: Stretches, line: Line, radius: float) -> None:
    """Try a line with clearance."""
    shore, frame, scratch, best = hunt
    norm = np.sqrt(1.0 + line.slope * line.slope)
    start, end = clear_water_on(frame, stretches, line, radius, scratch)
    if (end - start) * norm / frame.norm <= best[0]:
        return
    start, end = clear_water_on(frame, _all_rings(shore), line, radius, scratch)
    _keep_on(frame, line, start, end, best)
