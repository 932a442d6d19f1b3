"""How long a climb takes: at one constant rate, or at a rate that falls with density altitude."""

import math
from dataclasses import dataclass

import numpy as np

from geo.base.errors import BadArgument
from geo.flight.atmosphere import (
    HIGHEST_TEMPERATURE_C,
    LOWEST_TEMPERATURE_C,
    density_altitude_m,
    pressure_altitude_m,
    temperature_at_c,
)

STEP_M = 25.0
LOWEST_M, HIGHEST_M = -500.0, 9000.0
# Rate of climb left at the service ceiling: 100 ft/min, common practice, from memory.
CEILING_RATE_MS = 0.508


@dataclass(frozen=True, eq=False)
class ClimbClock:
    """Seconds of climb by height: height_m (n,) evenly spaced, seconds (n,) from the first; both rise.

    top_m: the highest altitude above sea level that can be climbed to on the day. fastest_ms: the greatest rate [m/s].
    """

    height_m: np.ndarray
    seconds: np.ndarray
    top_m: float
    fastest_ms: float

    def at(self, height_m: np.ndarray | float) -> np.ndarray:
        """Give the seconds at a height [m]; beyond the table by its end slopes (the ceiling is checked elsewhere)."""
        height = np.asarray(height_m, dtype=float)
        inside = np.interp(height, self.height_m, self.seconds)
        low, high = self.height_m[0], self.height_m[-1]
        if height.ndim == 0 and low <= height <= high:
            return inside
        first, last = np.diff(self.seconds[[0, 1, -2, -1]])[[0, 2]] / STEP_M
        return inside + np.minimum(height - low, 0.0) * first + np.maximum(height - high, 0.0) * last


Climb = float | ClimbClock


def climb_rate_ms(climb_ms: float, ceiling_m: float, density_altitude_m: np.ndarray | float) -> np.ndarray:
    """Give the rate of climb [m/s] at density altitudes [m]: linear from climb_ms at 0 to 100 ft/min at the ceiling.

    Notes: never above climb_ms, nor below what is left at the ceiling. The straight line is common practice for
    planning, from memory; the manual's own climb table is to be preferred.
    """
    least = min(CEILING_RATE_MS, climb_ms)
    share = np.clip(np.asarray(density_altitude_m, dtype=float) / ceiling_m, 0.0, 1.0)
    return climb_ms + (least - climb_ms) * share


def climb_gradient(climb_ms: float, ceiling_m: float, speed_ms: float, density_altitude_m: float) -> float:
    """Give the rise per metre of way of a climb in still air: the rate at a density altitude [m] over the part of the
    true airspeed [m/s] that lies along the ground."""
    rate_ms = float(climb_rate_ms(climb_ms, ceiling_m, density_altitude_m))
    return rate_ms / math.sqrt(max(speed_ms**2 - rate_ms**2, 1e-9))


def climb_clock(
    climb_ms: float, ceiling_m: float, oat_c: float, station_elevation_m: float, qnh_hpa: float
) -> ClimbClock:
    """Give the climb's clock on a day: the rate falls with density altitude.

    Parameters: climb_ms rate at density altitude 0 [m/s]; ceiling_m the aircraft's service ceiling, read as a density
    altitude [m]; oat_c [degC] at station_elevation_m [m]; qnh_hpa [hPa].
    Raises: BadArgument for values out of range, or when the ceiling lies below the lowest heights of the day.
    """
    if not (np.isfinite(climb_ms) and climb_ms > 0.0):
        raise BadArgument(f"climb_ms is {climb_ms}: it must be above 0. Fix: mend the profile")
    if not (np.isfinite(ceiling_m) and ceiling_m > 0.0):
        raise BadArgument(f"ceiling_m is {ceiling_m}: it must be above 0. Fix: mend the profile")
    height = np.arange(LOWEST_M, HIGHEST_M + STEP_M, STEP_M)
    # Far below or above the station the lapse rate leads out of the range of any air; no leg is flown there.
    temperature = np.clip(
        temperature_at_c(oat_c, station_elevation_m, height), LOWEST_TEMPERATURE_C, HIGHEST_TEMPERATURE_C
    )
    density_altitude = np.asarray(density_altitude_m(pressure_altitude_m(height, qnh_hpa), temperature))
    last = int(np.searchsorted(density_altitude, ceiling_m))
    if last < 2:
        raise BadArgument(
            f"ceiling_m is {ceiling_m:.0f} m of density altitude, which the day's air has at {height[0]:.0f} m. "
            "Fix: check the temperature and the pressure, or the profile's ceiling"
        )
    rate = climb_rate_ms(climb_ms, ceiling_m, density_altitude)
    seconds = np.concatenate(([0.0], np.cumsum(STEP_M * 0.5 * (1.0 / rate[1:] + 1.0 / rate[:-1]))))
    top = float(np.interp(ceiling_m, density_altitude, height))
    return ClimbClock(height[: last + 1], seconds[: last + 1], top, float(rate.max()))


def climb_seconds(climb: Climb, from_m: float, to_m: np.ndarray | float) -> np.ndarray:
    """Give the time [s] to climb from one height to others [m], negative where they lie below; climb: rate or clock."""
    if isinstance(climb, ClimbClock):
        return climb.at(to_m) - climb.at(from_m)
    return (np.asarray(to_m, dtype=float) - from_m) / climb


def climb_height(climb: Climb, from_m: float, seconds: np.ndarray | float) -> np.ndarray:
    """Give the height [m] reached from a height after seconds of climb: the inverse of `climb_seconds`.

    Notes: a clock gives no height above its last.
    """
    if isinstance(climb, ClimbClock):
        return np.interp(climb.at(from_m) + np.asarray(seconds), climb.seconds, climb.height_m)
    return from_m + climb * np.asarray(seconds, dtype=float)
