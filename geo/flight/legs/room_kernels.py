"""Compiled: what stands across a way and within a disc, and whether a circle fits beside a way.

The exact leg and the search for routes share these, so that both judge the same room. `heights` (rows, columns) [m] are
those of a raster's cells, inf where unknown; outside the raster everything is unknown. `frame` is west, north, cell
east, cell north [m].
"""

import numpy as np
from numba import njit

Frame = tuple[float, float, float, float]
# A turn up to this is flown as an arc that stays within 0.16 of its radius of the corner, inside the corridor [rad].
GENTLE_TURN = np.pi / 3.0
# What a sharper turn has beyond that until the aircraft has wholly slowed down for it [rad].
SLOWED_BEYOND = np.pi / 6.0


@njit(cache=True, nogil=True)
def height_at(heights: np.ndarray, frame: Frame, east: float, north: float) -> float:
    """Give the height of the cell at a place [m], inf outside the raster."""
    column = int(np.floor((east - frame[0]) / frame[2]))
    row = int(np.floor((frame[1] - north) / frame[3]))
    if 0 <= row < heights.shape[0] and 0 <= column < heights.shape[1]:
        return heights[row, column]
    return np.inf


@njit(cache=True, nogil=True)
def strip_top(
    heights: np.ndarray,
    frame: Frame,
    start: tuple[float, float],
    unit: tuple[float, float],
    length: float,
    half_width: float,
) -> float:
    """Give the highest [m] of the cells that a stretch of a way touches, half_width to both sides.

    Parameters: start of the stretch and its length [m], which is within one cell or little more; unit: where it leads.
    Notes: read along lines no farther apart than a cell, at places no farther apart than two fifths of one. A sixth of
    a cell is added to the half-width, so that no corner of a cell slips between two places.
    """
    rows, columns = heights.shape
    cell = min(frame[2], frame[3])
    outermost, top = half_width + cell / 6.0, -np.inf
    count, places = int(np.ceil(outermost / cell)), int(length / (0.4 * cell)) + 1
    # In cells from the raster's north-west corner, so that the loop is short: it is the search's most frequent one.
    u, v = (start[0] - frame[0]) / frame[2], (frame[1] - start[1]) / frame[3]
    step = length / places
    along_u, along_v = step * unit[0] / frame[2], -step * unit[1] / frame[3]
    off = outermost / count
    across_u, across_v = off * unit[1] / frame[2], off * unit[0] / frame[3]
    for k in range(places):
        x, y = u + (k + 0.5) * along_u - count * across_u, v + (k + 0.5) * along_v - count * across_v
        for _ in range(2 * count + 1):
            if not (0.0 <= x < columns and 0.0 <= y < rows):
                return np.inf
            top = max(top, heights[int(y), int(x)])
            x, y = x + across_u, y + across_v
    return top


@njit(cache=True, nogil=True)
def disc_top(
    heights: np.ndarray, frame: Frame, east: float, north: float, radius: float, reach: float, enough: float
) -> float:
    """Give the highest within a radius of a place [m], or the first that was found above `enough`.

    Parameters: reach, heights hold what stands within this of any point of their cell; for the cells themselves half a
    cell, and a sixth of one more radius.
    Notes: looked at on rings 1.4 reach apart, a place in every reach of their outer edge: no point of the disc is then
    farther than 0.9 reach from one of them.
    """
    top = height_at(heights, frame, east, north)
    ring = radius - 0.6 * reach if radius > reach else 0.0
    while ring > 0.0 and top <= enough:
        count = int(np.ceil(2.0 * np.pi * (ring + 0.6 * reach) / reach))
        for n in range(count):
            angle = 2.0 * np.pi * n / count
            x, y = east + ring * np.cos(angle), north + ring * np.sin(angle)
            top = max(top, height_at(heights, frame, x, y))
        ring -= 1.4 * reach
    return top


@njit(cache=True, nogil=True)
def turn_top(heights: np.ndarray, frame: Frame, east: float, north: float, half_width: float) -> float:
    """Give the highest [m] of the cells within half_width of a turn: what the strips leave out on its outside."""
    cell = min(frame[2], frame[3])
    return disc_top(heights, frame, east, north, half_width + cell / 6.0, 0.5 * cell, np.inf)


@njit(cache=True, nogil=True)
def _near_edge(shut: np.ndarray, east: float, north: float, radius: float) -> bool:
    """True where any edge (m, 4) passes nearer to a place than the radius."""
    for e in range(len(shut)):
        x, y = shut[e, 2] - shut[e, 0], shut[e, 3] - shut[e, 1]
        size = x * x + y * y
        share = 0.0 if size == 0.0 else ((east - shut[e, 0]) * x + (north - shut[e, 1]) * y) / size
        share = min(max(share, 0.0), 1.0)
        if np.hypot(shut[e, 0] + share * x - east, shut[e, 1] + share * y - north) < radius:
            return True
    return False


@njit(cache=True, nogil=True)
def circle_side(
    points: np.ndarray,
    at: float,
    highest: float,
    heights: np.ndarray,
    frame: Frame,
    shut: np.ndarray,
    radius: float,
    margin: float,
) -> int:
    """Give the side on which a circle that touches a route (n, 2) so far along it [m] has room: 1 right, -1 left, 0
    neither.

    Parameters: highest that may stand within radius + margin of its middle [m]; margin is the reach of the heights;
    shut (m, 4), edges that no circle may meet.
    """
    for s in range(len(points) - 1):
        east, north = points[s + 1, 0] - points[s, 0], points[s + 1, 1] - points[s, 1]
        length = np.hypot(east, north)
        if length > 0.0 and (at <= length or s == len(points) - 2):
            x, y = points[s, 0] + at * east / length, points[s, 1] + at * north / length
            for side in (1, -1):
                middle = x + side * radius * north / length, y - side * radius * east / length
                top = disc_top(heights, frame, middle[0], middle[1], radius + margin, margin, highest)
                if top <= highest and not _near_edge(shut, middle[0], middle[1], radius):
                    return side
            return 0
        at -= length
    return 0


@njit(cache=True, nogil=True)
def end_tops(
    span_m: np.ndarray,
    half_width_m: np.ndarray,
    whole_m: float,
    ends: np.ndarray,
    cells: np.ndarray,
    corridor: np.ndarray,
    frame: Frame,
) -> np.ndarray:
    """Give the highest [m] across each stretch of a straight line (n,), half_width_m (n,) to both sides; NaN where the
    half-width is NaN.

    Parameters: span_m (n, 2), from where to where on the line; ends (2, 2) of the line, east and north; cells, the
    heights of the raster; corridor, the highest within whole_m of any point of each cell, read where that counts.
    """
    tops = np.full(len(span_m), np.nan)
    length = np.hypot(ends[1, 0] - ends[0, 0], ends[1, 1] - ends[0, 1])
    unit = ((ends[1, 0] - ends[0, 0]) / length, (ends[1, 1] - ends[0, 1]) / length)
    for i in range(len(span_m)):
        first, last = span_m[i, 0], span_m[i, 1]
        if half_width_m[i] >= whole_m:
            middle = 0.5 * (first + last)
            tops[i] = height_at(corridor, frame, ends[0, 0] + middle * unit[0], ends[0, 1] + middle * unit[1])
        elif not np.isnan(half_width_m[i]):
            place = ends[0, 0] + first * unit[0], ends[0, 1] + first * unit[1]
            tops[i] = strip_top(cells, frame, place, unit, last - first, half_width_m[i])
    return tops


@njit(cache=True, nogil=True)
def _turns(points: np.ndarray) -> np.ndarray:
    """Give the inner corners of a route (n, 2): rows of distance along it [m] and turn [rad], left positive."""
    found = np.zeros((len(points), 2))
    count, at, east, north = 0, 0.0, 0.0, 0.0
    for s in range(len(points) - 1):
        x, y = points[s + 1, 0] - points[s, 0], points[s + 1, 1] - points[s, 1]
        length = np.hypot(x, y)
        if length == 0.0:
            continue
        if at > 0.0:
            found[count, 0], found[count, 1] = at, np.arctan2(east * y - north * x, east * x + north * y)
            count += 1
        at, east, north = at + length, x, y
    return found[:count]


@njit(cache=True, nogil=True)
def sharp_turns(points: np.ndarray, radius: float) -> np.ndarray:
    """Give the turns of a route (n, 2) that are sharper than a gentle one: rows of where the turn ends [m along the
    route] and by how much it is sharper [rad]. All that is turned within a radius of way is one turn."""
    corner = _turns(points)
    found = np.zeros((len(corner), 2))
    count, first = 0, 0
    while first < len(corner):
        turned, beyond, last = 0.0, 0.0, first
        for k in range(first, len(corner)):
            if corner[k, 0] - corner[first, 0] > radius:
                break
            turned += corner[k, 1]
            if abs(turned) - GENTLE_TURN > beyond + 1e-9:
                beyond, last = abs(turned) - GENTLE_TURN, k
        if beyond > 0.0:
            found[count, 0], found[count, 1] = corner[last, 0], beyond
            count += 1
        first = last + 1
    return found[:count]


@njit(cache=True, nogil=True)
def sharp_turn_s(beyond: float, slowing: float, rate: float) -> float:
    """Give what a turn takes [s] that is so much sharper than a gentle one [rad].

    Parameters: slowing, the time lost by slowing down and speeding up again [s]; rate of the turn [rad/s].
    """
    return slowing * min(1.0, beyond / SLOWED_BEYOND) + beyond / rate
