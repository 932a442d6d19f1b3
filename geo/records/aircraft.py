"""An aircraft profile: plain class names, every value with its source, all in SI and litres."""

from dataclasses import dataclass, field
from typing import Literal, overload

import numpy as np

from geo.records.drop_run import DropRun
from geo.records.extras import EndOfDay

FillMethod = Literal["ram_intake", "hover_pump", "bucket_dip", "ground_hose"]
METHOD_NAMES: dict[str, str] = {
    "ram_intake": "ram intake",
    "hover_pump": "hover pump",
    "bucket_dip": "bucket dip",
    "ground_hose": "ground hose",
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
    """Filling from the hover, by pump and hose or by dipping a bucket.

    approach_slope: the steepest approach to the hover; crosswind_limit_ms, tailwind_limit_ms: what it bears on the way
    in and out. None takes a published surface and common limits, and the verdict says so.
    """

    fill_time_s: float
    depth_m: float
    depth_probability: float
    clear_radius_m: float
    wind_limit_ms: float
    least_load_fraction: float
    salt_allowed: bool
    approach_slope: float | None = None
    crosswind_limit_ms: float | None = None
    tailwind_limit_ms: float | None = None
    gust_spread_limit_ms: float | None = None
    wave_limit_m: float | None = None


@dataclass(frozen=True)
class GroundHose:
    """Filling on the ground by a hose that is coupled to the aircraft; only at fill stations. most_slope: rise/run."""

    coupling_time_s: float
    most_flow_l_s: float
    clear_radius_m: float
    most_slope: float
    wind_limit_ms: float
    least_load_fraction: float


@dataclass(frozen=True)
class Weights:
    """What an aircraft weighs [kg]: empty with all that is fixed to it, the crew with their kit, the equipment for the
    work (pump, hose, bucket), and the greatest gross weight. fuel_kg_l: what a litre of its fuel weighs."""

    empty_kg: float
    crew_kg: float
    equipment_kg: float
    gross_kg: float
    fuel_kg_l: float

    @property
    def operating_kg(self) -> float:
        """What it weighs without fuel and water [kg]."""
        return self.empty_kg + self.crew_kg + self.equipment_kg


# (density altitude m, kg) by rising altitude.
LiftTable = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class AircraftProfile:
    """One class of aircraft. sources: field name -> source sentence, one for every value.

    Either hover_weight or hover_payload says what can be held in a hover out of ground effect: the greatest weight of
    the whole aircraft, or the payload with hover_payload_fuel_l of fuel aboard (None: the table does not say for which
    fuel it holds). low_speed_weight: the greatest weight at the speed of the scoop, empty where no table is known.
    weights None: nothing is known of them, so fuel cannot be weighed.

    end_of_day: the rule by which it must be on the ground, None where the profile names none. drop_speed_ms is the
    airspeed on the drop run, drop_least_flow_l_s and drop_greatest_flow_l_s what the doors let out; None where nothing
    is told of doors. drop_run is the drop of one question, None where no line is asked for: then every load takes
    drop_s. lift_off_height_m: above the water (or the ground of a base), at which a leg sets off and to which it comes
    in; the manoeuvre there is below. acceleration_ms2: in level flight, from the fill to the climb speed.
    circle_bank_deg: of circles that gain or lose height.
    """

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
    hover_payload: LiftTable = ()
    hover_payload_fuel_l: float | None = None
    weights: Weights | None = None
    hover_weight: LiftTable = ()
    low_speed_weight: LiftTable = ()
    ram_intake: RamIntake | None = None
    hover_pump: HoverFill | None = None
    bucket_dip: HoverFill | None = None
    end_of_day: EndOfDay | None = None
    ground_hose: GroundHose | None = None
    lift_off_height_m: float = 30.0
    acceleration_ms2: float = 1.0
    circle_bank_deg: float = 25.0
    sources: dict[str, str] = field(default_factory=dict, hash=False)
    drop_speed_ms: float | None = None
    drop_least_flow_l_s: float | None = None
    drop_greatest_flow_l_s: float | None = None
    drop_run: DropRun | None = None

    @overload
    def drop_time_s(self, litres: float) -> float: ...
    @overload
    def drop_time_s(self, litres: np.ndarray) -> np.ndarray: ...
    def drop_time_s(self, litres: float | np.ndarray) -> float | np.ndarray:
        """Give how long the drop of a load [L] takes [s]: by the flow of the drop run, else the profile's figure."""
        return litres / self.drop_run.flow_l_s if self.drop_run is not None else self.drop_s + 0.0 * litres

    @property
    def reserve_l(self) -> float:
        """The fuel of the reserve [L], below which no load is taken."""
        return self.fuel_burn_l_h * self.reserve_s / 3600.0

    @property
    def surface_half_width_m(self) -> float:
        """Half the width of the surfaces at the very ends of a leg [m]: the helicopter's largest dimension.

        Notes: 0.75 D + 0.25 D to each side (EU 965/2012 CAT.POL.H.110, from memory), D taken as 1.2 rotor diameters
        (common practice, no source).
        """
        return 1.2 * self.rotor_diameter_m

    def methods(self) -> tuple[FillMethod, ...]:
        """The fill methods that this aircraft has at a water; the ground hose is one of fill stations alone."""
        return tuple(m for m in METHOD_NAMES if m != "ground_hose" and getattr(self, m) is not None)  # type: ignore[misc]
