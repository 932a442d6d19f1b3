"""An aircraft profile: plain class names, every value with its source, all in SI and litres."""

from dataclasses import dataclass, field
from typing import Literal

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


@dataclass(frozen=True)
class AircraftProfile:
    """One class of aircraft. hover_payload: (density altitude m, kg that can be lifted in a hover out of ground effect
    with the planning fuel aboard), by rising altitude. lift_off_height_m: above the water (or the ground of a base), at
    which a leg sets off and to which it comes in; the manoeuvre there is below. acceleration_ms2: in level flight, from
    the fill to the climb speed. circle_bank_deg: of circles that gain or lose height. sources: field name -> source
    sentence, one for every value."""

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
    lift_off_height_m: float = 30.0
    acceleration_ms2: float = 1.5
    circle_bank_deg: float = 25.0
    sources: dict[str, str] = field(default_factory=dict, hash=False)

    @property
    def surface_half_width_m(self) -> float:
        """Half the width of the surfaces at the very ends of a leg [m]: the helicopter's largest dimension.

        Notes: 0.75 D + 0.25 D to each side (EU 965/2012 CAT.POL.H.110, from memory), D taken as 1.2 rotor diameters
        (common practice, no source).
        """
        return 1.2 * self.rotor_diameter_m

    def methods(self) -> tuple[FillMethod, ...]:
        """The fill methods that this aircraft has."""
        return tuple(m for m in METHOD_NAMES if getattr(self, m) is not None)  # type: ignore[misc]
