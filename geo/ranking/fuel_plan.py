"""How many loads one tank of fuel carries, and the rate that is left when refuelling is counted."""

import math

from geo.base.errors import BadArgument
from geo.records.aircraft import AircraftProfile
from geo.records.flight import Leg
from geo.records.ranking import FuelPlan


def plan_fuel(
    round_trip_s: float,
    litres: float,
    profile: AircraftProfile,
    transit_to: Leg | None,
    transit_from: Leg | None,
    loads_available: float | None = None,
) -> FuelPlan:
    """Give loads and litres per tank of fuel and the long-run rate.

    Parameters: round_trip_s [s] > 0; litres per load; the legs from the base to the source and back, None when the
    region names no base: then no transit is counted and the note says so; loads_available, the loads that the water
    holds, None where it is not limited or not known (the suitability stage says which).
    Raises: BadArgument for times that are negative or not finite.

    Notes: Endurance E = fuel / burn; N = floor((E - reserve - transit) / T), never below 0 nor above the loads that the
    water holds; long-run rate = N x V / (transit + N x T + refuel turn). Fuel for transit, hover and climb burns at the
    one planning rate of the profile. Whole loads only: a quotient within 1e-9 below a whole number counts as that
    number (rounding of binary fractions).

    References: reserve by the law of the place or the contract, for example 20 min, US 14 CFR 91.151(b).
    """
    endurance_s = 3600.0 * profile.fuel_l / profile.fuel_burn_l_h
    to_s = transit_to.time_s if transit_to is not None else 0.0
    from_s = transit_from.time_s if transit_from is not None else 0.0
    if not (math.isfinite(to_s + from_s + round_trip_s) and min(to_s, from_s) >= 0.0 and round_trip_s > 0.0):
        raise BadArgument(
            f"round trip {round_trip_s} s, transit {to_s} and {from_s} s: times must be finite and not negative, "
            "the round trip above 0. Fix: fly the legs first"
        )
    spare_s = endurance_s - profile.reserve_s - to_s - from_s
    by_fuel = max(0, math.floor(spare_s / round_trip_s + 1e-9))
    loads = by_fuel if loads_available is None else min(by_fuel, math.floor(loads_available))
    flight_s = to_s + from_s + loads * round_trip_s
    long_run = 3600.0 * loads * litres / (flight_s + profile.refuel_turn_s) if loads > 0 else 0.0
    held = f"; fuel allows {by_fuel} loads, the water holds {loads}" if loads < by_fuel else ""
    times_s, note = (endurance_s, profile.reserve_s, to_s, from_s), _note(profile, transit_to, transit_from)
    return FuelPlan(*times_s, loads, loads * litres, profile.refuel_turn_s, long_run, note + held)


def _note(profile: AircraftProfile, transit_to: Leg | None, transit_from: Leg | None) -> str:
    reserve_min = profile.reserve_s / 60.0
    reserve = f"the profile's reserve of {reserve_min:.0f} min; the law of the place or the contract decides"
    if transit_to is None or transit_from is None:
        return f"without the flights from and to a base (no base, or no route to it); {reserve}"
    return f"with the flights from and to the base; {reserve}"
