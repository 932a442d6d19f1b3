"""What the aircraft can lift in the day's air, and what a litre of the source's water weighs."""

import math
from functools import lru_cache
from typing import NamedTuple

import gsw
import numpy as np

from geo.base.errors import BadArgument
from geo.records.aircraft import AircraftProfile, LiftTable
from geo.records.region import SalinityClass
from geo.records.station import Agent

# Practical salinity taken for a stated class where none was measured: fresh as pure water (its upper limit, 0.5, would
# add 0.04 %), brackish as the heavy end of the mixohaline range, 30 (Venice System, 1958), salt as the ocean's 35.
PLANNING_SALINITY: dict[str, float] = {"fresh": 0.0, "brackish": 30.0, "salt": 35.0}
Number = float | np.ndarray
NOT_WEIGHED = "maximum water load less a full tank of fuel"
LOWEST_DENSITY_ALTITUDE_M, HIGHEST_DENSITY_ALTITUDE_M = -6000.0, 20000.0


# The heaviest that mixed long-term retardant weighs, and what counts for unknown contents [kg/L]: from memory,
# no source. Foam solution is nearly all water.
RETARDANT_KG_L = 1.10


def agent_density_kg_l(agent: Agent | None) -> float:
    """Give the density of what a fill station holds [kg/L]; unknown contents count as retardant, the heaviest."""
    return water_density_kg_l("fresh") if agent in ("water", "foam") else RETARDANT_KG_L


# Jet fuel at 15 degC weighs 0.775 to 0.840 kg/L (ASTM D1655, table 1): the heavy end where a profile does not say.
HEAVIEST_FUEL_KG_L = 0.84
# A hair of room at a table's top, above which nothing is known: a height may be off by rounding.
_TOP_ROOM_M = 1e-3


class Weighed(NamedTuple):
    """What weight and power let an aircraft carry as water with full fuel [kg], below 0 where they do not even bear
    that; gain_kg_l: how much more for each litre of fuel burned, 0 where fuel cannot be weighed."""

    hover_kg: Number
    scoop_kg: Number
    scoop_by: str
    gross_kg: float
    gross_by: str
    gain_kg_l: float
    notes: tuple[str, ...]


def liftable_kg(table: LiftTable, density_altitude_m: Number) -> Number:
    """Give what a table of the profile lets an aircraft lift [kg] at a density altitude [m], one or an array of them.

    Parameters: table rows (density altitude m, kg) with rising altitudes, as in the aircraft profile.
    Returns: linear between rows; the lowest row's value below it (the gearbox may limit there: never extrapolated
    upward); 0.0 above the highest row, because nothing is known there and unknown never counts as good.
    Raises: BadArgument for an empty or disordered table or a value that is not finite.
    """
    rows = np.asarray(table, dtype=float)
    if rows.ndim != 2 or rows.shape[1] != 2 or not np.all(np.isfinite(rows)):
        raise BadArgument(
            f"table is {table!r}: it must hold at least one row (density altitude m, kg). "
            "Fix: fill the aircraft profile's hover table"
        )
    if np.any(np.diff(rows[:, 0]) <= 0.0) or np.any(rows[:, 1] < 0.0):
        raise BadArgument(
            f"table is {table!r}: altitudes must rise from row to row and masses must be 0 or more. "
            "Fix: sort the profile's hover table by density altitude"
        )
    asked = np.asarray(density_altitude_m, dtype=float)
    if not np.all((asked >= LOWEST_DENSITY_ALTITUDE_M) & (asked <= HIGHEST_DENSITY_ALTITUDE_M)):
        raise BadArgument(f"density_altitude_m is {density_altitude_m} m: it must be a height in metres")
    lifted = np.interp(asked, rows[:, 0], rows[:, 1])
    lifted = np.where(asked > rows[-1, 0] + _TOP_ROOM_M, 0.0, lifted)
    return lifted if asked.ndim else float(lifted)


def weigh(profile: AircraftProfile, density_altitude_m: Number) -> Weighed:
    """Give what an aircraft can carry as water with full fuel at a density altitude [m], one or an array of them.

    Raises: BadArgument as `liftable_kg`.

    Notes: water = table - (empty + crew + equipment + fuel), and gross - (empty + crew + equipment + fuel). A table of
    payload holds for one state of fuel: water = payload + (fuel of the table - fuel) x density; where the table does
    not say which, it is taken for empty tanks. Without weights a full tank of the heaviest fuel is taken off the
    payload and off the maximum water load, and nothing is gained by burning it: whatever the weights are, they cannot
    give less, since a profile's maximum water load must be borne with empty tanks. The scoop's power is that of the
    low-speed table, else that of the hover, which is never more (common practice: less power is needed in forward
    flight, for example US FAA-H-8083-21B, chapter 7).
    """
    weights, fuel_l = profile.weights, profile.fuel_l
    kg_l = HEAVIEST_FUEL_KG_L if weights is None else weights.fuel_kg_l
    hover_kg = _hover_kg(profile, density_altitude_m, kg_l)
    scoop_kg, scoop_by = hover_kg, "hover payload"
    gross_kg, gross_by = profile.max_load_kg - fuel_l * kg_l, NOT_WEIGHED
    if weights is not None:
        aboard_kg = weights.operating_kg + fuel_l * kg_l
        gross_kg, gross_by = weights.gross_kg - aboard_kg, "gross weight"
        if profile.low_speed_weight:
            scoop_by = "low-speed power"
            scoop_kg = liftable_kg(profile.low_speed_weight, density_altitude_m) - aboard_kg
    gain_kg_l = 0.0 if weights is None else kg_l
    return Weighed(hover_kg, scoop_kg, scoop_by, gross_kg, gross_by, gain_kg_l, _notes(profile, kg_l))


def _hover_kg(profile: AircraftProfile, density_altitude_m: Number, kg_l: float) -> Number:
    if profile.hover_weight and profile.weights is not None:
        aboard_kg = profile.weights.operating_kg + profile.fuel_l * kg_l
        return liftable_kg(profile.hover_weight, density_altitude_m) - aboard_kg
    payload_kg = liftable_kg(profile.hover_payload, density_altitude_m)
    stated_l = profile.hover_payload_fuel_l or 0.0
    if profile.weights is None:
        stated_l = min(stated_l, profile.fuel_l)
    with_full_kg = payload_kg - (profile.fuel_l - stated_l) * kg_l
    # Above its last row the table knows nothing, however little fuel is aboard.
    nothing_kg = -profile.fuel_l * kg_l
    return np.where(np.asarray(payload_kg) > 0.0, with_full_kg, nothing_kg)[()]


def _notes(profile: AircraftProfile, kg_l: float) -> tuple[str, ...]:
    """Say what was not weighed, and what to write to have it weighed."""
    notes = []
    if profile.weights is None:
        notes.append(
            "fuel was not weighed, because the profile gives no weights: a full tank of fuel "
            f"({profile.fuel_l * kg_l:,.0f} kg) is taken off every load. Fix: write [weight] in the profile"
        )
    if not profile.hover_weight and profile.hover_payload_fuel_l is None:
        notes.append(
            "the table of the hover payload does not say for which fuel it holds, so it is taken for empty tanks. "
            "Fix: write hover_payload.fuel in the profile"
        )
    return tuple(notes)


@lru_cache(maxsize=256)
def water_density_kg_l(
    salinity_class: SalinityClass | None = None,
    practical_salinity: float | None = None,
    temperature_c: float = 15.0,
) -> float:
    """Give the density of the source's water [kg/L] at the surface.

    Parameters: practical_salinity (PSS-78, 0..42) wins over the class; with neither the water is taken as sea water,
    the heaviest. temperature_c of the water, -2..40 degC.
    Raises: BadArgument out of range or for an unknown class word.
    Notes: TEOS-10 with the reference composition; salt in inland water differs in composition, an error below 0.1 %.
    References: IOC, SCOR and IAPSO (2010), The international thermodynamic equation of seawater, through `gsw`.
    """
    if practical_salinity is None:
        if salinity_class is not None and salinity_class not in PLANNING_SALINITY:
            raise BadArgument(
                f"salinity_class is {salinity_class!r}: it must be one of {sorted(PLANNING_SALINITY)}"
            )
        practical_salinity = PLANNING_SALINITY["salt" if salinity_class is None else salinity_class]
    if not (math.isfinite(practical_salinity) and 0.0 <= practical_salinity <= 42.0):
        raise BadArgument(f"practical_salinity is {practical_salinity}: it must lie from 0 to 42 (PSS-78)")
    if not (math.isfinite(temperature_c) and -2.0 <= temperature_c <= 40.0):
        raise BadArgument(f"temperature_c of the water is {temperature_c}: it must lie from -2 to 40 degC")
    reference_g_kg = gsw.SR_from_SP(practical_salinity)
    return float(gsw.rho_t_exact(reference_g_kg, temperature_c, 0.0)) / 1000.0
