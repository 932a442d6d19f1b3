"""Compiled: the altitude-layered field of least times over a lattice of places.

One end of all legs is the hub, known with its altitude; the other end is any place at any altitude. A layer is the
altitude reached so far, coming from the other end. The same recursion serves both senses: outward the layers are
climbed and the descent to the hub is a least time to go; homeward, read backward, the layers are sunk through and the
climb from the hub is a least time since the start.
"""

from typing import NamedTuple

import numpy as np
from numba import njit

from geo.flight.routing.route_kernels import Ground, walk

# Sixteen moves in pairs: move k ^ 1 is the opposite of move k. Columns: east, north steps.
MOVES = np.array([(1, 0), (0, 1), (1, 1), (-1, 1), (2, 1), (1, 2), (-1, 2), (-2, 1)], dtype=np.int64)
MOVES = np.stack((MOVES, -MOVES), axis=1).reshape(16, 2)
# A label is replaced only when it falls by more than this: cells where only waiting helps form loops of no cost.
LEAST_GAIN_S = 0.01


class Lattice(NamedTuple):
    """Places `spacing_m` apart: node (j, i) lies at west_m + j spacing, south_m + i spacing; index i * columns + j."""

    west_m: float
    south_m: float
    spacing_m: float
    columns: int
    rows: int
    hub: int


class Air(NamedTuple):
    """Seconds of each move from a node towards the hub's side (16,): in cruise and while changing layer (inf where the
    wind forbids it); altitudes of two or more layers, evenly spaced, and the seconds from each to the next above."""

    cruise_s: np.ndarray
    change_s: np.ndarray
    altitude_m: np.ndarray
    between_s: np.ndarray


@njit(cache=True, nogil=True)
def edge_heights(
    lattice: Lattice, ground: Ground, hub: tuple[float, float], exempt: float, clearance: float, grow: float
) -> np.ndarray:
    """Give the height needed on each move of even number (8, nodes) [m], inf where it leaves the lattice or is shut.

    exempt, grow: distances from the hub [m] within which only the ground counts, and over which the clearance grows.
    """
    blind = 1.5 * max(ground.cell_east_m, ground.cell_north_m)
    nodes = lattice.columns * lattice.rows
    heights = np.full((8, nodes), np.inf)
    room = int(6.0 * lattice.spacing_m * (1.0 / ground.cell_east_m + 1.0 / ground.cell_north_m)) + 16
    share, cell = np.empty(room + 1), np.empty((room, 2), np.int64)
    for node in range(nodes):
        i, j = node // lattice.columns, node % lattice.columns
        east, north = lattice.west_m + j * lattice.spacing_m, lattice.south_m + i * lattice.spacing_m
        for k in range(8):
            step_east, step_north = MOVES[2 * k, 0], MOVES[2 * k, 1]
            if not (0 <= j + step_east < lattice.columns and 0 <= i + step_north < lattice.rows):
                continue
            span = step_east * lattice.spacing_m, step_north * lattice.spacing_m
            count = walk(ground, east, north, east + span[0], north + span[1], share, cell)
            highest = -np.inf
            for c in range(count):
                middle = 0.5 * (share[c] + share[c + 1])
                off = np.hypot(east + middle * span[0] - hub[0], north + middle * span[1] - hub[1])
                if off < blind:
                    continue
                base = np.inf
                if cell[c, 0] >= 0:
                    base = (ground.far if off >= exempt else ground.near)[cell[c, 0], cell[c, 1]]
                highest = max(highest, base + clearance * min(1.0, off / max(grow, 1e-9)))
            heights[k, node] = highest
    return heights


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
def _through(
    lower: float, upper: float, air: Air, layer: int, k: int, height: float, release: float
) -> tuple[float, bool]:
    """Give the time by one move from a neighbour's times in this layer and the next above; True: in plain cruise."""
    best, plain = np.inf, False
    if height <= air.altitude_m[layer]:
        best, plain = lower + air.cruise_s[k], True
    share = air.change_s[k] / air.between_s[layer]
    gained = share * (air.altitude_m[1] - air.altitude_m[0])
    if share <= 1.0 and height <= air.altitude_m[layer] + gained and upper < np.inf:
        changed = air.change_s[k] + lower + share * (upper - lower)
        if changed < best - LEAST_GAIN_S:
            best, plain = changed, False
    return max(best, release), plain


@njit(cache=True, nogil=True)
def _relax(
    x: int,
    y: int,
    e: int,
    k: int,
    layer: int,
    times: np.ndarray,
    highest: np.ndarray,
    heights: np.ndarray,
    releases: np.ndarray,
    air: Air,
    shifted: bool,
    most: float,
) -> bool:
    """Improve node x by the move to y; keep the highest need of its way while that is plain cruise, else inf."""
    owner = y if k % 2 else x
    height = heights[e, owner]
    if height == np.inf:
        return False
    seconds, plain = _through(times[layer, y], times[layer + 1, y], air, layer, k, height, releases[e, owner])
    if seconds > most or seconds >= times[layer, x] - LEAST_GAIN_S:
        return False
    times[layer, x] = seconds
    bound = shifted and seconds == releases[e, owner]
    highest[x] = max(highest[y], height) if plain and not bound else np.inf
    return True


@njit(cache=True, nogil=True)
def _least_needs(lattice: Lattice, heights: np.ndarray) -> np.ndarray:
    """Give the least height needed on any move from or to each node (nodes,) [m]."""
    least = np.full(lattice.columns * lattice.rows, np.inf)
    for node in range(len(least)):
        for e in range(8):
            height = heights[e, node]
            if height < np.inf:
                other = node + MOVES[2 * e, 1] * lattice.columns + MOVES[2 * e, 0]
                least[node], least[other] = min(least[node], height), min(least[other], height)
    return least


@njit(cache=True, nogil=True)
def solve(
    lattice: Lattice,
    heights: np.ndarray,
    releases: np.ndarray,
    air: Air,
    seeds: np.ndarray,
    slack: np.ndarray,
    slack_at: np.ndarray,
) -> np.ndarray:
    """Give the least seconds (layers + 1, nodes) between each node and the hub, label-setting from the top layer down.

    heights, releases (8, nodes): height needed on each even move [m], least seconds at its outer end. seeds (layers,):
    seconds at the hub itself, inf where the hub is above the layer. slack (nodes,), slack_at (layers,): times above
    either are of no use. The last row repeats the top layer. A node whose way in the layer above is plain cruise, low
    enough for this one, keeps its time; one that no move leaves or enters so low can only climb (state 3).
    """
    layers, nodes, shifted = len(seeds), lattice.columns * lattice.rows, seeds[-1] > 0.0
    times = np.full((layers + 1, nodes), np.inf)
    highest, least = np.full(nodes, np.inf), _least_needs(lattice, heights)
    step = air.altitude_m[1] - air.altitude_m[0]
    state = np.zeros(nodes, np.int8)
    heap, where = np.empty(nodes, np.int64), np.full(nodes, -1, np.int64)
    for layer in range(layers - 1, -1, -1):
        top = layer == layers - 1
        shift = 0.0 if top else seeds[layer + 1] - seeds[layer]
        for x in range(nodes):
            state[x], where[x] = 0, -1
            if not top and np.isfinite(shift) and highest[x] <= air.altitude_m[layer]:
                times[layer, x] = times[layer + 1, x] - shift
                state[x] = 2
                continue
            highest[x] = np.inf
            if not top and times[layer + 1, x] + air.between_s[layer] <= min(slack[x], slack_at[layer]):
                times[layer, x] = times[layer + 1, x] + air.between_s[layer]
            # A move gains no more than one layer.
            if least[x] > air.altitude_m[layer] + step:
                state[x] = 3
        if seeds[layer] < times[layer, lattice.hub]:
            times[layer, lattice.hub], highest[lattice.hub], state[lattice.hub] = seeds[layer], -np.inf, 1
        _settle(
            lattice,
            layer,
            times,
            highest,
            state,
            heap,
            where,
            heights,
            releases,
            air,
            slack,
            slack_at[layer],
            shifted,
        )
        if top:
            times[layers] = times[layer]
    return times


@njit(cache=True, nogil=True)
def _settle(
    lattice: Lattice,
    layer: int,
    times: np.ndarray,
    highest: np.ndarray,
    state: np.ndarray,
    heap: np.ndarray,
    where: np.ndarray,
    heights: np.ndarray,
    releases: np.ndarray,
    air: Air,
    slack: np.ndarray,
    slack_here: float,
    shifted: bool,
) -> None:
    """Settle one layer: nodes of state 2 and 3 are final; the others are drawn from their neighbours by time."""
    nodes, size = lattice.columns * lattice.rows, 0
    key = times[layer]
    for x in range(nodes):
        if state[x] >= 2:
            continue
        i, j = x // lattice.columns, x % lattice.columns
        most = min(slack[x], slack_here)
        for k in range(16):
            jy, iy = j + MOVES[k, 0], i + MOVES[k, 1]
            if 0 <= jy < lattice.columns and 0 <= iy < lattice.rows and state[iy * lattice.columns + jy] == 2:
                _relax(
                    x,
                    iy * lattice.columns + jy,
                    k // 2,
                    k,
                    layer,
                    times,
                    highest,
                    heights,
                    releases,
                    air,
                    shifted,
                    most,
                )
        if key[x] < np.inf:
            heap[size] = x
            _up(heap, where, key, size)
            size += 1
    while size > 0:
        y = heap[0]
        size -= 1
        where[y], state[y] = -2, 2
        if size > 0:
            heap[0] = heap[size]
            _down(heap, where, key, size)
        i, j = y // lattice.columns, y % lattice.columns
        for k in range(16):
            jx, ix = j - MOVES[k, 0], i - MOVES[k, 1]
            if not (0 <= jx < lattice.columns and 0 <= ix < lattice.rows):
                continue
            x = ix * lattice.columns + jx
            if state[x] >= 2:
                continue
            most = min(slack[x], slack_here)
            if _relax(x, y, k // 2, k, layer, times, highest, heights, releases, air, shifted, most):
                if where[x] < 0:
                    heap[size], where[x] = x, size
                    size += 1
                _up(heap, where, key, where[x])
