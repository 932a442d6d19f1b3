"""Winds that change by height (a power law, or a table of winds aloft) or by place (a grid of u and v).

Winds are interpolated by their parts towards east and north, never by direction, so that a turn through north is no
jump. The wind of a piece of a leg is that at the altitude and place where the aircraft flies it. Unknown is NaN here,
and a leg that meets it is refused; it never counts as calm.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from geo.base.wind import blow_of
from geo.records.conditions import SURFACE_WIND_M, UNIFORM_WIND, Weather, WindField, WindProfile

# The power law describes the layer of air next to the ground; above this height the wind stays (common practice, no
# source: the law is used for the lowest few hundred metres).
POWER_LAW_TOP_M = 600.0


class Nodes(NamedTuple):
    """Places in the air, arrays of one shape [m]: easting, northing, altitude, and the ground below, NaN unknown."""

    east_m: np.ndarray
    north_m: np.ndarray
    altitude_m: np.ndarray
    ground_m: np.ndarray


# Each wind below says what it depends on (by_height, above_ground), the speed greatest_ms that is nowhere exceeded, and
# by blow_ms where it blows TO at nodes: parts towards true east and true north [m/s], NaN where unknown.


@dataclass(frozen=True, eq=False)
class PowerLaw:
    """v(h) = v10 (h / 10 m)^exponent with h above the ground, from 10 m up to POWER_LAW_TOP_M; constant beyond."""

    from_true_deg: float
    surface_ms: float
    exponent: float
    by_height: bool = True
    above_ground: bool = True

    @property
    def greatest_ms(self) -> float:
        """The speed at the top [m/s]."""
        return self.surface_ms * (POWER_LAW_TOP_M / SURFACE_WIND_M) ** self.exponent

    def blow_ms(self, nodes: Nodes) -> tuple[np.ndarray, np.ndarray]:
        """The surface wind's direction with the speed of each height."""
        height = np.clip(nodes.altitude_m - nodes.ground_m, SURFACE_WIND_M, POWER_LAW_TOP_M)
        speed = self.surface_ms * (height / SURFACE_WIND_M) ** self.exponent
        east, north = blow_of(self.from_true_deg, speed)
        return np.asarray(east), np.asarray(north)


@dataclass(frozen=True, eq=False)
class HeightTable:
    """Winds aloft at rising heights (n,) [m], linear in their parts between; the end rows hold beyond both ends."""

    height_m: np.ndarray
    east_ms: np.ndarray
    north_ms: np.ndarray
    above_ground: bool
    by_height: bool = True

    @property
    def greatest_ms(self) -> float:
        """The greatest speed of a row: between rows the straight line is never longer [m/s]."""
        return float(np.hypot(self.east_ms, self.north_ms).max())

    def blow_ms(self, nodes: Nodes) -> tuple[np.ndarray, np.ndarray]:
        """The wind of each height, unknown where the height is."""
        height = nodes.altitude_m - nodes.ground_m if self.above_ground else nodes.altitude_m
        known = np.isfinite(height)
        parts = (np.interp(height, self.height_m, part) for part in (self.east_ms, self.north_ms))
        east, north = (np.where(known, part, np.nan) for part in parts)
        return east, north


@dataclass(frozen=True, eq=False)
class FieldWinds:
    """A wind field, bilinear between cell centres, at every height the same; unknown in its holes and beyond it."""

    field: WindField
    by_height: bool = False
    above_ground: bool = False

    @property
    def greatest_ms(self) -> float:
        """The greatest speed of a cell [m/s]."""
        return self.field.greatest_ms

    def blow_ms(self, nodes: Nodes) -> tuple[np.ndarray, np.ndarray]:
        """The wind of each place."""
        place = nodes.east_m, nodes.north_m
        return self.field.east.bilinear(*place), self.field.north.bilinear(*place)


Winds = PowerLaw | HeightTable | FieldWinds


def _table(profile: WindProfile, weather: Weather) -> HeightTable:
    rows = [(row.height_m, row.from_true_deg, row.speed_ms) for row in profile.rows]
    if profile.above_ground:
        rows.insert(0, (SURFACE_WIND_M, weather.wind_from_true_deg, weather.wind_ms))
    height, source, speed = np.array(rows, dtype=float).T
    east, north = map(np.asarray, blow_of(source, speed))
    return HeightTable(height, east, north, profile.above_ground)


def wind_words(weather: Weather) -> str:
    """Say which wind the legs are flown in."""
    at_waters = "; at the waters the wind asked with holds; detours are sought in the wind of one place"
    if weather.wind_field is not None:
        field = weather.wind_field
        return f"the field of {field.origin}, up to {field.greatest_ms:.1f} m/s, the same at every height{at_waters}"
    profile = weather.wind_profile
    if profile is None:
        return UNIFORM_WIND
    if profile.exponent is not None:
        law = f"grows as (height above the ground / 10 m)^{profile.exponent:g} up to {POWER_LAW_TOP_M:.0f} m"
        return f"{law} and stays above (power law of the surface layer){at_waters}"
    above = "the ground" if profile.above_ground else "the vertical datum"
    rows = ", ".join(
        f"{row.height_m:.0f} m {row.from_true_deg:03.0f}/{row.speed_ms:.1f} m/s" for row in profile.rows
    )
    return (
        f"by height above {above}: {rows}, interpolated linearly in u and v, the end rows beyond{at_waters}"
    )


def winds_of(weather: Weather) -> Winds | None:
    """Give the changing wind of the day's weather; None where the wind is the same everywhere and at every height."""
    if weather.wind_field is not None:
        return FieldWinds(weather.wind_field)
    profile = weather.wind_profile
    if profile is None:
        return None
    if profile.exponent is not None:
        return PowerLaw(weather.wind_from_true_deg, weather.wind_ms, profile.exponent)
    return _table(profile, weather)
