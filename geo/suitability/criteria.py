"""One test each: from a measurement to a margin, a state, a score of 0 to 100 and the reason in words with figures.

Every function is pure and builds its record through `criterion`, which keeps the rules that hold for all: an unknown
scores 0 and keeps its weight, a score lies between 0 and 100. Where a score grows with the margin it is
`margin_score`: 50 when the limit is just met, 100 when the margin equals a stated scale, 0 as far below it.
"""

import math

from geo.base.errors import BadArgument
from geo.base.units import MS_PER_KNOT
from geo.records.aircraft import HoverFill, RamIntake
from geo.records.suitability import Criterion, State, TwoPasses
from geo.suitability.weights import WEIGHTS

# Common practice, no source: the margins that earn the full score.
HEAD_WIND_SCALE_MS = 5.0
LIFT_SCALE = 0.2
# A second pass for less than this is no choice to offer [L].
LEAST_GAIN_L = 100.0


def criterion(
    name: str,
    state: State,
    reason: str,
    *,
    hard: bool,
    score: float = 0.0,
    measured: float | None = None,
    required: float | None = None,
    unit: str = "",
    most: bool = False,
) -> Criterion:
    """Build a criterion; margin = measured - required, or required - measured where the limit is a `most`.

    Raises: BadArgument when measured is NaN, which compares as "not above the limit" and so would pass for good.
    """
    if measured is not None and math.isnan(measured):
        raise BadArgument(f"{name}: the measurement is NaN. Cure: hand over None where nothing is known")
    margin = None
    if measured is not None and required is not None:
        margin = required - measured if most else measured - required
    kept = 0.0 if state == "unknown" else min(100.0, max(0.0, score))
    return Criterion(name, state, hard, measured, required, unit, margin, kept, WEIGHTS[name], reason)


def margin_score(margin: float, scale: float) -> float:
    """Give 50 + 50 x margin / scale, kept within 0 to 100. scale > 0, in the margin's unit."""
    return min(100.0, max(0.0, 50.0 + 50.0 * margin / scale))


def metres(length_m: float) -> str:
    """Give a measured length as text, rounded down so that words never round a shortfall away."""
    return f"{math.floor(length_m + 1e-6):,} m"


def knots(speed_ms: float) -> str:
    """Give a speed as text in knots."""
    return f"{speed_ms / MS_PER_KNOT:.0f} kt"


def least_run_m(intake: RamIntake) -> float:
    """Give the run length [m] for the least useful load: entry + fraction x fill time x speed + exit."""
    return intake.entry_m + intake.least_load_fraction * intake.fill_time_s * intake.speed_ms + intake.exit_m


def run_share(length_m: float, intake: RamIntake) -> float:
    """Give the share 0..1 of a full tank that a run takes: (run - entry - exit) / (fill time x speed)."""
    filling_m = length_m - intake.entry_m - intake.exit_m
    return min(1.0, max(0.0, filling_m / (intake.fill_time_s * intake.speed_ms)))


def run_length(length_m: float, intake: RamIntake) -> Criterion:
    """Judge a run's length against the least load's run; a full load's run is the aim.

    Score: 0 at the least run, 50 at the full run, 100 at twice the full run; linear between.
    """
    least_m, full_m = least_run_m(intake), intake.full_run_m
    need = f"run {metres(length_m)} of {math.ceil(full_m - 1e-6):,} m needed"
    if length_m < least_m:
        reason = (
            need + f"; even {intake.least_load_fraction:.0%} of a load needs {math.ceil(least_m - 1e-6):,} m"
        )
        state: State = "not met"
        score = 0.0
    elif length_m < full_m:
        reason = need + f": partial load of {run_share(length_m, intake):.0%}"
        state = "met"
        score = 50.0 * (length_m - least_m) / (full_m - least_m)
    else:
        reason, state = need, "met"
        score = margin_score(length_m - full_m, full_m)
    return criterion(
        "run length", state, reason, hard=True, score=score, measured=length_m, required=least_m, unit="m"
    )


def load(litres: float | None, ruled_by: str, tank_l: float, least_fraction: float) -> Criterion:
    """Judge today's load against the least useful one. Score: 100 x litres / tank."""
    least_l = least_fraction * tank_l
    if litres is None:
        reason = f"load unknown, of {tank_l:,.0f} L"
        return criterion("load", "unknown", reason, hard=True, required=least_l, unit="L")
    enough = litres >= least_l * (1.0 - 1e-9)
    reason = f"load {litres:,.0f} L of {tank_l:,.0f} L, ruled by the {ruled_by}"
    if not enough:
        reason += f"; below {least_fraction:.0%} it is not worth the flight"
    return criterion(
        "load",
        "met" if enough else "not met",
        reason,
        hard=True,
        score=100.0 * litres / tank_l,
        measured=litres,
        required=least_l,
        unit="L",
    )


def second_pass(
    one_pass_l: float, most_l: float, tank_l: float, fill_time_s: float, turn_s: float
) -> TwoPasses | None:
    """Give what a second pass over the same run would bring, or None where one pass fills all that may be carried.

    Parameters: one_pass_l > 0, what one pass takes [L]; most_l, what tank and structure allow [L]; fill_time_s for the
    whole tank_l; turn_s, from lift-off back to touch-down at the run's start [s].

    Notes: with a cycle of C for one pass, two passes bring more water per hour when
    both / (C + extra) > one / C, that is C > extra x one / (both - one).
    """
    both_l = min(most_l, 2.0 * one_pass_l)
    gain_l = both_l - one_pass_l
    if gain_l < LEAST_GAIN_L:
        return None
    extra_s = turn_s + fill_time_s * gain_l / tank_l
    worth_s = extra_s * one_pass_l / gain_l
    text = (
        f"two passes of {both_l / 2.0:,.0f} L would take {both_l:,.0f} L: +{math.ceil(extra_s)} s with the turn back; "
        f"more water per hour where one pass's whole cycle is longer than {math.ceil(worth_s)} s (not counted here)"
    )
    return TwoPasses(both_l, extra_s, worth_s, text)


def width(corridor_m: float, required_m: float) -> Criterion:
    """Judge the corridor that the survey kept clear along the run. Score: 100 when met.

    Notes: the survey tells that the corridor is kept, not how much wider the water is; so a survey with a narrower
    corridor leaves the width unknown.
    """
    enough = corridor_m >= required_m
    reason = f"{corridor_m:.0f} m of clear width along the run; {required_m:.0f} m needed"
    if not enough:
        reason = (
            f"width along the run unknown: surveyed with a corridor of {corridor_m:.0f} m, "
            f"{required_m:.0f} m needed; survey with a wider corridor"
        )
    state: State = "met" if enough else "unknown"
    return criterion(
        "width", state, reason, hard=True, score=100.0, measured=corridor_m, required=required_m, unit="m"
    )


def wind_strength(wind_ms: float, limit_ms: float) -> Criterion:
    """Judge the wind speed. Score: 50 at the limit, 100 in calm."""
    met = wind_ms <= limit_ms
    reason = f"wind {knots(wind_ms)}, limit {knots(limit_ms)}"
    if not met:
        reason = f"wind {wind_ms / MS_PER_KNOT:.1f} kt is above the limit of {limit_ms / MS_PER_KNOT:.1f} kt"
    return criterion(
        "wind strength",
        "met" if met else "not met",
        reason,
        hard=True,
        score=margin_score(limit_ms - wind_ms, limit_ms),
        measured=wind_ms,
        required=limit_ms,
        unit="m/s",
        most=True,
    )


def wind_parts(wind_from_deg: float, wind_ms: float, heading_deg: float) -> tuple[float, float]:
    """Give head wind (negative: tail wind) and crosswind (never negative) [m/s] on a heading; same north for both."""
    angle = math.radians(wind_from_deg - heading_deg)
    return wind_ms * math.cos(angle), abs(wind_ms * math.sin(angle))


def crosswind(cross_ms: float, limit_ms: float) -> Criterion:
    """Judge the crosswind on the run's heading. Score: 50 at the limit, 100 without any."""
    met = cross_ms <= limit_ms + 1e-9
    score = margin_score(limit_ms - cross_ms, limit_ms) if limit_ms > 0.0 else 50.0
    reason = f"crosswind {cross_ms / MS_PER_KNOT:.1f} kt on the run, limit {limit_ms / MS_PER_KNOT:.1f} kt"
    return criterion(
        "crosswind",
        "met" if met else "not met",
        reason,
        hard=True,
        score=score,
        measured=cross_ms,
        required=limit_ms,
        unit="m/s",
        most=True,
    )


def tail_wind(head_ms: float, limit_ms: float) -> Criterion:
    """Judge the tail wind on the run's heading; measured is the tail wind, negative when it is a head wind.

    Score: 50 at the limit, 100 with a head wind of 5 m/s or more; linear.
    """
    tail_ms = -head_ms
    met = tail_ms <= limit_ms + 1e-9
    kind = "head wind" if head_ms >= 0.0 else "tail wind"
    reason = f"{kind} {abs(head_ms) / MS_PER_KNOT:.1f} kt on the run"
    reason += f", tail-wind limit {limit_ms / MS_PER_KNOT:.1f} kt"
    return criterion(
        "tail wind",
        "met" if met else "not met",
        reason,
        hard=True,
        score=margin_score(limit_ms - tail_ms, limit_ms + HEAD_WIND_SCALE_MS),
        measured=tail_ms,
        required=limit_ms,
        unit="m/s",
        most=True,
    )


def room(
    clear_radius_m: float, required_m: float, limited_by: str, unknown_heights: tuple[str, ...]
) -> Criterion:
    """Judge the clear radius round the hover point. Score: `margin_score`, scale = the required radius."""
    reason = f"clear radius {clear_radius_m:.1f} m of {required_m:.1f} m needed, limited by {limited_by}"
    state: State = "met" if clear_radius_m >= required_m else "not met"
    if state == "met" and unknown_heights:
        state = "unknown"
        reason = f"room unknown: no height known of {', '.join(unknown_heights)} near the hover point"
    return criterion(
        "room",
        state,
        reason,
        hard=True,
        score=margin_score(clear_radius_m - required_m, required_m),
        measured=clear_radius_m,
        required=required_m,
        unit="m",
    )


def lift(liftable_kg: float | None, full_load_kg: float, fill: HoverFill, why: str) -> Criterion:
    """Judge the mass that can be lifted out of ground effect against the least load's mass; a full load is the aim.

    Score: 0 at the least load, 50 at a full load, 100 with 20 % to spare; linear between.
    """
    least_kg = fill.least_load_fraction * full_load_kg
    if liftable_kg is None:
        reason = f"hover performance unknown: {why}"
        return criterion("lift", "unknown", reason, hard=True, required=least_kg, unit="kg")
    reason = f"can lift {liftable_kg:,.0f} kg in the hover ({why}); a full load is {full_load_kg:,.0f} kg"
    if liftable_kg < full_load_kg:
        span_kg = full_load_kg - least_kg
        score = 50.0 * (liftable_kg - least_kg) / span_kg if span_kg > 0.0 else 0.0
    else:
        score = margin_score(liftable_kg - full_load_kg, LIFT_SCALE * full_load_kg)
    enough = liftable_kg >= least_kg * (1.0 - 1e-9)
    if not enough:
        reason += f", and {fill.least_load_fraction:.0%} of it cannot be lifted"
    return criterion(
        "lift",
        "met" if enough else "not met",
        reason,
        hard=True,
        score=score,
        measured=liftable_kg,
        required=least_kg,
        unit="kg",
    )
