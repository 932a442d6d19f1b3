"""What to beware of at one source with one method: short sentences that follow from the data."""

from collections.abc import Sequence

from geo.base.units import MS_PER_KNOT
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import SourceConditions
from geo.records.suitability import Criterion
from geo.records.survey import LeastDepth
from geo.suitability.criteria import knots, sentence
from geo.suitability.facts import Facts
from geo.suitability.verdict import BY_WEIGHT

# Light wind carries most spray into the engines: US Army TM 1-1520-240-10, 8-4-41 (about 5 to 16 kt).
SPRAY_FROM_MS, SPRAY_TO_MS = 5.0 * MS_PER_KNOT, 16.0 * MS_PER_KNOT

KIND_CAUTIONS: dict[str, str] = {
    "river": "river: look for current, drifting wood and bends",
    "lake": "lake: smooth water hides its height; look for drowned trees near the shore",
    "reservoir": "reservoir: drawdown bares banks and stumps; smooth water hides its height",
    "estuary": "estuary: depth and salt change with the tide, which can be lower than predicted",
    "sea": "sea: swell and tide, which can be lower than predicted, are not in the figures",
    "dam": "farm dam: look for fences, pumps and lines on its banks",
    "pond": "pond: look for lines and trees on its banks",
    "unknown": "kind of water unknown",
}


def wires(facts: Facts) -> str:
    """Give the caution on wires and masts, which stands on every result."""
    look = "look for them on the approach, over the water and on departure"
    return wire_words(facts.survey.obstacles_listed, look)


def wire_words(listed: bool, look: str) -> str:
    """Say of wires and masts what a list of obstacles, or the want of one, leaves open."""
    if listed:
        return f"wires and masts may be missing from the obstacle list: {look}"
    return f"no obstacle data: wires and masts are not in the figures; {look}"


def of_evidence(criteria: Sequence[Criterion], depth: LeastDepth | None) -> list[str]:
    """Give the cautions on soft unknowns and on the age of the depth evidence."""
    soft = [c for c in criteria if c.state == "unknown" and not c.hard and c.name != "site notes"]
    found = [sentence(c) for c in soft]
    if depth is not None and depth.oldest_on is not None:
        found.append(
            f"the oldest depth evidence dates from {depth.oldest_on.isoformat()}: the bed may have changed"
        )
    return found


def of_load(
    profile: AircraftProfile, air: SourceConditions, litres: float | None, limited_by: str
) -> list[str]:
    """Give the caution on a load that does not fill the tank."""
    if litres is None or limited_by == "tank":
        return []
    grows = ""
    if limited_by.startswith(BY_WEIGHT) and air.fuel_gain_kg_l > 0.0:
        grows = " with full fuel; it grows as fuel burns"
    return [f"partial load: {litres:,.0f} L of {profile.tank_l:,.0f} L, limited by the {limited_by}{grows}"]


def of_salt(facts: Facts, *, hovering: bool) -> list[str]:
    """Give the cautions on salt: wash down, mass, and spray in a hover."""
    salinity, wind_ms = facts.survey.salinity_class, facts.conditions.wind_ms
    if salinity == "fresh":
        return []
    found = []
    if salinity is not None:
        heavier = " and the load is up to 2.7 % heavier" if salinity == "salt" else ""
        found.append(f"{salinity} water: wash the aircraft down with fresh water{heavier}")
        found.append(f"{salinity} water: it harms soil, crops and fresh water where it is dropped")
    if hovering and SPRAY_FROM_MS <= wind_ms <= SPRAY_TO_MS:
        who = "salinity unknown" if salinity is None else f"{salinity} water"
        found.append(
            f"{who} and wind {knots(wind_ms)}: spray is worst at about 5 to 16 kt; face the wind, watch power"
        )
    return found


def for_source(
    facts: Facts, criteria: Sequence[Criterion], depth: LeastDepth | None, *, hovering: bool
) -> list[str]:
    """Give all cautions that the data of a source call for, most general last."""
    found = of_evidence(criteria, depth) + of_salt(facts, hovering=hovering)
    found += [sentence(c) for c in criteria if c.state == "not met" and not c.hard]
    found += facts.conditions.weight_notes
    found.append(KIND_CAUTIONS[facts.survey.kind])
    if facts.survey.kind in ("river", "estuary", "unknown"):
        flow_ms = facts.body.current_ms
        found.append("current unknown" if flow_ms is None else f"current {flow_ms:.1f} m/s, as stated")
    found.append(wires(facts))
    return found
