"""The day: weather as asked, and what it means at each source."""

import math
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from itertools import pairwise

import numpy as np

from geo.base.errors import BadArgument
from geo.base.grid import Grid
from geo.base.units import MS_PER_KNOT

# Height above the ground at which a surface wind is measured: the World Meteorological Organization's standard.
SURFACE_WIND_M = 10.0
UNIFORM_WIND = "the same everywhere and at every height"  # what the assumptions of an answer say of one wind
GREATEST_WIND_MS = 100.0
GREATEST_EXPONENT = 0.6


def _refuse(what: str, rule: str, fix: str) -> BadArgument:
    return BadArgument(f"{what}: {rule}. Fix: {fix}")


@dataclass(frozen=True)
class WindRow:
    """The wind at one height [m]: where it blows FROM [deg true], and its speed [m/s]."""

    height_m: float
    from_true_deg: float
    speed_ms: float


@dataclass(frozen=True)
class WindProfile:
    """A wind that changes by height: a power law's exponent (with the weather's wind at 10 m above the ground), or rows
    by rising height, above the ground (the weather's wind is then the row at 10 m) or above the vertical datum.

    Raises: BadArgument for neither or both, rows that do not rise, or a value out of range.
    """

    exponent: float | None = None
    rows: tuple[WindRow, ...] = ()
    above_ground: bool = True

    def __post_init__(self) -> None:
        if (self.exponent is None) == (not self.rows):
            raise _refuse("wind profile", "needs an exponent or rows", "give one of them, not both")
        if self.exponent is not None and not 0.0 <= self.exponent <= GREATEST_EXPONENT:
            raise _refuse(
                f"wind profile exponent {self.exponent}",
                f"must lie from 0 to {GREATEST_EXPONENT:g}",
                "0.14 is usual over open land",
            )
        _check_rows(self.rows, [SURFACE_WIND_M] if self.rows and self.above_ground else [])


def _check_rows(rows: tuple[WindRow, ...], below_m: list[float]) -> None:
    heights = [*below_m, *(row.height_m for row in rows)]
    if not all(low < high for low, high in pairwise(heights)):
        raise _refuse(
            f"wind profile heights {', '.join(f'{height:g}' for height in heights)} m",
            "must rise from row to row (above the ground the first, 10 m, is the wind asked with)",
            "sort the rows, and leave out those at 10 m above the ground or less",
        )
    for row in rows:
        values = row.height_m, row.from_true_deg, row.speed_ms
        if not all(map(math.isfinite, values)) or not 0.0 <= row.speed_ms <= GREATEST_WIND_MS:
            raise _refuse(
                f"wind profile row {values}",
                f"needs finite numbers and a speed from 0 to {GREATEST_WIND_MS:g} m/s",
                "check the units",
            )


@dataclass(frozen=True, eq=False)
class WindField:
    """Winds by place, the same at every height: two grids of the region's plane with the parts that blow TOWARDS true
    east and true north [m/s], NaN where unknown. sha256 is that of the file."""

    origin: str
    sha256: str
    east: Grid = field(repr=False, metadata={"in_documents": False})
    north: Grid = field(repr=False, metadata={"in_documents": False})

    @cached_property
    def greatest_ms(self) -> float:
        """The greatest speed of a cell [m/s]."""
        return float(np.nanmax(np.hypot(self.east.values, self.north.values)))


@dataclass(frozen=True)
class WindReport:
    """A wind as it was reported: where it blows FROM [deg], magnetic or true, its mean and gust [m/s] (None: no gusts
    reported), and whether its direction varies."""

    from_deg: float
    speed_ms: float
    gust_ms: float | None = None
    variable: bool = False
    magnetic: bool = False


@dataclass(frozen=True)
class Weather:
    """Wind is where it blows FROM, degrees true, at flying height. The temperature holds at station_elevation_m and
    falls by 6.5 K/km above it (ISO 2533 lapse); station names the place where it was read, "" where a height was given.
    qnh_hpa is the pressure reduced to sea level.

    gust_ms is the speed of the gusts, None where none are reported. Where wind_variable, the direction is unknown:
    fills take it as tail and crosswind at once, legs as head wind both ways.
    magnetic_day is the day of magnetic headings where no day was asked for: whoever knows today's date sets it.

    With wind_profile or wind_field the legs are flown in that wind, and wind_from_true_deg and wind_ms are the wind at
    the waters, 10 m above them, which counts for filling.

    Raises: BadArgument for a profile together with a field, or a gust below the mean wind.
    """

    wind_from_true_deg: float
    wind_ms: float
    oat_c: float
    qnh_hpa: float
    station_elevation_m: float
    day: date | None = None
    wind_profile: WindProfile | None = None
    wind_field: WindField | None = None
    station: str = ""
    magnetic_day: date | None = None
    gust_ms: float | None = None
    wind_variable: bool = False

    def __post_init__(self) -> None:
        if self.wind_profile is not None and self.wind_field is not None:
            raise _refuse("wind", "a profile by height and a field were both given", "give one of them")
        if self.gust_ms is not None and not self.wind_ms <= self.gust_ms <= GREATEST_WIND_MS:
            raise _refuse(
                f"gust of {self.gust_ms:.1f} m/s",
                f"must not lie below the mean of {self.wind_ms:.1f} m/s",
                "check both",
            )

    @property
    def gust_words(self) -> str:
        """What is to be said of a wind beside direction and speed, beginning with a comma; "" where nothing is."""
        words = "" if self.gust_ms is None else f", gusts {self.gust_ms / MS_PER_KNOT:.0f} kt"
        return words + (", direction variable" if self.wind_variable else "")

    @property
    def compass_day(self) -> date | None:
        """The day for which headings are magnetic, None: nobody said any."""
        return self.day if self.day is not None else self.magnetic_day

    @property
    def read_at(self) -> str:
        """Where the temperature was read, for a reader of SI."""
        height = f"{self.station_elevation_m:.0f} m"
        return f"{height} ({self.station})" if self.station else height


@dataclass(frozen=True)
class SourceConditions:
    """The air at one source. wind_from_grid_deg is the same wind against the region's grid north there.

    liftable_kg, scoop_kg and gross_kg are the water [kg] that can be carried with full fuel by the power in the hover,
    by the power at the speed of the scoop (None: as in the hover) and by the greatest weight (None: not limited);
    scoop_by and gross_by name these limits. fuel_gain_kg_l: how much more for each litre of fuel burned, 0 where fuel
    is not weighed. weight_notes say what was not weighed. climb_gradient_loaded, climb_gradient_empty: rise per metre
    of way of a climb from the water in still air; None where its height is unknown. variation_deg: magnetic variation
    on the day, east positive, None where unknown."""

    elevation_m: float | None
    pressure_altitude_m: float | None
    density_altitude_m: float | None
    temperature_c: float | None
    wind_from_true_deg: float
    wind_from_grid_deg: float
    wind_ms: float
    liftable_kg: float | None
    water_density_kg_l: float
    reason: str
    climb_gradient_loaded: float | None = None
    climb_gradient_empty: float | None = None
    scoop_kg: float | None = None
    scoop_by: str = "hover payload"
    gross_kg: float | None = None
    gross_by: str = "gross weight"
    fuel_gain_kg_l: float = 0.0
    weight_notes: tuple[str, ...] = ()
    variation_deg: float | None = None
    gust_ms: float | None = None
    wind_variable: bool = False
