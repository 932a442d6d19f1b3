"""Ram intake: a scoop dragged through the water on a straight run, in the better direction of the best run."""

import math
from collections.abc import Sequence
from dataclasses import replace

from geo.base.errors import BadArgument
from geo.records.aircraft import FillMethod, RamIntake
from geo.records.region import AnnotatedSite
from geo.records.suitability import Criterion, MethodAssessment, State, TwoPasses
from geo.suitability import access, cautions, criteria, ends, water
from geo.suitability.facts import Facts
from geo.suitability.near_obstacles import near_fill
from geo.suitability.passes import Pass
from geo.suitability.verdict import Trial, conclude, load_words, standing, verdict_of

METHOD: FillMethod = "ram_intake"
# Loads that differ by less than this share count as the same.
SAME_LOAD = 0.01


def assess_ram_intake(facts: Facts) -> MethodAssessment:
    """Judge every run that is long enough in both directions and give the best: verdict, then litres, then score.

    Runs too short even for the least load are left out unless there is no other; then the longest is judged, so that
    the reason carries its figures. `alternatives` holds the other runs with the same verdict and load, and
    `two_passes` what a second pass would bring where the run is too short for a full tank.
    Raises: BadArgument when the aircraft has no ram intake.
    """
    intake = facts.profile.ram_intake
    if intake is None:
        raise BadArgument(f"{facts.profile.name} has no ram intake. Fix: ask only for its own methods")
    runs = facts.survey.runs
    if not runs:
        return conclude(_no_run(facts, intake), facts.survey.body_id)
    long_enough = [run for run in runs if run.length_m >= criteria.least_run_m(intake)]
    chosen = long_enough if long_enough else [max(runs, key=lambda run: run.length_m)]
    trials = [
        min((_trial(facts, intake, Pass(run, backward)) for backward in (False, True)), key=standing)
        for run in chosen
    ]
    best = min(trials, key=standing)
    found = _concluded(facts, intake, best)
    if found.verdict == "not usable":
        return found
    others = _alternatives(best, trials)
    return replace(found, alternatives=tuple(_concluded(facts, intake, other) for other in others))


def _concluded(facts: Facts, intake: RamIntake, trial: Trial) -> MethodAssessment:
    """Give the assessment of one run, with what a second pass would bring among its cautions."""
    found = conclude(trial, facts.survey.body_id)
    more = _second_pass(facts, intake, trial) if found.verdict != "not usable" else None
    return found if more is None else replace(found, two_passes=more, cautions=(*found.cautions, more.text))


def _alternatives(best: Trial, trials: Sequence[Trial]) -> list[Trial]:
    """Give the other runs with the best one's verdict and load, the better first.

    Notes: so that whoever knows where the fire is can take the run that is nearest by flight. A run with less load
    is never offered: a shorter way with less water is no plain gain.
    """
    if best.litres is None:
        return []
    verdict, least_l = verdict_of(best.criteria), best.litres * (1.0 - SAME_LOAD)
    others = [
        one
        for one in trials
        if one is not best
        and verdict_of(one.criteria) == verdict
        and one.litres is not None
        and one.litres >= least_l
    ]
    return sorted(others, key=standing)


def _second_pass(facts: Facts, intake: RamIntake, best: Trial) -> TwoPasses | None:
    """Give what a second pass on the best run would bring; None where the run does not limit the load.

    Notes: between the passes the aircraft lifts off, flies back along the run and comes down again in the same
    direction; the profile's manoeuvre at the source covers both turns.
    """
    if best.litres_ruled_by != "run" or not best.litres or best.run_line is None:
        return None
    profile = facts.profile
    turn_s = profile.manoeuvre_source_s + best.run_line.length / profile.cruise_loaded_ms
    most_l, _ = facts.least_load(access.load_limit(_noted(facts)))
    return criteria.second_pass(best.litres, most_l, profile.tank_l, intake.fill_time_s, turn_s)


def _no_run(facts: Facts, intake: RamIntake) -> Trial:
    """Judge a water in which the survey found no run: too small for sure, or not known."""
    inset = facts.body.polygon.buffer(-intake.width_m / 2.0)
    west, south, east, north = inset.bounds if not inset.is_empty else (0.0, 0.0, 0.0, 0.0)
    # No straight line inside is longer than the diagonal of the box round it.
    too_small = math.hypot(east - west, north - south) < criteria.least_run_m(intake)
    if too_small:
        reason = f"not enough: the water is too short, or nowhere {intake.width_m:.0f} m wide"
    else:
        reason = f"unknown: the survey found no run here ({'; '.join(facts.survey.remarks)})"
    reason += f"; {criteria.metres_needed(intake.full_run_m)} needed"
    state: State = "not met" if too_small else "unknown"
    figure = criteria.Figure(None, criteria.least_run_m(intake), "m")
    missing = criteria.criterion("run length", state, reason, hard=True, figure=figure)
    return Trial(METHOD, (missing,), "", None, "run", None, None, cautions=(cautions.wires(facts),))


def _trial(facts: Facts, intake: RamIntake, flown: Pass) -> Trial:
    run, tank_l = flown.run, facts.profile.tank_l
    run_l = tank_l * criteria.run_share(run.length_m, intake)
    litres, limited_by = facts.least_load(access.load_limit(_noted(facts)), run=run_l)
    judged = _criteria(facts, intake, flown, litres, limited_by)
    load = load_words(litres, tank_l, limited_by)
    heading = f"{round(flown.heading_true_deg) % 360:03d}"
    usable_as = f"{load} on a {criteria.metres(run.length_m)} run, heading {heading}"
    load_of = litres, limited_by, intake.fill_time_s * litres / tank_l
    place = run.line.interpolate(0.5, normalized=True), flown.line, flown.heading_true_deg
    said = _cautions(facts, intake, judged, flown, litres, limited_by)
    return Trial(METHOD, judged, usable_as, *load_of, *place, cautions=said)


def _criteria(
    facts: Facts, intake: RamIntake, flown: Pass, litres: float, limited_by: str
) -> tuple[Criterion, ...]:
    survey, air, run = facts.survey, facts.conditions, flown.run
    length = criteria.run_length(run.length_m, intake)
    of_water = (
        water.level(survey.level_change_m, survey.kind),
        water.salt_in_forward_flight(survey.salinity_class, survey.salinity_reason),
        criteria.wind_strength(air.wind_ms, intake.wind_limit_ms),
        access.closed_areas(run.line, run.corridor_width_m / 2.0, facts.closures),
        access.permission(facts.body, _noted(facts)),
        access.site_notes(_noted(facts)),
    )
    # Nobody flies a run that is too short: its depth, ends, wind and load would only cloud the reason.
    if length.state == "not met":
        return (length, *of_water)
    load = criteria.load(litres, limited_by, facts.profile.tank_l, intake.least_load_fraction)
    return (length, load, *_along_the_run(facts, intake, flown), *of_water)


def _along_the_run(facts: Facts, intake: RamIntake, flown: Pass) -> tuple[Criterion, ...]:
    air, run = facts.conditions, flown.run
    head_ms, cross_ms = criteria.wind_parts(air.wind_from_grid_deg, air.wind_ms, flown.heading_grid_deg)
    spread = intake.surface_divergence
    return (
        water.depth(run.depth, intake.depth_m, intake.depth_probability, "along the run"),
        criteria.width(run.corridor_width_m, intake.width_m),
        ends.end_clearance("approach clearance", flown.approach_end, intake.approach_slope, spread),
        ends.end_clearance("climb-out clearance", flown.climb_out_end, intake.climb_out_slope, spread),
        criteria.crosswind(cross_ms, intake.crosswind_limit_ms),
        criteria.tail_wind(head_ms, intake.tailwind_limit_ms),
    )


def _cautions(
    facts: Facts,
    intake: RamIntake,
    judged: tuple[Criterion, ...],
    flown: Pass,
    litres: float,
    limited_by: str,
) -> tuple[str, ...]:
    found = ends.slope_cautions(intake, flown.approach_end, flown.climb_out_end)
    found += cautions.of_load(litres, facts.profile.tank_l, limited_by)
    payload_kg = facts.conditions.liftable_kg
    if payload_kg is not None and payload_kg < litres * facts.conditions.water_density_kg_l:
        found.append(
            f"the aircraft cannot hover with this load here (hover payload {payload_kg:,.0f} kg): dump it to stop"
        )
    found += access.site_cautions(_noted(facts))
    found += near_fill(facts, flown.run.line, "the run")
    return tuple(found + cautions.for_source(facts, judged, flown.run.depth, hovering=False))


def _noted(facts: Facts) -> tuple[AnnotatedSite, ...]:
    return access.sites_of(METHOD, facts.sites)
