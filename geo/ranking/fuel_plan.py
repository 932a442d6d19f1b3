"""The loads of one tank of fuel, one by one, and the rate that is left when refuelling is counted."""

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import cycle as again

import numpy as np

from geo.base.errors import BadArgument
from geo.ranking.cycle import fill_time_s
from geo.records.aircraft import AircraftProfile
from geo.records.flight import Leg
from geo.records.ranking import Cycle, FuelPlan, PlannedLoad
from geo.records.suitability import MethodAssessment

# More loads of one tank are not counted; nobody flies them, and a faulty profile cannot stop the program.
MOST_LOADS = 1000


def plan_fuel(
    flown: Cycle,
    assessment: MethodAssessment,
    profile: AircraftProfile,
    transit_to: Leg | None,
    transit_from: Leg | None,
    *,
    hours: float | None = None,
) -> FuelPlan:
    """Give the loads of a tank of fuel, their litres, and the rates with refuelling.

    Parameters: flown, the first load; assessment, which says how the load grows as fuel burns and what the water holds;
    the legs from the base to the source and back, None when the region names no base: then no transit is counted and
    the note says so; hours, the time over which the sustained rate is asked, above 0, None for one fuel cycle.
    Raises: BadArgument for times that are negative or not finite, or hours not above 0.

    Notes: load k begins with fuel F_k = tank - burn x (transit + the round trips before it); its litres follow from F_k
    and its fill takes its share of the time. Load k is taken while transit + round trips 1 to k <= endurance - reserve
    and the water holds it; whole loads only, and a sum within 1e-9 above the limit counts as within (rounding of
    binary fractions). Fuel for transit, hover and climb burns at the one planning rate of the profile. The long-run
    rate is litres / (transit + all round trips that the fuel allows + refuelling), so that a water that ends early is
    measured over the same time as one that does not. Over a number of hours whole tanks follow one another from the
    moment of leaving the base, and a load counts when its drop has ended.

    References: reserve by the law of the place or the contract, for example 20 min, US 14 CFR 91.151(b).
    """
    endurance_s = 3600.0 * profile.fuel_l / profile.fuel_burn_l_h
    to_s, from_s = (0.0 if leg is None else leg.time_s for leg in (transit_to, transit_from))
    trip_s = flown.round_trip_s
    if not (math.isfinite(to_s + from_s + trip_s) and min(to_s, from_s) >= 0.0 and trip_s > 0.0):
        raise BadArgument(
            f"round trip {trip_s} s, transit {to_s} and {from_s} s: times must be finite and not negative, "
            "the round trip above 0. Fix: fly the legs first"
        )
    by_fuel = tuple(_loads(flown, assessment, profile, to_s, endurance_s - profile.reserve_s - from_s))
    table = tuple(_within(by_fuel, assessment.held_l, assessment.litres or 0.0))
    litres, most_l = (sum(one.litres for one in some) for some in (table, by_fuel))
    cycle_s = to_s + sum(one.round_trip_s for one in by_fuel) + from_s + profile.refuel_turn_s
    long_run = 3600.0 * litres / cycle_s if table else 0.0
    held = _held_words(len(by_fuel), len(table))
    sustained = (
        long_run if hours is None else _delivered_l(by_fuel, assessment.held_l, cycle_s, hours) / hours
    )
    note = _note(profile, transit_to, transit_from) + held
    times_s, counted = (endurance_s, profile.reserve_s, to_s, from_s), (len(table), litres)
    plan = FuelPlan(*times_s, *counted, profile.refuel_turn_s, long_run, note)
    by_number = replace(plan, table=table, loads_by_fuel=len(by_fuel), litres_by_fuel=most_l)
    return replace(by_number, cycle_s=cycle_s, hours=hours, sustained_litres_per_hour=sustained)


def most_sustained(
    rate: float | np.ndarray, profile: AircraftProfile, away_s: float | np.ndarray, hours: float | None
) -> float | np.ndarray:
    """Give the sustained rate [L/h] that no plan exceeds, from the rate [L/h] of its best load, flown without a stop.

    Parameters: away_s, a time [s] that the transits to the source and back cannot beat; hours as in `plan_fuel`.
    Notes: with S = endurance - reserve, loads L and round trips T, sum(L) / (away + sum(T) + turn) <= rate x sum(T) /
    (away + sum(T) + turn), which grows with sum(T) <= S - away. Over a number of hours the last load counts with its
    drop, a part of a round trip before its time is over: at most one tank more than the rate gives. Never 0, so that
    a source out of reach is worked out where nothing better is left, and says why.
    """
    if hours is not None:
        return rate + profile.tank_l / hours
    spare_s = 3600.0 * profile.fuel_l / profile.fuel_burn_l_h - profile.reserve_s
    return rate * np.maximum(spare_s - away_s, 1e-3) / (spare_s + profile.refuel_turn_s)


def _loads(
    flown: Cycle, assessment: MethodAssessment, profile: AircraftProfile, to_s: float, until_s: float
) -> Iterator[PlannedLoad]:
    """Give the loads that the fuel allows; until_s, the latest end of a round trip [s] since leaving the base."""
    rest_s, empty_s = flown.round_trip_s - flown.fill_s, flown.manoeuvre_fire_s + flown.empty_leg.time_s
    at_s, burn_l_s = to_s, profile.fuel_burn_l_h / 3600.0
    for number in range(1, MOST_LOADS + 1):
        fuel_l = max(profile.fuel_l - burn_l_s * at_s, 0.0)
        litres = assessment.litres_with(fuel_l)
        fill_s = fill_time_s(assessment, litres)
        assert litres is not None and fill_s is not None
        if at_s + fill_s + rest_s > until_s + 1e-9 * flown.round_trip_s:
            return
        end_s = at_s + fill_s + rest_s
        said = _ruled_by(assessment, fuel_l), _gross_kg(assessment, profile, fuel_l, litres)
        yield PlannedLoad(number, fuel_l, litres, *said, fill_s, fill_s + rest_s, end_s - empty_s)
        at_s = end_s


def _within(loads: tuple[PlannedLoad, ...], held_l: float | None, smallest_l: float) -> Iterator[PlannedLoad]:
    """Give the loads that the water holds [L], None where it is not limited.

    Notes: the first load is larger than the one that the water was judged with, by the fuel of the transit; where the
    water just holds that one, it is taken.
    """
    taken_l = 0.0
    for one in loads:
        taken_l += one.litres
        if one.number == 1 and held_l is not None and smallest_l <= held_l < one.litres:
            yield replace(one, litres=held_l)
            return
        if held_l is not None and taken_l > held_l * (1.0 + 1e-9):
            return
        yield one


def _delivered_l(loads: tuple[PlannedLoad, ...], held_l: float | None, cycle_s: float, hours: float) -> float:
    """Give the litres dropped in a number of hours, tank after tank of the same loads."""
    if not (math.isfinite(hours) and hours > 0.0):
        raise BadArgument(
            f"hours is {hours}: it must be above 0. Fix: give how long water is wanted, such as 3"
        )
    delivered_l = 0.0
    for number, one in enumerate(again(loads)):
        if (number // len(loads)) * cycle_s + one.dropped_s > 3600.0 * hours:
            break
        if held_l is not None and delivered_l + one.litres > held_l * (1.0 + 1e-9):
            break
        delivered_l += one.litres
    return delivered_l


def _ruled_by(assessment: MethodAssessment, fuel_l: float) -> str:
    return assessment.litres_ruled_by if assessment.load is None else assessment.load.ruled_by(fuel_l)


def _gross_kg(
    assessment: MethodAssessment, profile: AircraftProfile, fuel_l: float, litres: float
) -> float | None:
    """Give what the whole aircraft weighs after a fill [kg]; the fuel burned during the fill is left aboard."""
    if profile.weights is None or assessment.load is None:
        return None
    water_kg = litres * assessment.load.water_kg_l
    return profile.weights.operating_kg + fuel_l * profile.weights.fuel_kg_l + water_kg


def _held_words(by_fuel: int, held: int) -> str:
    return f"; fuel allows {by_fuel} loads, the water holds {held}" if held < by_fuel else ""


def _note(profile: AircraftProfile, transit_to: Leg | None, transit_from: Leg | None) -> str:
    reserve_min = profile.reserve_s / 60.0
    reserve = f"the profile's reserve of {reserve_min:.0f} min; the law of the place or the contract decides"
    if transit_to is None or transit_from is None:
        return f"without the flights from and to a base (no base, or no route to it); {reserve}"
    return f"with the flights from and to the base; {reserve}"
