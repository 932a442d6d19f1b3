"""Compiled: the least times over a lattice of places below one height, from one end of a leg, and the way back."""

from typing import NamedTuple

import numpy as np
from numba import njit

from geo.flight.routing.route_kernels import Ground, walk

# Sixteen moves in pairs: move k ^ 1 is the opposite of move k. Columns: east, north steps.
MOVES = np.array([(1, 0), (0, 1), (1, 1), (-1, 1), (2, 1), (1, 2), (-1, 2), (-2, 1)], dtype=np.int64)
MOVES = np.stack((MOVES, -MOVES), axis=1).reshape(16, 2)
# A time is replaced only when it falls by more than this, so that ways that tie are told apart by their order alone.
LEAST_GAIN_S = 1e-4
# Stands for no need at all [m].
NO_NEED_M = -10_000.0


class Lattice(NamedTuple):
    """Places `spacing_m` apart: node (j, i) lies at west_m + j spacing, south_m + i spacing; index i * columns + j."""

    west_m: float
    south_m: float
    spacing_m: float
    columns: int
    rows: int


class Apart(NamedTuple):
    """How the needs grow from a leg's ends [east, north m] (2, 2): the distance within which only the ground counts,
    the distances over which the clearance grows from the start and from the end, and the clearance [m]."""

    ends_m: np.ndarray
    exempt_m: float
    rise_m: float
    fall_m: float
    clearance_m: float


class Moves(NamedTuple):
    """What the moves of one search take, from the leg's start onward or from its end backward.

    cruise_s, slow_s (16,): seconds in cruise, and while the height is changed, which lasts until slow_until_s. clock_s:
    the least seconds at which clock_low_m + i clock_step_m is reached. Nothing above cap_m is crossed.
    """

    cruise_s: np.ndarray
    slow_s: np.ndarray
    slow_until_s: float
    clock_s: np.ndarray
    clock_low_m: float
    clock_step_m: float
    cap_m: float


@njit(cache=True, nogil=True)
def move_heights(lattice: Lattice, ground: Ground, apart: Apart, useful: np.ndarray) -> np.ndarray:
    """Give the height needed on each move of even number (8, nodes) [m], inf where it leaves the lattice or is shut, or
    begins or ends at a node that is of no use."""
    blind = 1.5 * max(ground.cell_east_m, ground.cell_north_m)
    heights = np.full((8, lattice.columns * lattice.rows), np.inf)
    room = int(6.0 * lattice.spacing_m * (1.0 / ground.cell_east_m + 1.0 / ground.cell_north_m)) + 16
    share, cell = np.empty(room + 1), np.empty((room, 2), np.int64)
    for node in range(lattice.columns * lattice.rows):
        i, j = node // lattice.columns, node % lattice.columns
        east, north = lattice.west_m + j * lattice.spacing_m, lattice.south_m + i * lattice.spacing_m
        for k in range(8):
            step_east, step_north = MOVES[2 * k, 0], MOVES[2 * k, 1]
            if not (0 <= j + step_east < lattice.columns and 0 <= i + step_north < lattice.rows):
                continue
            if not (useful[node] and useful[node + step_north * lattice.columns + step_east]):
                continue
            span_east, span_north = step_east * lattice.spacing_m, step_north * lattice.spacing_m
            count = walk(ground, east, north, east + span_east, north + span_north, share, cell)
            highest = NO_NEED_M
            for c in range(count):
                middle = 0.5 * (share[c] + share[c + 1])
                x, y = east + middle * span_east, north + middle * span_north
                highest = max(highest, _needed(ground, cell[c, 0], cell[c, 1], x, y, apart, blind))
            heights[k, node] = highest
    return heights


@njit(cache=True, nogil=True)
def _needed(
    ground: Ground, row: int, column: int, east: float, north: float, apart: Apart, blind: float
) -> float:
    """Give the height [m] that a cell asks of a route that crosses it at a place; inf outside the raster."""
    if row < 0:
        return np.inf
    off_start = np.sqrt((east - apart.ends_m[0, 0]) ** 2 + (north - apart.ends_m[0, 1]) ** 2)
    off_end = np.sqrt((east - apart.ends_m[1, 0]) ** 2 + (north - apart.ends_m[1, 1]) ** 2)
    off = min(off_start, off_end)
    if off < blind:  # an end may lie below the ground of its own cell: a lake that was drawn down
        return NO_NEED_M
    base = (ground.far if off >= apart.exempt_m else ground.near)[row, column]
    return base + apart.clearance_m * min(1.0, off_start / apart.rise_m, off_end / apart.fall_m)


@njit(cache=True, nogil=True)
def _up(heap: np.ndarray, where: np.ndarray, key: np.ndarray, at: int) -> None:
    node = heap[at]
    while at > 0 and key[heap[(at - 1) // 2]] > key[node]:
        heap[at] = heap[(at - 1) // 2]
        where[heap[at]] = at
        at = (at - 1) // 2
    heap[at] = node
    where[node] = at


@njit(cache=True, nogil=True)
def _down(heap: np.ndarray, where: np.ndarray, key: np.ndarray, size: int) -> None:
    node, at = heap[0], 0
    while 2 * at + 1 < size:
        child = 2 * at + 1
        if child + 1 < size and key[heap[child + 1]] < key[heap[child]]:
            child += 1
        if key[heap[child]] >= key[node]:
            break
        heap[at] = heap[child]
        where[heap[at]] = at
        at = child
    heap[at] = node
    where[node] = at


@njit(cache=True, nogil=True)
def _arrival_s(leave: float, height: float, k: int, moves: Moves) -> float:
    """Give when move k over a height ends that is begun at `leave`, or later, when the height is reached [s]."""
    place = (height - moves.clock_low_m) / moves.clock_step_m
    index = min(max(int(place), 0), len(moves.clock_s) - 2)
    reached = moves.clock_s[index] + (place - index) * (moves.clock_s[index + 1] - moves.clock_s[index])
    leave = max(leave, reached)
    if leave >= moves.slow_until_s:
        return leave + moves.cruise_s[k]
    slow = min(moves.slow_s[k], moves.slow_until_s - leave)
    return leave + slow + (1.0 - slow / moves.slow_s[k]) * moves.cruise_s[k]


@njit(cache=True, nogil=True)
def _queue(times: np.ndarray, last_s: np.ndarray, heap: np.ndarray, where: np.ndarray) -> int:
    """Put the nodes whose times are given, and of use, on the heap; give its size."""
    size = 0
    for node in range(len(times)):
        if times[node] <= last_s[node]:
            heap[size] = node
            _up(heap, where, times, size)
            size += 1
        else:
            times[node] = np.inf
    return size


@njit(cache=True, nogil=True)
def spread(
    lattice: Lattice, heights: np.ndarray, moves: Moves, times: np.ndarray, last_s: np.ndarray
) -> np.ndarray:
    """Spread the least times [s] over the nodes from those given, in place; give the node each is reached from, or -1.

    Parameters: heights as `move_heights`; times (nodes,), inf where none is given; last_s (nodes,), the greatest time
    that is of use at each node.
    """
    nodes = lattice.columns * lattice.rows
    before = np.full(nodes, -1, np.int64)
    heap, where = np.empty(nodes, np.int64), np.full(nodes, -1, np.int64)
    size = _queue(times, last_s, heap, where)
    while size > 0:
        x = heap[0]
        size -= 1
        where[x] = -2
        if size > 0:
            heap[0] = heap[size]
            _down(heap, where, times, size)
        i, j = x // lattice.columns, x % lattice.columns
        for k in range(16):
            to_i, to_j = i + MOVES[k, 1], j + MOVES[k, 0]
            if not (0 <= to_i < lattice.rows and 0 <= to_j < lattice.columns):
                continue
            y = to_i * lattice.columns + to_j
            if where[y] == -2:
                continue
            height = heights[k // 2, y if k % 2 else x]
            if height > moves.cap_m:
                continue
            arrive = _arrival_s(times[x], height, k, moves)
            if arrive > last_s[y] or arrive >= times[y] - LEAST_GAIN_S:
                continue
            times[y], before[y] = arrive, x
            if where[y] < 0:
                heap[size], where[y] = y, size
                size += 1
            _up(heap, where, times, where[y])
    return before
