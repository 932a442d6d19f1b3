"""A mixed fleet sent to the sources for the most litres per hour, within the slots and the water of each source."""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import networkx as nx

from geo.base.errors import BadArgument
from geo.records.aircraft import AircraftProfile
from geo.records.extras import FleetMember, FleetPlan, SourceUse
from geo.records.ranking import RankedSource

SLOTS = 2  # aircraft that may work one source at once: common practice, no source
HOURS = 1.0
_PER_UNIT = 1000.0  # the flow counts whole millilitres per hour, so that it is exact
_SINK = ("sink", "")


@dataclass(frozen=True)
class _Source:
    body_id: str
    name: str
    seats: int
    limited_by: str


def by_profile(aircraft: Sequence[AircraftProfile]) -> dict[str, AircraftProfile]:
    """Give each kind of aircraft of a fleet once, by its profile's id.

    Raises: BadArgument where different profiles share an id.
    """
    kinds = {profile.profile_id: profile for profile in aircraft}
    twins = sorted({one.profile_id for one in aircraft if kinds[one.profile_id] != one})
    if twins:
        raise BadArgument(
            f"fleet: different profiles share the id {', '.join(twins)}. Fix: give each profile its own id"
        )
    return kinds


def plan_fleet(
    fleet: Sequence[str],
    rankings: Mapping[str, Sequence[RankedSource]],
    *,
    slots: int = SLOTS,
    hours: float = HOURS,
) -> FleetPlan:
    """Give the source of each aircraft so that the fleet delivers the most litres per hour, and what each one adds.

    Parameters: fleet, the aircraft by profile id, one entry each, in the order in which they are called. rankings, per
    profile id its ranked sources, each with the method that delivers most. slots, aircraft that may work one source, at
    least 1. hours, how long the water of a source must last [h], above 0.
    Raises: BadArgument: no aircraft, one without ranking, slots below 1, hours not above 0.

    Notes: Each aircraft keeps one source. A source has s = slots seats; where it holds V litres, and its fastest user
    takes r litres per hour, at most floor(V / (r hours)) of them but one at least, whose rate is then no more than V /
    hours. A rate is that of one fuel cycle with refuelling, its loads growing as fuel burns. Within this model the
    minimum-cost flow (network simplex on whole millilitres) is the optimum. Nobody waits for another.

    References: Ahuja, Magnanti, Orlin, Network Flows (1993), chapter 11.
    """
    _check(fleet, rankings, slots, hours)
    rankings = {
        kind: [one for one in listed if one.assessment.agent == "water"] for kind, listed in rankings.items()
    }
    rates = {kind: {s.body_id: _rate(s, hours) for s in rankings[kind]} for kind in dict.fromkeys(fleet)}
    sources = _sources(rates, rankings, slots, hours)
    totals = [0.0]
    for count in range(1, len(fleet) + 1):
        rows = _assign(Counter(fleet[:count]), rates, sources).items()
        totals.append(sum(n * rates[kind][body] for kind, row in rows for body, n in row.items()))
    seats = _assign(Counter(fleet), rates, sources)
    gains = [after - before for before, after in pairwise(totals)]
    members = _members(fleet, gains, seats, rates, rankings)
    used = Counter(one.body_id for one in members if one.body_id is not None)
    uses = tuple(
        SourceUse(s.body_id, s.name, s.seats, used[s.body_id], s.limited_by)  # type: ignore[arg-type]
        for s in sources.values()
        if used[s.body_id]
    )
    return FleetPlan(members, totals[-1], uses, _assumptions(slots, hours))


def _check(
    fleet: Sequence[str], rankings: Mapping[str, Sequence[RankedSource]], slots: int, hours: float
) -> None:
    missing = sorted(set(fleet) - set(rankings))
    if not fleet or missing or slots < 1 or not (math.isfinite(hours) and hours > 0.0):
        raise BadArgument(
            f"fleet of {len(fleet)}, without ranking: {', '.join(missing) or 'none'}, {slots} slots, {hours} h: a "
            "fleet needs an aircraft, a ranking for each, slots of 1 or more, hours above 0. Fix: correct the value"
        )


def _held_l(source: RankedSource) -> float | None:
    """Give the litres that a source holds, whole loads only; None where that is not limited or not known.

    Notes: of the loads of the day's tank of fuel those that it holds; a water that outlasts a tank gives whole loads of
    the first one's size.
    """
    held_l, fuel = source.assessment.held_l, source.fuel
    if held_l is None or fuel.loads < fuel.loads_by_fuel:
        return None if held_l is None else fuel.litres
    return math.floor(held_l / source.cycle.litres + 1e-9) * source.cycle.litres


def _rate(source: RankedSource, hours: float) -> float:
    held, fuel = _held_l(source), source.fuel
    rate = 3600.0 * fuel.litres_by_fuel / fuel.cycle_s
    return rate if held is None else min(rate, held / hours)


def _sources(
    rates: Mapping[str, Mapping[str, float]],
    rankings: Mapping[str, Sequence[RankedSource]],
    slots: int,
    hours: float,
) -> dict[str, _Source]:
    found: dict[str, _Source] = {}
    for kind in rates:
        for source in rankings[kind]:
            body = source.body_id
            least = [_held_l(s) for k in rates for s in rankings[k] if s.body_id == body]
            held = min((h for h in least if h is not None), default=None)
            fastest = max(rates[k].get(body, 0.0) for k in rates)
            seats, limit = slots, "slots"
            if held is not None and fastest > 0.0:
                lasting = max(1, math.floor(held / (fastest * hours) + 1e-9))
                seats, limit = (lasting, "water left") if lasting < slots else (slots, "slots")
            found[body] = _Source(body, source.name, seats, limit)
    return found


def _assign(
    fleet: Counter[str], rates: Mapping[str, Mapping[str, float]], sources: Mapping[str, _Source]
) -> dict[str, dict[str, int]]:
    """Give how many of each kind go to each source, by minimum-cost flow; the rest stay."""
    graph: nx.DiGraph[tuple[str, str]] = nx.DiGraph()
    graph.add_node(_SINK, demand=sum(fleet.values()))
    for source in sources.values():
        graph.add_edge(("source", source.body_id), _SINK, capacity=source.seats, weight=0)
    for kind, count in fleet.items():
        graph.add_node(("aircraft", kind), demand=-count)
        graph.add_edge(("aircraft", kind), _SINK, capacity=count, weight=0)
        for body, rate in rates[kind].items():
            weight = -round(rate * _PER_UNIT)
            graph.add_edge(("aircraft", kind), ("source", body), capacity=count, weight=weight)
    flow = nx.min_cost_flow(graph)
    return {
        kind: {to[1]: sent for to, sent in flow["aircraft", kind].items() if to[0] == "source" and sent > 0}
        for kind in fleet
    }


def _members(
    fleet: Sequence[str],
    gains: Sequence[float],
    seats: Mapping[str, Mapping[str, int]],
    rates: Mapping[str, Mapping[str, float]],
    rankings: Mapping[str, Sequence[RankedSource]],
) -> tuple[FleetMember, ...]:
    """Give each aircraft its source: those of one kind take the seats of their kind, the best source first."""
    known = {(kind, s.body_id): s for kind in seats for s in rankings[kind]}
    queues = {
        kind: [known[kind, b] for b in sorted(row, key=lambda b: -rates[kind][b]) for _ in range(row[b])]
        for kind, row in seats.items()
    }
    members = []
    for number, (kind, gain) in enumerate(zip(fleet, gains, strict=True), start=1):
        note = _idle_note(number, gain, ranked=bool(rates[kind]))
        if not queues[kind]:
            members.append(FleetMember(number, kind, None, None, None, 0.0, max(gain, 0.0), note))
            continue
        source = queues[kind].pop(0)
        rate, given = rates[kind][source.body_id], (source.body_id, source.name, source.cycle.method)
        members.append(FleetMember(number, kind, *given, rate, max(gain, 0.0), note))
    return tuple(members)


def _idle_note(number: int, gain: float, *, ranked: bool) -> str:
    """Say why an aircraft adds nothing; empty where it does."""
    if not ranked:
        return f"aircraft {number} adds nothing: no source is ranked for it"
    return "" if gain > 0.5 else f"aircraft {number} adds nothing: every source it could use is full"


def _assumptions(slots: int, hours: float) -> dict[str, str]:
    return {
        "slots": f"at most {slots} aircraft work one source (the default of {SLOTS} is common practice, no source)",
        "water": f"a source that holds little water takes only as many aircraft as it can serve for {hours:g} h",
        "agent": "only sources of water: litres of retardant or foam are never added to them",
        "one source": "each aircraft keeps its source and its fill method; nobody waits; refuelling is counted",
        "gain": "the litres per hour that this aircraft adds to the best plan of those listed before it",
    }
