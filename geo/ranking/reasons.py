"""Why a source stands where it stands: the differences from the source above it, in words with figures."""

from geo.records.aircraft import METHOD_NAMES
from geo.records.ranking import Cycle, FuelPlan

LEAST_SAID_S = 0.5


def first_reason(cycle: Cycle, fuel: FuelPlan) -> str:
    """Give the reason of the first position: its own figures."""
    return (
        f"most water over {_time_words(fuel)}: {fuel.sustained_litres_per_hour:,.0f} L/h; the first load is "
        f"{cycle.litres:,.0f} L in {cycle.round_trip_s:,.0f} s by {METHOD_NAMES[cycle.method]}"
    )


def _time_words(fuel: FuelPlan) -> str:
    return "one fuel cycle with refuelling" if fuel.hours is None else f"{fuel.hours:g} h"


def position_reason(above: tuple[Cycle, FuelPlan], here: tuple[Cycle, FuelPlan]) -> str:
    """Give the reason of a later position: rate, round trip and load against the source above, and what makes them.

    Parameters: the first load and the fuel plan of both.
    Notes: the parts in brackets (legs, climb and descent, fill, drop and manoeuvre) add up to the difference of the
    round trips; parts under half a second are not said.
    """
    (above_cycle, above_fuel), (cycle, fuel) = above, here
    rate = fuel.sustained_litres_per_hour - above_fuel.sustained_litres_per_hour
    other = f"{abs(rate):,.0f} L/h {'more' if rate > 0 else 'less'} than the one above"
    said = [other if abs(rate) >= 0.5 else "same rate"]
    if fuel.loads < fuel.loads_by_fuel:
        said.append(f"the water holds {_loads(fuel.loads)} of the {fuel.loads_by_fuel} that the fuel allows")
    elif fuel.loads != above_fuel.loads:
        said.append(f"{_loads(fuel.loads)} per fuel cycle against {above_fuel.loads}")
    said.append(_round_trip(above_cycle, cycle))
    if abs(cycle.litres - above_cycle.litres) >= 0.5:
        said.append(f"first load {_signed(cycle.litres - above_cycle.litres, 'L')}")
    return "; ".join(said)


def _loads(count: int) -> str:
    return f"{count} load{'' if count == 1 else 's'}"


def _round_trip(above: Cycle, here: Cycle) -> str:
    total_s = here.round_trip_s - above.round_trip_s
    if abs(total_s) < LEAST_SAID_S:
        return "same round trip"
    parts = (
        (_legs_words(above, here), _level_flight_s(here) - _level_flight_s(above)),
        ("climb and descent", _climb_s(here) - _climb_s(above)),
        (_fill_words(above, here), here.fill_s - above.fill_s),
        ("drop and manoeuvre", _fixed_s(here) - _fixed_s(above)),
    )
    told = [f"{words} {_signed(s, 's')}" for words, s in parts if abs(s) >= LEAST_SAID_S]
    return f"round trip {_signed(total_s, 's')}" + (f" ({', '.join(told)})" if told else "")


def _legs_words(above: Cycle, here: Cycle) -> str:
    further_m = _legs_m(here) - _legs_m(above)
    if abs(further_m) < 50.0:
        return "wind on the legs"
    return f"legs {abs(further_m) / 1000.0:.1f} km {'longer' if further_m > 0 else 'shorter'}"


def _fill_words(above: Cycle, here: Cycle) -> str:
    if above.method == here.method:
        return "fill"
    return f"fill by {METHOD_NAMES[here.method]} against {METHOD_NAMES[above.method]}"


def _signed(value: float, unit: str) -> str:
    return f"{value:+,.0f} {unit}"


def _level_flight_s(cycle: Cycle) -> float:
    return cycle.loaded_leg.time_s + cycle.empty_leg.time_s - _climb_s(cycle)


def _legs_m(cycle: Cycle) -> float:
    return cycle.loaded_leg.distance_m + cycle.empty_leg.distance_m


def _climb_s(cycle: Cycle) -> float:
    return cycle.loaded_leg.extra_s + cycle.empty_leg.extra_s


def _fixed_s(cycle: Cycle) -> float:
    return cycle.drop_s + cycle.manoeuvre_source_s + cycle.manoeuvre_fire_s
