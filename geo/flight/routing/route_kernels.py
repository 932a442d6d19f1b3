"""Compiled: the leg rule on a route of straight pieces in the plane.

Used only to choose among routes: what is chosen is flown again by `geo.flight.legs.leg`, on the ellipsoid.
"""

import numpy as np
from numba import njit

from geo.flight.legs.room_kernels import strip_top, turn_top
from geo.flight.routing.rule_kernels import (
    Ground,
    Rule,
    circle_fits,
    climb_extra,
    clock_s,
    descent,
    end_parts,
    frame,
    height_after,
    surface_width,
    time_at,
    turn_seconds,
)

# What else routing takes from here.
__all__ = [
    "Ground",
    "Rule",
    "clock_s",
    "crosses_shut",
    "ground_speed_ms",
    "open_seconds",
    "route_seconds",
    "walk",
]


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
def _rows(
    points: np.ndarray, knots: np.ndarray, parts: tuple[float, float], ground: Ground, rule: Rule
) -> np.ndarray:
    """Give rows where cells are entered, where the rule changes within a cell, and at the end: distance [m], share of
    its piece, piece, height needed [m], the same of its own cell alone, and the height in the whole corridor where what
    stands in a narrower surface counts (-inf elsewhere), which `_look_closer` looks at."""
    total = knots[-1, 0]
    room = _room(points, ground)
    share, cell, rows = np.empty(room + 1), np.empty((room, 2), np.int64), np.empty((room + 8, 6))
    cuts, cut = np.array([min(parts[0], parts[1]), max(parts[0], parts[1]), np.inf]), 0
    # What asks for less than both ends decides nothing.
    low = min(rule.start_altitude_m, rule.end_altitude_m) - rule.error_m
    n, last = 0, 0
    for s in range(len(points) - 1):
        length = knots[s + 1, 0] - knots[s, 0]
        if length <= 0.0:
            continue
        last = s
        count = walk(ground, points[s, 0], points[s, 1], points[s + 1, 0], points[s + 1, 1], share, cell)
        for i in range(count):
            at, leave = knots[s, 0] + share[i] * length, knots[s, 0] + share[i + 1] * length
            corridor = ground.far[cell[i, 0], cell[i, 1]] if cell[i, 0] >= 0 else np.inf
            while cuts[cut] <= at:
                cut += 1
            while at < leave:
                stop = min(leave, cuts[cut])
                rows[n, 0], rows[n, 1], rows[n, 2], rows[n, 5] = at, (at - knots[s, 0]) / length, s, -np.inf
                if parts[0] <= at and stop <= parts[1]:
                    rows[n, 4] = corridor + rule.clearance_m
                elif corridor <= low or surface_width(at, stop, total, parts, rule) >= rule.half_width_m:
                    rows[n, 4] = corridor + rule.error_m
                else:
                    rows[n, 4], rows[n, 5] = -np.inf, corridor
                at, n = stop, n + 1
                while cuts[cut] <= at:
                    cut += 1
    rows[n, 0], rows[n, 1], rows[n, 2], rows[n, 4], rows[n, 5] = total, 1.0, last, -np.inf, -np.inf
    return rows[: n + 1]


@njit(cache=True, nogil=True)
def _look_closer(
    points: np.ndarray,
    rows: np.ndarray,
    knots: np.ndarray,
    parts: tuple[float, float],
    ground: Ground,
    rule: Rule,
) -> bool:
    """Put what stands in the surfaces at the ends into rows; true where anything was put. Where even all that stands in
    the corridor asks for less than the flight has, and for no greater height, it is left out: it decides nothing."""
    top, total, found = max(rows[:, 4].max(), rule.end_altitude_m), knots[-1, 0], False
    for n in range(len(rows) - 1):
        row, stop = rows[n], rows[n + 1, 0]
        most = row[5] + rule.error_m
        if most == -np.inf:
            continue
        sinks_from = rule.end_altitude_m + rule.descent_ms * (knots[-1, 1] - time_at(knots, rows[n + 1], 1))
        climbed = max(rule.start_altitude_m, height_after(rule, time_at(knots, row, 2)))
        if most <= min(top, sinks_from, climbed):
            continue
        s = int(row[2])
        length = knots[s + 1, 0] - knots[s, 0]
        unit = ((points[s + 1, 0] - points[s, 0]) / length, (points[s + 1, 1] - points[s, 1]) / length)
        place = points[s, 0] + row[1] * length * unit[0], points[s, 1] + row[1] * length * unit[1]
        width = surface_width(row[0], stop, total, parts, rule)
        highest = strip_top(ground.near, frame(ground), place, unit, stop - row[0], width)
        if row[0] > 0.0 and row[1] == 0.0:  # behind a turn
            highest = max(highest, turn_top(ground.near, frame(ground), place[0], place[1], width))
        row[4], row[5] = highest + rule.error_m, -np.inf
        top, found = max(top, row[4]), True
    return found


@njit(cache=True, nogil=True)
def _taken(rows: np.ndarray, knots: np.ndarray, rule: Rule) -> tuple[float, float, float]:
    """Give the time of a flight by its rows [s], inf above the ceiling, and between which places circles are due as
    `climb_extra` and `descent` do. Where two cells meet the higher counts."""
    before, top = -np.inf, rule.end_altitude_m
    for n in range(len(rows)):
        rows[n, 3] = max(rows[n, 4], before)
        before = rows[n, 4]
        top = max(top, before)
    if top > rule.ceiling_m:
        return np.inf, np.inf, -np.inf
    down, late = descent(rows, knots, rule)
    up, early = climb_extra(rows, top, knots, rule)
    return knots[-1, 1] + down + up, early, late


@njit(cache=True, nogil=True)
def route_seconds(points: np.ndarray, ground: Ground, rule: Rule, useless_s: float) -> float:
    """Give the time of a route (n, 2) by the leg rule in the plane [s]; inf where it cannot be flown, or takes
    useless_s or more. Shut edges are looked at last: most routes that are tried are too slow."""
    seconds = open_seconds(points, ground, rule, useless_s)
    return seconds if seconds < np.inf and not crosses_shut(points, ground.shut) else np.inf


@njit(cache=True, nogil=True)
def _circles_fit(
    points: np.ndarray,
    knots: np.ndarray,
    parts: tuple[float, float],
    ground: Ground,
    rule: Rule,
    early: float,
    late: float,
) -> bool:
    """True where the circles that are due before one place and behind another have room."""
    if early < np.inf and not circle_fits(points, knots, parts, ground, rule, early, True):
        return False
    return late < 0.0 or circle_fits(points, knots, parts, ground, rule, late, False)


@njit(cache=True, nogil=True)
def open_seconds(points: np.ndarray, ground: Ground, rule: Rule, useless_s: float) -> float:
    """As `route_seconds`, the shut edges not looked at. Cheap bounds come first: most routes that are tried are too
    slow by the climb to their end alone, or by what they need en route."""
    knots = _measure(points, rule)
    if not (knots[-1, 1] < useless_s and knots[-1, 2] < np.inf) or knots[-1, 0] <= 0.0:
        return np.inf
    least_s, _, _ = _taken(np.empty((0, 6)), knots, rule)
    if least_s >= useless_s:
        return np.inf
    parts = end_parts(knots, rule)
    rows = _rows(points, knots, parts, ground, rule)
    seconds, early, late = _taken(rows, knots, rule)
    if seconds >= useless_s:
        return np.inf
    if _look_closer(points, rows, knots, parts, ground, rule):
        seconds, early, late = _taken(rows, knots, rule)
    if seconds >= useless_s:
        return np.inf
    top = max(rows[:, 3].max(), rule.end_altitude_m)
    seconds += turn_seconds(points, knots, parts, ground, rule, top)
    fits = seconds < useless_s and _circles_fit(points, knots, parts, ground, rule, early, late)
    return seconds if fits else np.inf
