"""A bound on the longest run of any line of a bundle.

The whole shore lies between the two gates of a bundle, so the bundle's water is a trapezoid. A piece of shore that
comes from above the bundle and leaves below it is crossed by every line, so no run holds the piece's whole range of
u. Where no shore lies in the bundle at all, every line is on land or every line is in water, by the number of crossing
pieces before. With clearance, the points that are nearer than the radius to an edge are convex, so whatever they block
on both the bundle's lower and its upper line they block on every line between. Each of these is a blocker (enter,
leave): a run ends at or before `enter` or starts at or after `leave`. An edge's clearance also holds the straight way
between the places where it begins on the lower and on the upper line, and every line of the bundle crosses that: so a
run between two edges is no longer than the farthest two ends of two such ways.
"""

import numpy as np
from numba import njit

from geo.survey.longest.frame import (
    Bundle,
    Frame,
    Stretches,
    ends_of,
    lower_at,
    order_of,
    side_of,
    start_of,
    upper_at,
)
from geo.survey.longest.lines import capsule_on_line
from geo.survey.longest.scratch import Scratch


@njit(cache=True)
def keep_stretches(
    frame: Frame, stretches: Stretches, bundle: Bundle, reach: float, at: int
) -> tuple[int, int]:
    """Write at `at` of the same lists the parts of stretches that a narrower bundle can meet; give new end and edges.

    reach: how far from the bundle a vertex still counts as met. The lists must have space for what is written.
    """
    first, last = stretches.first, stretches.last
    edges = 0
    for k in range(stretches.begin, stretches.stop):
        i, end, side, end_side = ends_of(frame, stretches, k, bundle, reach)
        if side == 0:
            first[at], last[at] = first[k], last[k]
            at += 1
            edges += end - i
            continue
        previous, previous_side = i, side
        for j in range(i + 1, end + 1):
            side = side_of(bundle, frame.u[j], frame.v[j], reach) if j < end else end_side
            if side != 0:
                if j - previous > 1 or side != previous_side:
                    first[at], last[at] = previous, j
                    at += 1
                    edges += j - previous
                previous, previous_side = j, side
    return at, edges


@njit(cache=True, inline="always")
def _border_crossing(frame: Frame, bundle: Bundle, inner: int, outer: int, side: int, reach: float) -> float:
    """Give the u where the edge from vertex `outer`, on a side of the bundle, comes within reach of the bundle."""
    lift = side * reach
    if side > 0:
        d1 = frame.v[outer] - upper_at(bundle, frame.u[outer]) - lift
        d2 = frame.v[inner] - upper_at(bundle, frame.u[inner]) - lift
    else:
        d1 = frame.v[outer] - lower_at(bundle, frame.u[outer]) - lift
        d2 = frame.v[inner] - lower_at(bundle, frame.u[inner]) - lift
    if d1 == d2:
        return frame.u[outer]
    return frame.u[outer] + (frame.u[inner] - frame.u[outer]) * min(1.0, max(0.0, d1 / (d1 - d2)))


@njit(cache=True)
def list_pieces(
    frame: Frame, stretches: Stretches, bundle: Bundle, reach: float, scratch: Scratch
) -> tuple[int, int]:
    """List the pieces of shore in a bundle as (least u, greatest u, 1 if it crosses), and the vertices in it.

    Returns the number of pieces and of vertices.
    """
    pieces, inner = scratch.pieces, scratch.inner
    count, inside = 0, 0
    for k in range(stretches.begin, stretches.stop):
        i, end, side, end_side = ends_of(frame, stretches, k, bundle, reach)
        outer = side
        low, high = np.inf, -np.inf
        for j in range(i + 1, end + 1):
            next_side = side_of(bundle, frame.u[j], frame.v[j], reach) if j < end else end_side
            if side not in (0, next_side):
                at = _border_crossing(frame, bundle, j, j - 1, side, reach)
                low, high = min(low, at), max(high, at)
            if next_side == 0:
                low, high = min(low, frame.u[j]), max(high, frame.u[j])
                inner[inside] = j
                inside += 1
            elif side != next_side:
                at = _border_crossing(frame, bundle, j - 1, j, next_side, reach)
                pieces[0, count], pieces[1, count] = min(low, at), max(high, at)
                pieces[2, count] = 1.0 if outer != next_side else 0.0
                count += 1
                low, high = np.inf, -np.inf
            outer = next_side if next_side != 0 else outer
            side = next_side
        if high >= low:  # a ring wholly inside the bundle
            pieces[0, count], pieces[1, count], pieces[2, count] = low, high, 0.0
            count += 1
    return count, inside


@njit(cache=True, inline="always")
def _block(
    blockers: np.ndarray, k: int, enter_low: float, enter_high: float, leave_low: float, leave_high: float
) -> None:
    """Write blocker k: enter, leave, and where it begins and ends on the lower and on the upper line (rows 2 to 5)."""
    blockers[0, k], blockers[1, k] = max(enter_low, enter_high), min(leave_low, leave_high)
    blockers[2, k], blockers[3, k] = enter_low, enter_high
    blockers[4, k], blockers[5, k] = leave_low, leave_high


@njit(cache=True)
def list_blockers(scratch: Scratch, count: int, gain: float) -> int:
    """Write the blockers (enter, leave) that follow from the first `count` pieces; give their number.

    gain: how far a run keeps from a crossing at least, measured along u.
    """
    pieces, blockers, order = scratch.pieces, scratch.blockers, scratch.order
    order_of(pieces[0], count, order)
    made, crossings = 0, 0
    covered = -np.inf
    for t in range(count):
        k = order[t]
        low, high = pieces[0, k], pieces[1, k]
        if low > covered and crossings % 2 == 0:
            _block(blockers, made, covered, covered, low, low)
            made += 1
        if pieces[2, k] > 0.0:
            crossings += 1
            _block(blockers, made, high - gain, high - gain, low + gain, low + gain)
            made += 1
        covered = max(covered, high)
    _block(blockers, made, covered, covered, np.inf, np.inf)
    return made + 1


@njit(cache=True, inline="always")
def _capsule_beside(
    frame: Frame, j: int, left: float, start_v: float, slope: float, radius: float
) -> tuple[float, float]:
    """Give the part of the line v = start_v + slope (u - left) nearer than radius to the edge j - 1, j, in u."""
    norm = np.sqrt(1.0 + slope * slope)
    p, q = frame.u[j - 1] - left, frame.v[j - 1] - start_v
    r, s = frame.u[j] - left, frame.v[j] - start_v
    low, high = capsule_on_line(
        (p + q * slope) / norm, (q - p * slope) / norm, (r + s * slope) / norm, (s - r * slope) / norm, radius
    )
    return left + low / norm, left + high / norm


@njit(cache=True)
def add_capsules(
    frame: Frame, stretches: Stretches, bundle: Bundle, radius: float, scratch: Scratch, made: int
) -> tuple[int, int]:
    """Add what each edge's clearance blocks on every line of a bundle.

    Gives the new number of blockers, and of spans: per edge, what it blocks on any line of the bundle (rows 0, 1), on
    the lower line (rows 2, 3) and on the upper line (rows 4, 5).
    """
    blockers, spans, spanned = scratch.blockers, scratch.spans, scratch.spanned
    lower, upper = (bundle.a2 - bundle.a1) / bundle.width, (bundle.b2 - bundle.b1) / bundle.width
    touched = 0
    for k in range(stretches.begin, stretches.stop):
        for j in range(start_of(stretches, k) + 1, stretches.last[k] + 1):
            low, high = _capsule_beside(frame, j, bundle.left, bundle.a1, lower, radius)
            low2, high2 = _capsule_beside(frame, j, bundle.left, bundle.b1, upper, radius)
            spans[2, touched], spans[3, touched], spans[4, touched], spans[5, touched] = (
                low,
                high,
                low2,
                high2,
            )
            if max(low, low2) < min(high, high2):
                _block(blockers, made, low, low2, high, high2)
                made += 1
            low, high = min(low, low2), max(high, high2)
            # Between both lines the edge's clearance may reach further, but only round its own ends.
            back, fore = (j, j - 1) if frame.u[j] < frame.u[j - 1] else (j - 1, j)
            if side_of(bundle, frame.u[back] - radius, frame.v[back], 0.0) == 0:
                low = min(low, frame.u[back] - radius)
            if side_of(bundle, frame.u[fore] + radius, frame.v[fore], 0.0) == 0:
                high = max(high, frame.u[fore] + radius)
            if low < high:
                spans[0, touched], spans[1, touched], spanned[touched] = low, high, j
                touched += 1
    return made, touched


@njit(cache=True)
def _gap_between(spans: np.ndarray, touched: int, middle: float, share: float) -> tuple[float, float]:
    """Bound the gap round u = middle on the line at a share of the way from lower to upper; give its slope there too.

    Where an edge's clearance begins is convex in the offset of parallel lines, and where it ends is concave, so both
    are bounded by the straight way between their values on the lower and on the upper line.
    """
    end, end_slope, start, start_slope = np.inf, 0.0, -np.inf, 0.0
    for t in range(touched):
        if max(spans[2, t], spans[4, t]) >= min(spans[3, t], spans[5, t]):
            continue
        slope = spans[4, t] - spans[2, t]
        at = spans[2, t] + share * slope
        if min(spans[2, t], spans[4, t]) >= middle and at < end:
            end, end_slope = at, slope
        slope = spans[5, t] - spans[3, t]
        at = spans[3, t] + share * slope
        if max(spans[3, t], spans[5, t]) <= middle and at > start:
            start, start_slope = at, slope
    return end - start, end_slope - start_slope


@njit(cache=True)
def parallel_gap(spans: np.ndarray, touched: int, middle: float) -> float:
    """Bound the gap round u = middle on every line of a bundle of parallel lines, right to second order in its width.

    The bound of `_gap_between` is concave in the share: its top is found by cutting with tangents, and every cut is
    itself a bound.
    """
    low, (value, slope) = 0.0, _gap_between(spans, touched, middle, 0.0)
    if not (slope > 0.0 and np.isfinite(value)):
        return value
    high, (high_value, high_slope) = 1.0, _gap_between(spans, touched, middle, 1.0)
    if not high_slope < 0.0:
        return high_value
    top = value + slope
    for _ in range(8):
        share = (high_value - value + slope * low - high_slope * high) / (slope - high_slope)
        top = value + slope * (share - low)
        new_value, new_slope = _gap_between(spans, touched, middle, share)
        if top - new_value <= 1e-13 * top:
            break
        if new_slope > 0.0:
            low, value, slope = share, new_value, new_slope
        else:
            high, high_value, high_slope = share, new_value, new_slope
    return top


@njit(cache=True)
def _reached(spans: np.ndarray, touched: int, start: float, end: float) -> bool:
    """Say whether three edges or more block something of a gap, or end at it, on some line of the bundle."""
    near = 1e-9 * (end - start)
    reaching = 0
    for t in range(touched):
        reaching += spans[1, t] >= start - near and spans[0, t] <= end + near
        if reaching == 3:
            return True
    return False


@njit(cache=True)
def _farthest(bundle: Bundle, blockers: np.ndarray, behind: int, ahead: int) -> float:
    """Give the greatest distance between where a blocker ends, and where one ahead begins, on both border lines."""
    far = 0.0
    for i in range(2):
        u1 = blockers[4 + i, behind]
        v1 = lower_at(bundle, u1) if i == 0 else upper_at(bundle, u1)
        for j in range(2):
            u2 = blockers[2 + j, ahead]
            v2 = lower_at(bundle, u2) if j == 0 else upper_at(bundle, u2)
            far = max(far, np.hypot(u2 - u1, v2 - v1))
    return far


@njit(cache=True, inline="always")
def _ends_before(blockers: np.ndarray, row: int, one: int, other: int) -> bool:
    """Say whether blocker one lies before the other by the middle of what rows `row` and row + 1 tell."""
    return blockers[row, one] + blockers[row + 1, one] < blockers[row, other] + blockers[row + 1, other]


@njit(cache=True, inline="always")
def _behind(blockers: np.ndarray, order: np.ndarray, k: int) -> int:
    """Give the blocker behind gap k: the farther one of the last two."""
    if k > 1 and _ends_before(blockers, 4, order[k - 1], order[k - 2]):
        return order[k - 2]
    return order[k - 1]


@njit(cache=True)
def longest_gap(
    bundle: Bundle, scratch: Scratch, made: int, touched: int, parallel: bool, norm: float, least: float
) -> tuple[float, float, float]:
    """Bound the length of a bundle's runs that, for every blocker, end at or before enter or start at or after leave.

    norm: length per step along u of the steepest line; parallel: all lines lie along u. Gives the bound, 0 where it is
    not above `least`, and the least and greatest u of all runs that may be longer than that. With spans (touched >= 0),
    a gap that fewer than three edges reach into counts as 0: with one edge at either end the length is convex when the
    line shifts, so a line outside the bundle is as long.
    """
    blockers, spans, order = scratch.blockers, scratch.spans, scratch.order
    order_of(blockers[1], made, order)
    best, low, high = least, np.inf, -np.inf
    end, ahead = np.inf, -1
    for k in range(made - 1, 0, -1):
        end = min(end, blockers[0, order[k]])
        if ahead < 0 or _ends_before(blockers, 2, order[k], ahead):
            ahead = order[k]
        behind = _behind(blockers, order, k)
        start = blockers[1, order[k - 1]]
        length, middle = (end - start) * norm, 0.5 * (start + end)
        if length <= least or (touched >= 0 and not _reached(spans, touched, start, end)):
            continue
        if not parallel:
            length = min(length, _farthest(bundle, blockers, behind, ahead))
        elif touched > 0:  # a run that does not hold the middle has half the gap at most
            length = min(length, max(0.5 * length, parallel_gap(spans, touched, middle)))
        if length > least:
            best, low, high = max(best, length), min(low, start), max(high, end)
    return (best if best > least else 0.0), low, high
