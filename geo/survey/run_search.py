"""Branch and bound over bundles of lines: the exact longest run, with a bound on whatever was not searched.

Why it is exact. Turn a run about a shore vertex that it touches: between two fixed shore edges its length is convex in
the angle; shift it without turning: its length is linear in the offset. So some longest run touches two vertices. A
bundle is dropped when its bound does not beat the best run found; it is finished when so few vertices lie in it that
the line through each pair can be tried. Each new best run is measured again against every ring before it counts.
With clearance there is no finite list of lines: bundles are halved until bound and best agree.
"""

from typing import NamedTuple

import numpy as np
from numba import njit

from geo.survey.run_bundles import (
    add_capsules,
    gap_corner,
    keep_stretches,
    list_blockers,
    list_pieces,
    longest_gap,
)
from geo.survey.run_lines import clear_water_on, water_along, water_between

EXACT_SLACK = 1e-11  # relative; bundles that could be longer by less than this are dropped
CLEAR_SLACK = 4e-10  # the same with clearance, where no exact finish exists
SECTORS = 8  # frames that share the half circle of directions
_SECTOR_SLOPE = np.tan(0.5 * np.pi / SECTORS) * (1.0 + 1e-9)
_EPS = 1e-12  # of the body's size: how near a border of a bundle a vertex counts as inside it
_FEW = 6  # vertices in a bundle below which every pair is tried
_MANY = 48  # vertices that a bundle narrower than rounding may hold and still be finished by pairs


class Shore(NamedTuple):
    """Rings of one polygon about a local origin, each stored twice in a row; ring k is first[k]..last[k]."""

    x: np.ndarray
    y: np.ndarray
    first: np.ndarray
    last: np.ndarray


class Frame(NamedTuple):
    """The shore turned so that the wanted direction (cosine, sine) lies along u; lengths grow by `norm`."""

    u: np.ndarray
    v: np.ndarray
    cosine: float
    sine: float
    norm: float


class Room(NamedTuple):
    """Scratch of one search."""

    cuts: np.ndarray
    blocks: np.ndarray
    pieces: np.ndarray
    blockers: np.ndarray
    spans: np.ndarray
    sides: np.ndarray
    corners: np.ndarray
    inner: np.ndarray
    circles: np.ndarray
    nodes: np.ndarray


@njit(cache=True)
def make_room(vertices: int) -> Room:
    """Give scratch for a shore of so many vertices (each counted once)."""
    return Room(
        np.empty((2, 2 * vertices + 4)),
        np.empty((2, 2 * vertices + 4)),
        np.empty((3, vertices + 4)),
        np.empty((2, 3 * vertices + 8)),
        np.empty((2, 2 * vertices + 4)),
        np.empty((4, 2 * vertices + 4)),
        np.empty((2, 2)),
        np.empty(_MANY, np.int64),
        np.empty((_FEW + 3, 3)),
        np.empty((600, 10)),
    )


@njit(cache=True)
def turn(shore: Shore, cosine: float, sine: float) -> Frame:
    """Give the shore in a frame whose u axis is the direction (cosine, sine), which need not be of unit length."""
    u = shore.x * cosine + shore.y * sine
    v = shore.y * cosine - shore.x * sine
    return Frame(u, v, cosine, sine, np.sqrt(cosine * cosine + sine * sine))


@njit(cache=True)
def _keep_pair(shore: Shore, a: int, b: int, cuts: np.ndarray, best: np.ndarray) -> None:
    """Measure the line through two vertices against every ring and keep it when it beats the best."""
    start, end = water_between(shore.x, shore.y, shore.first, shore.last, 0, shore.first.size, a, b, cuts)
    if end - start > best[0]:
        ax, ay = shore.x[a], shore.y[a]
        length = np.hypot(shore.x[b] - ax, shore.y[b] - ay)
        dx, dy = (shore.x[b] - ax) / length, (shore.y[b] - ay) / length
        best[0], best[1], best[2] = end - start, ax + dx * start, ay + dy * start
        best[3], best[4] = ax + dx * end, ay + dy * end


@njit(cache=True)
def _keep_framed(frame: Frame, u1: float, v1: float, u2: float, v2: float, best: np.ndarray) -> None:
    """Keep a run given in a frame when it beats the best."""
    length = np.hypot(u2 - u1, v2 - v1) / frame.norm
    if u2 > u1 and length > best[0]:
        c, s = frame.cosine / frame.norm**2, frame.sine / frame.norm**2
        best[0], best[1], best[2] = length, u1 * c - v1 * s, u1 * s + v1 * c
        best[3], best[4] = u2 * c - v2 * s, u2 * s + v2 * c


@njit(cache=True)
def _try_pairs(
    shore: Shore,
    frame: Frame,
    room: Room,
    first: np.ndarray,
    last: np.ndarray,
    begin: int,
    stop: int,
    count: int,
    node: np.ndarray,
    left: float,
    width: float,
    best: np.ndarray,
) -> None:
    """Try the line through each pair of the `count` vertices of a bundle."""
    u, v = frame.u, frame.v
    slack = 1e-12 * width
    for p in range(count):
        i = room.inner[p]
        for q in range(p + 1, count):
            j = room.inner[q]
            step = u[j] - u[i]
            if abs(step) * 4.0 < abs(v[j] - v[i]) or step == 0.0:
                continue
            slope = (v[j] - v[i]) / step
            at_left = v[i] + slope * (left - u[i])
            at_right = at_left + slope * width
            near = slack * (2.0 + width / abs(step))
            if at_left < node[0] - near or at_left > node[1] + near:
                continue
            if at_right < node[2] - near or at_right > node[3] + near:
                continue
            start, end = water_between(shore.x, shore.y, first, last, begin, stop, i, j, room.cuts)
            if end - start > best[0]:
                _keep_pair(shore, i, j, room.cuts, best)


@njit(cache=True)
def _try_offsets(
    shore: Shore,
    frame: Frame,
    room: Room,
    first: np.ndarray,
    last: np.ndarray,
    begin: int,
    stop: int,
    count: int,
    tolerance: float,
    best: np.ndarray,
) -> None:
    """Try the line along u through each of the `count` vertices of a bundle of parallel lines."""
    for p in range(count):
        offset = frame.v[room.inner[p]]
        start, end = water_along(frame.u, frame.v, first, last, begin, stop, offset, tolerance, room.cuts)
        if (end - start) / frame.norm > best[0]:
            start, end = water_along(
                frame.u, frame.v, shore.first, shore.last, 0, shore.first.size, offset, tolerance, room.cuts
            )
            _keep_framed(frame, start, offset, end, offset, best)


@njit(cache=True)
def _try_clear(
    shore: Shore,
    frame: Frame,
    room: Room,
    first: np.ndarray,
    last: np.ndarray,
    begin: int,
    stop: int,
    start_v: float,
    slope: float,
    left: float,
    radius: float,
    best: np.ndarray,
) -> None:
    """Try the line v = start_v + slope (u - left) with clearance."""
    u, v = frame.u, frame.v
    start, end = clear_water_on(
        u, v, first, last, begin, stop, start_v, slope, left, radius, room.blocks, room.cuts
    )
    if (end - start) / frame.norm <= best[0]:
        return
    start, end = clear_water_on(
        u,
        v,
        shore.first,
        shore.last,
        0,
        shore.first.size,
        start_v,
        slope,
        left,
        radius,
        room.blocks,
        room.cuts,
    )
    du = 1.0 / np.sqrt(1.0 + slope * slope)
    start, end = start * du, end * du
    _keep_framed(frame, left + start, start_v + slope * start, left + end, start_v + slope * end, best)


@njit(cache=True)
def _list_touched(
    frame: Frame,
    room: Room,
    first: np.ndarray,
    last: np.ndarray,
    begin: int,
    stop: int,
    node: np.ndarray,
    left: float,
    width: float,
    radius: float,
) -> int:
    """List circles (u, v, signed radius) that a longest run of a bundle may touch; give their number.

    They are the clearance circles that some lines of the bundle cut and others miss, and, with radius 0, the corners
    of the clear water at both ends of the bundle's longest gap. Positive radius: the line passes below.
    """
    count = 0
    for k in range(2):
        if not np.isnan(room.corners[k, 0]):
            room.circles[count, 0], room.circles[count, 1] = room.corners[k, 0], room.corners[k, 1]
            room.circles[count, 2] = 0.0
            count += 1
    for k in range(begin, stop):
        i = first[k] if first[k] >= 0 else -first[k] - 1
        for j in range(i + 1, last[k] + 1):
            part = (frame.u[j] - left) / width
            low = frame.v[j] - node[1] - (node[3] - node[1]) * part
            high = frame.v[j] - node[0] - (node[2] - node[0]) * part
            for sign in (-1.0, 1.0):
                near, far = min(sign * low, sign * high), max(sign * low, sign * high)
                if near <= radius * 1.02 and far >= radius and count < room.circles.shape[0]:
                    room.circles[count, 0], room.circles[count, 1] = frame.u[j], frame.v[j]
                    room.circles[count, 2] = sign * radius * (1.0 + 1e-12)
                    count += 1
    return count


@njit(cache=True, inline="always")
def _common_tangent(one: np.ndarray, two: np.ndarray) -> float:
    """Give the slope of the line that touches two circles (u, v, signed radius); nan where none does."""
    du, dv = two[0] - one[0], two[1] - one[1]
    apart = np.hypot(du, dv)
    if apart <= abs(two[2] - one[2]) or du == 0.0:
        return np.nan
    lean = np.arcsin((two[2] - one[2]) / apart)
    return np.tan(np.arctan2(dv, du) - lean) if du > 0.0 else np.tan(np.arctan2(-dv, -du) + lean)


@njit(cache=True)
def _try_tangents(
    shore: Shore,
    frame: Frame,
    room: Room,
    first: np.ndarray,
    last: np.ndarray,
    begin: int,
    stop: int,
    node: np.ndarray,
    left: float,
    width: float,
    tied: bool,
    radius: float,
    best: np.ndarray,
) -> None:
    """Try the middle line of a bundle, the same moved until it touches a circle, and the lines that touch two."""
    start_v, end_v = 0.5 * (node[0] + node[1]), 0.5 * (node[2] + node[3])
    slope = (end_v - start_v) / width
    _try_clear(shore, frame, room, first, last, begin, stop, start_v, slope, left, radius, best)
    count = _list_touched(frame, room, first, last, begin, stop, node, left, width, radius)
    if count > _FEW + 2:
        return
    for p in range(count):
        one = room.circles[p]
        for q in range(1 if tied else p + 1):
            tangent = _common_tangent(room.circles[q], one) if q < p and not tied else slope
            at = one[1] - tangent * (one[0] - left) - one[2] * np.sqrt(1.0 + tangent * tangent)
            over = 0.25 * (node[1] - node[0] + node[3] - node[2])
            if (
                node[0] - over <= at <= node[1] + over
                and node[2] - over <= at + tangent * width <= node[3] + over
            ):
                _try_clear(shore, frame, room, first, last, begin, stop, at, tangent, left, radius, best)


@njit(cache=True)
def _bound(
    frame: Frame,
    room: Room,
    first: np.ndarray,
    last: np.ndarray,
    begin: int,
    stop: int,
    node: np.ndarray,
    left: float,
    width: float,
    cap: float,
    radius: float,
    eps: float,
    least: float,
) -> tuple[float, int]:
    """Give the bound on runs of a bundle [frame units] and the number of vertices in it."""
    pieces, inside = list_pieces(
        frame.u, frame.v, first, last, begin, stop, node[0], node[1], node[2], node[3], left, width, eps,
        room.pieces, room.inner,
    )  # fmt: skip
    steepest = max(abs(node[2] - node[1]), abs(node[3] - node[0])) / width
    norm = np.sqrt(1.0 + min(steepest, cap) ** 2)
    touched = -1
    made = list_blockers(room.pieces, pieces, radius / norm, room.blockers)
    if radius > 0.0 and min(node[1] - node[0], node[3] - node[2]) < 2.0 * radius * norm:
        made, touched = add_capsules(
            frame.u, frame.v, first, last, begin, stop, node[0], node[1], node[2], node[3], left, width,
            radius * (1.0 - 1e-12), room.blockers, made, room.spans, room.sides,
        )  # fmt: skip
    gap, middle = longest_gap(room.blockers, made, room.spans, touched, least / norm)
    room.corners[:] = np.nan
    if gap > 0.0 and touched > 0:
        for k in range(2):
            at, share = gap_corner(room.sides, touched, middle, k == 1)
            low = node[0] + (node[2] - node[0]) * (at - left) / width
            high = node[1] + (node[3] - node[1]) * (at - left) / width
            room.corners[k, 0], room.corners[k, 1] = at, low + share * (high - low)
    return gap * norm, inside


@njit(cache=True)
def _put_child(node: np.ndarray, child: np.ndarray, part: int, tied: bool) -> None:
    """Write the gates of one part of a bundle: halves of both gates, or the same half of both when tied."""
    low, high = part % 2, (part % 2 if tied else part // 2)
    middle1, middle2 = 0.5 * (node[0] + node[1]), 0.5 * (node[2] + node[3])
    child[0], child[1] = (node[0], middle1) if low == 0 else (middle1, node[1])
    child[2], child[3] = (node[2], middle2) if high == 0 else (middle2, node[3])


@njit(cache=True, nogil=True)
def search(
    shore: Shore,
    frame: Frame,
    room: Room,
    tied: bool,
    radius: float,
    deepest: int,
    best: np.ndarray,
    halt: np.ndarray,
    work: np.ndarray,
) -> float:
    """Improve `best` by the runs of one frame; give a bound on the length of what was left unsearched.

    tied: only lines along u (a heading); else all lines within half a sector of it. radius [m]: clearance. deepest:
    number of halvings allowed. best: (length, x1, y1, x2, y2) [m], local origin. halt[0] != 0 stops the search.
    """
    u, v = frame.u, frame.v
    left, width = u.min(), u.max() - u.min()
    height = v.max() - v.min()
    size = max(width, height)
    if width <= 0.0:
        return 0.0
    eps = _EPS * size
    cap = 0.0 if tied else _SECTOR_SLOPE
    radius = radius * frame.norm
    slack = 1.0 + (EXACT_SLACK if radius == 0.0 else CLEAR_SLACK)
    nodes = room.nodes
    first = np.empty(4 * shore.first.size + 2 * u.size, np.int32)
    last = np.empty(first.size, np.int32)
    rings = shore.first.size
    for k in range(rings):
        first[k], last[k] = -shore.first[k] - 1, shore.last[k]
    reach = cap * width
    nodes[0, 0], nodes[0, 1] = v.min() - reach, v.max() + reach
    nodes[0, 2], nodes[0, 3] = nodes[0, 0], nodes[0, 1]
    # columns 4..9: bound, begin, stop, edges, depth, end of what siblings use
    _note(nodes[0], np.inf, 0, rings, u.size // 2, 0)
    nodes[0, 9] = rings
    top = 1
    left_over = 0.0
    children = np.empty((4, 10))
    parts = 2 if tied else 4
    while top > 0:
        top -= 1
        node = nodes[top].copy()
        if node[4] <= best[0] * slack:
            continue
        if halt[0] != 0 or int(node[8]) >= deepest or top + 5 > nodes.shape[0]:
            left_over = max(left_over, node[4])
            continue
        at = int(node[9])
        made = 0
        for part in range(parts):
            child = children[made]
            _put_child(node, child, part, tied)
            if not tied and (child[2] - child[1] > cap * width or child[3] - child[0] < -cap * width):
                continue
            need = at + int(node[7]) + 8
            if need > first.size:
                first = _longer(first, 2 * need)
                last = _longer(last, 2 * need)
            steepest = min(cap, max(abs(child[2] - child[1]), abs(child[3] - child[0])) / width)
            near = eps + radius * np.sqrt(1.0 + steepest * steepest)
            begin = at
            stop, edges = keep_stretches(
                u, v, first, last, int(node[5]), int(node[6]), child[0], child[1], child[2], child[3], left, width,
                near, at,
            )  # fmt: skip
            work[0] += node[7]
            bound, inside = _bound(
                frame,
                room,
                first,
                last,
                begin,
                stop,
                child,
                left,
                width,
                cap,
                radius,
                eps,
                best[0] * slack * frame.norm,
            )
            bound = min(bound / frame.norm, node[4])
            if bound <= best[0] * slack:
                continue
            tiny = max(child[1] - child[0], child[3] - child[2]) <= 4.0 * eps
            if radius > 0.0:
                if edges < 400 or min(child[1] - child[0], child[3] - child[2]) < radius:
                    _try_tangents(
                        shore, frame, room, first, last, begin, stop, child, left, width, tied, radius, best
                    )
                if tiny:
                    left_over = max(left_over, bound)
                    continue
            elif inside <= _FEW or (tiny and inside <= _MANY):
                if tied:
                    _try_offsets(shore, frame, room, first, last, begin, stop, inside, eps, best)
                else:
                    _try_pairs(shore, frame, room, first, last, begin, stop, inside, child, left, width, best)
                continue
            elif tiny:
                left_over = max(left_over, bound)
                continue
            _note(child, bound, begin, stop, edges, int(node[8]) + 1)
            at = stop
            made += 1
        _push(nodes, top, children, made, at)
        top += made
    return left_over


@njit(cache=True, inline="always")
def _note(node: np.ndarray, bound: float, begin: int, stop: int, edges: int, depth: int) -> None:
    node[4], node[5], node[6], node[7], node[8] = bound, begin, stop, edges, depth


@njit(cache=True)
def _push(nodes: np.ndarray, top: int, children: np.ndarray, made: int, at: int) -> None:
    """Put the children on the stack with the most promising on top."""
    order = np.argsort(children[:made, 4])
    for k in range(made):
        nodes[top + k] = children[order[k]]
        nodes[top + k, 9] = at


@njit(cache=True)
def _longer(values: np.ndarray, size: int) -> np.ndarray:
    longer = np.empty(size, values.dtype)
    longer[: values.size] = values
    return longer
