"""Bundles of lines: which shore a bundle meets, and a bound on the longest run of any line in it.

A bundle holds every line that crosses two gates: the upright at u = left with v in [a1, b1], and the upright at
u = right with v in [a2, b2]. The whole shore lies between the gates, so the bundle's water is a trapezoid.

Bound. A piece of shore that comes from above the bundle and leaves below it is crossed by every line, so no run
holds its whole range of u. Where no shore lies in the bundle at all, every line is on land or every line is in water,
by the number of crossing pieces before. With clearance, the points that are nearer than the radius to an edge are
convex, so whatever they block on both the bundle's upper and its lower line they block on every line between. Each
of these is a blocker (enter, leave): a run ends at or before `enter` or starts at or after `leave`.
"""

import numpy as np
from numba import njit

from geo.survey.run_lines import capsule_on_line


@njit(cache=True, inline="always")
def _line_at(at_left: float, at_right: float, u: float, left: float, width: float) -> float:
    return at_left + (at_right - at_left) * ((u - left) / width)


@njit(cache=True, inline="always")
def _side(
    u: float, v: float, a1: float, b1: float, a2: float, b2: float, left: float, width: float, reach: float
) -> int:
    """Give 1 above the bundle by more than reach, -1 below it by more than reach, else 0."""
    if v - _line_at(b1, b2, u, left, width) > reach:
        return 1
    if v - _line_at(a1, a2, u, left, width) < -reach:
        return -1
    return 0


@njit(cache=True, inline="always")
def _outer_side(
    u: float, v: float, a1: float, b1: float, a2: float, b2: float, left: float, width: float
) -> int:
    """Give the side of a vertex that is known to lie outside the bundle."""
    return 1 if v > _line_at(0.5 * (a1 + b1), 0.5 * (a2 + b2), u, left, width) else -1


@njit(cache=True)
def keep_stretches(
    u: np.ndarray,
    v: np.ndarray,
    first: np.ndarray,
    last: np.ndarray,
    begin: int,
    stop: int,
    a1: float,
    b1: float,
    a2: float,
    b2: float,
    left: float,
    width: float,
    reach: float,
    at: int,
) -> tuple[int, int]:
    """Write at `at` the parts of stretches begin..stop that a narrower bundle can meet; give the new end and size.

    A stretch runs between two vertices outside the bundle on known sides; a whole ring that has no vertex outside
    yet carries its first vertex as -(number + 1). `first` and `last` must have room for what is written.
    """
    size = 0
    for k in range(begin, stop):
        i, end = first[k], last[k]
        whole = i < 0
        if whole:
            i = -i - 1
            count = end - i
            side = 0
            while i < end:
                side = _side(u[i], v[i], a1, b1, a2, b2, left, width, reach)
                if side != 0:
                    break
                i += 1
            if side == 0:
                first[at], last[at] = first[k], end
                at += 1
                size += count
                continue
            end = i + count
        else:
            side = _outer_side(u[i], v[i], a1, b1, a2, b2, left, width)
        end_side = side if whole else _outer_side(u[end], v[end], a1, b1, a2, b2, left, width)
        previous, previous_side = i, side
        for j in range(i + 1, end + 1):
            side = _side(u[j], v[j], a1, b1, a2, b2, left, width, reach) if j < end else end_side
            if side != 0:
                if j - previous > 1 or side != previous_side:
                    first[at], last[at] = previous, j
                    at += 1
                    size += j - previous
                previous, previous_side = j, side
    return at, size


@njit(cache=True, inline="always")
def _cross(
    u1: float,
    v1: float,
    u2: float,
    v2: float,
    at_left: float,
    at_right: float,
    left: float,
    width: float,
    lift: float,
) -> float:
    """Give the u at which an edge crosses a border line of the bundle, lifted outward by `lift`."""
    d1 = v1 - _line_at(at_left, at_right, u1, left, width) - lift
    d2 = v2 - _line_at(at_left, at_right, u2, left, width) - lift
    if d1 == d2:
        return u1
    return u1 + (u2 - u1) * min(1.0, max(0.0, d1 / (d1 - d2)))


@njit(cache=True)
def list_pieces(
    u: np.ndarray,
    v: np.ndarray,
    first: np.ndarray,
    last: np.ndarray,
    begin: int,
    stop: int,
    a1: float,
    b1: float,
    a2: float,
    b2: float,
    left: float,
    width: float,
    reach: float,
    pieces: np.ndarray,
    inner: np.ndarray,
) -> tuple[int, int]:
    """List the pieces of shore in the bundle as (least u, greatest u, 1 if it crosses), and the vertices in it.

    Returns the number of pieces and of vertices; only the first inner.size vertices are written.
    """
    count, inside = 0, 0
    for k in range(begin, stop):
        i, end = first[k], last[k]
        whole = i < 0
        side = 0
        if whole:
            i = -i - 1
            ring = end - i
            while i < end:
                side = _side(u[i], v[i], a1, b1, a2, b2, left, width, reach)
                if side != 0:
                    break
                i += 1
            if side == 0:
                i = end - ring
            end = i + ring
        else:
            side = _outer_side(u[i], v[i], a1, b1, a2, b2, left, width)
        end_side = side if whole else _outer_side(u[end], v[end], a1, b1, a2, b2, left, width)
        low, high = np.inf, -np.inf
        outer_side = side
        for j in range(i + 1, end + 1):
            if j == end:
                next_side = end_side
            else:
                next_side = _side(u[j], v[j], a1, b1, a2, b2, left, width, reach)
            if side != 0 and side != next_side:
                if side > 0:
                    at = _cross(u[j - 1], v[j - 1], u[j], v[j], b1, b2, left, width, reach)
                else:
                    at = _cross(u[j - 1], v[j - 1], u[j], v[j], a1, a2, left, width, -reach)
                low, high = min(low, at), max(high, at)
            if next_side == 0:
                low, high = min(low, u[j]), max(high, u[j])
                if inside < inner.size:
                    inner[inside] = j
                inside += 1
            elif side != next_side:
                if next_side > 0:
                    at = _cross(u[j], v[j], u[j - 1], v[j - 1], b1, b2, left, width, reach)
                else:
                    at = _cross(u[j], v[j], u[j - 1], v[j - 1], a1, a2, left, width, -reach)
                low, high = min(low, at), max(high, at)
                pieces[0, count], pieces[1, count] = low, high
                pieces[2, count] = 1.0 if outer_side != next_side else 0.0
                count += 1
                low, high = np.inf, -np.inf
            if next_side != 0:
                outer_side = next_side
            side = next_side
        if high >= low:  # a ring wholly inside the bundle
            pieces[0, count], pieces[1, count], pieces[2, count] = low, high, 0.0
            count += 1
    return count, inside


@njit(cache=True)
def list_blockers(pieces: np.ndarray, count: int, gain: float, blockers: np.ndarray) -> int:
    """Write the blockers (enter, leave) that follow from the pieces; give their number.

    gain: how far a run keeps from a crossing at least, measured along u [m].
    """
    order = np.argsort(pieces[0, :count])
    made = 0
    covered = -np.inf
    crossings = 0
    for k in order:
        low, high = pieces[0, k], pieces[1, k]
        if low > covered and crossings % 2 == 0:
            blockers[0, made], blockers[1, made] = covered, low
            made += 1
        if pieces[2, k] > 0.0:
            crossings += 1
            blockers[0, made], blockers[1, made] = high - gain, low + gain
            made += 1
        covered = max(covered, high)
    blockers[0, made], blockers[1, made] = covered, np.inf
    return made + 1


@njit(cache=True)
def add_capsules(
    u: np.ndarray,
    v: np.ndarray,
    first: np.ndarray,
    last: np.ndarray,
    begin: int,
    stop: int,
    a1: float,
    b1: float,
    a2: float,
    b2: float,
    left: float,
    width: float,
    radius: float,
    blockers: np.ndarray,
    made: int,
    spans: np.ndarray,
    sides: np.ndarray,
) -> tuple[int, int]:
    """Add what each edge's clearance blocks on every line of the bundle.

    Gives the new number of blockers, and the number of spans: what each edge blocks on any line of the bundle. sides: what
    it blocks on the lower line (rows 0, 1) and on the upper line (rows 2, 3).
    """
    lower, upper = (a2 - a1) / width, (b2 - b1) / width
    lower_norm, upper_norm = np.sqrt(1.0 + lower * lower), np.sqrt(1.0 + upper * upper)
    touched = 0
    for k in range(begin, stop):
        i = first[k] if first[k] >= 0 else -first[k] - 1
        for j in range(i + 1, last[k] + 1):
            p, q, r, s = u[j - 1] - left, v[j - 1] - a1, u[j] - left, v[j] - a1
            low, high = capsule_on_line(
                (p + q * lower) / lower_norm, (q - p * lower) / lower_norm,
                (r + s * lower) / lower_norm, (s - r * lower) / lower_norm, radius,
            )  # fmt: skip
            q, s = v[j - 1] - b1, v[j] - b1
            low2, high2 = capsule_on_line(
                (p + q * upper) / upper_norm, (q - p * upper) / upper_norm,
                (r + s * upper) / upper_norm, (s - r * upper) / upper_norm, radius,
            )  # fmt: skip
            low, high = left + low / lower_norm, left + high / lower_norm
            low2, high2 = left + low2 / upper_norm, left + high2 / upper_norm
            sides[0, touched], sides[1, touched], sides[2, touched], sides[3, touched] = (
                low,
                high,
                low2,
                high2,
            )
            if max(low, low2) < min(high, high2):
                blockers[0, made], blockers[1, made] = max(low, low2), min(high, high2)
                made += 1
            low, high = min(low, low2), max(high, high2)
            back, fore = (j, j - 1) if u[j] < u[j - 1] else (j - 1, j)
            if _side(u[back] - radius, v[back], a1, b1, a2, b2, left, width, 0.0) == 0:
                low = min(low, u[back] - radius)
            if _side(u[fore] + radius, v[fore], a1, b1, a2, b2, left, width, 0.0) == 0:
                high = max(high, u[fore] + radius)
            if low < high:
                spans[0, touched], spans[1, touched] = low, high
                touched += 1
    return made, touched


@njit(cache=True)
def gap_corner(sides: np.ndarray, touched: int, middle: float, ahead: bool) -> tuple[float, float]:
    """Give the corner of the clear water that a bundle's runs end in, ahead of or behind u = middle.

    The corner is where the edge that ends the lower line's run meets the one that ends the upper line's: as u, and as
    share of the way from the lower to the upper line. Straight between both lines, so right to second order in the
    bundle's width. (nan, nan) where one edge ends both.
    """
    near_lower, near_upper = -1, -1
    for t in range(touched):
        for upper in range(2):
            at = sides[2 * upper, t] if ahead else -sides[2 * upper + 1, t]
            if at < (middle if ahead else -middle):
                continue
            held = near_upper if upper == 1 else near_lower
            if held >= 0 and at >= (sides[2 * upper, held] if ahead else -sides[2 * upper + 1, held]):
                continue
            if upper == 1:
                near_upper = t
            else:
                near_lower = t
    if near_lower < 0 or near_upper < 0 or near_lower == near_upper:
        return np.nan, np.nan
    row = 0 if ahead else 1
    start = sides[row, near_lower] - sides[row, near_upper]
    end = sides[row + 2, near_lower] - sides[row + 2, near_upper]
    if not np.isfinite(start) or not np.isfinite(end) or start == end:
        return np.nan, np.nan
    share = start / (start - end)
    return sides[row, near_lower] + share * (sides[row + 2, near_lower] - sides[row, near_lower]), share


@njit(cache=True)
def longest_gap(
    blockers: np.ndarray, made: int, spans: np.ndarray, touched: int, least: float
) -> tuple[float, float]:
    """Give length and middle of the longest (start, end) with, for every blocker, end <= enter or start >= leave.

    The length is 0 where no gap is longer than `least`.

    With spans (touched >= 0), a gap that fewer than three edges reach into counts as 0: with one edge at either end
    the length is convex when the line shifts, so a line outside the bundle is as long.
    """
    order = np.argsort(blockers[1, :made])
    best, middle = 0.0, 0.0
    end = np.inf
    for k in range(made - 1, 0, -1):
        end = min(end, blockers[0, order[k]])
        start = blockers[1, order[k - 1]]
        if end - start <= max(best, least):
            continue
        if touched >= 0:
            reaching = 0
            for t in range(touched):
                if spans[1, t] >= start and spans[0, t] <= end:
                    reaching += 1
            if reaching < 3:
                continue
        best, middle = end - start, 0.5 * (start + end)
    return best, middle
