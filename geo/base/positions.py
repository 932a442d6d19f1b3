"""Positions, distances and bearings as crews say them: decimal minutes, nautical miles, true and magnetic."""

import math
import threading
from datetime import date
from functools import lru_cache

from pygeomag import GeoMag
from pyproj import Transformer

from geo.base.errors import BadArgument
from geo.base.units import METRE_PER_FOOT, METRE_PER_NAUTICAL_MILE, MS_PER_KNOT

MODEL_FIRST_YEAR = 2025.0
MODEL_LAST_YEAR = 2030.0
NOT_VALID = "magnetic model not valid on that date"
# H below 2000 nT: the model's publisher calls a compass unreliable there (WMM2025 report, blackout zone).
LEAST_HORIZONTAL_NT = 2000.0
_models = threading.local()


def degrees_minutes(longitude_deg: float, latitude_deg: float, decimals: int = 3) -> str:
    """Give a position as degrees and decimal minutes, latitude first: 44°21.345'S 172°12.001'E.

    Parameters: longitude_deg in [-180, 180], latitude_deg in [-90, 90] (WGS 84); decimals of a minute, 0 to 6.
    Returns: text; three decimals are 1.9 m or better. Minutes never read 60: they carry into the degrees.

    Raises: BadArgument for a number out of range or not finite.

    Notes: what rounds to zero is N or E; longitude -180 reads 180°W and +180 reads 180°E, the same meridian.
    """
    if not 0 <= decimals <= 6:
        raise BadArgument(f"decimals of a minute {decimals}: must be 0 to 6; use 3")
    latitude = _angle(latitude_deg, 90.0, 2, decimals, "latitude", "NS")
    return f"{latitude} {_angle(longitude_deg, 180.0, 3, decimals, 'longitude', 'EW')}"


def _angle(value_deg: float, limit_deg: float, digits: int, decimals: int, what: str, letters: str) -> str:
    if not (math.isfinite(value_deg) and abs(value_deg) <= limit_deg):
        raise BadArgument(
            f"{what} {value_deg} deg: must be between -{limit_deg:g} and {limit_deg:g}; check that longitude and "
            "latitude are not swapped and that the numbers are degrees"
        )
    # Whole units of the last decimal first, so that rounding can only carry, never print 60.000 minutes.
    steps = 10**decimals
    total = round(abs(value_deg) * 60 * steps)
    degrees, rest = divmod(total, 60 * steps)
    letter = letters[1] if value_deg < 0 and total > 0 else letters[0]
    minutes, fraction = divmod(rest, steps)
    point = f".{fraction:0{decimals}d}" if decimals > 0 else ""
    return f"{degrees:0{digits}d}°{minutes:02d}{point}'{letter}"


def decimal_degrees(longitude_deg: float, latitude_deg: float) -> str:
    """Give a position as decimal degrees, latitude first: -44.35575 172.20002; five decimals are 1.1 m or better."""
    degrees_minutes(longitude_deg, latitude_deg)
    return f"{latitude_deg:.5f} {longitude_deg:.5f}"


def utm_text(longitude_deg: float, latitude_deg: float) -> str:
    """Give a position in its UTM zone to the metre: 59 south 436250 E 5088364 N; nothing in UTM beyond 80 S and 84 N.

    References: zones of 6 degrees from 180 W (NGA.SIG.0012, 2014, section 7); the projection is PROJ's.
    """
    degrees_minutes(longitude_deg, latitude_deg)
    if not -80.0 <= latitude_deg <= 84.0:
        return "outside UTM"
    zone = int((longitude_deg + 180.0) // 6.0) % 60 + 1
    east, north = _utm(zone, latitude_deg < 0.0).transform(longitude_deg, latitude_deg)
    return f"{zone} {'south' if latitude_deg < 0.0 else 'north'} {east:.0f} E {north:.0f} N"


@lru_cache(maxsize=16)
def _utm(zone: int, south: bool) -> Transformer:
    return Transformer.from_crs("EPSG:4326", f"EPSG:{(32700 if south else 32600) + zone}", always_xy=True)


def nautical_miles(distance_m: float) -> float:
    """Give a distance in international nautical miles (1852 m)."""
    return distance_m / METRE_PER_NAUTICAL_MILE


def knots(speed_ms: float) -> float:
    """Give a speed in knots."""
    return speed_ms / MS_PER_KNOT


def feet(height_m: float) -> float:
    """Give a height in international feet (0.3048 m)."""
    return height_m / METRE_PER_FOOT


def decimal_year(day: date) -> float:
    """Give a day as a year with its fraction: days since 1 January over the days of that year."""
    start = date(day.year, 1, 1)
    return day.year + (day - start).days / (date(day.year + 1, 1, 1) - start).days


def magnetic_variation_deg(
    longitude_deg: float, latitude_deg: float, day: date | None, elevation_m: float | None = None
) -> float:
    """Give the magnetic variation (declination) [deg, east positive] by the World Magnetic Model 2025.

    Parameters: position in degrees (WGS 84); day of the flight; elevation_m above mean sea level, None is taken
    as 0 (1000 m change the variation by some thousandths of a degree).

    Raises: BadArgument without a day, outside 2025-01-01 to 2029-12-31 (with the words of NOT_VALID), for a position
    out of range, and where the horizontal field is under 2000 nT.

    References: NOAA NCEI and British Geological Survey, The US/UK World Magnetic Model for 2025-2030 (2024);
    valid 2025.0 to 2030.0. Stated global uncertainty of the variation: sqrt(0.26^2 + (5417/H)^2) deg, H in nT.
    """
    if day is None:
        raise BadArgument("no date given: magnetic bearings need the day of the flight; give the day")
    degrees_minutes(longitude_deg, latitude_deg)
    return _variation_deg(longitude_deg, latitude_deg, decimal_year(day), (elevation_m or 0.0) / 1000.0)


def _variation_deg(longitude_deg: float, latitude_deg: float, year: float, elevation_km: float) -> float:
    if not MODEL_FIRST_YEAR <= year < MODEL_LAST_YEAR:
        raise BadArgument(
            f"{NOT_VALID}: {year:.2f} is outside {MODEL_FIRST_YEAR:.1f} to {MODEL_LAST_YEAR:.1f}; use true bearings or "
            "install the next model"
        )
    # The library keeps work arrays on the object: one per thread, or two threads spoil each other's figures.
    if not hasattr(_models, "model"):
        _models.model = GeoMag(coefficients_file="wmm/WMM_2025.COF")
    field = _models.model.calculate(glat=latitude_deg, glon=longitude_deg, alt=elevation_km, time=year)
    if field.h < LEAST_HORIZONTAL_NT:
        raise BadArgument(
            f"magnetic variation at {latitude_deg:.3f}, {longitude_deg:.3f}: field {field.h:.0f} nT is below "
            f"{LEAST_HORIZONTAL_NT:.0f} nT, a compass is not reliable there; use true bearings"
        )
    return float(field.d)


def magnetic_bearing_deg(bearing_true_deg: float, variation_deg: float) -> float:
    """Give a magnetic bearing [deg, 0 to 360]: true minus variation, east positive ("east is least")."""
    return (bearing_true_deg - variation_deg) % 360.0


def bearing_text(bearing_deg: float, reference: str = "T") -> str:
    """Give a bearing as three figures with its reference, north as 360: 007°T, 360°M.

    Raises: BadArgument for one that is not finite.
    """
    if not math.isfinite(bearing_deg):
        raise BadArgument(f"bearing {bearing_deg}: must be a finite number of degrees")
    return f"{(round(bearing_deg) - 1) % 360 + 1:03d}°{reference}"


def true_and_magnetic(true_deg: float, variation_deg: float | None) -> str:
    """Give a bearing as three figures, true and, where the variation is known, magnetic: 090°T 067°M."""
    if variation_deg is None:
        return bearing_text(true_deg)
    return f"{bearing_text(true_deg)} {bearing_text(magnetic_bearing_deg(true_deg, variation_deg), 'M')}"


def duration_text(seconds: float) -> str:
    """Give a time as minutes and seconds, 7:05, or hours, minutes and seconds, 1:02:03."""
    total = round(seconds)
    hours, rest = divmod(total, 3600)
    minutes, second = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{second:02d}" if hours else f"{minutes}:{second:02d}"
