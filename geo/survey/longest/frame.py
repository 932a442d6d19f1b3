"""What the run search works on: rings about a local origin, frames turned to a direction, and bundles of lines.

Rings are stored twice in a row, so that a stretch of shore never wraps. A stretch runs from one vertex outside a bundle
to the next vertex outside it; a whole ring without a vertex outside yet carries its first vertex as -(number + 1).
"""

from typing import NamedTuple, cast

import numpy as np
from numba import njit

# A count to begin with, an int to the annotations; to the compiler the plain 0 is a type of its own, for which every
# callee would be compiled a second time.
NONE = cast(int, np.int64(0))


class Rings(NamedTuple):
    """Rings of one polygon about a local origin [m], each stored twice in a row; ring k is first[k]..last[k]."""

    x: np.ndarray
    y: np.ndarray
    first: np.ndarray
    last: np.ndarray


class Frame(NamedTuple):
    """The shore turned so that the direction (cosine, sine) lies along u; lengths grow by `norm`, its length."""

    u: np.ndarray
    v: np.ndarray
    cosine: float
    sine: float
    norm: float


class Stretches(NamedTuple):
    """Stretches of shore: numbers begin..stop of the lists of first and last vertices."""

    first: np.ndarray
    last: np.ndarray
    begin: int
    stop: int


class Bundle(NamedTuple):
    """All lines that cross the upright u = left with v in [a1, b1] and u = left + width with v in [a2, b2]."""

    a1: float
    b1: float
    a2: float
    b2: float
    left: float
    width: float


class Line(NamedTuple):
    """The line v = start_v + slope (u - left)."""

    left: float
    start_v: float
    slope: float


class Quest(NamedTuple):
    """What is searched in one frame, in frame units. tied: only lines along u; cap: steepest slope.

    radius: clearance that every run keeps, `touch` a hair more, at which lines are laid, and the clearance asked for a
    hair more again: so rounding never closes a way that is exactly as wide as the corridor.
    """

    tied: bool
    radius: float
    touch: float
    cap: float
    left: float
    width: float
    size: float
    slack: float


class Part(NamedTuple):
    """A bundle with what is known of its runs.

    edges: number of edges in its stretches; bound: no run is longer [m]; inside: number of vertices in it; touched:
    number of spans, -1 where the bundle is too wide for them; low, high: least and greatest u of the runs that count.
    """

    stretches: Stretches
    bundle: Bundle
    edges: int
    bound: float
    inside: int
    touched: int
    low: float
    high: float


@njit(cache=True)
def copy_row(row: np.ndarray, target: np.ndarray) -> None:
    """Copy the values of a row, number by number.

    Notes: an assignment of slices would compile, into every kernel with one, the text of the error of unequal shapes.
    """
    for k in range(row.size):
        target[k] = row[k]


@njit(cache=True)
def origin_of(coordinates: np.ndarray) -> np.ndarray:
    """Give an origin (2,) near coordinates (n, 2) whose subtraction is exact.

    Notes: a multiple of a power of two no smaller than the extent, so that every difference keeps the last bit of its
    coordinate; and 0 where the coordinates are not far from 0 anyway.
    """
    low, high = np.empty(2), np.empty(2)
    for axis in range(2):
        low[axis], high[axis] = coordinates[:, axis].min(), coordinates[:, axis].max()
    extent = max(high[0] - low[0], high[1] - low[1])
    step = 2.0 ** np.ceil(np.log2(extent)) if extent > 0.0 else 1.0
    origin = np.zeros(2)
    for axis in range(2):
        middle = 0.5 * (low[axis] + high[axis])
        if abs(middle) >= 4.0 * step:
            origin[axis] = np.floor(middle / step) * step
    return origin


@njit(cache=True)
def load_shore(coordinates: np.ndarray, ring_offsets: np.ndarray, origin: np.ndarray) -> Rings:
    """Give the shore of one polygon without repeated vertices.

    coordinates: (n, 2), rings closed; ring_offsets: (rings + 1,) row of each ring's first vertex; origin: (2,).
    """
    rings = ring_offsets.size - 1
    most = 2 * (ring_offsets[rings] - ring_offsets[0])
    x, y = np.empty(most), np.empty(most)
    first, last = np.empty(rings, np.int32), np.empty(rings, np.int32)
    at = 0
    for k in range(rings):
        first[k] = at
        for i in range(ring_offsets[k], ring_offsets[k + 1] - 1):
            if coordinates[i, 0] == coordinates[i + 1, 0] and coordinates[i, 1] == coordinates[i + 1, 1]:
                continue
            x[at], y[at] = coordinates[i, 0] - origin[0], coordinates[i, 1] - origin[1]
            at += 1
        last[k] = at
        for i in range(first[k], last[k]):
            x[at], y[at] = x[i], y[i]
            at += 1
    return Rings(x[:at], y[:at], first, last)


@njit(cache=True)
def turn(shore: Rings, cosine: float, sine: float) -> Frame:
    """Give the shore in a frame whose u axis is the direction (cosine, sine), which need not be of unit length."""
    u = shore.x * cosine + shore.y * sine
    v = shore.y * cosine - shore.x * sine
    return Frame(u, v, cosine, sine, np.sqrt(cosine * cosine + sine * sine))


@njit(cache=True, inline="always")
def start_of(stretches: Stretches, k: int) -> int:
    """Give the first vertex of stretch k."""
    i = stretches.first[k]
    return i if i >= 0 else -i - 1


@njit(cache=True, inline="always")
def lower_at(bundle: Bundle, u: float) -> float:
    """Give the least v of the bundle's lines at u."""
    return bundle.a1 + (bundle.a2 - bundle.a1) * ((u - bundle.left) / bundle.width)


@njit(cache=True, inline="always")
def upper_at(bundle: Bundle, u: float) -> float:
    """Give the greatest v of the bundle's lines at u."""
    return bundle.b1 + (bundle.b2 - bundle.b1) * ((u - bundle.left) / bundle.width)


@njit(cache=True, inline="always")
def middle_of(bundle: Bundle) -> Line:
    """Give the middle line of a bundle."""
    start_v = 0.5 * (bundle.a1 + bundle.b1)
    return Line(bundle.left, start_v, (0.5 * (bundle.a2 + bundle.b2) - start_v) / bundle.width)


@njit(cache=True, inline="always")
def side_of(bundle: Bundle, u: float, v: float, reach: float) -> int:
    """Give 1 above the bundle by more than reach, -1 below it by more than reach, else 0."""
    if v - upper_at(bundle, u) > reach:
        return 1
    if v - lower_at(bundle, u) < -reach:
        return -1
    return 0


@njit(cache=True, inline="always")
def outer_side(bundle: Bundle, u: float, v: float) -> int:
    """Give the side of a vertex that is known to lie outside the bundle."""
    return 1 if v > 0.5 * (lower_at(bundle, u) + upper_at(bundle, u)) else -1


@njit(cache=True)
def ends_of(
    frame: Frame, stretches: Stretches, k: int, bundle: Bundle, reach: float
) -> tuple[int, int, int, int]:
    """Give first and last vertex of stretch k and their sides, a whole ring turned to begin outside the bundle.

    Sides 0 tell a ring that lies inside the bundle altogether.
    """
    u, v = frame.u, frame.v
    i, end = start_of(stretches, k), stretches.last[k]
    if stretches.first[k] >= 0:
        return i, end, outer_side(bundle, u[i], v[i]), outer_side(bundle, u[end], v[end])
    for j in range(i, end):
        side = side_of(bundle, u[j], v[j], reach)
        if side != 0:
            return j, j + end - i, side, side
    return i, end, 0, 0


@njit(cache=True)
def order_of(values: np.ndarray, count: int, order: np.ndarray) -> None:
    """Write the numbers of the first `count` values in ascending order.

    Notes: Shell's sort, plain insertion for the few values of most bundles; a general sort is slower there.
    """
    for i in range(count):
        order[i] = i
    gap = 1
    while gap * 9 < count:
        gap = 3 * gap + 1
    while gap > 0:
        for i in range(gap, count):
            number = order[i]
            value = values[number]
            j = i - gap
            while j >= 0 and values[order[j]] > value:
                order[j + gap] = order[j]
                j -= gap
            order[j + gap] = number
        gap //= 3


@njit(cache=True)
def sort_in_place(values: np.ndarray, count: int) -> None:
    """Sort the first `count` values ascending, as `order_of` does."""
    gap = 1
    while gap * 9 < count:
        gap = 3 * gap + 1
    while gap > 0:
        for i in range(gap, count):
            value = values[i]
            j = i - gap
            while j >= 0 and values[j] > value:
                values[j + gap] = values[j]
                j -= gap
            values[j + gap] = value
        gap //= 3
