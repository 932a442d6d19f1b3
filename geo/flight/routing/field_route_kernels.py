"""Compiled: routes read from the field of least times, from any place at any altitude."""

import numpy as np
from numba import njit

from geo.flight.routing.field_kernels import MOVES, Air, Apart, Lattice, needed, node_at
from geo.flight.routing.route_kernels import Ground, clock_s, ground_speed_ms, walk


@njit(cache=True, nogil=True)
def read(times: np.ndarray, air: Air, node: int, altitude: float) -> float:
    """Give the seconds at a node and any altitude: linear between layers, waiting below the lowest."""
    low, step = air.altitude_m[0], air.altitude_m[1] - air.altitude_m[0]
    place = (altitude - low) / step
    if place <= 0.0:
        return times[0, node] - place * air.between_s[0]
    layer = min(int(place), len(times) - 2)
    part = min(place - layer, 1.0)
    lower, upper = times[layer, node], times[layer + 1, node]
    return lower if lower == upper else lower + part * (upper - lower)


@njit(cache=True, nogil=True)
def roll_out(
    lattice: Lattice, times: np.ndarray, heights: np.ndarray, air: Air, node: int, altitude: float
) -> np.ndarray:
    """Follow the field from a node at an altitude to the hub: the nodes passed, none where it leads nowhere."""
    seen = np.zeros(lattice.columns * lattice.rows, np.bool_)
    route = np.empty(4 * (lattice.columns + lattice.rows), np.int64)
    for n in range(len(route)):
        route[n] = node
        seen[node] = True
        if node == lattice.hub:
            return route[: n + 1]
        best, goal, reached = np.inf, -1, altitude
        i, j = node // lattice.columns, node % lattice.columns
        for k in range(16):
            y = node_at(lattice, i + MOVES[k, 1], j + MOVES[k, 0])
            if y < 0 or seen[y]:
                continue
            height = heights[k // 2, y if k % 2 else node]
            seconds, level = _move(times, air, k, y, height, altitude)
            if seconds < best:
                best, goal, reached = seconds, y, level
        if goal < 0:
            break
        node, altitude = goal, reached
    return route[:0]


@njit(cache=True, nogil=True)
def _move(times: np.ndarray, air: Air, k: int, y: int, height: float, altitude: float) -> tuple[float, float]:
    """Give the seconds to the hub by move k to node y, in cruise or while changing layer, and the altitude there."""
    if height == np.inf or height > air.altitude_m[-1]:
        return np.inf, altitude
    step = air.altitude_m[1] - air.altitude_m[0]
    layer = min(max(int((altitude - air.altitude_m[0]) / step), 0), len(air.between_s) - 1)
    rate = step / air.between_s[layer]
    reached = max(altitude, height)
    best = (reached - altitude) / rate + air.cruise_s[k] + read(times, air, y, reached)
    gained = rate * air.change_s[k]
    if gained < np.inf:
        level = max(altitude + gained, height)
        seconds = (level - altitude - gained) / rate + air.change_s[k] + read(times, air, y, level)
        if seconds < best:
            best, reached = seconds, level
    return best, reached


@njit(cache=True, nogil=True)
def approach(
    nodes: np.ndarray,
    lattice: Lattice,
    times: np.ndarray,
    air: Air,
    ground: Ground,
    place: np.ndarray,
    speeds: np.ndarray,
    apart: Apart,
) -> np.ndarray:
    """Give (n, 2): seconds from a place [east, north, altitude] by a straight line to each node and on to the hub, and
    the altitude at the node. speeds (n, 2): ground speed to each node [m/s] while changing layer, and in cruise."""
    result = np.full((len(nodes), 2), np.inf)
    low, step = air.altitude_m[0], air.altitude_m[1] - air.altitude_m[0]
    blind = 1.5 * max(ground.cell_east_m, ground.cell_north_m)
    share, cell = np.empty(4097), np.empty((4096, 2), np.int64)
    clock = np.concatenate((np.zeros(1), np.cumsum(air.between_s)))
    before = clock_s(clock, low, step, place[2])
    for n in range(len(nodes)):
        east = lattice.west_m + (nodes[n] % lattice.columns) * lattice.spacing_m
        north = lattice.south_m + (nodes[n] // lattice.columns) * lattice.spacing_m
        length = np.hypot(east - place[0], north - place[1])
        count = walk(ground, place[0], place[1], east, north, share, cell)
        changing, highest = length / speeds[n, 0], -np.inf
        for c in range(count):
            middle = 0.5 * (share[c] + share[c + 1])
            away = place[0] + middle * (east - place[0]), place[1] + middle * (north - place[1])
            off_hub = np.hypot(away[0] - apart.hub_east_m, away[1] - apart.hub_north_m)
            if min(middle * length, off_hub) < blind:
                continue
            need = needed(ground, cell[c, 0], cell[c, 1], middle * length, off_hub, apart)
            highest = max(highest, need)
            if need < np.inf:
                release = clock_s(clock, low, step, need) - before
                changing = max(changing, release + (1.0 - middle) * length / speeds[n, 0])
        if highest > air.altitude_m[-1]:
            continue
        if highest <= place[2]:
            result[n, 0] = length / speeds[n, 1] + read(times, air, nodes[n], place[2])
            result[n, 1] = place[2]
        level = min(air.altitude_m[-1], low + step * _inverse(clock, before + changing))
        seconds = changing + read(times, air, nodes[n], level)
        if changing < np.inf and seconds < result[n, 0]:
            result[n, 0], result[n, 1] = seconds, level
    return result


@njit(cache=True, nogil=True)
def _inverse(clock: np.ndarray, seconds: float) -> float:
    """Give the place in a rising table (in steps) at which it reads so many seconds."""
    index = min(max(int(np.searchsorted(clock, seconds)) - 1, 0), len(clock) - 2)
    return index + (seconds - clock[index]) / (clock[index + 1] - clock[index])


@njit(cache=True, nogil=True)
def nodes_near(lattice: Lattice, east: float, north: float, reach: float) -> np.ndarray:
    """Give the nodes within reach of a place, the place's own left out [m]."""
    j, i, r = (
        (east - lattice.west_m) / lattice.spacing_m,
        (north - lattice.south_m) / lattice.spacing_m,
        reach / lattice.spacing_m,
    )
    first_i, last_i = max(0, int(np.ceil(i - r))), min(lattice.rows - 1, int(np.floor(i + r)))
    first_j, last_j = max(0, int(np.ceil(j - r))), min(lattice.columns - 1, int(np.floor(j + r)))
    found = np.empty(max(last_i - first_i + 1, 0) * max(last_j - first_j + 1, 0), np.int64)
    n = 0
    for row in range(first_i, last_i + 1):
        for column in range(first_j, last_j + 1):
            off = np.hypot(row - i, column - j)
            if 1e-6 < off <= r:
                found[n] = row * lattice.columns + column
                n += 1
    return found[:n]


@njit(cache=True, nogil=True)
def speeds_to(
    nodes: np.ndarray,
    lattice: Lattice,
    place: np.ndarray,
    change: float,
    cruise: float,
    blow: tuple[float, float],
    sense: float,
) -> np.ndarray:
    """Give (n, 2) the ground speeds from a place to nodes at two airspeeds [m/s], 1e-6 where the wind forbids it.

    Parameters: blow, where the wind blows to, east and north [m/s]; sense, -1 where the aircraft flies the other way.
    """
    found = np.empty((len(nodes), 2))
    for n in range(len(nodes)):
        east = lattice.west_m + (nodes[n] % lattice.columns) * lattice.spacing_m - place[0]
        north = lattice.south_m + (nodes[n] // lattice.columns) * lattice.spacing_m - place[1]
        off = np.hypot(east, north)
        for k, tas in enumerate((change, cruise)):
            speed = ground_speed_ms(sense * east / off, sense * north / off, tas, blow[0], blow[1])
            found[n, k] = max(speed, 1e-6)
    return found


@njit(cache=True, nogil=True)
def best_by_side(nodes: np.ndarray, lattice: Lattice, place: np.ndarray, ends: np.ndarray) -> np.ndarray:
    """Give the quickest node in each of eight sectors about a place, the quickest first; ends as `approach`."""
    best = np.full(8, -1)
    for n in range(len(nodes)):
        if not ends[n, 0] < np.inf:
            continue
        east = lattice.west_m + (nodes[n] % lattice.columns) * lattice.spacing_m - place[0]
        north = lattice.south_m + (nodes[n] // lattice.columns) * lattice.spacing_m - place[1]
        sector = int(np.floor(np.degrees(np.arctan2(east, north)) / 45.0)) % 8
        if best[sector] < 0 or ends[n, 0] < ends[best[sector], 0]:
            best[sector] = n
    best = best[best >= 0]
    return best[np.argsort(ends[best, 0])]


@njit(cache=True, nogil=True)
def positions(nodes: np.ndarray, lattice: Lattice, place: np.ndarray) -> np.ndarray:
    """Give the places of a route (n + 1, 2) [m]: one place, then nodes."""
    route = np.empty((len(nodes) + 1, 2))
    route[0, 0], route[0, 1] = place[0], place[1]
    for n in range(len(nodes)):
        route[n + 1, 0] = lattice.west_m + (nodes[n] % lattice.columns) * lattice.spacing_m
        route[n + 1, 1] = lattice.south_m + (nodes[n] // lattice.columns) * lattice.spacing_m
    return route


@njit(cache=True, nogil=True)
def _straight_s(east: float, north: float, tas: float, blow: tuple[float, float]) -> float:
    length = np.hypot(east, north)
    if length == 0.0:
        return 0.0
    speed = ground_speed_ms(east / length, north / length, tas, blow[0], blow[1])
    return length / speed if speed > 0.0 else np.inf


@njit(cache=True, nogil=True)
def served_m(
    away: np.ndarray,
    low: np.ndarray,
    high: np.ndarray,
    samples: int,
    tas: float,
    blow: tuple[float, float],
    limit: float,
) -> float:
    """Give how far from the hub, along the farther axis, a route of a place can lead within its limit of seconds [m].

    Parameters: away (2,), the place seen from the hub, east and north; low, high (2,) the box that is sampled [m];
    blow, where the wind blows to, east and north [m/s]. Straight to a sample and on to the hub is the least time.
    """
    farthest = max(abs(away[0]), abs(away[1]))
    for i in range(samples):
        north = low[1] + i * (high[1] - low[1]) / (samples - 1)
        for j in range(samples):
            east = low[0] + j * (high[0] - low[0]) / (samples - 1)
            off = max(abs(east), abs(north))
            if off > farthest:
                both = _straight_s(east - away[0], north - away[1], tas, blow) + _straight_s(
                    -east, -north, tas, blow
                )
                if both <= limit:
                    farthest = off
    return farthest
