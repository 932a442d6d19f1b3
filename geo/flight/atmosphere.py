"""The International Standard Atmosphere and what a day's pressure and temperature make of it.

Heights are geopotential metres (below 5 km they differ from geometric metres by less than 0.1 %). Air is dry: humid
air is lighter, so the true density altitude of a humid day is somewhat above the value given here.
"""

import numpy as np

from geo.base.errors import BadArgument
from geo.base.units import CELSIUS_ZERO_K, STANDARD_GRAVITY_MS2

Number = float | np.ndarray

# ISO 2533:1975 (same as ICAO Doc 7488), primary constants.
SEA_LEVEL_PRESSURE_PA = 101325.0
SEA_LEVEL_TEMPERATURE_K = 288.15
GAS_CONSTANT_J_KGK = 287.05287
LAPSE_K_M = 0.0065
TROPOPAUSE_M = 11000.0
HIGHEST_M = 20000.0
LOWEST_M = -5000.0

# Derived.
SEA_LEVEL_DENSITY_KG_M3 = SEA_LEVEL_PRESSURE_PA / (GAS_CONSTANT_J_KGK * SEA_LEVEL_TEMPERATURE_K)
PRESSURE_EXPONENT = STANDARD_GRAVITY_MS2 / (GAS_CONSTANT_J_KGK * LAPSE_K_M)  # 5.255876
TROPOPAUSE_TEMPERATURE_K = SEA_LEVEL_TEMPERATURE_K - LAPSE_K_M * TROPOPAUSE_M
SCALE_HEIGHT_M = GAS_CONSTANT_J_KGK * TROPOPAUSE_TEMPERATURE_K / STANDARD_GRAVITY_MS2

LOWEST_TEMPERATURE_C, HIGHEST_TEMPERATURE_C = -60.0, 60.0
LOWEST_QNH_HPA, HIGHEST_QNH_HPA = 850.0, 1100.0


_UNITS = {"m": "m", "c": "degC", "hpa": "hPa"}
# What a number out of range looks like: from, to, and what to do about it.
_LIKE_TEMPERATURE = (
    (
        HIGHEST_TEMPERATURE_C,
        np.inf,
        "it looks like Fahrenheit (or kelvin); give degrees Celsius, or write the unit",
    ),
    (-np.inf, LOWEST_TEMPERATURE_C, "give degrees Celsius; no surface air at a fire is that cold"),
)
_LIKE_PRESSURE = (
    (25.0, 33.0, "it looks like inches of mercury (inHg); give hectopascal, or write the unit"),
    (85.0, 110.0, "it looks like kilopascal; give hectopascal (ten times the number)"),
    (85000.0, 110000.0, "it looks like pascal; give hectopascal (a hundredth of the number)"),
    (
        600.0,
        LOWEST_QNH_HPA,
        "it looks like station pressure (QFE) or millimetres of mercury; give QNH in hectopascal",
    ),
)


def _within(
    name: str, value: Number, lowest: float, highest: float, fix: str, looks_like: tuple = ()
) -> Number:
    if isinstance(value, float) and lowest <= value <= highest:  # NaN fails both
        return value
    array = np.asarray(value, dtype=float)
    wrong = array[(array < lowest) | (array > highest)]
    if np.all(np.isfinite(array)) and not wrong.size:
        return array
    fix = next((text for low, high, text in looks_like if np.any((wrong >= low) & (wrong <= high))), fix)
    unit = _UNITS[name.rsplit("_", 1)[1]]
    raise BadArgument(
        f"{name} is {value} {unit}: it must lie from {lowest:g} to {highest:g} {unit}. Fix: {fix}"
    )


def _height(name: str, value: Number, highest: float = HIGHEST_M) -> Number:
    return _within(name, value, LOWEST_M, highest, "give a height in metres above sea level")


def _temperature(name: str, value: Number) -> Number:
    fix = "give a finite temperature in degrees Celsius"
    return _within(name, value, LOWEST_TEMPERATURE_C, HIGHEST_TEMPERATURE_C, fix, _LIKE_TEMPERATURE)


def _qnh(value: Number) -> Number:
    fix = "give the pressure reduced to sea level (QNH) in hectopascal"
    return _within("qnh_hpa", value, LOWEST_QNH_HPA, HIGHEST_QNH_HPA, fix, _LIKE_PRESSURE)


def _plain(array: Number) -> Number:
    return float(array) if np.ndim(array) == 0 else array


def isa_temperature_k(height_m: Number) -> Number:
    """Give the standard temperature [K] at a geopotential height [m], -5,000 to 20,000 m.

    Raises: BadArgument outside that range.
    References: ISO 2533:1975; -6.5 K/km up to 11 km, 216.65 K above.
    """
    height = _height("height_m", height_m)
    return _plain(SEA_LEVEL_TEMPERATURE_K - LAPSE_K_M * np.minimum(height, TROPOPAUSE_M))


def isa_pressure_pa(height_m: Number) -> Number:
    """Give the standard pressure [Pa] at a geopotential height [m], -5,000 to 20,000 m.

    Raises: BadArgument outside that range.
    Notes: p = p0 (T/T0)^(g/(R L)) to 11 km, then exponential with the scale height R T / g.
    References: ISO 2533:1975.
    """
    height = _height("height_m", height_m)
    ratio = np.asarray(isa_temperature_k(height)) / SEA_LEVEL_TEMPERATURE_K
    above = np.maximum(height - TROPOPAUSE_M, 0.0)
    return _plain(SEA_LEVEL_PRESSURE_PA * ratio**PRESSURE_EXPONENT * np.exp(-above / SCALE_HEIGHT_M))


def pressure_altitude_m(elevation_m: Number, qnh_hpa: Number) -> Number:
    """Give the pressure altitude [m] of a place [m above sea level] on a day with a QNH [hPa].

    Raises: BadArgument outside -5,000..11,000 m or 850..1,100 hPa (says when the number looks like another unit).
    Notes: an altimeter set to QNH reads the elevation, so PA = elevation + (T0/L)(1 - (QNH/p0)^(RL/g)); exact in the
    standard atmosphere below 11 km. The common form 145,366.45 ft (1 - (QNH/1013.25)^0.190284) differs by under 1 ft.
    """
    elevation = _height("elevation_m", elevation_m, TROPOPAUSE_M)
    ratio = _qnh(qnh_hpa) * 100.0 / SEA_LEVEL_PRESSURE_PA
    shift = SEA_LEVEL_TEMPERATURE_K / LAPSE_K_M * (1.0 - ratio ** (1.0 / PRESSURE_EXPONENT))
    return _plain(elevation + shift)


def density_altitude_m(pressure_altitude_m: Number, temperature_c: Number) -> Number:
    """Give the density altitude [m]: the height at which the standard atmosphere is as thin as this air.

    Parameters: pressure_altitude_m -5,000..11,000 m; temperature_c outside air -60..60 degC.
    Raises: BadArgument outside these ranges (says when the temperature looks like Fahrenheit).
    Notes: rho = p(PA) / (R T); DA = (T0/L)(1 - (rho/rho0)^(1/(g/(RL) - 1))). Exact for dry air; the rule of thumb
    "120 ft per degree above standard" reads up to 120 ft more on hot days.
    References: FAA-P-8740-2 (2008) for the definition; ISO 2533:1975.
    """
    altitude = _height("pressure_altitude_m", pressure_altitude_m, TROPOPAUSE_M)
    kelvin = _temperature("temperature_c", temperature_c) + CELSIUS_ZERO_K
    density = np.asarray(isa_pressure_pa(altitude)) / (GAS_CONSTANT_J_KGK * kelvin)
    ratio = (density / SEA_LEVEL_DENSITY_KG_M3) ** (1.0 / (PRESSURE_EXPONENT - 1.0))
    return _plain(SEA_LEVEL_TEMPERATURE_K / LAPSE_K_M * (1.0 - ratio))


def temperature_at_c(oat_c: Number, station_elevation_m: Number, elevation_m: Number) -> Number:
    """Give the air temperature [degC] at a height, from one measured at a station, by 6.5 K/km (ISO 2533 lapse).

    Raises: BadArgument for a temperature outside -60..60 degC or a height outside -5,000..11,000 m.
    """
    oat = _temperature("oat_c", oat_c)
    station = _height("station_elevation_m", station_elevation_m, TROPOPAUSE_M)
    return _plain(oat - LAPSE_K_M * (_height("elevation_m", elevation_m, TROPOPAUSE_M) - station))
