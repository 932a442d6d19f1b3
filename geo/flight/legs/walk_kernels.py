"""Compiled: the cells that a straight line crosses, in order, and what stands in them."""

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def shares(first_cell: np.ndarray, last_cell: np.ndarray, breaks: np.ndarray) -> np.ndarray:
    """Give where a line is cut, rising from 0 to 1: at every border between cells, and at the breaks (shares).

    Parameters: first_cell, last_cell (2,), the line's ends in cells of the raster, east and south.
    """
    count = 2 + len(breaks)
    for axis in range(2):
        if first_cell[axis] != last_cell[axis]:
            low, high = min(first_cell[axis], last_cell[axis]), max(first_cell[axis], last_cell[axis])
            count += max(int(np.floor(high)) - int(np.ceil(low)) + 1, 0)
    cut = np.empty(count)
    cut[0], cut[1] = 0.0, 1.0
    n = 2
    for share in breaks:
        cut[n] = share
        n += 1
    for axis in range(2):
        first, last = first_cell[axis], last_cell[axis]
        if first != last:
            low, high = min(first, last), max(first, last)
            for border in range(int(np.ceil(low)), int(np.floor(high)) + 1):
                cut[n] = (border - first) / (last - first)
                n += 1
    cut = np.sort(np.minimum(np.maximum(cut, 0.0), 1.0))
    kept = 1
    for i in range(1, count):
        if cut[i] != cut[kept - 1]:
            cut[kept] = cut[i]
            kept += 1
    return cut[:kept]


@njit(cache=True, nogil=True)
def look_up(
    share: np.ndarray,
    start: np.ndarray,
    end: np.ndarray,
    frame: np.ndarray,
    ground: np.ndarray,
    surface: np.ndarray,
    unknown: np.ndarray,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Give ground and surface [m], NaN outside the raster, and whether the corridor is known, between the cuts (n,).

    Parameters: start, end (2,) easting, northing [m]; frame (4,) west, north, cell east, cell north [m].
    """
    n = len(share) - 1
    below, beside, known = np.full(n, np.nan), np.full(n, np.nan), np.zeros(n, np.bool_)
    rows, columns = ground.shape
    for i in range(n):
        middle = 0.5 * (share[i] + share[i + 1])
        column = np.floor((start[0] + middle * (end[0] - start[0]) - frame[0]) / frame[2])
        row = np.floor((frame[1] - (start[1] + middle * (end[1] - start[1]))) / frame[3])
        if row >= 0 and row < rows and column >= 0 and column < columns:
            y, x = int(row), int(column)
            below[i], beside[i], known[i] = ground[y, x], surface[y, x], not unknown[y, x]
    return below, beside, known
