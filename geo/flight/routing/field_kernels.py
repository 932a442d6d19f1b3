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


class Apart(NamedTuple):
    """How the needs grow from an end of the leg: distance within which only the ground counts, clearance, and the
    distances over which the clearance grows from the other end and from the hub; hub position [m]."""

    exempt_m: float
    clearance_m: float
    grow_m: float
    grow_hub_m: float
    hub_east_m: float
    hub_north_m: float


class MoveNeeds(NamedTuple):
    """What each move of even number (8, nodes) asks: a height [m], inf where it leaves the lattice or is shut, and the
    least seconds at its outer end. shifted: the hub's seconds differ by layer."""

    heights_m: np.ndarray
    releases_s: np.ndarray
    shifted: bool


class Useful(NamedTuple):
    """The greatest seconds that are of use, at each node (nodes,) and in each layer (layers,)."""

    node_s: np.ndarray
    layer_s: np.ndarray


class Labels(NamedTuple):
    """The state of a search: times_s (layers + 1, nodes); by node the highest need [m] of its route while that is plain
    cruise (else inf), its state (0 open, 1 seeded, 2 final, 3 can only climb), the heap and each node's place in it."""

    times_s: np.ndarray
    highest_m: np.ndarray
    state: np.ndarray
    heap: np.ndarray
    where: np.ndarray


@njit(cache=True, nogil=True)
def needed(ground: Ground, row: int, column: int, off: float, off_hub: float, apart: Apart) -> float:
    """Give the height [m] that a cell asks so far from the other end and from the hub; inf outside the raster."""
    if row < 0:
        return np.inf
    base = (ground.far if min(off, off_hub) >= apart.exempt_m else ground.near)[row, column]
    grown = min(1.0, off / max(apart.grow_m, 1e-9), off_hub / max(apart.grow_hub_m, 1e-9))
    return base + apart.clearance_m * grown


@njit(cache=True, nogil=True)
def edge_heights(lattice: Lattice, ground: Ground, apart: Apart) -> np.ndarray:
    """Give the height needed on each move of even number (8, nodes) [m], inf where it leaves the lattice or is shut."""
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
                off_east = east + middle * span[0] - apart.hub_east_m
                off = np.hypot(off_east, north + middle * span[1] - apart.hub_north_m)
                if off < blind:
                    continue
                highest = max(highest, needed(ground, cell[c, 0], cell[c, 1], np.inf, off, apart))
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


# Inlined, so that the arrays of their records are taken out once a search, not at every move.
@njit(cache=True, nogil=True, inline="always")
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


@njit(cache=True, nogil=True, inline="always")
def _relax(
    x: int, y: int, k: int, layer: int, labels: Labels, needs: MoveNeeds, air: Air, useful: Useful
) -> bool:
    """Improve node x by move k to node y; keep the highest need of its route while that is plain cruise, else inf."""
    e, owner, times = k // 2, y if k % 2 else x, labels.times_s
    height, release = needs.heights_m[e, owner], needs.releases_s[e, owner]
    if height == np.inf:
        return False
    seconds, plain = _through(times[layer, y], times[layer + 1, y], air, layer, k, height, release)
    most = min(useful.node_s[x], useful.layer_s[layer])
    if seconds > most or seconds >= times[layer, x] - LEAST_GAIN_S:
        return False
    times[layer, x] = seconds
    bound = needs.shifted and seconds == release
    labels.highest_m[x] = max(labels.highest_m[y], height) if plain and not bound else np.inf
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


@njit(cache=True, nogil=True, inline="always")
def node_at(lattice: Lattice, i: int, j: int) -> int:
    """Give the node of a row and a column, -1 outside the lattice."""
    return i * lattice.columns + j if 0 <= j < lattice.columns and 0 <= i < lattice.rows else -1


@njit(cache=True, nogil=True)
def solve(lattice: Lattice, needs: MoveNeeds, air: Air, seeds: np.ndarray, useful: Useful) -> np.ndarray:
    """Give the least seconds (layers + 1, nodes) between each node and the hub, label-setting from the top layer down.

    seeds (layers,): seconds at the hub itself, inf where the hub is above the layer. The last row repeats the top
    layer.
    """
    layers, nodes = len(seeds), lattice.columns * lattice.rows
    labels = Labels(
        np.full((layers + 1, nodes), np.inf),
        np.full(nodes, np.inf),
        np.zeros(nodes, np.int8),
        np.empty(nodes, np.int64),
        np.full(nodes, -1, np.int64),
    )
    least = _least_needs(lattice, needs.heights_m)
    for layer in range(layers - 1, -1, -1):
        top = layer == layers - 1
        _hand_down(layer, np.inf if top else seeds[layer + 1] - seeds[layer], least, labels, air, useful)
        if seeds[layer] < labels.times_s[layer, lattice.hub]:
            labels.times_s[layer, lattice.hub] = seeds[layer]
            labels.highest_m[lattice.hub], labels.state[lattice.hub] = -np.inf, 1
        _settle(lattice, layer, labels, needs, air, useful)
        if top:
            labels.times_s[layers] = labels.times_s[layer]
    return labels.times_s


@njit(cache=True, nogil=True)
def _hand_down(layer: int, shift: float, least: np.ndarray, labels: Labels, air: Air, useful: Useful) -> None:
    """Start a layer from the times of the layer above; nothing stands above the top layer, whose times are inf.

    A node whose route in the layer above is plain cruise, low enough for this one, keeps its time less the shift of
    the hub's; one that no move leaves or enters so low can only climb.
    """
    times, step = labels.times_s, air.altitude_m[1] - air.altitude_m[0]
    for x in range(len(least)):
        labels.state[x], labels.where[x] = 0, -1
        if np.isfinite(shift) and labels.highest_m[x] <= air.altitude_m[layer]:
            times[layer, x] = times[layer + 1, x] - shift
            labels.state[x] = 2
            continue
        labels.highest_m[x] = np.inf
        climbed = times[layer + 1, x] + air.between_s[layer]
        if climbed <= min(useful.node_s[x], useful.layer_s[layer]):
            times[layer, x] = climbed
        # A move gains no more than one layer.
        if least[x] > air.altitude_m[layer] + step:
            labels.state[x] = 3


@njit(cache=True, nogil=True)
def _settle(lattice: Lattice, layer: int, labels: Labels, needs: MoveNeeds, air: Air, useful: Useful) -> None:
    """Settle one layer: nodes of state 2 and 3 are final; the others are drawn from their neighbours by time."""
    key, state, heap, where = labels.times_s[layer], labels.state, labels.heap, labels.where
    size = _queue(lattice, layer, labels, needs, air, useful)
    while size > 0:
        y = heap[0]
        size -= 1
        where[y], state[y] = -2, 2
        if size > 0:
            heap[0] = heap[size]
            _down(heap, where, key, size)
        i, j = y // lattice.columns, y % lattice.columns
        for k in range(16):
            x = node_at(lattice, i - MOVES[k, 1], j - MOVES[k, 0])
            if x < 0 or state[x] >= 2 or not _relax(x, y, k, layer, labels, needs, air, useful):
                continue
            if where[x] < 0:
                heap[size], where[x] = x, size
                size += 1
            _up(heap, where, key, where[x])


@njit(cache=True, nogil=True)
def _queue(lattice: Lattice, layer: int, labels: Labels, needs: MoveNeeds, air: Air, useful: Useful) -> int:
    """Draw the open nodes of a layer from their final neighbours and put those reached on the heap; give its size."""
    key, size = labels.times_s[layer], 0
    for x in range(lattice.columns * lattice.rows):
        if labels.state[x] >= 2:
            continue
        i, j = x // lattice.columns, x % lattice.columns
        for k in range(16):
            y = node_at(lattice, i + MOVES[k, 1], j + MOVES[k, 0])
            if y >= 0 and labels.state[y] == 2:
                _relax(x, y, k, layer, labels, needs, air, useful)
        if key[x] < np.inf:
            labels.heap[size] = x
            _up(labels.heap, labels.where, key, size)
            size += 1
    return size
