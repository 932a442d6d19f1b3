"""Where a source's tank of fuel comes from: the base or fuel truck with which it delivers most."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from geo.base.errors import NotFlyable
from geo.ranking.rank import sustained_rate
from geo.records.aircraft import AircraftProfile
from geo.records.flight import Endpoint, Leg
from geo.records.ranking import Candidate, RefuelStop
from geo.records.region import Base
from geo.search.flown_legs import FlightContext, above_ground, fill_ends, standing, without_legs

Flyer = Callable[[Endpoint, Endpoint], Leg]


@dataclass(frozen=True)
class Refuelling:
    """The time over which the water is asked for [h], None for one fuel cycle, and the time of the day of the question,
    None where none was asked: then no base is left out for its hours."""

    hours: float | None = None
    at: datetime | None = None


def with_transits(
    context: FlightContext, one: Candidate, drop: Endpoint, fly: Flyer, asked: Refuelling | None = None
) -> Candidate:
    """Give a candidate that has legs with its transits from where it refuels and back too; without a base as it is.

    Of several bases and trucks that one is kept with which the source delivers most over the time asked; what is far,
    slow at the pump, nearly empty or closed delivers less. `fly` flies an empty leg.
    """
    places, level_m = context.region.refuel_places, one.conditions.elevation_m
    if not places or one.loaded_leg is None or level_m is None:
        return one
    asked = asked if asked is not None else Refuelling()
    best, best_rate, problems = None, -1.0, []
    for base in places:
        if not open_at(base, asked.at):
            problems.append(f"the base {base.name} is closed at the time asked")
            continue
        home = above_ground(context.region, base.point, 0.0, f"base {base.name}")
        home = standing(context.profile, base.point, home.altitude_m)
        near, _ = fill_ends(context, one.assessment, level_m)
        try:
            there, back = fly(home, near), fly(drop, home)
        except NotFlyable as reason:
            problems.append(f"the transit from or to the base {base.name}: {reason}")
            continue
        stop = refuel_stop(base, context.profile, asked.at)
        found = replace(one, transit_to=there, transit_from=back, refuel=stop)
        rate = sustained_rate(found, context.profile, asked.hours)
        if rate > best_rate:
            best, best_rate = found, rate
    return best if best is not None else without_legs(one, "; ".join(problems))


def refuel_stop(base: Base, profile: AircraftProfile, at: datetime | None) -> RefuelStop:
    """Give the stop at a base: the fuel that the aircraft leaves with, and how long it stands there.

    Notes: it comes with its reserve and takes what is left, at most a full tank. The profile's refuelling time is the
    least; where the flow is known and slower, the pumping counts: fuel / flow.
    """
    fuel_l, notes = profile.fuel_l, []
    if base.fuel_left_l is not None and profile.reserve_l + base.fuel_left_l < fuel_l:
        fuel_l = profile.reserve_l + base.fuel_left_l
        notes.append(f"{base.name} has {base.fuel_left_l:,.0f} L of fuel left, less than a tank")
    turn_s = profile.refuel_turn_s
    if base.fuel_flow_l_min is not None:
        turn_s = max(turn_s, 60.0 * (fuel_l - profile.reserve_l) / base.fuel_flow_l_min)
    if base.open_from_utc is not None and at is None:
        notes.append(f"the hours of {base.name} were not checked, because no time was asked")
    return RefuelStop(base.name, fuel_l, turn_s, "; ".join(notes))


def open_at(base: Base, at: datetime | None) -> bool:
    """Give whether a base is open at a time of day, and still an hour later; true where hours or time are not stated.

    Notes: an hour later stands for the flight and the pumping: common practice, no source.
    """
    opens, closes = base.open_from_utc, base.open_until_utc
    if opens is None or closes is None or at is None:
        return True
    for moment in (at, at + timedelta(hours=1.0)):
        clock = moment.astimezone(UTC).time()
        inside = opens <= clock <= closes if opens <= closes else clock >= opens or clock <= closes
        if not inside:
            return False
    return True
