"""The sources that compete for the first place, and how uncertain each fact of theirs is."""

from dataclasses import dataclass

from geo.ranking.extras.retiming import WindLimits
from geo.records.ranking import RankedSource


@dataclass(frozen=True)
class Spread:
    """One standard deviation of each uncertain fact; all: common practice, no source.

    The wind's speed has the greater of its fraction and wind_speed_least_ms; times are log-normal round their figure.
    """

    wind_direction_deg: float = 15.0
    wind_speed_fraction: float = 0.2
    wind_speed_least_ms: float = 1.5
    fill_fraction: float = 0.15
    manoeuvre_fraction: float = 0.25

    def wind_speed_ms(self, wind_ms: float) -> float:
        """Give the standard deviation of the wind's speed [m/s]."""
        return max(self.wind_speed_least_ms, self.wind_speed_fraction * wind_ms)


@dataclass(frozen=True, eq=False)
class Contender:
    """A ranked source with the chance [0-1] that it is deep enough, the depth needed, and the winds that it bears."""

    source: RankedSource
    depth_chance: float
    depth_required_m: float | None
    shallowest: str
    limits: WindLimits
