"""A ranking: the cycle of each source with its parts, its position, and why."""

from dataclasses import dataclass, field

from geo.records.aircraft import AircraftProfile, FillMethod
from geo.records.conditions import SourceConditions, Weather
from geo.records.flight import Leg
from geo.records.geometry import LineM, PointM
from geo.records.suitability import MethodAssessment


@dataclass(frozen=True)
class Cycle:
    """The first load, from fill to fill. round_trip_s is the sum of the six parts; climb is inside the legs."""

    method: FillMethod
    litres: float
    fill_s: float
    manoeuvre_source_s: float
    loaded_leg: Leg
    drop_s: float
    manoeuvre_fire_s: float
    empty_leg: Leg
    round_trip_s: float
    loads_per_hour: float
    litres_per_hour: float


@dataclass(frozen=True)
class PlannedLoad:
    """One load of a tank of fuel.

    fuel_l: aboard when its fill begins; ruled_by: what limits litres; gross_kg: the whole aircraft after the fill, None
    where its weights are not known; dropped_s: since it left the base (without one: since the first fill began) until
    the drop ends.
    """

    number: int
    fuel_l: float
    litres: float
    ruled_by: str
    gross_kg: float | None
    fill_s: float
    round_trip_s: float
    dropped_s: float


@dataclass(frozen=True)
class FuelPlan:
    """One tank of fuel: as many whole round trips as endurance - reserve - transit allow and the water holds.

    table: its loads, one by one; loads and litres are their number and sum. loads_by_fuel, litres_by_fuel: those of a
    water that never ends. cycle_s: transits, loads_by_fuel round trips, and refuelling. long_run_litres_per_hour is
    litres over cycle_s. hours: the time asked for, None for one fuel cycle; sustained_litres_per_hour: what is
    delivered over that time, by which sources are ordered. refuel_at: the base, None without any."""

    endurance_s: float
    reserve_s: float
    transit_to_s: float
    transit_from_s: float
    loads: int
    litres: float
    refuel_turn_s: float
    long_run_litres_per_hour: float
    note: str
    table: tuple[PlannedLoad, ...] = ()
    loads_by_fuel: int = 0
    litres_by_fuel: float = 0.0
    cycle_s: float = 0.0
    hours: float | None = None
    sustained_litres_per_hour: float = 0.0
    refuel_at: str | None = None


@dataclass(frozen=True)
class RefuelStop:
    """Where a source's tank of fuel comes from: the base's name, the fuel aboard when it is left [L], how long the stop
    takes [s], and what is to be said of it."""

    base: str
    fuel_l: float
    turn_s: float
    note: str = ""


@dataclass(frozen=True)
class Candidate:
    """What the ranking compares: one source with one method, assessed and flown, or the reason it was not."""

    body_id: str
    name: str
    kind: str
    assessment: MethodAssessment
    conditions: SourceConditions
    loaded_leg: Leg | None
    empty_leg: Leg | None
    transit_to: Leg | None
    transit_from: Leg | None
    leg_problem: str | None
    refuel: RefuelStop | None = None


@dataclass(frozen=True)
class RankedSource:
    """A source in the ranking. reason explains the position against the one above; transits as the fuel plan counts
    them, None without a base."""

    rank: int
    body_id: str
    name: str
    kind: str
    assessment: MethodAssessment
    conditions: SourceConditions
    cycle: Cycle
    fuel: FuelPlan
    fill_point: PointM
    drop_point: PointM
    run_line: LineM | None
    reason: str
    cautions: tuple[str, ...]
    other_methods: tuple[MethodAssessment, ...] = ()
    transit_to: Leg | None = None
    transit_from: Leg | None = None


@dataclass(frozen=True)
class Exclusion:
    """A source that is not ranked: the verdict that kept it out and the reason, with figures."""

    body_id: str
    name: str
    kind: str
    verdict: str
    reason: str
    assessments: tuple[MethodAssessment, ...]


@dataclass(frozen=True)
class Unrefined:
    """A source that was not worked out: with the greatest sustained rate [L/h] that it could have, it cannot enter the
    places asked for. 0 where no load at all can be taken."""

    body_id: str
    name: str
    most_litres_per_hour: float


@dataclass(frozen=True)
class Ranking:
    """The answer to one question, with the question.

    unrefined: sources that were not worked out, by falling bound, at most 1,000 of the unrefined_count. profile: every
    figure of the aircraft that was used, with the source of each by its name."""

    region_name: str
    survey_fingerprint: str
    fire_id: str
    fire_name: str
    profile_id: str
    aircraft: str
    weather: Weather
    sources: tuple[RankedSource, ...]
    excluded: tuple[Exclusion, ...]
    cautions: tuple[str, ...]
    assumptions: dict[str, str] = field(default_factory=dict)
    unrefined: tuple[Unrefined, ...] = ()
    unrefined_count: int = 0
    profile: AircraftProfile | None = None
