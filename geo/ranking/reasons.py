"""Why a source stands where it stands: the differences from the source above it, in words with figures."""

from geo.records.aircraft import METHOD_NAMES
from geo.records.ranking import Cycle

LEAST_SAID_S = 0.5


def first_reason(cycle: Cycle) -> str:
    """Give the reason of the first position: its own figures."""
    return (
        f"most litres per hour: {cycle.litres_per_hour:,.0f} L/h; {cycle.litres:,.0f} L every "
        f"{cycle.round_trip_s:,.0f} s by {METHOD_NAMES[cycle.method]}"
    )


def position_reason(above: Cycle, here: Cycle) -> str:
    """Give the reason of a later position: rate, round trip and load against the source above, and what makes them.

    Notes: the parts in brackets (legs, climb and descent, fill, drop and manoeuvre) add up to the difference of the
    round trips; parts under half a second are not said.
    """
    rate = here.litres_per_hour - above.litres_per_hour
    other = f"{abs(rate):,.0f} L/h {'more' if rate > 0 else 'less'} than the one above"
    said = [other if abs(rate) >= 0.5 else "same rate", _round_trip(above, here)]
    if abs(here.litres - above.litres) >= 0.5:
        said.append(f"load {_signed(here.litres - above.litres, 'L')}")
    return "; ".join(said)


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
    return sum(leg.climb_extra_s + leg.descent_extra_s for leg in (cycle.loaded_leg, cycle.empty_leg))


def _fixed_s(cycle: Cycle) -> float:
    return cycle.drop_s + cycle.manoeuvre_source_s + cycle.manoeuvre_fire_s
