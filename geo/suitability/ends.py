"""The ends of a run against the surfaces behind the touch-down and ahead of the lift-off.

The survey knows no aircraft: it looks at its own surface, a published heliport surface unless the region says another,
and tells the least slope that clears everything. From that, an aircraft with a surface of another slope is judged.
"""

import math

from geo.records.aircraft import RamIntake
from geo.records.suitability import Criterion, State
from geo.records.survey import LATER_STEP_M, EndClearance
from geo.suitability.criteria import Figure, criterion, margin_points

# Common practice, no source: the clear height that earns the full score.
CLEARANCE_SCALE_M = 30.0


def speed_up_m(from_ms: float, to_ms: float, acceleration_ms2: float) -> float:
    """Give the way [m] that it takes to gather speed: (v^2 - u^2) / 2a, plain kinematics."""
    return max(0.0, to_ms**2 - from_ms**2) / (2.0 * acceleration_ms2)


def climb_out_clearance(
    end: EndClearance,
    gradient: float | None,
    beyond_m: float,
    own_slope: float | None = None,
    divergence: float | None = None,
) -> Criterion:
    """Judge the end where the aircraft climbs out loaded, against its climb on the day.

    Parameters: gradient, the day's climb in still air per metre of way, None where unknown; beyond_m, how far beyond
    the end the aircraft still gathers speed before it climbs [m]; own_slope of the profile, which may ask for a flatter
    surface than the day's climb, never for a steeper one.
    """
    name = "climb-out clearance"
    if gradient is None:
        reason = "unknown: the day's climb is unknown where the water's height is"
        return criterion(name, "unknown", reason, hard=True, figure=Figure(None, None, "1", most=True))
    slope = gradient if own_slope is None else min(gradient, own_slope)
    return end_clearance(name, end, slope, divergence, beyond_m)


def end_clearance(
    name: str,
    end: EndClearance,
    slope: float | None = None,
    divergence: float | None = None,
    beyond_m: float = 0.0,
) -> Criterion:
    """Judge one end of a run; name is "approach clearance" or "climb-out clearance".

    Parameters: slope and divergence of the aircraft's own surface; None takes the survey's; beyond_m, how far beyond
    the end the surface begins to rise [m].
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
    if slope is None or (abs(slope - end.slope) < 1e-9 and beyond_m <= 0.0):
        return _at_surveyed_slope(name, end)
    return _at_own_slope(name, end, slope, beyond_m)


def _at_surveyed_slope(name: str, end: EndClearance) -> Criterion:
    """Score: `margin_points` of the clear height with a scale of 30 m; 0 where it is not met or unknown."""
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
    figure, points = Figure(-end.excess_m, 0.0, "m"), margin_points(0.0, CLEARANCE_SCALE_M)
    return criterion(name, state, reason, hard=True, figure=figure, points=points)


def _at_own_slope(name: str, end: EndClearance, slope: float, beyond_m: float = 0.0) -> Criterion:
    """Score: `margin_points` of the slope to spare, the whole slope as the scale: 100 where nothing rises at all."""
    flatter = slope <= end.slope
    least, known = _least_slope(end.steepest_slope, end.later_slopes, beyond_m)
    if not known:
        return _at_unknown_slope(name, end, slope, broken=flatter and _broken(end))
    rises = _rises_words(slope, beyond_m, least)
    state: State = "met"
    reason = rises
    if least is None or least > slope or (flatter and _broken(end)):
        state, reason = "not met", f"broken: {rises}"
        without, _ = _least_slope(end.steepest_without_error_slope, end.later_slopes_without_error, beyond_m)
        if without is not None and without <= slope and not (flatter and _broken_without_error(end)):
            state, reason = "unknown", f"not sure, only the terrain's error breaks it: {rises}"
    reason += f" (surveyed at {end.slope:.1%}: {end.what})"
    figure, points = Figure(least, slope, "1", most=True), margin_points(slope, slope, most=True)
    return criterion(name, state, reason, hard=True, figure=figure, points=points)


def _rises_words(slope: float, beyond_m: float, least: float | None) -> str:
    after = f" after {beyond_m:.0f} m to gather speed" if beyond_m > 0.0 else ""
    clears = "nothing clears what stands before" if least is None else f"{least:.1%} clears everything"
    return f"this aircraft's surface rises {slope:.1%}{after}, {clears}"


def _least_slope(
    steepest: float | None, later: tuple[float | None, ...], beyond_m: float
) -> tuple[float | None, bool]:
    """Give the least slope of a surface that clears everything and begins to rise beyond_m [m] beyond the end.

    Returns: (slope, known); a known None is a surface that no slope clears. Between two places where the survey looked
    the further one counts, which never asks for less.
    """
    if beyond_m <= 0.0 or steepest is None:
        return steepest, steepest is not None
    at = math.ceil(beyond_m / LATER_STEP_M - 1e-9) - 1
    if at >= len(later):
        return None, False
    slope = later[at]
    return (None if slope is None else max(slope, steepest)), True


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


def slope_cautions(
    intake: RamIntake, gradient: float | None, approach: EndClearance, climb_out: EndClearance
) -> list[str]:
    """Say where runs were cut for other surfaces than the aircraft's, so that better runs may not have been seen."""
    own_slopes = [slope for slope in (gradient, intake.climb_out_slope) if slope is not None]
    found = []
    for what, own, looked in (
        ("approach", intake.approach_slope, approach.slope),
        ("climb-out", min(own_slopes, default=None), climb_out.slope),
    ):
        if own is None or abs(own - looked) < 1e-9:
            continue
        missed = "longer runs" if own > looked else "runs that are clear for it"
        found.append(
            f"the survey cut its runs for a surface of {looked:.1%}, this aircraft's {what} surface rises {own:.1%}: "
            f"it may have missed {missed}. Fix: set surface_slope or approach_slope in [survey]"
        )
    return found
