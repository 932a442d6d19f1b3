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

from geo.survey.longest.frame import Bundle, Frame, Shore, Stretches, lower_at, side_of, start_of, upper_at
from geo.survey.longest.room import Room
from geo.survey.longest.trials import try_clear

_NEAR = 1e-9  # relative: rounding of a corner's place
_LEAN = (
    1.02  # a circle of radius 1 is cut at up to this measured along v: no line is steeper than half a sector
)
_SHORT = 0.36  # clearances: how near beyond an arc an end may be that is not convex


@njit(cache=True)
def _list_sides_and_circles(
    frame: Frame, room: Room, stretches: Stretches, bundle: Bundle, touch: float, low: float, high: float
) -> int:  # fmt: skip
    """List what bounds the clear water in a bundle between two u: sides (u1, v1, u2, v2), circles (u, v, nan, nan).

    Gives their number, more than room.bounds holds where they do not fit.
    """
    count, most = 0, room.bounds.shape[0]
    half = 0.5 * (bundle.b1 - bundle.a1 + bundle.b2 - bundle.a2)
    for k in range(stretches.begin, stretches.stop):
        for j in range(start_of(stretches, k) + 1, stretches.last[k] + 1):
            u1, v1, u2, v2 = frame.u[j - 1], frame.v[j - 1], frame.u[j], frame.v[j]
            if max(u1, u2) < low - touch or min(u1, u2) > high + touch:
                continue
            if low - touch <= u2 <= high + touch and side_of(bundle, u2, v2, _LEAN * touch + half) == 0:
                if count < most:
                    room.bounds[count, 0], room.bounds[count, 1] = u2, v2
                    room.bounds[count, 2], room.bounds[count, 3] = np.nan, np.nan
                count += 1
            step = np.hypot(u2 - u1, v2 - v1)
            if step == 0.0:
                continue
            across_u, across_v = touch * (v1 - v2) / step, touch * (u2 - u1) / step
            for sign in (-1.0, 1.0):
                p, q, r, s = (
                    u1 + sign * across_u,
                    v1 + sign * across_v,
                    u2 + sign * across_u,
                    v2 + sign * across_v,
                )
                side = side_of(bundle, p, q, half)
                if side != 0 and side == side_of(bundle, r, s, half):
                    continue
                if count < most:
                    room.bounds[count, 0], room.bounds[count, 1] = p, q
                    room.bounds[count, 2], room.bounds[count, 3] = r, s
                count += 1
            if count > most:
                return count
    return count


@njit(cache=True)
def _meet(one: np.ndarray, two: np.ndarray, touch: float, places: np.ndarray) -> int:
    """Write where two sides or circles of one radius meet to places (2, 2); give the number of places."""
    if np.isnan(one[2]) and np.isnan(two[2]):
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
    if np.isnan(one[2]):
        one, two = two, one
    du, dv = one[2] - one[0], one[3] - one[1]
    if np.isnan(two[2]):
        step = np.hypot(du, dv)
        du, dv = du / step, dv / step
        along = (two[0] - one[0]) * du + (two[1] - one[1]) * dv
        across = (two[0] - one[0]) * dv - (two[1] - one[1]) * du
        if abs(across) >= touch:
            return 0
        half = np.sqrt(touch * touch - across * across)
        count = 0
        for sign in (-1.0, 1.0):
            at = along + sign * half
            if -_NEAR * touch <= at <= step + _NEAR * touch:
                places[count, 0], places[count, 1] = one[0] + at * du, one[1] + at * dv
                count += 1
        return count
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
def _list_corners(
    frame: Frame, room: Room, stretches: Stretches, bundle: Bundle, touch: float, low: float, high: float
) -> int:  # fmt: skip
    """List the corners of the clear water in a bundle between two u as circles of radius 0; give their number."""
    bounds = _list_sides_and_circles(frame, room, stretches, bundle, touch, low, high)
    most = room.circles.shape[0]
    if bounds > room.bounds.shape[0]:
        return most + 1
    over = 0.25 * (bundle.b1 - bundle.a1 + bundle.b2 - bundle.a2)
    near = _NEAR * (high - low + touch)
    count = 0
    for p in range(bounds):
        for q in range(p):
            for k in range(_meet(room.bounds[p], room.bounds[q], touch, room.places)):
                u, v = room.places[k, 0], room.places[k, 1]
                if not low - near <= u <= high + near or side_of(bundle, u, v, over) != 0:
                    continue
                if not _is_clear(frame, stretches, u, v, touch):
                    continue
                if count == most:
                    return most + 1
                room.circles[count, 0], room.circles[count, 1], room.circles[count, 2] = u, v, 0.0
                count += 1
    return count


@njit(cache=True)
def _add_arcs(
    frame: Frame, room: Room, stretches: Stretches, bundle: Bundle, touch: float, low: float, high: float,
    count: int,
) -> int:  # fmt: skip
    """Add the circles (u, v, signed radius) that some lines of a bundle cut and others miss; give the new number.

    Positive radius: the line passes below.
    """
    most = room.circles.shape[0]
    for k in range(stretches.begin, stretches.stop):
        for j in range(start_of(stretches, k) + 1, stretches.last[k] + 1):
            u, v = frame.u[j], frame.v[j]
            if not low - touch <= u <= high + touch:
                continue
            below, above = v - upper_at(bundle, u), v - lower_at(bundle, u)
            for sign in (-1.0, 1.0):
                if min(sign * below, sign * above) > touch * _LEAN:
                    continue
                if max(sign * below, sign * above) < touch * (1.0 - _NEAR):
                    continue
                if count < most:
                    room.circles[count, 0], room.circles[count, 1] = u, v
                    room.circles[count, 2] = sign * touch
                count += 1
    return count


@njit(cache=True)
def _ends_beside_arc(
    frame: Frame, room: Room, bundle: Bundle, count: int, touched: int, touch: float
) -> bool:
    """Say whether a run may end so near beyond the place where it touches an arc that turning may not be convex.

    Every line of the bundle crosses the straight way between the places where an edge's clearance begins on the lower
    and on the upper line, so it begins on none later than the later of them; and the same for where it ends.
    """
    flat = np.arctan((bundle.a2 - bundle.b1) / bundle.width)
    steep = np.arctan((bundle.b2 - bundle.a1) / bundle.width)
    near = _SHORT * touch
    for p in range(count):
        if room.circles[p, 2] == 0.0:
            continue
        u, v = room.circles[p, 0], room.circles[p, 1]
        one, two = u + room.circles[p, 2] * np.sin(flat), u + room.circles[p, 2] * np.sin(steep)
        first, last = min(one, two) - _NEAR * touch, max(one, two) + _NEAR * touch
        for t in range(touched):
            begins, ends = room.spans[0, t], room.spans[1, t]
            if ends < first - near or begins > last + near:
                continue
            j = room.spanned[t]
            if (frame.u[j] == u and frame.v[j] == v) or (frame.u[j - 1] == u and frame.v[j - 1] == v):
                continue
            begins_by, ends_from = ends, begins
            if room.spans[2, t] < room.spans[3, t] and room.spans[4, t] < room.spans[5, t]:
                begins_by = max(room.spans[2, t], room.spans[4, t])
                ends_from = min(room.spans[3, t], room.spans[5, t])
            if (begins <= last + near and begins_by >= first) or (ends >= first - near and ends_from <= last):
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
def _best_cut(room: Room, count: int, low: float, high: float, touch: float) -> float:
    """Give the offset at which to cut a bundle of parallel lines from low to high; nan for its middle.

    Beyond the line that touches a circle, every line is cut by it; at a corner of the clear water another edge begins
    to end the runs. On either side the length is smooth, so a cut there spares many halvings.
    """
    cut, apart = np.nan, 0.45 * (high - low)
    for k in range(count):
        at = room.circles[k, 1] - room.circles[k, 2]
        if abs(at - 0.5 * (low + high)) < apart:
            cut, apart = at, abs(at - 0.5 * (low + high))
    return cut


@njit(cache=True)
def try_tangents(
    shore: Shore, frame: Frame, room: Room, stretches: Stretches, bundle: Bundle, tied: bool, clearance: float,
    touch: float, low: float, high: float, touched: int, is_good: bool, best: np.ndarray,
) -> bool:  # fmt: skip
    """Try the lines of a bundle that touch what a longest run between two u may touch; say whether these are all.

    clearance, touch: what a line keeps from the shore, and a hair more, what it is laid at. touched: number of spans,
    -1 where the bundle is too wide for them. is_good: the best run is good already, so lines are tried only where they
    finish the bundle. Leaves in room.cut where to cut a bundle of parallel lines, nan for its
    middle.
    """
    room.cut[0] = np.nan
    start_v = 0.5 * (bundle.a1 + bundle.b1)
    slope = (0.5 * (bundle.a2 + bundle.b2) - start_v) / bundle.width
    try_clear(shore, frame, room, stretches, bundle.left, start_v, slope, clearance, best)
    most = room.circles.shape[0]
    count = most + 1
    if touched >= 0:
        count = _list_corners(frame, room, stretches, bundle, touch, low, high)
    corners_listed = count <= most
    count = _add_arcs(frame, room, stretches, bundle, touch, low, high, count if corners_listed else 0)
    if count > most or (is_good and not corners_listed):
        return False
    over = 0.25 * (bundle.b1 - bundle.a1 + bundle.b2 - bundle.a2)
    for p in range(count):
        one = room.circles[p]
        for q in range(1 if tied else p):
            tangent = slope if tied else _common_tangent(room.circles[q], one)
            at = one[1] - tangent * (one[0] - bundle.left) - one[2] * np.sqrt(1.0 + tangent * tangent)
            end = at + tangent * bundle.width
            if bundle.a1 - over <= at <= bundle.b1 + over and bundle.a2 - over <= end <= bundle.b2 + over:
                try_clear(shore, frame, room, stretches, bundle.left, at, tangent, clearance, best)
    if tied:
        room.cut[0] = _best_cut(room, count, bundle.a1, bundle.b1, touch)
        return corners_listed
    return corners_listed and not _ends_beside_arc(frame, room, bundle, count, touched, touch)
