"""The day: weather as asked, and what it means at each source."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Weather:
    """Wind is where it blows FROM, degrees true, at flying height. The temperature holds at station_elevation_m and
    falls by 6.5 K/km above it (ISO 2533 lapse). qnh_hpa is the pressure reduced to sea level."""

    wind_from_true_deg: float
    wind_ms: float
    oat_c: float
    qnh_hpa: float
    station_elevation_m: float
    day: date | None = None


@dataclass(frozen=True)
class SourceConditions:
    """The air at one source. wind_from_grid_deg is the same wind against the region's grid north there."""

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
