"""Why a source stands where it stands: the differences from the source above, in words with figures."""

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
    """Give the reason of a later position: rate, load and round trip against the source above, and what makes them.

    Notes: fill, legs, drop and manoeuvre differences add up to the difference of round trips; parts under half a
    second are not said.
    """
    rate = here.litres_per_hour - above.litres_per_hour
    said = [f"{_signed(rate, 'L/h')}" if abs(rate) >= 0.5 else "same rate"]
    if abs(here.litres - above.litres) >= 0.5:
        said.append(f"{_signed(here.litres - above.litres, 'L')} per load")
    said.append(_round_trip(above, here))
    return "; ".join(said)


def _round_trip(above: Cycle, here: Cycle) -> str:
    total_s = here.round_trip_s - above.round_trip_s
    if abs(total_s) < LEAST_SAID_S:
        return "same round trip"
    parts = {
        _leg_words(above, here): _legs_s(here) - _legs_s(above),
        _fill_words(above, here): here.fill_s - above.fill_s,
        "drop and manoeuvre": _fixed_s(here) - _fixed_s(above),
    }
    told = [f"{words} {_signed(s, 's')}" for words, s in parts.items() if abs(s) >= LEAST_SAID_S]
    return f"{_signed(total_s, 's')} round trip" + (f" ({', '.join(told)})" if told else "")


def _leg_words(above: Cycle, here: Cycle) -> str:
    further_m = _legs_m(here) - _legs_m(above)
    climb_s = _climb_s(here) - _climb_s(above)
    notes = []
    if abs(further_m) >= 50.0:
        notes.append(
            f"{abs(further_m) / 1000.0:.1f} km {'further' if further_m > 0 else 'nearer'} out and back"
        )
    if abs(climb_s) >= LEAST_SAID_S:
        notes.append(f"climb and descent {_signed(climb_s, 's')}")
    return f"legs [{'; '.join(notes)}]" if notes else "legs in this wind"


def _fill_words(above: Cycle, here: Cycle) -> str:
    if above.method == here.method:
        return "fill"
    return f"fill by {METHOD_NAMES[here.method]} against {METHOD_NAMES[above.method]}"


def _signed(value: float, unit: str) -> str:
    return f"{value:+,.0f} {unit}"


def _legs_s(cycle: Cycle) -> float:
    return cycle.loaded_leg.time_s + cycle.empty_leg.time_s


def _legs_m(cycle: Cycle) -> float:
    return cycle.loaded_leg.distance_m + cycle.empty_leg.distance_m


def _climb_s(cycle: Cycle) -> float:
    return sum(leg.climb_extra_s + leg.descent_extra_s for leg in (cycle.loaded_leg, cycle.empty_leg))


def _fixed_s(cycle: Cycle) -> float:
    return cycle.drop_s + cycle.manoeuvre_source_s + cycle.manoeuvre_fire_s
