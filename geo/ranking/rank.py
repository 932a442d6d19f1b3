"""The order of the sources: each with its better method, most litres per hour first, and why the others are out."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import shapely

from geo.base.errors import BadArgument
from geo.ranking.cycle import fly_cycle
from geo.ranking.fuel_plan import plan_fuel
from geo.ranking.reasons import first_reason, position_reason
from geo.records.aircraft import METHOD_NAMES, AircraftProfile
from geo.records.ranking import Candidate, Cycle, Exclusion, FuelPlan, RankedSource
from geo.records.suitability import MethodAssessment

NO_ROUTE = "no route"
OUT_OF_FUEL_RANGE = "out of fuel range"
_EXCLUSION_ORDER = (NO_ROUTE, OUT_OF_FUEL_RANGE, "survey first", "not usable")


@dataclass(frozen=True, eq=False)
class _FlownCandidate:
    """A usable candidate with its cycle and fuel."""

    candidate: Candidate
    cycle: Cycle
    fuel: FuelPlan

    @property
    def order(self) -> tuple[float, float, str, str]:
        """Sorts the better source first."""
        cycle, body_id = self.cycle, self.candidate.body_id
        return -self.fuel.sustained_litres_per_hour, cycle.round_trip_s, body_id, cycle.method


def rank(
    candidates: Sequence[Candidate],
    profile: AircraftProfile,
    *,
    top: int | None = None,
    hours: float | None = None,
) -> tuple[tuple[RankedSource, ...], tuple[Exclusion, ...]]:
    """Rank sources by what they deliver over the time asked, and explain every position and every exclusion.

    Parameters: candidates, one per source and method, in any order; a method that is not usable comes without legs.
    profile, the aircraft that the candidates were assessed and flown with. top, keep only the first so many (at least
    1); None keeps all. Exclusions are never cut. hours, the time asked, None for one fuel cycle with refuelling.
    Returns: (ranked sources, best first; exclusions: no route, out of fuel range, survey first, not usable, each by id)
    Raises: BadArgument: two candidates of one source and method; a usable candidate with neither legs nor a problem;
    top below 1.

    Notes: The order is by the sustained litres per hour of `plan_fuel`, so that partial loads, fuel and what the water
    holds count; ties go to the shorter round trip, then to the id. A source whose one round trip does not fit into a
    tank of fuel is excluded.
    """
    check_top(top)
    best: list[tuple[_FlownCandidate, tuple[MethodAssessment, ...]]] = []
    excluded: list[Exclusion] = []
    for group in _by_source(candidates):
        flown = [_fly(candidate, profile, hours) for candidate in group if _is_flyable(candidate)]
        within = [f for f in flown if f.fuel.loads > 0]
        if within:
            chosen = min(within, key=lambda f: f.order)
            best.append((chosen, tuple(c.assessment for c in group if c is not chosen.candidate)))
        else:
            excluded.append(_exclude(group, flown))
    best.sort(key=lambda pair: pair[0].order)
    excluded.sort(key=lambda e: (_EXCLUSION_ORDER.index(e.verdict), e.body_id))
    return tuple(_ranked(best[:top])), tuple(excluded)


def check_top(top: int | None) -> None:
    """Raises: BadArgument for a number of sources below 1."""
    if top is not None and top < 1:
        raise BadArgument(f"top is {top}: it must be at least 1. Fix: ask for one source or more, or for all")


def sustained_rate(candidate: Candidate, profile: AircraftProfile, hours: float | None) -> float:
    """Give the sustained litres per hour of a source by one method, as `rank` has it; 0 where it would be left out."""
    if not _is_flyable(candidate):
        return 0.0
    fuel = _fly(candidate, profile, hours).fuel
    return fuel.sustained_litres_per_hour if fuel.loads > 0 else 0.0


def _by_source(candidates: Iterable[Candidate]) -> list[list[Candidate]]:
    groups: dict[str, list[Candidate]] = {}
    for candidate in candidates:
        group = groups.setdefault(candidate.body_id, [])
        if any(other.assessment.method == candidate.assessment.method for other in group):
            raise BadArgument(
                f"source {candidate.body_id} comes twice with {METHOD_NAMES[candidate.assessment.method]}. "
                "Fix: give one candidate per source and method"
            )
        group.append(candidate)
    return list(groups.values())


def _is_flyable(candidate: Candidate) -> bool:
    if candidate.assessment.verdict != "usable" or candidate.leg_problem is not None:
        return False
    if candidate.loaded_leg is None or candidate.empty_leg is None or candidate.assessment.fill_point is None:
        raise BadArgument(
            f"source {candidate.body_id} is usable but has no legs or no fill point, and no reason why. "
            "Fix: fly both legs or state the problem"
        )
    return True


def _fly(candidate: Candidate, profile: AircraftProfile, hours: float | None) -> _FlownCandidate:
    assert candidate.loaded_leg is not None and candidate.empty_leg is not None
    assessment, there, stop = candidate.assessment, candidate.transit_to, candidate.refuel
    if stop is not None:
        profile = replace(profile, fuel_l=stop.fuel_l, refuel_turn_s=stop.turn_s)
    burned_l = 0.0 if there is None else profile.fuel_burn_l_h * there.time_s / 3600.0
    fuel_l = max(profile.fuel_l - burned_l, 0.0)
    cycle = fly_cycle(assessment, candidate.loaded_leg, candidate.empty_leg, profile, fuel_l)
    fuel = plan_fuel(cycle, assessment, profile, there, candidate.transit_from, hours=hours)
    if stop is not None:
        note = f"{fuel.note}; {stop.note}" if stop.note else fuel.note
        fuel = replace(fuel, refuel_at=stop.base, note=note)
    return _FlownCandidate(candidate, cycle, fuel)


def _ranked(best: list[tuple[_FlownCandidate, tuple[MethodAssessment, ...]]]) -> Iterable[RankedSource]:
    above: _FlownCandidate | None = None
    for position, (flown, others) in enumerate(best, start=1):
        candidate, cycle = flown.candidate, flown.cycle
        assessment = candidate.assessment
        here = cycle, flown.fuel
        reason = first_reason(*here) if above is None else position_reason((above.cycle, above.fuel), here)
        assert assessment.fill_point is not None
        source = position, candidate.body_id, candidate.name, candidate.kind
        judged = assessment, candidate.conditions, cycle, flown.fuel
        drop = shapely.Point(cycle.loaded_leg.route.coords[-1])
        places, said = (assessment.fill_point, drop, assessment.run_line), (reason, _cautions(flown))
        transits = candidate.transit_to, candidate.transit_from
        yield RankedSource(*source, *judged, *places, *said, others, *transits)
        above = flown


def _cautions(flown: _FlownCandidate) -> tuple[str, ...]:
    legs = flown.cycle.loaded_leg.cautions + flown.cycle.empty_leg.cautions
    found = list(flown.candidate.assessment.cautions + legs)
    if flown.candidate.transit_to is None:
        found.append(
            "no base is given: loads and litres per fuel cycle count no transit, so they are too high"
        )
    held = flown.candidate.assessment.loads_available is not None
    if held and flown.fuel.loads < flown.fuel.loads_by_fuel:
        found.append(f"the water holds {flown.fuel.loads} loads, then it is too shallow")
    return tuple(dict.fromkeys(found))


def _exclude(group: list[Candidate], flown: list[_FlownCandidate]) -> Exclusion:
    verdicts = [c.assessment.verdict for c in group]
    if flown:
        verdict = OUT_OF_FUEL_RANGE
    elif "usable" in verdicts:
        verdict = NO_ROUTE
    else:
        verdict = "survey first" if "survey first" in verdicts else "not usable"
    out_of_range = {f.candidate.assessment.method: _fuel_words(f) for f in flown}
    methods = [(c, c.assessment.method) for c in group]
    said = [f"{METHOD_NAMES[method]}: {out_of_range.get(method) or _why_not(c)}" for c, method in methods]
    first, assessments = group[0], tuple(c.assessment for c in group)
    return Exclusion(first.body_id, first.name, first.kind, verdict, " | ".join(said), assessments)


def _why_not(candidate: Candidate) -> str:
    problem = candidate.leg_problem if candidate.assessment.verdict == "usable" else None
    return candidate.assessment.reason if problem is None else problem


def _fuel_words(flown: _FlownCandidate) -> str:
    fuel = flown.fuel
    transit_min = (fuel.transit_to_s + fuel.transit_from_s) / 60.0
    trip = f"one round trip takes {flown.cycle.round_trip_s / 60.0:.1f} min, more than"
    spare = f"{fuel.endurance_s / 60.0:.0f} min of fuel less {fuel.reserve_s / 60.0:.0f} min of reserve"
    return f"{trip} {spare} and {transit_min:.0f} min of transit (flown over high ground, not round it)"
