"""An aircraft profile: plain class names, every value with its source, all in SI and litres."""

from dataclasses import dataclass, field
from typing import Literal

from geo.records.extras import EndOfDay

FillMethod = Literal["ram_intake", "hover_pump", "bucket_dip"]
METHOD_NAMES: dict[str, str] = {
    "ram_intake": "ram intake",
    "hover_pump": "hover pump",
    "bucket_dip": "bucket dip",
}


@dataclass(frozen=True)
class RamIntake:
    """Filling through a scoop dragged through the water. fill_time_s is for a full tank at speed_ms over the water.

    approach_slope, climb_out_slope, surface_divergence: the surfaces that must be clear behind the touch-down and ahead
    of the lift-off; None takes those of the survey (a published heliport surface unless the region says another).
    """

    fill_time_s: float
    speed_ms: float
    entry_m: float
    exit_m: float
    depth_m: float
    depth_probability: float
    width_m: float
    least_load_fraction: float
    crosswind_limit_ms: float
    tailwind_limit_ms: float
    wind_limit_ms: float
    approach_slope: float | None = None
    climb_out_slope: float | None = None
    surface_divergence: float | None = None
    gust_spread_limit_ms: float | None = None
    wave_limit_m: float | None = None

    @property
    def full_run_m(self) -> float:
        """Run length for a full tank: entry + fill time x speed + exit."""
        return self.entry_m + self.fill_time_s * self.speed_ms + self.exit_m


@dataclass(frozen=True)
class HoverFill:
    """Filling from the hover, by pump and hose or by dipping a bucket."""

    fill_time_s: float
    depth_m: float
    depth_probability: float
    clear_radius_m: float
    wind_limit_ms: float
    least_load_fraction: float
    salt_allowed: bool
    gust_spread_limit_ms: float | None = None
    wave_limit_m: float | None = None


@dataclass(frozen=True)
class AircraftProfile:
    """One class of aircraft. hover_payload: (density altitude m, kg that can be lifted in a hover out of ground effect
    with the planning fuel aboard), by rising altitude. end_of_day: the rule by which it must be on the ground, None
    where the profile names none. sources: field name -> source sentence, one for every value."""

    profile_id: str
    name: str
    tank_l: float
    max_load_kg: float
    rotor_diameter_m: float
    cruise_loaded_ms: float
    cruise_empty_ms: float
    climb_speed_loaded_ms: float
    climb_speed_empty_ms: float
    climb_loaded_ms: float
    climb_empty_ms: float
    descent_ms: float
    ceiling_m: float
    ground_clearance_m: float
    corridor_half_width_m: float
    fuel_l: float
    fuel_burn_l_h: float
    reserve_s: float
    refuel_turn_s: float
    drop_s: float
    drop_height_m: float
    manoeuvre_source_s: float
    manoeuvre_fire_s: float
    useful_loads: int
    hover_payload: tuple[tuple[float, float], ...]
    ram_intake: RamIntake | None = None
    hover_pump: HoverFill | None = None
    bucket_dip: HoverFill | None = None
    end_of_day: EndOfDay | None = None
    sources: dict[str, str] = field(default_factory=dict, hash=False)

    def methods(self) -> tuple[FillMethod, ...]:
        """The fill methods that this aircraft has."""
        return tuple(m for m in METHOD_NAMES if getattr(self, m) is not None)  # type: ignore[misc]
