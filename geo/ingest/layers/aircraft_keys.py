"""The keys of an aircraft profile: what each is called in TOML and in the record, its quantity and its range."""

import math
from dataclasses import dataclass
from typing import get_args

from geo.base.units import LITRE_PER_US_GALLON, METRE_PER_FOOT, MS_PER_KMH, MS_PER_KNOT
from geo.records.extras import EndOfDay

KILOGRAM_PER_POUND = 0.45359237  # international avoirdupois pound, exact (1959 agreement)

# quantity -> unit as written -> factor into the record's unit (m, m/s, s, L, kg, L/h, fraction)
UNITS: dict[str, dict[str, float]] = {
    "length": {"m": 1.0, "ft": METRE_PER_FOOT, "km": 1000.0},
    "speed": {"m/s": 1.0, "km/h": MS_PER_KMH, "kt": MS_PER_KNOT, "ft/min": METRE_PER_FOOT / 60.0},
    "time": {"s": 1.0, "min": 60.0, "h": 3600.0},
    "volume": {"L": 1.0, "US gal": LITRE_PER_US_GALLON},
    "mass": {"kg": 1.0, "lb": KILOGRAM_PER_POUND},
    "flow": {
        "L/s": 1.0,
        "L/min": 1.0 / 60.0,
        "US gal/s": LITRE_PER_US_GALLON,
        "US gal/min": LITRE_PER_US_GALLON / 60.0,
    },
    "density": {"kg/L": 1.0, "lb/US gal": KILOGRAM_PER_POUND / LITRE_PER_US_GALLON},
    "burn": {"L/h": 1.0, "US gal/h": LITRE_PER_US_GALLON},
    "share": {"1": 1.0, "%": 0.01},
    "count": {"1": 1.0},
    "acceleration": {"m/s2": 1.0},
    "angle": {"deg": 1.0},
}


@dataclass(frozen=True)
class ProfileValue:
    """One key of a table: the record's field, its quantity ("flag" for yes/no, "word" for one of `words`), its range
    in SI, whether it may be left out (the record's field is then None), whether it is a list of `values`."""

    field: str
    quantity: str
    least: float = 0.0
    most: float = math.inf
    optional: bool = False
    listed: bool = False
    words: tuple[str, ...] = ()


TABLES: dict[str, dict[str, ProfileValue]] = {
    "load": {
        "tank": ProfileValue("tank_l", "volume", 50.0, 100_000.0),
        "max_load": ProfileValue("max_load_kg", "mass", 50.0, 100_000.0),
        "useful_loads": ProfileValue("useful_loads", "count", 1.0, 1000.0),
    },
    "flight": {
        "rotor_diameter": ProfileValue("rotor_diameter_m", "length", 2.0, 50.0),
        "cruise_loaded": ProfileValue("cruise_loaded_ms", "speed", 10.0, 150.0),
        "cruise_empty": ProfileValue("cruise_empty_ms", "speed", 10.0, 150.0),
        "climb_speed_loaded": ProfileValue("climb_speed_loaded_ms", "speed", 5.0, 150.0),
        "climb_speed_empty": ProfileValue("climb_speed_empty_ms", "speed", 5.0, 150.0),
        "climb_loaded": ProfileValue("climb_loaded_ms", "speed", 0.1, 50.0),
        "climb_empty": ProfileValue("climb_empty_ms", "speed", 0.1, 50.0),
        "descent": ProfileValue("descent_ms", "speed", 0.1, 50.0),
        "ceiling": ProfileValue("ceiling_m", "length", 100.0, 12_000.0),
        "ground_clearance": ProfileValue("ground_clearance_m", "length", 1.0, 2_000.0),
        "corridor_half_width": ProfileValue("corridor_half_width_m", "length", 1.0, 10_000.0),
        "lift_off_height": ProfileValue("lift_off_height_m", "length", 1.0, 100.0, optional=True),
        "acceleration": ProfileValue("acceleration_ms2", "acceleration", 0.1, 5.0, optional=True),
        "circle_bank": ProfileValue("circle_bank_deg", "angle", 5.0, 45.0, optional=True),
    },
    "fuel": {
        "capacity": ProfileValue("fuel_l", "volume", 10.0, 100_000.0),
        "burn": ProfileValue("fuel_burn_l_h", "burn", 10.0, 20_000.0),
        "reserve": ProfileValue("reserve_s", "time", 0.0, 7_200.0),
        "refuel_turn": ProfileValue("refuel_turn_s", "time", 0.0, 14_400.0),
    },
    "cycle": {
        "drop": ProfileValue("drop_s", "time", 0.1, 600.0),
        "drop_speed": ProfileValue("drop_speed_ms", "speed", 5.0, 100.0, optional=True),
        "drop_least_flow": ProfileValue("drop_least_flow_l_s", "flow", 1.0, 20_000.0, optional=True),
        "drop_greatest_flow": ProfileValue("drop_greatest_flow_l_s", "flow", 1.0, 20_000.0, optional=True),
        "drop_height": ProfileValue("drop_height_m", "length", 1.0, 500.0),
        "manoeuvre_source": ProfileValue("manoeuvre_source_s", "time", 0.0, 1_800.0),
        "manoeuvre_fire": ProfileValue("manoeuvre_fire_s", "time", 0.0, 1_800.0),
        "end_of_day": ProfileValue("end_of_day", "word", optional=True, words=get_args(EndOfDay)),
    },
}
FILL = {
    "fill_time": ProfileValue("fill_time_s", "time", 1.0, 1_800.0),
    "depth": ProfileValue("depth_m", "length", 0.1, 20.0),
    # The survey tabulates depth between 0.5 % and 99.5 %; below one half "deep enough" would mean "likely too shallow".
    "depth_probability": ProfileValue("depth_probability", "share", 0.5, 0.995),
    "least_load_fraction": ProfileValue("least_load_fraction", "share", 0.05, 1.0),
    "wind_limit": ProfileValue("wind_limit_ms", "speed", 0.5, 60.0),
    "gust_spread_limit": ProfileValue("gust_spread_limit_ms", "speed", 0.5, 60.0, optional=True),
    "wave_limit": ProfileValue("wave_limit_m", "length", 0.05, 5.0, optional=True),
}
RAM = FILL | {
    "speed": ProfileValue("speed_ms", "speed", 2.0, 60.0),
    "entry": ProfileValue("entry_m", "length", 0.0, 1_000.0),
    "exit": ProfileValue("exit_m", "length", 0.0, 1_000.0),
    "width": ProfileValue("width_m", "length", 1.0, 1_000.0),
    "crosswind_limit": ProfileValue("crosswind_limit_ms", "speed", 0.0, 60.0),
    "tailwind_limit": ProfileValue("tailwind_limit_ms", "speed", 0.0, 60.0),
    # A surface steeper than 1:1 or flatter than 1:100 is a wrong unit.
    "approach_slope": ProfileValue("approach_slope", "share", 0.01, 1.0, optional=True),
    "climb_out_slope": ProfileValue("climb_out_slope", "share", 0.01, 1.0, optional=True),
    "surface_divergence": ProfileValue("surface_divergence", "share", 0.0, 1.0, optional=True),
}
HOVER = FILL | {
    # The survey looks for clear radii up to 60 m; it could not tell more room from less beyond that.
    "clear_radius": ProfileValue("clear_radius_m", "length", 1.0, 60.0),
    "salt_allowed": ProfileValue("salt_allowed", "flag"),
    "approach_slope": ProfileValue("approach_slope", "share", 0.01, 1.0, optional=True),
    "crosswind_limit": ProfileValue("crosswind_limit_ms", "speed", 0.0, 60.0, optional=True),
    "tailwind_limit": ProfileValue("tailwind_limit_ms", "speed", 0.0, 60.0, optional=True),
}
GROUND = {
    "coupling_time": ProfileValue("coupling_time_s", "time", 0.0, 600.0),
    "most_flow": ProfileValue("most_flow_l_s", "flow", 0.1, 1_000.0),
    "clear_radius": ProfileValue("clear_radius_m", "length", 1.0, 100.0),
    "most_slope": ProfileValue("most_slope", "share", 0.001, 0.5),
    "wind_limit": FILL["wind_limit"],
    "least_load_fraction": FILL["least_load_fraction"],
}
METHODS = {"ram_intake": RAM, "hover_pump": HOVER, "bucket_dip": HOVER, "ground_hose": GROUND}
WEIGHT = {
    "empty": ProfileValue("empty_kg", "mass", 100.0, 100_000.0),
    "crew": ProfileValue("crew_kg", "mass", 40.0, 5_000.0),
    "equipment": ProfileValue("equipment_kg", "mass", 0.0, 10_000.0),
    "gross": ProfileValue("gross_kg", "mass", 200.0, 200_000.0),
    # Petrol weighs 0.72 kg/L, the heaviest jet fuel 0.84 (ASTM D1655, table 1): anything else is a wrong unit.
    "fuel_density": ProfileValue("fuel_kg_l", "density", 0.65, 0.9),
}
_ALTITUDE = ProfileValue("density_altitude_m", "length", -1_000.0, 12_000.0, listed=True)
_WEIGHTS = ProfileValue("weight_kg", "mass", 0.0, 200_000.0, listed=True)
# Tables by density altitude: what each gives, beside keys that hold for the whole table.
LIFT_TABLES: dict[str, dict[str, ProfileValue]] = {
    "hover_payload": {
        "density_altitude": _ALTITUDE,
        "payload": ProfileValue("payload_kg", "mass", 0.0, 100_000.0, listed=True),
        "fuel": ProfileValue("fuel_l", "volume", 0.0, 100_000.0, optional=True),
    },
    "hover_weight": {"density_altitude": _ALTITUDE, "weight": _WEIGHTS},
    "low_speed_weight": {"density_altitude": _ALTITUDE, "weight": _WEIGHTS},
}
