"""Compiled: the leg rule on a route of straight pieces in the plane.

Used only to choose among routes: what is chosen is flown again by `geo.flight.legs.leg`, on the ellipsoid.
"""

from typing import NamedTuple

import numpy as np
from numba import njit


class Ground(NamedTuple):
    """Heights to be cleared [m], inf where no route may lead: far from the leg's ends, and near them (see `leg`).

    shut (m, 4): edges east, north, east, north [m] that no route may cross.
    """

    far: np.ndarray
    near: np.ndarray
    shut: np.ndarray
    west_m: float
    north_m: float
    cell_east_m: float
    cell_north_m: float


class Rule(NamedTuple):
    """The numbers of one leg. climb_s[i]: seconds of climb from clock_low_m to clock_low_m + i clock_step_m."""

    start_altitude_m: float
    end_altitude_m: float
    tas_ms: float
    climb_speed_ms: float
    climb_s: np.ndarray
    clock_low_m: float
    clock_step_m: float
    descent_ms: float
    clearance_m: float
    ceiling_m: float
    exempt_m: float
    blow_east_ms: float
    blow_north_ms: float


@njit(cache=True, nogil=True)
def clock_s(table: np.ndarray, low: float, step: float, height: float) -> float:
    """Read a table of seconds by height, linear; beyond its ends by its end slopes."""
    place = (height - low) / step
    index = min(max(int(np.floor(place)), 0), len(table) - 2)
    return table[index] + (place - index) * (table[index + 1] - table[index])


@njit(cache=True, nogil=True)
def ground_speed_ms(east: float, north: float, tas: float, blow_east: float, blow_north: float) -> float:
    """Give the ground speed along a unit vector [m/s], -1 where it makes no way: `geo.base.wind.speed_towards`."""
    along = blow_east * east + blow_north * north
    across = blow_north * east - blow_east * north
    left = tas * tas - across * across
    return along + np.sqrt(left) if left >= 0.0 and along + np.sqrt(left) > 0.0 else -1.0


@njit(cache=True, nogil=True)
def _crossings(start: float, length: float) -> tuple[int, float, float]:
    """Give for one axis [cells] the step from cell to cell, the share at the first border, and from one to the next."""
    step = 1 if length > 0.0 else -1
    if length == 0.0:
        return step, np.inf, np.inf
    return step, (int(np.floor(start)) + (step + 1) // 2 - start) / length, abs(1.0 / length)


@njit(cache=True, nogil=True)
def walk(
    ground: Ground, ax: float, ay: float, bx: float, by: float, share: np.ndarray, cell: np.ndarray
) -> int:
    """Walk the cells of a straight line: share[i + 1] is where cell[i] (row, column; -1 outside) is left, 0..1.

    Returns the count of cells. Exact crossings, none left out.
    """
    rows, columns = ground.far.shape
    u, v = (ax - ground.west_m) / ground.cell_east_m, (ground.north_m - ay) / ground.cell_north_m
    du = (bx - ground.west_m) / ground.cell_east_m - u
    dv = (ground.north_m - by) / ground.cell_north_m - v
    i, j = int(np.floor(v)), int(np.floor(u))
    step_i, next_v, by_v = _crossings(v, dv)
    step_j, next_u, by_u = _crossings(u, du)
    count, share[0] = 0, 0.0
    while count < len(cell):
        inside = 0 <= i < rows and 0 <= j < columns
        cell[count, 0] = i if inside else -1
        cell[count, 1] = j if inside else -1
        count += 1
        share[count] = min(1.0, next_u, next_v)
        if share[count] >= 1.0:
            break
        if next_u < next_v:
            j, next_u = j + step_j, next_u + by_u
        else:
            i, next_v = i + step_i, next_v + by_v
    share[count] = 1.0
    return count


@njit(cache=True, nogil=True)
def crosses_shut(points: np.ndarray, shut: np.ndarray) -> bool:
    """True when any piece of a route meets any shut edge."""
    for s in range(len(points) - 1):
        ax, ay = points[s, 0], points[s, 1]
        bx, by = points[s + 1, 0] - ax, points[s + 1, 1] - ay
        for e in range(len(shut)):
            cx, cy, dx, dy = shut[e, 0] - ax, shut[e, 1] - ay, shut[e, 2] - ax, shut[e, 3] - ay
            if (bx * cy - by * cx) * (bx * dy - by * dx) > 0.0:
                continue
            ex, ey = dx - cx, dy - cy
            if (ex * -cy - ey * -cx) * (ex * (by - cy) - ey * (bx - cx)) <= 0.0:
                return True
    return False


@njit(cache=True, nogil=True)
def _measure(points: np.ndarray, rule: Rule) -> np.ndarray:
    """Give knots (n, 3): distance, time at cruise, time at climb speed; a last time of inf where it cannot be held."""
    knots = np.zeros((len(points), 3))
    for s in range(len(points) - 1):
        east, north = points[s + 1, 0] - points[s, 0], points[s + 1, 1] - points[s, 1]
        length = np.hypot(east, north)
        knots[s + 1] = knots[s]
        if length < 1e-6:
            continue
        unit = (east / length, north / length)
        cruise = ground_speed_ms(unit[0], unit[1], rule.tas_ms, rule.blow_east_ms, rule.blow_north_ms)
        climb = ground_speed_ms(unit[0], unit[1], rule.climb_speed_ms, rule.blow_east_ms, rule.blow_north_ms)
        knots[s + 1, 0] += length
        knots[s + 1, 1] += length / cruise if cruise > 0.0 else np.inf
        knots[s + 1, 2] += length / climb if climb > 0.0 else np.inf
    return knots


@njit(cache=True, nogil=True)
def _room(points: np.ndarray, ground: Ground) -> int:
    cells = 4
    for s in range(len(points) - 1):
        cells += int(abs(points[s + 1, 0] - points[s, 0]) / ground.cell_east_m) + 3
        cells += int(abs(points[s + 1, 1] - points[s, 1]) / ground.cell_north_m) + 3
    return cells


@njit(cache=True, nogil=True)
def _growths(knots: np.ndarray, rule: Rule) -> tuple[float, float]:
    """Give the distances over which the clearance grows from the start, and falls towards the end [m]."""
    fastest_climb = fastest = 0.0
    for s in range(len(knots) - 1):
        length = knots[s + 1, 0] - knots[s, 0]
        if length > 0.0:
            fastest = max(fastest, length / (knots[s + 1, 1] - knots[s, 1]))
            fastest_climb = max(fastest_climb, length / (knots[s + 1, 2] - knots[s, 2]))
    table, low, step = rule.climb_s, rule.clock_low_m, rule.clock_step_m
    cleared = clock_s(table, low, step, rule.start_altitude_m + rule.clearance_m)
    cleared -= clock_s(table, low, step, rule.start_altitude_m)
    rise = max(rule.exempt_m, cleared * fastest_climb)
    fall = max(rule.exempt_m, rule.clearance_m * fastest / rule.descent_ms)
    return max(rise, 1e-9), max(fall, 1e-9)


@njit(cache=True, nogil=True)
def _cuts(total: float, rise: float, fall: float, rule: Rule) -> np.ndarray:
    """Give, rising, the distances [m] at which the needs change their rule within a cell, and one beyond the end."""
    cuts = np.empty(6)
    cuts[0], cuts[1], cuts[2], cuts[3] = rule.exempt_m, total - rule.exempt_m, rise, total - fall
    # Where the growing clearance meets the falling one.
    cuts[4], cuts[5] = total * rise / (rise + fall), np.inf
    cuts.sort()
    return cuts


@njit(cache=True, nogil=True)
def _needs(points: np.ndarray, knots: np.ndarray, ground: Ground, rule: Rule) -> np.ndarray:
    """Give rows (distance, share of its piece, piece, height needed) where cells are entered, where the rule changes
    within a cell, and at the end; inf where no route may lead. Where two cells meet the higher counts."""
    total = knots[-1, 0]
    room = _room(points, ground)
    share, cell, rows = np.empty(room + 1), np.empty((room, 2), np.int64), np.empty((room + 8, 4))
    rise, fall = _growths(knots, rule)
    open_from, open_to = rule.exempt_m, total - rule.exempt_m
    cuts, cut = _cuts(total, rise, fall, rule), 0
    n, before, last = 0, -np.inf, 0
    for s in range(len(points) - 1):
        length = knots[s + 1, 0] - knots[s, 0]
        if length <= 0.0:
            continue
        last = s
        count = walk(ground, points[s, 0], points[s, 1], points[s + 1, 0], points[s + 1, 1], share, cell)
        for i in range(count):
            at, leave = knots[s, 0] + share[i] * length, knots[s, 0] + share[i + 1] * length
            while cuts[cut] <= at:
                cut += 1
            while at < leave:
                stop = min(leave, cuts[cut])
                middle = 0.5 * (at + stop)
                base = np.inf
                if cell[i, 0] >= 0 and open_from <= middle <= open_to:
                    base = ground.far[cell[i, 0], cell[i, 1]]
                elif cell[i, 0] >= 0:
                    base = ground.near[cell[i, 0], cell[i, 1]]
                grown = min(1.0, at / rise, (total - at) / fall)
                rows[n, 0], rows[n, 1], rows[n, 2] = at, (at - knots[s, 0]) / length, s
                rows[n, 3] = max(base, before) + rule.clearance_m * grown
                before, at, n = base, stop, n + 1
                while cuts[cut] <= at:
                    cut += 1
    rows[n, 0], rows[n, 1], rows[n, 2], rows[n, 3] = total, 1.0, last, before
    return rows[: n + 1]


@njit(cache=True, nogil=True)
def _time_at(knots: np.ndarray, row: np.ndarray, column: int) -> float:
    s = int(row[2])
    return knots[s, column] + row[1] * (knots[s + 1, column] - knots[s, column])


@njit(cache=True, nogil=True)
def _climb_extra(rows: np.ndarray, top: float, knots: np.ndarray, rule: Rule) -> float:
    """The compiled twin of `geo.flight.legs.climb.climbing`; top: the greatest height needed [m]."""
    table, low, step = rule.climb_s, rule.clock_low_m, rule.clock_step_m
    if top <= rule.start_altitude_m:
        return 0.0
    before = clock_s(table, low, step, rule.start_altitude_m)
    duration = clock_s(table, low, step, top) - before
    delay, index, entered = 0.0, 0, 0.0
    while index < len(rows):
        entered = _time_at(knots, rows[index], 2)
        waited = max(delay, clock_s(table, low, step, rows[index, 3]) - before - entered)
        if entered + waited > duration + 1e-9:
            break
        delay = waited
        index += 1
    flown = duration - delay
    if index < len(rows):
        flown = min(flown, entered)
    if flown >= knots[-1, 2]:
        return duration - knots[-1, 1]
    s = 0
    while s < len(knots) - 2 and knots[s + 1, 2] < flown:
        s += 1
    part = (flown - knots[s, 2]) / (knots[s + 1, 2] - knots[s, 2])
    return duration - knots[s, 1] - part * (knots[s + 1, 1] - knots[s, 1])


@njit(cache=True, nogil=True)
def route_seconds(points: np.ndarray, ground: Ground, rule: Rule, useless_s: float) -> float:
    """Give the time of a route (n, 2) by the leg rule in the plane [s]; inf where it cannot be flown, or takes
    useless_s or more. Shut edges are looked at last: most routes that are tried are too slow."""
    seconds = open_seconds(points, ground, rule, useless_s)
    return seconds if seconds < np.inf and not crosses_shut(points, ground.shut) else np.inf


@njit(cache=True, nogil=True)
def open_seconds(points: np.ndarray, ground: Ground, rule: Rule, useless_s: float) -> float:
    """As `route_seconds`, the shut edges not looked at."""
    knots = _measure(points, rule)
    if not (knots[-1, 1] < useless_s and knots[-1, 2] < np.inf) or knots[-1, 0] <= 0.0:
        return np.inf
    rows = _needs(points, knots, ground, rule)
    top = max(rows[:, 3].max(), rule.end_altitude_m)
    if top > rule.ceiling_m:
        return np.inf
    down = (rule.start_altitude_m - rule.end_altitude_m) / rule.descent_ms - knots[-1, 1]
    for row in rows:
        left = (row[3] - rule.end_altitude_m) / rule.descent_ms - knots[-1, 1]
        down = max(down, left + _time_at(knots, row, 1))
    cruise_and_down = knots[-1, 1] + max(0.0, down)
    if cruise_and_down >= useless_s:
        return np.inf
    seconds = cruise_and_down + _climb_extra(rows, top, knots, rule)
    return seconds if seconds < useless_s else np.inf
