"""The International Standard Atmosphere and what a day's pressure and temperature make of it.

Heights are geopotential metres (below 5 km they differ from geometric metres by less than 0.1 %). Air is dry: humid
air is lighter, so the true density altitude of a humid day is somewhat above the value given here.
"""

import numpy as np

from geo.base.errors import BadArgument
from geo.base.units import CELSIUS_ZERO_K, HPA_PER_INHG, STANDARD_GRAVITY_MS2

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
TROPOPAUSE_PRESSURE_PA = (
    SEA_LEVEL_PRESSURE_PA * (TROPOPAUSE_TEMPERATURE_K / SEA_LEVEL_TEMPERATURE_K) ** PRESSURE_EXPONENT
)
SCALE_HEIGHT_M = GAS_CONSTANT_J_KGK * TROPOPAUSE_TEMPERATURE_K / STANDARD_GRAVITY_MS2

LOWEST_TEMPERATURE_C, HIGHEST_TEMPERATURE_C = -60.0, 60.0
LOWEST_QNH_HPA, HIGHEST_QNH_HPA = 850.0, 1100.0


def _within(name: str, value: Number, lowest: float, highest: float, unit: str, cure: str) -> Number:
    if isinstance(value, float) and lowest <= value <= highest:  # NaN fails both
        return value
    array = np.asarray(value, dtype=float)
    if not np.all(np.isfinite(array)) or np.any(array < lowest) or np.any(array > highest):
        raise BadArgument(
            f"{name} is {value} {unit}: it must lie from {lowest:g} to {highest:g} {unit}. Fix: {cure}"
        )
    return array


def _height(name: str, value: Number, highest: float = HIGHEST_M) -> Number:
    return _within(name, value, LOWEST_M, highest, "m", "give a height in metres above sea level")


def _temperature(name: str, value: Number) -> Number:
    if isinstance(value, float) and LOWEST_TEMPERATURE_C <= value <= HIGHEST_TEMPERATURE_C:
        return value
    cure = "give a finite temperature in degrees Celsius"
    known = np.asarray(value, dtype=float)
    if np.any(known > HIGHEST_TEMPERATURE_C):
        cure = "it looks like Fahrenheit (or kelvin); give degrees Celsius, or write the unit"
    elif np.any(known < LOWEST_TEMPERATURE_C):
        cure = "give degrees Celsius; no surface air at a fire is that cold"
    return _within(name, value, LOWEST_TEMPERATURE_C, HIGHEST_TEMPERATURE_C, "degC", cure)


def _qnh(value: Number) -> Number:
    if isinstance(value, float) and LOWEST_QNH_HPA <= value <= HIGHEST_QNH_HPA:
        return value
    cure = "give the pressure reduced to sea level (QNH) in hectopascal"
    known = np.asarray(value, dtype=float)
    if np.any((known >= 25.0) & (known <= 33.0)):
        cure = "it looks like inches of mercury (inHg); give hectopascal, or write the unit"
    elif np.any((known >= 85.0) & (known <= 110.0)):
        cure = "it looks like kilopascal; give hectopascal (ten times the number)"
    elif np.any((known >= 85000.0) & (known <= 110000.0)):
        cure = "it looks like pascal; give hectopascal (a hundredth of the number)"
    elif np.any((known >= 600.0) & (known < LOWEST_QNH_HPA)):
        cure = "it looks like station pressure (QFE) or millimetres of mercury; give QNH in hectopascal"
    return _within("qnh_hpa", value, LOWEST_QNH_HPA, HIGHEST_QNH_HPA, "hPa", cure)


def _plain(array: np.ndarray) -> Number:
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


def isa_density_kg_m3(height_m: Number) -> Number:
    """Give the standard density [kg/m3] at a geopotential height [m]: p / (R T). Raises as `isa_pressure_pa`."""
    return _plain(
        np.asarray(isa_pressure_pa(height_m)) / (GAS_CONSTANT_J_KGK * np.asarray(isa_temperature_k(height_m)))
    )


def isa_height_m(pressure_pa: Number) -> Number:
    """Give the height [m] at which the standard atmosphere has a pressure [Pa]: the inverse of `isa_pressure_pa`.

    Raises: BadArgument for a pressure not met between -5,000 and 20,000 m.
    """
    lowest, highest = float(isa_pressure_pa(HIGHEST_M)), float(isa_pressure_pa(LOWEST_M))
    pressure = _within("pressure_pa", pressure_pa, lowest, highest, "Pa", "give a static pressure in pascal")
    below = SEA_LEVEL_TEMPERATURE_K / LAPSE_K_M
    low = below * (1.0 - (pressure / SEA_LEVEL_PRESSURE_PA) ** (1.0 / PRESSURE_EXPONENT))
    high = TROPOPAUSE_M - SCALE_HEIGHT_M * np.log(pressure / TROPOPAUSE_PRESSURE_PA)
    return _plain(np.where(pressure >= TROPOPAUSE_PRESSURE_PA, low, high))


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


def qnh_from_inhg(qnh_inhg: Number) -> Number:
    """Give QNH [hPa] from inches of mercury. Raises: BadArgument outside 25.1..32.48 inHg (850..1,100 hPa)."""
    lowest, highest = LOWEST_QNH_HPA / HPA_PER_INHG, HIGHEST_QNH_HPA / HPA_PER_INHG
    return _plain(
        _within("qnh_inhg", qnh_inhg, lowest, highest, "inHg", "give inches of mercury") * HPA_PER_INHG
    )


def celsius_from_fahrenheit(temperature_f: Number) -> Number:
    """Give degrees Celsius from Fahrenheit. Raises: BadArgument outside -76..140 degF (-60..60 degC)."""
    cure = "give a finite temperature in degrees Fahrenheit"
    return _plain((_within("temperature_f", temperature_f, -76.0, 140.0, "degF", cure) - 32.0) / 1.8)
