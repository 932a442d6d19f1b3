"""One load from fill to fill: its parts and what it delivers per hour."""

import math

from geo.base.errors import BadArgument
from geo.records.aircraft import AircraftProfile
from geo.records.flight import Leg
from geo.records.ranking import Cycle
from geo.records.suitability import MethodAssessment


def fill_time_s(assessment: MethodAssessment, litres: float | None) -> float | None:
    """Give the time that a load takes to fill [s], None where it cannot be said: what no load changes, and the rest in
    proportion to the assessment's load."""
    if litres is None or not assessment.litres or assessment.fill_time_s is None:
        return None
    fixed_s = assessment.fill_fixed_s
    return fixed_s + (assessment.fill_time_s - fixed_s) * litres / assessment.litres


def fly_cycle(
    assessment: MethodAssessment,
    loaded_leg: Leg,
    empty_leg: Leg,
    profile: AircraftProfile,
    fuel_l: float | None = None,
) -> Cycle:
    """Give the cycle of a usable method: fill + manoeuvre + loaded leg + drop + manoeuvre + empty leg.

    Parameters: assessment with litres [L] and fill_time_s [s] of today's load (a partial load fills in its share of
    the time); legs with their climb inside; profile for drop and manoeuvre times [s]; fuel_l, the fuel aboard when the
    fill begins [L], None for a full tank.
    Raises: BadArgument when the assessment gives no load or a load of 0, or a part is negative or not finite.

    Notes: T = t_fill + t_manoeuvre + t_loaded + t_drop + t_manoeuvre + t_empty; loads/h = 3600 / T; L/h = loads/h x V.
    Nobody waits: other aircraft, circuits over the fire and air-traffic holds are left out.
    References: plain kinematics, as asked for by NWCG, 6 Minutes for Safety, Working With Helicopter Drops (2021):
    "the turnaround time for the helicopter from drop zone to fill site".
    """
    litres = assessment.litres_with(profile.fuel_l if fuel_l is None else fuel_l)
    fill_s = fill_time_s(assessment, litres)
    if litres is None or fill_s is None or litres <= 0.0 or fill_s <= 0.0:
        raise BadArgument(
            f"{assessment.body_id}, {assessment.method}: load {litres} L in {fill_s} s: both must be above 0. "
            "Fix: rank only methods assessed as usable"
        )
    at_source_s, at_fire_s = profile.manoeuvre_source_s, profile.manoeuvre_fire_s
    drop_s = profile.drop_time_s(litres)
    parts = (fill_s, at_source_s, loaded_leg.time_s, drop_s, at_fire_s, empty_leg.time_s)
    if not all(math.isfinite(part) and part >= 0.0 for part in parts):
        raise BadArgument(
            f"{assessment.body_id}: parts of the round trip {parts} s: each must be finite, 0 or more"
        )
    round_trip_s = sum(parts)
    return Cycle(
        method=assessment.method,
        litres=litres,
        fill_s=fill_s,
        manoeuvre_source_s=at_source_s,
        loaded_leg=loaded_leg,
        drop_s=drop_s,
        manoeuvre_fire_s=at_fire_s,
        empty_leg=empty_leg,
        round_trip_s=round_trip_s,
        loads_per_hour=3600.0 / round_trip_s,
        litres_per_hour=3600.0 * litres / round_trip_s,
    )
