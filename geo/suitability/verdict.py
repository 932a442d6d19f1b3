"""From criteria to a verdict, a score and one sentence."""

from collections.abc import Sequence
from dataclasses import dataclass

from geo.records.aircraft import FillMethod
from geo.records.geometry import LineM, PointM
from geo.records.suitability import Criterion, LoadByFuel, MethodAssessment, Verdict, Ways
from geo.suitability.criteria import sentence

ORDER: tuple[Verdict, ...] = ("usable", "survey first", "not usable")


@dataclass(frozen=True, eq=False)
class Trial:
    """One way to fill at one source, with its criteria judged; `usable_as` says how, for the case that it is usable."""

    method: FillMethod
    criteria: tuple[Criterion, ...]
    usable_as: str
    litres: float | None
    litres_ruled_by: str
    fill_time_s: float | None
    fill_point: PointM | None
    run_line: LineM | None = None
    run_heading_true_deg: float | None = None
    loads_available: float | None = None
    cautions: tuple[str, ...] = ()
    ways: Ways | None = None
    load: LoadByFuel | None = None
    fill_fixed_s: float = 0.0


def verdict_of(criteria: Sequence[Criterion]) -> Verdict:
    """Give the verdict: a broken hard limit vetoes, a hard unknown asks for a survey, all else is usable."""
    states = {c.state for c in criteria if c.hard}
    if "not met" in states:
        return "not usable"
    return "survey first" if "unknown" in states else "usable"


def weighted_score(criteria: Sequence[Criterion]) -> float:
    """Give sum(weight x score) / sum(weight), 0 to 100; unknowns count with score 0 and their full weight."""
    total = sum(c.weight for c in criteria)
    return sum(c.weight * c.score for c in criteria) / total if total > 0.0 else 0.0


def standing(trial: Trial) -> tuple[int, int, float, float]:
    """Give a key that sorts the better trial first: verdict, fewer broken limits, more litres, more score.

    Among trials that are not usable the longer run stands for litres, so that the reason speaks of the run that a
    reader looks at first.
    """
    verdict = verdict_of(trial.criteria)
    broken = sum(c.hard and c.state == "not met" for c in trial.criteria)
    if verdict == "not usable":
        amount = trial.run_line.length if trial.run_line is not None else 0.0
    else:
        amount = trial.litres if trial.litres is not None else 0.0
    return ORDER.index(verdict), broken, -amount, -weighted_score(trial.criteria)


def ruling_reason(trial: Trial) -> str:
    """Give the fact that decides the verdict, with its figures; every broken or missing hard limit is named."""
    verdict = verdict_of(trial.criteria)
    if verdict == "usable":
        return f"usable: {trial.usable_as}"
    state = "not met" if verdict == "not usable" else "unknown"
    facts = "; ".join(sentence(c) for c in trial.criteria if c.hard and c.state == state)
    return facts if verdict == "not usable" else f"survey first: {facts}"


# Limits that ease as fuel burns.
BY_WEIGHT = ("hover payload", "low-speed power", "gross weight")


def whole_tank(load: LoadByFuel) -> tuple[float, str]:
    """Give the load with full fuel aboard [L], which is the least of a tank of fuel, and what sets it."""
    return load.litres(load.full_fuel_l), load.ruled_by(load.full_fuel_l)


def load_words(litres: float, tank_l: float, limited_by: str) -> str:
    """Say how much can be taken with full fuel, and what limits it where that is not the tank."""
    size = "full load" if litres >= tank_l else "partial load"
    with_fuel = ", with full fuel" if limited_by.startswith(BY_WEIGHT) else ""
    limit = "" if limited_by == "tank" else f" ({limited_by}{with_fuel})"
    return f"{size} of {litres:,.0f} L{limit}"


def conclude(trial: Trial, body_id: str) -> MethodAssessment:
    """Build the assessment of a trial. A trial that is not usable scores 0 and gives no litres."""
    verdict = verdict_of(trial.criteria)
    out = verdict == "not usable"
    return MethodAssessment(
        body_id=body_id,
        method=trial.method,
        verdict=verdict,
        score=0.0 if out else weighted_score(trial.criteria),
        criteria=trial.criteria,
        cautions=tuple(dict.fromkeys(trial.cautions)),
        reason=ruling_reason(trial),
        litres=None if out else trial.litres,
        litres_ruled_by=trial.litres_ruled_by,
        fill_time_s=None if out else trial.fill_time_s,
        fill_point=trial.fill_point,
        run_line=trial.run_line,
        run_heading_true_deg=trial.run_heading_true_deg,
        loads_available=trial.loads_available,
        ways=trial.ways,
        load=None if out else trial.load,
        fill_fixed_s=0.0 if out else trial.fill_fixed_s,
    )
