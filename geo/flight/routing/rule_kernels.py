"""Compiled: the numbers of a leg, and what its climb, its descent and the circles in them ask of a route.

A route's knots (n, 3) are its corners: distance from the start [m], time there at cruise and at climb speed [s].
"""

from typing import NamedTuple

import numpy as np
from numba import njit

from geo.flight.legs.room_kernels import Frame, circle_side

# A wait no longer than this is flown as a bend inside the corridor; a longer one is circled, and needs room [s].
LEAST_CIRCLED_S = 0.5
# Circles are tried every so far along the way [m], in at most so many places.
CIRCLES_EVERY_M, MOST_CIRCLES = 200.0, 500


class Ground(NamedTuple):
    """Heights to be cleared [m], inf where no route may lead: the highest within the corridor's half-width of any point
    of a cell (far), and of the cell alone (near), from which the surfaces at the leg's ends are read (see `leg`).

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
    """The numbers of one leg. climb_s[i]: seconds of climb from clock_low_m to clock_low_m + i clock_step_m.

    clearance_m holds outside the parts at both ends, error_m in them, where what stands in the surface's width counts:
    end_half_width_m, wider by divergence per metre, up to half_width_m. level_s: seconds before the climb begins.
    start_above_m, end_above_m: heights of the ends above the ground, 0 at a fill.
    """

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
    blow_east_ms: float
    blow_north_ms: float
    error_m: float
    level_s: float
    start_above_m: float
    end_above_m: float
    end_half_width_m: float
    divergence: float
    half_width_m: float
    circle_radius_m: float


@njit(cache=True, nogil=True)
def clock_s(table: np.ndarray, low: float, step: float, height: float) -> float:
    """Read a table of seconds by height, linear; beyond its ends by its end slopes."""
    place = (height - low) / step
    index = min(max(int(np.floor(place)), 0), len(table) - 2)
    return table[index] + (place - index) * (table[index + 1] - table[index])


@njit(cache=True, nogil=True)
def _distance_at(knots: np.ndarray, column: int, seconds: float) -> float:
    """Give where a time is reached (column 1: at cruise, 2: at climb speed) [m], within the route."""
    for s in range(len(knots) - 1):
        took = knots[s + 1, column] - knots[s, column]
        if took > 0.0 and seconds < knots[s + 1, column]:
            return knots[s, 0] + max(seconds - knots[s, column], 0.0) / took * (knots[s + 1, 0] - knots[s, 0])
    return knots[-1, 0]


@njit(cache=True, nogil=True)
def _seconds_at(knots: np.ndarray, column: int, distance: float) -> float:
    """The inverse of `_distance_at`."""
    for s in range(len(knots) - 1):
        length = knots[s + 1, 0] - knots[s, 0]
        if length > 0.0 and distance < knots[s + 1, 0]:
            part = max(distance - knots[s, 0], 0.0) / length
            return knots[s, column] + part * (knots[s + 1, column] - knots[s, column])
    return knots[-1, column]


@njit(cache=True, nogil=True)
def end_parts(knots: np.ndarray, rule: Rule) -> tuple[float, float]:
    """Give where the departure part ends and the approach part begins, from the start [m]."""
    table, low, step = rule.climb_s, rule.clock_low_m, rule.clock_step_m
    rise = max(rule.clearance_m - rule.start_above_m, 0.0)
    cleared = clock_s(table, low, step, rule.start_altitude_m + rise)
    cleared += rule.level_s - clock_s(table, low, step, rule.start_altitude_m)
    sunk = max(rule.clearance_m - rule.end_above_m, 0.0) / rule.descent_ms
    return _distance_at(knots, 2, cleared), _distance_at(knots, 1, knots[-1, 1] - sunk)


@njit(cache=True, nogil=True)
def surface_width(at: float, stop: float, total: float, parts: tuple[float, float], rule: Rule) -> float:
    """Give half the width that counts over a stretch in a part at an end [m]; in both parts that of the nearer end."""
    width = rule.half_width_m
    if at < parts[0]:
        width = min(width, rule.end_half_width_m + rule.divergence * stop)
    if stop > parts[1]:
        width = min(width, rule.end_half_width_m + rule.divergence * (total - at))
    return width


@njit(cache=True, nogil=True)
def frame(ground: Ground) -> Frame:
    """Give the raster's frame, as `room_kernels` takes it."""
    return ground.west_m, ground.north_m, ground.cell_east_m, ground.cell_north_m


@njit(cache=True, nogil=True)
def time_at(knots: np.ndarray, row: np.ndarray, column: int) -> float:
    """Give the time at a row of `route_kernels.needs` (column 1: at cruise, 2: at climb speed) [s]."""
    s = int(row[2])
    return knots[s, column] + row[1] * (knots[s + 1, column] - knots[s, column])


@njit(cache=True, nogil=True)
def climb_extra(rows: np.ndarray, top: float, knots: np.ndarray, rule: Rule) -> tuple[float, float]:
    """The compiled twin of `geo.flight.legs.climb.climbing`; top: the greatest height needed [m]. Gives the extra
    seconds, and the first place [m] reached so early that circles are due before it, inf for none."""
    table, low, step = rule.climb_s, rule.clock_low_m, rule.clock_step_m
    if top <= rule.start_altitude_m:
        return 0.0, np.inf
    before = clock_s(table, low, step, rule.start_altitude_m) - rule.level_s
    duration = clock_s(table, low, step, top) - before
    delay, index, entered, early = 0.0, 0, 0.0, np.inf
    while index < len(rows):
        entered = time_at(knots, rows[index], 2)
        waited = delay
        if rows[index, 3] > rule.start_altitude_m:
            waited = max(delay, clock_s(table, low, step, rows[index, 3]) - before - entered)
        if waited > LEAST_CIRCLED_S:
            early = min(early, rows[index, 0])
        if entered + waited > duration + 1e-9:
            break
        delay = waited
        index += 1
    flown = duration - delay
    if index < len(rows):
        flown = min(flown, entered)
    if flown >= knots[-1, 2]:
        if flown > knots[-1, 2] + LEAST_CIRCLED_S:
            early = min(early, knots[-1, 0])
        return duration - knots[-1, 1], early
    s = 0
    while s < len(knots) - 2 and knots[s + 1, 2] < flown:
        s += 1
    part = (flown - knots[s, 2]) / max(knots[s + 1, 2] - knots[s, 2], 1e-9)
    return duration - knots[s, 1] - part * (knots[s + 1, 1] - knots[s, 1]), early


@njit(cache=True, nogil=True)
def height_after(rule: Rule, seconds: float) -> float:
    """Give the height after so many seconds from the start, the climb begun after level_s [m]."""
    table, low, step = rule.climb_s, rule.clock_low_m, rule.clock_step_m
    clock = clock_s(table, low, step, rule.start_altitude_m) + max(seconds - rule.level_s, 0.0)
    index = min(max(int(np.searchsorted(table, clock)) - 1, 0), len(table) - 2)
    return low + step * (index + (clock - table[index]) / (table[index + 1] - table[index]))


@njit(cache=True, nogil=True)
def descent(rows: np.ndarray, knots: np.ndarray, rule: Rule) -> tuple[float, float]:
    """The compiled twin of `geo.flight.legs.climb.descending`: the extra seconds, and the last place left so high that
    circles are due behind it, -inf where flying at the climb speed is slow enough."""
    total, slowest = knots[-1, 1], 0.0
    extra = max(0.0, (rule.start_altitude_m - rule.end_altitude_m) / rule.descent_ms - total)
    late, height = (0.0 if extra > LEAST_CIRCLED_S else -np.inf), rule.start_altitude_m
    slow = max(total, knots[-1, 2])
    if (height - rule.end_altitude_m) / rule.descent_ms - slow > LEAST_CIRCLED_S:
        slowest = np.inf
    for row in rows:
        sink = (row[3] - rule.end_altitude_m) / rule.descent_ms
        left = total - time_at(knots, row, 1)
        extra = max(extra, sink - left)
        if sink - left > LEAST_CIRCLED_S:
            late = row[0]
        if sink - max(left, knots[-1, 2] - time_at(knots, row, 2)) > LEAST_CIRCLED_S:
            slowest = np.inf
    return extra, late if slowest == np.inf else -np.inf


@njit(cache=True, nogil=True)
def circle_fits(
    points: np.ndarray,
    knots: np.ndarray,
    parts: tuple[float, float],
    ground: Ground,
    rule: Rule,
    place: float,
    up: bool,
) -> bool:
    """True where a circle has room between the start and a place that is reached too low (up), or between a place that
    is left too high and the end. Its lowest height is that of the flight without it."""
    total = knots[-1, 0]
    count = min(int((place if up else total - place) / CIRCLES_EVERY_M), MOST_CIRCLES)
    for n in range(count, -1, -1):
        at = n * CIRCLES_EVERY_M if up else total - n * CIRCLES_EVERY_M
        # Never over the drop itself.
        if at < rule.circle_radius_m and rule.start_above_m > 0.0:
            continue
        if total - at < rule.circle_radius_m and rule.end_above_m > 0.0:
            continue
        if up:
            height = height_after(rule, _seconds_at(knots, 2, at))
        else:
            height = rule.end_altitude_m + rule.descent_ms * (knots[-1, 1] - _seconds_at(knots, 1, at))
        height -= rule.clearance_m if parts[0] <= at <= parts[1] else rule.error_m
        if circle_side(
            points,
            at,
            height,
            ground.far,
            frame(ground),
            ground.shut,
            rule.circle_radius_m,
            rule.half_width_m,
        ):
            return True
    return False
