"""A first bent run: the longest chain of straight legs between points spread over the water.

Nodes are spread over the water; a leg joins two nodes that see one another. Two legs in a row meet in a fillet: an arc
of the given radius that touches both. The sum of all turns grows with each fillet, so legs ordered by the turn spent so
far form an acyclic graph, and its longest chain is found by one pass through the layers of spent turn.
"""

from typing import NamedTuple

import numpy as np
from numba import njit

from geo.survey.bent.shore import Edges, arc_hits_shore, clearance, free_ray, hits_shore, in_water

LAYER_RAD = np.radians(3.0)  # spent turn is counted in steps of this, rounded up
STEEPEST_RAD = np.radians(120.0)  # most turn of a single fillet; sharper ones are chained
_PULL_M = 1e-7  # how far a leg stops short of the shore


class Legs(NamedTuple):
    """Legs between nodes, both ways, grouped by the node they leave from: out[n]..out[n + 1]."""

    tail: np.ndarray
    head: np.ndarray
    out: np.ndarray
    length_m: np.ndarray
    heading_rad: np.ndarray
    behind_m: np.ndarray
    ahead_m: np.ndarray


@njit(cache=True)
def across(shore: Edges, x: np.ndarray, y: np.ndarray, inward: np.ndarray) -> np.ndarray:
    """Give points (m, 2) of the water: near the shore, at a fifth and at half of the way across, from shore points.

    inward (n, 2): unit vectors from the shore points (x, y) into the water.
    """
    points = np.empty((3 * x.size, 2))
    made = 0
    for k in range(x.size):
        dx, dy = inward[k, 0], inward[k, 1]
        width = free_ray(shore, x[k] + 1e-6 * dx, y[k] + 1e-6 * dy, dx, dy)
        for share in (0.02, 0.2, 0.5):
            px, py = x[k] + share * width * dx, y[k] + share * width * dy
            if np.isfinite(width) and in_water(shore, px, py):
                points[made, 0], points[made, 1] = px, py
                made += 1
    return points[:made]


@njit(cache=True)
def spread(x: np.ndarray, y: np.ndarray, count: int) -> np.ndarray:
    """Choose `count` of the points, the first always, each next one as far from those before as can be."""
    chosen = np.empty(count, np.int64)
    square = np.full(x.size, np.inf)
    nearest = 0
    for k in range(count):
        if k > 0:
            nearest = np.argmax(square)
            if square[nearest] <= 0.0:
                return chosen[:k]
        chosen[k] = nearest
        for j in range(x.size):
            square[j] = min(square[j], (x[j] - x[nearest]) ** 2 + (y[j] - y[nearest]) ** 2)
    return chosen


@njit(cache=True)
def make_legs(shore: Edges, x: np.ndarray, y: np.ndarray) -> Legs:
    """Give the legs between all nodes (x, y) that see one another, with the water beyond both their ends."""
    n = x.size
    seen = np.zeros((n, n), np.bool_)
    for i in range(n):
        for j in range(i + 1, n):
            seen[i, j] = seen[j, i] = not hits_shore(shore, x[i], y[i], x[j], y[j])
    legs = int(seen.sum())
    tail, head = np.empty(legs, np.int32), np.empty(legs, np.int32)
    length, heading, ahead = np.empty(legs), np.empty(legs), np.empty(legs)
    out = np.zeros(n + 1, np.int32)
    number = np.full((n, n), -1, np.int32)
    made = 0
    for i in range(n):
        for j in range(n):
            if not seen[i, j]:
                continue
            dx, dy = x[j] - x[i], y[j] - y[i]
            length[made] = np.hypot(dx, dy)
            dx, dy = dx / length[made], dy / length[made]
            tail[made], head[made], heading[made] = i, j, np.arctan2(dx, dy)
            ahead[made] = max(0.0, free_ray(shore, x[j], y[j], dx, dy) - _PULL_M)
            number[i, j] = made
            made += 1
        out[i + 1] = made
    behind = np.empty(legs)
    for e in range(legs):
        behind[e] = ahead[number[head[e], tail[e]]]
    return Legs(tail, head, out, length, heading, behind, ahead)


@njit(cache=True, inline="always")
def turn_between(first_rad: float, second_rad: float) -> float:
    """Give the turn from one heading to another, in (-pi, pi], positive to the right."""
    turn = second_rad - first_rad
    if turn > np.pi:
        return turn - 2.0 * np.pi
    return turn + 2.0 * np.pi if turn <= -np.pi else turn


@njit(cache=True)
def _fillet_fits(
    shore: Edges,
    px: float,
    py: float,
    heading: float,
    turn: float,
    radius: float,
) -> bool:
    """Say whether the fillet at p between a leg that arrives on `heading` and one that leaves after `turn` is clear."""
    side = 1.0 if turn > 0.0 else -1.0
    half = 0.5 * abs(turn)
    middle = heading + 0.5 * turn
    # From p the centre lies on the inner bisector: at a right angle to the middle heading, on the side turned to.
    ix, iy = side * np.cos(middle), -side * np.sin(middle)
    away = radius / np.cos(half)
    return not arc_hits_shore(shore, px + away * ix, py + away * iy, -ix, -iy, radius, np.cos(half))


class Chains(NamedTuple):
    """For each leg the worth of the best chain that ends with it, and what came before, by layer of spent turn."""

    worth_m: np.ndarray
    before_last: np.ndarray
    before: np.ndarray
    before_layer: np.ndarray


@njit(cache=True)
def longest_chains(
    shore: Edges,
    x: np.ndarray,
    y: np.ndarray,
    legs: Legs,
    radius: float,
    most_turn: float,
    charge: float,
) -> Chains:
    """Give the best chains of filleted legs: longest after taking off `charge` [m] for each radian of turn.

    A fillet may use half of each leg it joins, or the whole of a first or last one.
    """
    layers = int(np.floor(most_turn / LAYER_RAD + 1e-9))
    count = legs.tail.size
    gained = np.full((layers + 1, count), -1.0)
    before = np.full((layers + 1, count), -1, np.int32)
    before_layer = np.full((layers + 1, count), -1, np.int32)
    worth, before_last = np.full(count, -1.0), np.full((2, count), -1, np.int32)
    room = np.empty(x.size)
    for i in range(x.size):
        room[i] = clearance(shore, x[i], y[i])
    peak = np.full(count, -1.0)
    for layer in range(-1, layers):
        for e in range(count):
            if layer < 0:
                value, usable = legs.behind_m[e] + legs.length_m[e], legs.length_m[e] + legs.behind_m[e]
            else:
                value, usable = gained[layer, e], 0.5 * legs.length_m[e]
                if value <= peak[e]:
                    continue
                peak[e] = value
            node = legs.head[e]
            widest = min(STEEPEST_RAD, 2.0 * np.arctan(usable / radius))
            for f in range(legs.out[node], legs.out[node + 1]):
                turn = turn_between(legs.heading_rad[e], legs.heading_rad[f])
                size = abs(turn)
                spent = max(layer, 0) + max(1, int(np.ceil(size / LAYER_RAD)))
                if size > widest or spent > layers:
                    continue
                tangent = radius * np.tan(0.5 * size)
                reached = value + legs.length_m[f] - 2.0 * tangent + (radius - charge) * size
                ends = reached + legs.ahead_m[f] > worth[f] and tangent <= legs.length_m[f] + legs.ahead_m[f]
                goes_on = (
                    reached > gained[spent, f] and reached > peak[f] and tangent <= 0.5 * legs.length_m[f]
                )
                if not (ends or goes_on):
                    continue
                if tangent >= room[node] and not _fillet_fits(
                    shore, x[node], y[node], legs.heading_rad[e], turn, radius
                ):
                    continue
                if ends:
                    worth[f] = reached + legs.ahead_m[f]
                    before_last[0, f], before_last[1, f] = e, layer
                if goes_on:
                    gained[spent, f] = reached
                    before[spent, f], before_layer[spent, f] = e, layer
    return Chains(worth, before_last, before, before_layer)


@njit(cache=True)
def trace(chains: Chains, legs: Legs, x: np.ndarray, y: np.ndarray, last_leg: int) -> np.ndarray:
    """Give the corners (n, 2) of the best chain that ends with a leg, its ends pushed out to the shore."""
    order = np.empty(chains.before.shape[0] + 2, np.int64)
    order[0] = last_leg
    size = 1
    leg, layer = chains.before_last[0, last_leg], chains.before_last[1, last_leg]
    while leg >= 0:
        order[size] = leg
        size += 1
        if layer < 0:
            break
        leg, layer = chains.before[layer, leg], chains.before_layer[layer, leg]
    corners = np.empty((size + 1, 2))
    for k in range(size):
        e = order[size - 1 - k]
        corners[k, 0], corners[k, 1] = x[legs.tail[e]], y[legs.tail[e]]
    first = order[size - 1]
    corners[0, 0] -= np.sin(legs.heading_rad[first]) * legs.behind_m[first]
    corners[0, 1] -= np.cos(legs.heading_rad[first]) * legs.behind_m[first]
    end, out = legs.head[last_leg], legs.ahead_m[last_leg]
    corners[size, 0] = x[end] + np.sin(legs.heading_rad[last_leg]) * out
    corners[size, 1] = y[end] + np.cos(legs.heading_rad[last_leg]) * out
    return corners
