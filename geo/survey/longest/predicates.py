"""Which side of a line a point lies on, with a sign that rounding cannot falsify.

A run grazes headlands: the line goes exactly through shore vertices, and whether a third vertex lies on it, or a
hair to the left, decides whether the run goes on or ends there. The sign must therefore be that of real arithmetic.
"""

import numpy as np
from numba import njit

# Shewchuk 1997, "Adaptive precision floating-point arithmetic and fast robust geometric predicates", Discrete &
# Computational Geometry 18:305-363, error bound A of orient2d: (3 + 16 e) e with e = 2**-53.
_FILTER = 3.3306690738754716e-16
_SPLITTER = 134217729.0  # 2**27 + 1


@njit(cache=True, inline="always")
def two_sum(a: float, b: float) -> tuple[float, float]:
    """Give the rounded sum of two numbers and its exact rounding error."""
    total = a + b
    virtual = total - a
    return total, (a - (total - virtual)) + (b - virtual)


@njit(cache=True, inline="always")
def two_product(a: float, b: float) -> tuple[float, float]:
    """Give the rounded product of two numbers and its exact rounding error."""
    product = a * b
    wide = _SPLITTER * a
    a_high = wide - (wide - a)
    a_low = a - a_high
    wide = _SPLITTER * b
    b_high = wide - (wide - b)
    b_low = b - b_high
    error = a_low * b_low - (((product - a_high * b_high) - a_low * b_high) - a_high * b_low)
    return product, error


@njit(cache=True)
def _grow(parts: np.ndarray, count: int, term: float) -> None:
    """Add a term exactly to an expansion of `count` non-overlapping parts, smallest first."""
    carry = term
    for k in range(count):
        carry, parts[k] = two_sum(carry, parts[k])
    parts[count] = carry


@njit(cache=True)
def exact_orientation(ax: float, ay: float, bx: float, by: float, cx: float, cy: float) -> float:
    """Give twice the signed area of the triangle a, b, c by expansion arithmetic: the sign is exact."""
    parts = np.zeros(13)
    count = 0
    for p, q in ((ax, by), (-ax, cy), (-cx, by), (-ay, bx), (ay, cx), (cy, bx)):
        high, low = two_product(p, q)
        _grow(parts, count, low)
        _grow(parts, count + 1, high)
        count += 2
    # The largest non-zero part carries the sign; the sum below is the rounded value.
    total = 0.0
    for k in range(count):
        total += parts[k]
    for k in range(count - 1, -1, -1):
        if parts[k] != 0.0:
            return abs(total) if parts[k] > 0.0 else -abs(total)
    return 0.0


@njit(cache=True, inline="always")
def orientation(ax: float, ay: float, bx: float, by: float, cx: float, cy: float) -> float:
    """Give twice the signed area of the triangle a, b, c: positive when c lies left of the line from a to b.

    The value is rounded; its sign (and its being zero) is exact as long as no product underflows.
    """
    left = (ax - cx) * (by - cy)
    right = (ay - cy) * (bx - cx)
    value = left - right
    if abs(value) > _FILTER * (abs(left) + abs(right)):
        return value
    if left == 0.0 and right == 0.0:
        return 0.0
    return exact_orientation(ax, ay, bx, by, cx, cy)
