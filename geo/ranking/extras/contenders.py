"""The sources that compete for the first place, and how uncertain each fact of theirs is."""

from dataclasses import dataclass, replace

from geo.ranking.extras.retiming import WindLimits
from geo.records.aircraft import AircraftProfile
from geo.records.ranking import RankedSource

# One standard deviation of a profile's figure without a source: common practice, no source.
PROFILE_SPREADS = {
    "lift_fraction": 0.03,
    "burn_fraction": 0.05,
    "climb_fraction": 0.15,
    "cruise_fraction": 0.03,
}
_PROFILE_FIELDS = {
    "lift_fraction": (
        "hover_weight.weight_kg",
        "hover_payload.payload_kg",
        "low_speed_weight.weight_kg",
        "weight.gross_kg",
    ),
    "burn_fraction": ("fuel_burn_l_h",),
    "climb_fraction": ("climb_loaded_ms", "climb_empty_ms"),
    "cruise_fraction": ("cruise_loaded_ms", "cruise_empty_ms"),
}
_UNSOURCED = ("invented", "from memory", "no source")


@dataclass(frozen=True)
class Spread:
    """One standard deviation of each uncertain fact; all: common practice, no source.

    The wind's speed has the greater of its fraction and wind_speed_least_ms; times, burn, climb and cruise are
    log-normal round their figure. lift_fraction is a share of the whole weight that can be lifted. The figures of the
    aircraft vary for all sources together, and only where the profile names no source for them (`for_profile`).
    """

    wind_direction_deg: float = 15.0
    wind_speed_fraction: float = 0.2
    wind_speed_least_ms: float = 1.5
    fill_fraction: float = 0.15
    manoeuvre_fraction: float = 0.25
    lift_fraction: float = 0.0
    burn_fraction: float = 0.0
    climb_fraction: float = 0.0
    cruise_fraction: float = 0.0

    def for_profile(self, profile: AircraftProfile) -> "Spread":
        """Give this spread with that of the profile's figures whose source says "invented", "from memory" or "no
        source"."""
        unsure = {
            spread
            for name, source in profile.sources.items()
            for spread, fields in _PROFILE_FIELDS.items()
            if name in fields and any(words in source for words in _UNSOURCED)
        }
        return replace(self, **{spread: PROFILE_SPREADS[spread] for spread in unsure})

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
