"""With clearance: the lines of a bundle that can hold a longest run, when they are so few that all can be tried.

The clear water is what keeps the clearance from every edge. Its shore is made of sides, parallel to edges, and of arcs
round vertices that bulge into it; where two of these meet is a corner. Shift a run without turning it: each end is
convex in the offset, so some longest run touches a corner or an arc. Turn it about that corner, or roll it on that arc:
an end d beyond the touch is convex in the angle again, so some longest run touches two. Only an end that lies nearer
than 0.36 clearances beyond an arc may fail to be convex (write out the second derivative of (e - r cos a) / sin a for a
side, of D cos a - sqrt(r^2 - (D sin a - r)^2) for an arc); a bundle where that can happen is halved on.
"""

import numpy as np
from numba import njit

from geo.survey.longest.frame import (
    Bundle,
    Frame,
    Line,
    Part,
    Quest,
    Stretches,
    lower_at,
    middle_of,
    side_of,
    start_of,
    upper_at,
)
from geo.survey.longest.scratch import Hunt, Scratch
from geo.survey.longest.trials import try_clear

_NEAR = 1e-9  # relative: rounding of a corner's place
# A circle of radius 1 is cut at up to this measured along v: no line is steeper than half a sector.
_LEAN = 1.02
_SHORT = 0.36  # clearances: how near beyond an arc an end may be that is not convex


@njit(cache=True, inline="always")
def _add(rows: np.ndarray, count: int, a: float, b: float, c: float, d: float) -> int:
    """Write a row (a, b, c, d) where it still fits; give the number of rows, counted on where it does not."""
    if count < rows.shape[0]:
        rows[count, 0], rows[count, 1], rows[count, 2], rows[count, 3] = a, b, c, d
    return count + 1


@njit(cache=True)
def _add_sides(
    frame: Frame, j: int, bundle: Bundle, half: float, touch: float, rows: np.ndarray, count: int
) -> int:
    """Add the sides of the edge j - 1, j that a bundle may meet; give the new number."""
    u1, v1, u2, v2 = frame.u[j - 1], frame.v[j - 1], frame.u[j], frame.v[j]
    step = np.hypot(u2 - u1, v2 - v1)
    if step == 0.0:
        return count
    across_u, across_v = touch * (v1 - v2) / step, touch * (u2 - u1) / step
    for sign in (-1.0, 1.0):
        p, q = u1 + sign * across_u, v1 + sign * across_v
        r, s = u2 + sign * across_u, v2 + sign * across_v
        side = side_of(bundle, p, q, half)
        if side == 0 or side != side_of(bundle, r, s, half):
            count = _add(rows, count, p, q, r, s)
    return count


@njit(cache=True)
def _list_sides_and_circles(frame: Frame, scratch: Scratch, part: Part, touch: float) -> int:
    """List what bounds the clear water in a bundle between two u: sides (u1, v1, u2, v2), circles (u, v, nan, nan).

    Gives their number, more than scratch.bounds holds where they do not fit.
    """
    bundle, stretches, rows = part.bundle, part.stretches, scratch.bounds
    low, high = part.low - touch, part.high + touch
    count = 0
    half = 0.5 * (bundle.b1 - bundle.a1 + bundle.b2 - bundle.a2)
    for k in range(stretches.begin, stretches.stop):
        for j in range(start_of(stretches, k) + 1, stretches.last[k] + 1):
            u, v = frame.u[j], frame.v[j]
            if max(frame.u[j - 1], u) < low or min(frame.u[j - 1], u) > high:
                continue
            if low <= u <= high and side_of(bundle, u, v, _LEAN * touch + half) == 0:
                count = _add(rows, count, u, v, np.nan, np.nan)
            count = _add_sides(frame, j, bundle, half, touch, rows, count)
            if count > rows.shape[0]:
                return count
    return count


@njit(cache=True)
def _circles_meet(one: np.ndarray, two: np.ndarray, touch: float, places: np.ndarray) -> int:
    """Write where two circles meet; give the number of places."""
    du, dv = two[0] - one[0], two[1] - one[1]
    apart = np.hypot(du, dv)
    if apart == 0.0 or apart > 2.0 * touch:
        return 0
    rise = np.sqrt(touch * touch - 0.25 * apart * apart) / apart
    for k in range(2):
        sign = 1.0 - 2.0 * k
        places[k, 0] = one[0] + 0.5 * du - sign * rise * dv
        places[k, 1] = one[1] + 0.5 * dv + sign * rise * du
    return 2


@njit(cache=True)
def _side_meets_circle(side: np.ndarray, circle: np.ndarray, touch: float, places: np.ndarray) -> int:
    """Write where a side meets a circle; give the number of places."""
    du, dv = side[2] - side[0], side[3] - side[1]
    step = np.hypot(du, dv)
    du, dv = du / step, dv / step
    along = (circle[0] - side[0]) * du + (circle[1] - side[1]) * dv
    across = (circle[0] - side[0]) * dv - (circle[1] - side[1]) * du
    if abs(across) >= touch:
        return 0
    half = np.sqrt(touch * touch - across * across)
    count = 0
    for sign in (-1.0, 1.0):
        at = along + sign * half
        if -_NEAR * touch <= at <= step + _NEAR * touch:
            places[count, 0], places[count, 1] = side[0] + at * du, side[1] + at * dv
            count += 1
    return count


@njit(cache=True)
def _sides_meet(one: np.ndarray, two: np.ndarray, places: np.ndarray) -> int:
    """Write where two sides meet; give the number of places."""
    du, dv = one[2] - one[0], one[3] - one[1]
    eu, ev = two[2] - two[0], two[3] - two[1]
    turn = du * ev - dv * eu
    if turn == 0.0:
        return 0
    share = ((two[0] - one[0]) * ev - (two[1] - one[1]) * eu) / turn
    other = ((two[0] - one[0]) * dv - (two[1] - one[1]) * du) / turn
    if not (-1e-6 <= share <= 1.0 + 1e-6 and -1e-6 <= other <= 1.0 + 1e-6):
        return 0
    places[0, 0], places[0, 1] = one[0] + share * du, one[1] + share * dv
    return 1


@njit(cache=True)
def _meet(one: np.ndarray, two: np.ndarray, touch: float, places: np.ndarray) -> int:
    """Write where two sides or circles of one radius meet to places (2, 2); give the number of places."""
    if np.isnan(one[2]) and np.isnan(two[2]):
        return _circles_meet(one, two, touch, places)
    if np.isnan(one[2]):
        return _side_meets_circle(two, one, touch, places)
    if np.isnan(two[2]):
        return _side_meets_circle(one, two, touch, places)
    return _sides_meet(one, two, places)


@njit(cache=True)
def _is_clear(frame: Frame, stretches: Stretches, u: float, v: float, touch: float) -> bool:
    """Say whether a point keeps the clearance, but for rounding, from every edge of some stretches."""
    least = (touch * (1.0 - _NEAR)) ** 2
    for k in range(stretches.begin, stretches.stop):
        for j in range(start_of(stretches, k) + 1, stretches.last[k] + 1):
            du, dv = frame.u[j] - frame.u[j - 1], frame.v[j] - frame.v[j - 1]
            p, q = u - frame.u[j - 1], v - frame.v[j - 1]
            length = du * du + dv * dv
            share = min(1.0, max(0.0, (p * du + q * dv) / length)) if length > 0.0 else 0.0
            if (p - share * du) ** 2 + (q - share * dv) ** 2 < least:
                return False
    return True


@njit(cache=True)
def _list_corners(frame: Frame, scratch: Scratch, part: Part, touch: float) -> int:
    """List the corners of the clear water in a bundle between two u as circles of radius 0; give their number."""
    bundle, low, high = part.bundle, part.low, part.high
    bounds = _list_sides_and_circles(frame, scratch, part, touch)
    most = scratch.circles.shape[0]
    if bounds > scratch.bounds.shape[0]:
        return most + 1
    over = 0.25 * (bundle.b1 - bundle.a1 + bundle.b2 - bundle.a2)
    near = _NEAR * (high - low + touch)
    count = 0
    for p in range(bounds):
        for q in range(p):
            for k in range(_meet(scratch.bounds[p], scratch.bounds[q], touch, scratch.places)):
                u, v = scratch.places[k, 0], scratch.places[k, 1]
                if not low - near <= u <= high + near or side_of(bundle, u, v, over) != 0:
                    continue
                if not _is_clear(frame, part.stretches, u, v, touch):
                    continue
                if count == most:
                    return most + 1
                scratch.circles[count, 0], scratch.circles[count, 1], scratch.circles[count, 2] = u, v, 0.0
                count += 1
    return count


@njit(cache=True)
def _add_arcs(frame: Frame, scratch: Scratch, part: Part, touch: float, count: int) -> int:
    """Add the circles (u, v, signed radius) that some lines of a bundle cut and others miss; give the new number.

    Positive radius: the line passes below.
    """
    bundle, stretches = part.bundle, part.stretches
    most = scratch.circles.shape[0]
    for k in range(stretches.begin, stretches.stop):
        for j in range(start_of(stretches, k) + 1, stretches.last[k] + 1):
            u, v = frame.u[j], frame.v[j]
            if not part.low - touch <= u <= part.high + touch:
                continue
            below, above = v - upper_at(bundle, u), v - lower_at(bundle, u)
            for sign in (-1.0, 1.0):
                if min(sign * below, sign * above) > touch * _LEAN:
                    continue
                if max(sign * below, sign * above) < touch * (1.0 - _NEAR):
                    continue
                if count < most:
                    scratch.circles[count, 0], scratch.circles[count, 1] = u, v
                    scratch.circles[count, 2] = sign * touch
                count += 1
    return count


@njit(cache=True)
def _ends_between(spans: np.ndarray, t: int, first: float, last: float, near: float) -> bool:
    """Say whether some line's run may begin or end at span t, between two u or by `near` beside them.

    Every line of the bundle crosses the straight way between the places where an edge's clearance begins on the lower
    and on the upper line, so it begins on none later than the later of them; and the same for where it ends.
    """
    begins, ends = spans[0, t], spans[1, t]
    begins_by, ends_from = ends, begins
    if spans[2, t] < spans[3, t] and spans[4, t] < spans[5, t]:
        begins_by = max(spans[2, t], spans[4, t])
        ends_from = min(spans[3, t], spans[5, t])
    return (begins <= last + near and begins_by >= first) or (ends >= first - near and ends_from <= last)


@njit(cache=True)
def _ends_beside_arc(frame: Frame, scratch: Scratch, part: Part, count: int, touch: float) -> bool:
    """Say whether a run may end so near beyond the place where it touches an arc that turning may not be convex."""
    bundle, spans = part.bundle, scratch.spans
    flat = np.arctan((bundle.a2 - bundle.b1) / bundle.width)
    steep = np.arctan((bundle.b2 - bundle.a1) / bundle.width)
    near = _SHORT * touch
    for p in range(count):
        if scratch.circles[p, 2] == 0.0:
            continue
        u, v = scratch.circles[p, 0], scratch.circles[p, 1]
        one, two = u + scratch.circles[p, 2] * np.sin(flat), u + scratch.circles[p, 2] * np.sin(steep)
        first, last = min(one, two) - _NEAR * touch, max(one, two) + _NEAR * touch
        for t in range(part.touched):
            if spans[1, t] < first - near or spans[0, t] > last + near:
                continue
            j = scratch.spanned[t]
            if (frame.u[j] == u and frame.v[j] == v) or (frame.u[j - 1] == u and frame.v[j - 1] == v):
                continue
            if _ends_between(spans, t, first, last, near):
                return True
    return False


@njit(cache=True, inline="always")
def _common_tangent(one: np.ndarray, two: np.ndarray) -> float:
    """Give the slope of the line that touches two circles (u, v, signed radius); nan where none does."""
    du, dv = two[0] - one[0], two[1] - one[1]
    if one[2] == two[2]:
        return dv / du if du != 0.0 else np.nan
    rise = two[2] - one[2]
    along = du * du + dv * dv - rise * rise
    if along <= 0.0 or du == 0.0:
        return np.nan
    along = np.sqrt(along)
    if du > 0.0:  # the way between the centres, leaning by the angle whose sine is rise / its length
        return (dv * along - du * rise) / (du * along + dv * rise)
    return (dv * along + du * rise) / (du * along - dv * rise)


@njit(cache=True)
def _best_cut(scratch: Scratch, count: int, low: float, high: float) -> float:
    """Give the offset at which to cut a bundle of parallel lines from low to high; nan for its middle.

    Beyond the line that touches a circle, every line is cut by it; at a corner of the clear water another edge begins
    to end the runs. On either side the length is smooth, so a cut there spares many halvings.
    """
    cut, apart = np.nan, 0.45 * (high - low)
    for k in range(count):
        at = scratch.circles[k, 1] - scratch.circles[k, 2]
        if abs(at - 0.5 * (low + high)) < apart:
            cut, apart = at, abs(at - 0.5 * (low + high))
    return cut


@njit(cache=True)
def _try_all(hunt: Hunt, part: Part, quest: Quest, count: int) -> None:
    """Try the lines of a bundle that touch two of the first `count` circles, or one where all lines lie along u."""
    bundle, circles = part.bundle, hunt.scratch.circles
    over = 0.25 * (bundle.b1 - bundle.a1 + bundle.b2 - bundle.a2)
    slope = middle_of(bundle).slope
    for p in range(count):
        one = circles[p]
        for q in range(1 if quest.tied else p):
            tangent = slope if quest.tied else _common_tangent(circles[q], one)
            at = one[1] - tangent * (one[0] - bundle.left) - one[2] * np.sqrt(1.0 + tangent * tangent)
            end = at + tangent * bundle.width
            if bundle.a1 - over <= at <= bundle.b1 + over and bundle.a2 - over <= end <= bundle.b2 + over:
                line = Line(bundle.left, at, tangent)
                try_clear(hunt, part.stretches, line, quest.radius)


@njit(cache=True)
def try_tangents(hunt: Hunt, part: Part, quest: Quest, is_good: bool) -> bool:
    """Try the lines of a bundle that touch what a longest run may touch; say whether these are all.

    is_good: the best run is good already, so lines are tried only where they finish the bundle. Leaves in scratch.cut
    where to cut a bundle of parallel lines, nan for its middle.
    """
    frame, scratch = hunt.frame, hunt.scratch
    scratch.cut[0] = np.nan
    bundle, touch = part.bundle, quest.touch
    try_clear(hunt, part.stretches, middle_of(bundle), quest.radius)
    most = scratch.circles.shape[0]
    count = most + 1
    if part.touched >= 0:
        count = _list_corners(frame, scratch, part, touch)
    corners_listed = count <= most
    count = _add_arcs(frame, scratch, part, touch, count if corners_listed else 0)
    if count > most or (is_good and not corners_listed):
        return False
    _try_all(hunt, part, quest, count)
    if quest.tied:
        scratch.cut[0] = _best_cut(scratch, count, bundle.a1, bundle.b1)
        return corners_listed
    return corners_listed and not _ends_beside_arc(frame, scratch, part, count, touch)
