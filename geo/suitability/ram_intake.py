"""Ram intake: a scoop dragged through the water on a straight run, in the better direction of the best run."""

import math
from collections.abc import Sequence
from dataclasses import replace

from geo.base.errors import BadArgument
from geo.base.positions import true_and_magnetic
from geo.records.aircraft import FillMethod, RamIntake
from geo.records.region import AnnotatedSite
from geo.records.suitability import Criterion, LoadByFuel, MethodAssessment, State, TwoPasses
from geo.suitability import access, cautions, criteria, ends, water
from geo.suitability.facts import Facts
from geo.suitability.near_obstacles import near_fill
from geo.suitability.passes import Pass
from geo.suitability.verdict import Trial, conclude, load_words, standing, verdict_of, whole_tank
from geo.suitability.waves import waves

METHOD: FillMethod = "ram_intake"
# Loads that differ by less than this share count as the same.
SAME_LOAD = 0.01
SCOOP_BY_HOVER = (
    "the profile has no table of power at the scoop's speed, so the hover's table limits the load of the scoop. "
    "Fix: write [low_speed_weight] in the profile"
)


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
    most_l, _ = whole_tank(_load(facts))
    return criteria.second_pass(best.litres, most_l, profile.tank_l, intake.fill_time_s, turn_s)


def _load(facts: Facts, **run_l: float) -> LoadByFuel:
    """Give the load of the scoop; the power at its speed limits it, or that in the hover where no table says more."""
    air = facts.conditions
    power_kg = air.scoop_kg if air.scoop_kg is not None else air.liftable_kg
    return facts.load(power_kg, air.scoop_by, access.load_limit(_noted(facts)), **run_l)


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
    lacking = (missing, water.level(facts.survey.level_change_m, facts.survey.kind, facts.dry))
    judged = lacking if facts.dry else (missing,)
    return Trial(METHOD, judged, "", None, "run", None, None, cautions=(cautions.wires(facts),))


def _trial(facts: Facts, intake: RamIntake, flown: Pass) -> Trial:
    run, tank_l = flown.run, facts.profile.tank_l
    run_l = tank_l * criteria.run_share(run.length_m, intake)
    load = _load(facts, run=run_l)
    litres, limited_by = whole_tank(load)
    judged = _criteria(facts, intake, flown, load)
    words = load_words(litres, tank_l, limited_by)
    heading = true_and_magnetic(flown.heading_true_deg, facts.conditions.variation_deg)
    usable_as = f"{words} on a {criteria.metres(run.length_m)} run, heading {heading}"
    load_of = litres, limited_by, intake.fill_time_s * litres / tank_l
    place = run.line.interpolate(0.5, normalized=True), flown.line, flown.heading_true_deg
    said = _cautions(facts, intake, judged, flown, load)
    return Trial(METHOD, judged, usable_as, *load_of, *place, cautions=said, load=load)


def _criteria(facts: Facts, intake: RamIntake, flown: Pass, by_fuel: LoadByFuel) -> tuple[Criterion, ...]:
    survey, air, run = facts.survey, facts.conditions, flown.run
    length = criteria.run_length(run.length_m, intake)
    of_water = (
        water.level(survey.level_change_m, survey.kind, facts.dry),
        water.salt_in_forward_flight(survey.salinity_class, survey.salinity_reason),
        criteria.wind_strength(air.wind_ms, intake.wind_limit_ms, air.gust_ms, intake.gust_spread_limit_ms),
        access.closed_areas(run.line, run.corridor_width_m / 2.0, facts.closures),
        access.permission(facts.body, _noted(facts)),
        access.site_notes(_noted(facts)),
    )
    # Nobody flies a run that is too short: its depth, ends, wind and load would only cloud the reason.
    if length.state == "not met":
        return (length, *of_water)
    load = criteria.load(*whole_tank(by_fuel), facts.profile.tank_l, intake.least_load_fraction)
    rough = waves(facts, run.line, intake.wave_limit_m)
    return (length, load, *_along_the_run(facts, intake, flown, by_fuel), *of_water, *rough)


def _speed_up_beyond_m(facts: Facts, intake: RamIntake, flown: Pass, by_fuel: LoadByFuel) -> float:
    """Give how far beyond the run's end the aircraft still gathers speed [m]: what is left of the run after the
    longest fill is used for it."""
    profile = facts.profile
    most_l = by_fuel.litres(profile.reserve_l)
    filled_m = intake.entry_m + intake.fill_time_s * intake.speed_ms * most_l / profile.tank_l + intake.exit_m
    needed_m = ends.speed_up_m(intake.speed_ms, profile.climb_speed_loaded_ms, profile.acceleration_ms2)
    return max(0.0, needed_m - max(0.0, flown.run.length_m - filled_m))


def _along_the_run(
    facts: Facts, intake: RamIntake, flown: Pass, by_fuel: LoadByFuel
) -> tuple[Criterion, ...]:
    air, run = facts.conditions, flown.run
    beyond_m = _speed_up_beyond_m(facts, intake, flown, by_fuel)
    head_ms, cross_ms = criteria.worst_parts(air, flown.heading_grid_deg)
    spread = intake.surface_divergence
    return (
        water.depth(run.depth, intake.depth_m, intake.depth_probability, "along the run"),
        criteria.width(run.corridor_width_m, intake.width_m),
        ends.end_clearance("approach clearance", flown.approach_end, intake.approach_slope, spread),
        ends.climb_out_clearance(
            flown.climb_out_end, air.climb_gradient_loaded, beyond_m, intake.climb_out_slope, spread
        ),
        criteria.crosswind(cross_ms, intake.crosswind_limit_ms),
        criteria.tail_wind(head_ms, intake.tailwind_limit_ms),
    )


def _cautions(
    facts: Facts, intake: RamIntake, judged: tuple[Criterion, ...], flown: Pass, load: LoadByFuel
) -> tuple[str, ...]:
    litres, limited_by = whole_tank(load)
    air = facts.conditions
    found = ends.slope_cautions(intake, air.climb_gradient_loaded, flown.approach_end, flown.climb_out_end)
    found += cautions.of_load(facts.profile, facts.conditions, litres, limited_by)
    found += [SCOOP_BY_HOVER] if air.scoop_by == "hover payload" else []
    if air.liftable_kg is not None and air.liftable_kg < litres * air.water_density_kg_l:
        hover_kg = max(0.0, air.liftable_kg)
        found.append(
            f"the aircraft cannot hover with this load here (hover payload {hover_kg:,.0f} kg): dump it to stop"
        )
    found += access.site_cautions(_noted(facts))
    found += near_fill(facts, flown.run.line, "the run")
    return tuple(found + cautions.for_source(facts, judged, flown.run.depth, hovering=False))


def _noted(facts: Facts) -> tuple[AnnotatedSite, ...]:
    return access.sites_of(METHOD, facts.sites)
