"""Small bundles that wait, the most promising first.

Depth first, a search can halve thousands of bundles along one curve of almost equal lines before it looks at a longer
run next to it; the most promising first, it halves none whose bound the longest run beats. That needs all open
bundles at hand, so only small ones, with few stretches, wait here.
"""

from typing import NamedTuple

import numpy as np
from numba import njit

from geo.survey.longest.frame import copy_row

SMALL = 64  # edges up to which a bundle may wait
ROW = 11  # columns of a bundle's row; see search


class Pool(NamedTuple):
    """Bundles as rows (n, ROW) and their stretches (n, SMALL) as first and last vertices.

    heap (n,): places in use, a binary heap by bound, and after them the free ones; size (1,): number in use.
    """

    rows: np.ndarray
    first: np.ndarray
    last: np.ndarray
    heap: np.ndarray
    size: np.ndarray


@njit(cache=True)
def make_pool(places: int) -> Pool:
    """Give an empty pool."""
    return Pool(
        np.empty((places, ROW)),
        np.empty((places, SMALL), np.int32),
        np.empty((places, SMALL), np.int32),
        np.arange(places),
        np.zeros(1, np.int64),
    )


@njit(cache=True)
def _twice(pool: Pool) -> Pool:
    """Give the same pool with twice the places."""
    larger = make_pool(2 * pool.heap.size)
    copy_row(pool.heap, larger.heap)
    for place in range(pool.heap.size):
        copy_row(pool.rows[place], larger.rows[place])
        copy_row(pool.first[place], larger.first[place])
        copy_row(pool.last[place], larger.last[place])
    larger.size[0] = pool.size[0]
    return larger


@njit(cache=True)
def best_waiting(pool: Pool) -> float:
    """Give the greatest bound in the pool; 0 where it is empty."""
    return pool.rows[pool.heap[0], 4] if pool.size[0] > 0 else 0.0


@njit(cache=True)
def put(pool: Pool, row: np.ndarray, first: np.ndarray, last: np.ndarray) -> Pool:
    """Add a bundle of SMALL stretches at most, whose row tells where in the lists they are; give the pool."""
    if pool.size[0] == pool.heap.size:
        pool = _twice(pool)
    heap, rows = pool.heap, pool.rows
    at, place = pool.size[0], pool.heap[pool.size[0]]
    copy_row(row, rows[place])
    begin = int(row[5])
    for k in range(int(row[6]) - begin):
        pool.first[place, k], pool.last[place, k] = first[begin + k], last[begin + k]
    while at > 0 and rows[heap[(at - 1) // 2], 4] < row[4]:
        heap[at] = heap[(at - 1) // 2]
        at = (at - 1) // 2
    heap[at] = place
    pool.size[0] += 1
    return pool


@njit(cache=True)
def take(pool: Pool, row: np.ndarray, first: np.ndarray, last: np.ndarray, at: int) -> None:
    """Move the bundle of the greatest bound to `row`, and its stretches to `at` in the lists."""
    heap, rows = pool.heap, pool.rows
    place = heap[0]
    copy_row(rows[place], row)
    count = int(row[6] - row[5])
    for k in range(count):
        first[at + k], last[at + k] = pool.first[place, k], pool.last[place, k]
    row[5], row[6], row[9] = at, at + count, at + count
    pool.size[0] -= 1
    size, moved, hole = pool.size[0], heap[pool.size[0]], 0
    heap[size] = place
    while 2 * hole + 1 < size:
        child = 2 * hole + 1
        if child + 1 < size and rows[heap[child + 1], 4] > rows[heap[child], 4]:
            child += 1
        if rows[heap[child], 4] <= rows[moved, 4]:
            break
        heap[hole] = heap[child]
        hole = child
    if size > 0:
        heap[hole] = moved
