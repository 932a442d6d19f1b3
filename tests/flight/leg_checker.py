"""A flown leg held against the ground, from its record alone: own sampling of raster, obstacles and printed flight.

Nothing of the program's leg rule is used. Rules: the clearance over the whole corridor en route; in the parts at the
ends the terrain's error over a surface of 25 m or the aircraft's half-width at the end, one in ten wider to each side
(EU 965/2012 CAT.POL.H.110, from memory); circles of V^2 / (g tan bank), no part of them lower than that.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

# The printed flight is within 0.1 m of the flown one; the rest is for the plane's scale.
WITHIN_M = 0.3
ALONG_M, ACROSS_M = 20.0, 12.0


@dataclass(frozen=True)
class Promise:
    """What a leg must keep: heights and widths [m], speeds [m/s], the greatest rate of climb, the wind, bank [deg], and
    the speed at its start (None: flying)."""

    clearance_m: float
    error_m: float
    half_width_m: float
    end_half_width_m: float
    climb_speed_ms: float
    cruise_ms: float
    climb_ms: float
    descent_ms: float
    wind_ms: float
    bank_deg: float
    acceleration_ms2: float
    start_speed_ms: float | None
    start_above_m: float
    end_above_m: float
    # The rate of climb where it is least; None where it is the same everywhere.
    least_climb_ms: float | None = None


def climb_on_a_day(at_0_ms, ceiling_m, altitude_m, oat_at_0_c, qnh_hpa):
    """The rate of climb [m/s] that falls in a straight line to 100 ft/min at a ceiling in density altitude; by rules of
    thumb: 27 ft per hPa, 120 ft per kelvin above the standard (common practice, no source)."""
    pressure_m = altitude_m + 0.3048 * 27.0 * (1013.25 - qnh_hpa)
    warmer_k = (oat_at_0_c - 0.0065 * altitude_m) - (15.0 - 0.0065 * pressure_m)
    density_m = pressure_m + 0.3048 * 120.0 * warmer_k
    return at_0_ms + (0.508 - at_0_ms) * density_m / ceiling_m


def height_of(grid, east, north):
    """The raster's cell at places, NaN outside."""
    column = np.floor((np.asarray(east) - grid.west_m) / grid.cell_east_m).astype(int)
    row = np.floor((grid.north_m - np.asarray(north)) / grid.cell_north_m).astype(int)
    inside = (row >= 0) & (row < grid.values.shape[0]) & (column >= 0) & (column < grid.values.shape[1])
    found = grid.values[np.where(inside, row, 0), np.where(inside, column, 0)]
    return np.where(inside, found, np.nan)


def flown_m(leg, at):
    """The lower altitude at a place of the printed flight, also where it goes straight up or down."""
    along, height = np.array(leg.path_m).T
    return min(
        float(np.interp(at - 1e-3, along + 1e-9 * np.arange(len(along)), height)),
        float(np.interp(at + 1e-3, along + 1e-9 * np.arange(len(along)), height)),
    )


def _kept(leg, promise, at):
    """Whether the place is en route, and the half-width that counts there."""
    by_name = {part.name: part for part in leg.parts}
    whole = by_name.get("departure and approach")
    leaving = whole or by_name.get("departure")
    coming = whole or by_name.get("approach")
    widths = []
    if leaving is not None and at < leaving.to_m - 1e-6:
        widths.append(promise.end_half_width_m + 0.1 * at)
    if coming is not None and at > coming.from_m + 1e-6:
        widths.append(promise.end_half_width_m + 0.1 * (leg.distance_m - at))
    return not widths, min([*widths, promise.half_width_m])


def faults(leg, grid, obstacles, promise):
    """Every promise that the leg breaks, in words. obstacles: (shape, top [m]) pairs."""
    said = [*_too_long_parts(leg, promise), *_not_flyable(leg, promise)]
    plane = leg.route.length
    for at in np.arange(0.0, leg.distance_m, ALONG_M):
        here, ahead = (
            np.array(leg.route.interpolate(x * plane / leg.distance_m).coords[0]) for x in (at, at + 1.0)
        )
        unit = (ahead - here) / np.hypot(*(ahead - here))
        en_route, width = _kept(leg, promise, at)
        off = np.linspace(-width, width, 2 * int(width / ACROSS_M) + 1)
        east, north = here[0] + off * unit[1], here[1] - off * unit[0]
        kept = promise.clearance_m if en_route else promise.error_m
        over = flown_m(leg, at) - height_of(grid, east, north)
        if not np.all(over >= kept - WITHIN_M):
            said.append(f"{np.min(over):.1f} m over ground {at:.0f} m along, {kept:.1f} m promised")
        for shape, top in obstacles:
            if shape.distance(shapely.Point(here)) <= width and flown_m(leg, at) - top < kept - WITHIN_M:
                said.append(f"{flown_m(leg, at) - top:.1f} m over an obstacle {at:.0f} m along")
    for one in leg.circling:
        said += _circle_faults(leg, one, grid, obstacles, promise)
    return said


def _too_long_parts(leg, promise):
    """The parts at the ends are no longer than the clearance takes at the rates of the day, with the wind behind."""
    level_s = 0.0
    if promise.start_speed_ms is not None:
        level_s = (promise.climb_speed_ms - promise.start_speed_ms) / promise.acceleration_ms2
    least_ms = promise.climb_ms if promise.least_climb_ms is None else promise.least_climb_ms
    up_s = level_s + (promise.clearance_m - promise.start_above_m) / least_ms
    down_s = (promise.clearance_m - promise.end_above_m) / promise.descent_ms
    said = []
    for part in leg.parts:
        most = {
            "departure": up_s * (promise.climb_speed_ms + promise.wind_ms),
            "approach": down_s * (promise.cruise_ms + promise.wind_ms),
        }.get(part.name, math.inf)
        if part.to_m - part.from_m > most + 1.0:
            said.append(f"{part.name} of {part.to_m - part.from_m:.0f} m, at most {most:.0f} m")
    return said


def _not_flyable(leg, promise):
    """No rise steeper than the aircraft climbs, none before it has sped up, upright only where it circles (or by what
    half a second brings)."""
    said, circled = [], [one.at_m for one in leg.circling]
    slowest = max(promise.climb_speed_ms - promise.wind_ms, 1.0)
    for (at, low), (to, high) in pairwise(leg.path_m):
        upright = to - at < 0.05
        if (
            upright
            and high > low + 0.5 * promise.climb_ms + 0.2
            and min((abs(at - x) for x in circled), default=9.9) > 1
        ):
            said.append(f"rises {high - low:.1f} m upright {at:.0f} m along")
        if not upright and high - low > 0.2 + promise.climb_ms * (to - at) / slowest + 0.5 * promise.climb_ms:
            said.append(f"rises {high - low:.1f} m over {to - at:.0f} m")
    if promise.start_speed_ms is not None and not circled:
        takes_s = (promise.climb_speed_ms - promise.start_speed_ms) / promise.acceleration_ms2
        level_m = (
            0.5 * takes_s * (promise.start_speed_ms + promise.climb_speed_ms) - takes_s * promise.wind_ms
        )
        if (
            flown_m(leg, min(max(level_m, 0.0), leg.distance_m))
            > leg.path_m[0][1] + 0.5 * promise.climb_ms + 0.2
        ):
            said.append(f"has climbed {level_m:.0f} m along, before it has sped up")
    return said


def _circle_faults(leg, one, grid, obstacles, promise):
    said = []
    radius = (promise.climb_speed_ms + promise.wind_ms) ** 2 / (
        9.80665 * math.tan(math.radians(promise.bank_deg))
    )
    if one.radius_m < radius * (1.0 - 1e-6):
        said.append(f"circle of {one.radius_m:.0f} m, the bank allows {radius:.0f} m")
    place = leg.route.interpolate(one.at_m * leg.route.length / leg.distance_m)
    if abs(place.distance(one.middle) - one.radius_m) > 1.0:
        said.append("the circle does not touch the way")
    for above, end in (
        (promise.start_above_m, leg.route.coords[0]),
        (promise.end_above_m, leg.route.coords[-1]),
    ):
        if above > 0.0 and place.distance(shapely.Point(end)) < 0.5 * one.radius_m:
            said.append("circles over the drop")
    en_route, _ = _kept(leg, promise, one.at_m)
    kept, reach = (promise.clearance_m if en_route else promise.error_m), one.radius_m + promise.half_width_m
    off = np.arange(-reach, reach + 15.0, 15.0)
    x, y = np.meshgrid(off, off)
    disc = np.hypot(x, y) <= reach
    over = min(one.from_m, one.to_m) - height_of(grid, one.middle.x + x[disc], one.middle.y + y[disc])
    if not np.all(over >= kept - WITHIN_M):
        said.append(
            f"{np.min(over):.1f} m over ground below the circle at {one.at_m:.0f} m, {kept:.1f} m promised"
        )
    for shape, top in obstacles:
        if shape.distance(one.middle) <= reach and min(one.from_m, one.to_m) - top < kept - WITHIN_M:
            said.append(f"an obstacle {min(one.from_m, one.to_m) - top:.1f} m below the circle")
    return said
