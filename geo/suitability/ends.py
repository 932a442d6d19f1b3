"""The ends of a run against the surfaces behind the touch-down and ahead of the lift-off.

The survey knows no aircraft: it looks at its own surface, a published heliport surface unless the region says another,
and tells the least slope that clears everything. From that, an aircraft with a surface of another slope is judged.
"""

from geo.records.aircraft import RamIntake
from geo.records.suitability import Criterion, State
from geo.records.survey import EndClearance
from geo.suitability.criteria import Figure, criterion, margin_score

# Common practice, no source: the clear height that earns the full score.
CLEARANCE_SCALE_M = 30.0


def end_clearance(
    name: str, end: EndClearance, slope: float | None = None, divergence: float | None = None
) -> Criterion:
    """Judge one end of a run; name is "approach clearance" or "climb-out clearance".

    Parameters: slope and divergence of the aircraft's own surface; None takes the survey's.
    Returns: measured is the clear height [m] below the survey's surface, or, against a slope of the aircraft's own, the
    least slope that clears everything.

    Notes: at a slope other than the survey's, met is what that least slope allows; broken at the survey's slope is
    broken at any flatter one. A wider surface than the survey's was not looked at, so it is unknown. Unknown also where
    only the terrain's own error breaks the surface: a better terrain, or a look, can clear it.
    """
    surveyed = end.divergence if end.divergence is not None else 0.0
    if divergence is not None and divergence > surveyed:
        looked = "unknown" if end.divergence is None else f"{end.divergence:.0%}"
        reason = f"unknown: surveyed with a divergence of {looked}, {divergence:.0%} needed; survey with more"
        return criterion(name, "unknown", reason, hard=True, figure=Figure(None, 0.0, "m"))
    if slope is None or abs(slope - end.slope) < 1e-9:
        return _at_surveyed_slope(name, end)
    return _at_own_slope(name, end, slope)


def _at_surveyed_slope(name: str, end: EndClearance) -> Criterion:
    """Score: `margin_score` of the clear height with a scale of 30 m; 0 where it is not met or unknown."""
    if end.excess_m is None:
        return criterion(name, "unknown", f"unknown: {end.what}", hard=True, figure=Figure(None, 0.0, "m"))
    state: State = "met"
    reason = f"{end.what} ({end.slope:.1%} slope)"
    if _broken(end):
        state, reason = "not met", f"broken: {reason}"
        if not _broken_without_error(end):
            state, reason = "unknown", f"not sure, only the terrain's error breaks it: {end.what}"
    elif end.unknown_heights:
        state = "unknown"
        reason = f"unknown: no height known of {', '.join(end.unknown_heights)}"
    score = margin_score(-end.excess_m, CLEARANCE_SCALE_M)
    return criterion(name, state, reason, hard=True, score=score, figure=Figure(-end.excess_m, 0.0, "m"))


def _at_own_slope(name: str, end: EndClearance, slope: float) -> Criterion:
    """Score: `margin_score` of the slope to spare, the whole slope as the scale: 100 where nothing rises at all."""
    flatter = slope <= end.slope
    if end.steepest_slope is None:
        return _at_unknown_slope(name, end, slope, broken=flatter and _broken(end))
    state: State = "met"
    rises = f"this aircraft's surface rises {slope:.1%}, {end.steepest_slope:.1%} clears everything"
    reason = rises
    if end.steepest_slope > slope or (flatter and _broken(end)):
        state, reason = "not met", f"broken: {rises}"
        without = end.steepest_without_error_slope
        if without is not None and without <= slope and not (flatter and _broken_without_error(end)):
            state, reason = "unknown", f"not sure, only the terrain's error breaks it: {rises}"
    reason += f" (surveyed at {end.slope:.1%}: {end.what})"
    score = margin_score(slope - end.steepest_slope, slope)
    figure = Figure(end.steepest_slope, slope, "1", most=True)
    return criterion(name, state, reason, hard=True, score=score, figure=figure)


def _at_unknown_slope(name: str, end: EndClearance, slope: float, *, broken: bool) -> Criterion:
    """Judge an end of which nobody knows what slope clears it: what breaks the survey's breaks any flatter one."""
    if broken:
        return _at_surveyed_slope(name, end)
    heights = f"; no height known of {', '.join(end.unknown_heights)}" if end.unknown_heights else ""
    reason = f"unknown at this aircraft's {slope:.1%} slope: {end.what}{heights}"
    return criterion(name, "unknown", reason, hard=True, figure=Figure(None, slope, "1", most=True))


def _broken(end: EndClearance) -> bool:
    """True where something rises above the survey's own surface."""
    return end.excess_m is not None and end.excess_m > 0.0


def _broken_without_error(end: EndClearance) -> bool:
    """True where the survey's own surface is broken, and not only by the terrain's error."""
    without_m = end.excess_without_error_m if end.excess_without_error_m is not None else end.excess_m
    return without_m is not None and without_m > 0.0


def slope_cautions(intake: RamIntake, approach: EndClearance, climb_out: EndClearance) -> list[str]:
    """Say where runs were cut for other surfaces than the aircraft's, so that better runs may not have been seen."""
    found = []
    for what, own, looked in (
        ("approach", intake.approach_slope, approach.slope),
        ("climb-out", intake.climb_out_slope, climb_out.slope),
    ):
        if own is None or abs(own - looked) < 1e-9:
            continue
        missed = "longer runs" if own > looked else "runs that are clear for it"
        found.append(
            f"the survey cut its runs for a surface of {looked:.1%}, this aircraft's {what} surface rises {own:.1%}: "
            f"it may have missed {missed}. Set surface_slope or approach_slope in [survey] to look for them"
        )
    return found
