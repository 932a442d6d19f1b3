"""The loads of a tank of fuel in words, so that they can be redone by hand."""

from collections.abc import Callable

from geo.records.ranking import FuelPlan


def fuel_lines(fuel: FuelPlan, clock: Callable[[float], str]) -> list[str]:
    """Give the loads of a tank of fuel, one by one, and the rate with refuelling; clock writes a time [s]."""
    spare_s = fuel.endurance_s - fuel.reserve_s - fuel.transit_from_s
    lines = [
        f"  fuel cycle: loads that end within {fuel.endurance_s:,.0f} endurance - {fuel.reserve_s:,.0f} reserve - "
        f"{fuel.transit_from_s:,.0f} transit home = {spare_s:,.0f} s; the flight out takes {fuel.transit_to_s:,.0f} s"
    ]
    for one in fuel.table:
        weight = "" if one.gross_kg is None else f", {one.gross_kg:,.0f} kg in all"
        lines.append(
            f"    load {one.number}: fuel {one.fuel_l:,.0f} L, water {one.litres:,.0f} L ({one.ruled_by}){weight}; "
            f"dropped after {clock(one.dropped_s)}, round trip {one.round_trip_s:.1f} s"
        )
    lines.append(
        f"  sustained: {fuel.litres:,.0f} L x 3600 / ({fuel.transit_to_s:,.0f} + {fuel.loads_by_fuel} round trips + "
        f"{fuel.transit_from_s:,.0f} + {fuel.refuel_turn_s:,.0f} refuelling = {fuel.cycle_s:,.0f} s) = "
        f"{fuel.long_run_litres_per_hour:,.0f} L/h"
    )
    if fuel.hours is not None:
        lines.append(f"  over {fuel.hours:g} h: {fuel.sustained_litres_per_hour:,.0f} L/h")
    return lines
