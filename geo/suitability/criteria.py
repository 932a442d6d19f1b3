"""One test each: from a measurement to a margin, a state, a score of 0 to 100 and the reason in words with figures.

Every function is pure and builds its record through `criterion`, which keeps the rules that hold for all: an unknown
scores 0 and keeps its weight, a score lies between 0 and 100. Where a score grows with the margin it is
`margin_points`: 50 when the limit is just met, 100 when the margin equals a stated scale, 0 as far below it.
A reason never says the criterion's name: who prints it puts the name before it, or calls `sentence`.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from geo.base.errors import BadArgument
from geo.base.units import MS_PER_KNOT
from geo.records.aircraft import GroundHose, HoverFill, RamIntake
from geo.records.conditions import SourceConditions
from geo.records.suitability import Criterion, State, TwoPasses
from geo.suitability.weights import WEIGHTS

# Common practice, no source: the margins that earn the full score.
HEAD_WIND_SCALE_MS = 5.0
HOVER_PAYLOAD_SCALE = 0.2
# A second pass for less than this is no choice to offer [L].
LEAST_GAIN_L = 100.0
# What a sentence begins with where that is not the criterion's name.
SUBJECTS = {"closed areas": "the filling place lies"}
# Wind parts that a rounding error puts above their limit are within it [m/s].
WIND_TOLERANCE_MS = 1e-9


ScorePoints = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Figure:
    """What was measured beside what is required, in one unit; `most`: what is required is an upper limit."""

    measured: float | None
    required: float | None
    unit: str
    most: bool = False

    @property
    def margin(self) -> float | None:
        """Give measured - required, or required - measured for an upper limit; None where one is not known."""
        if self.measured is None or self.required is None:
            return None
        return self.required - self.measured if self.most else self.measured - self.required


def criterion(
    name: str,
    state: State,
    reason: str,
    *,
    hard: bool,
    score: float = 0.0,
    figure: Figure = Figure(None, None, ""),
    points: ScorePoints = (),
) -> Criterion:
    """Build a criterion with its weight; an unknown scores 0.

    Parameters: score where it follows from words; points (measured, score) where it follows from the figure.
    Raises: BadArgument when the measurement is NaN, which compares as "not above the limit" and so would pass for good.
    """
    if figure.measured is not None and math.isnan(figure.measured):
        raise BadArgument(f"{name}: the measurement is NaN. Fix: hand over None where nothing is known")
    kept = min(100.0, max(0.0, score))
    if points and figure.measured is not None:
        across, up = np.array(points).T
        kept = float(np.interp(figure.measured, across, up))
    if state == "unknown":
        kept = 0.0
    figures = (figure.measured, figure.required, figure.unit, figure.margin)
    return Criterion(name, state, hard, *figures, kept, WEIGHTS[name], reason, tuple(points))


def sentence(judged: Criterion) -> str:
    """Give a criterion's reason for a reader who does not see its name beside it."""
    return f"{SUBJECTS.get(judged.name, judged.name)} {judged.reason}"


def margin_points(required: float, scale: float, *, most: bool = False) -> ScorePoints:
    """Give the points of a score that grows with the margin: 50 where the limit is just met, 100 with a scale to spare,
    0 a scale below it. most: required is an upper limit; a scale of 0 leaves 50 at the limit."""
    if scale <= 0.0:
        return ((required, 50.0),)
    low, high = (100.0, 0.0) if most else (0.0, 100.0)
    return ((required - scale, low), (required, 50.0), (required + scale, high))


def metres(length_m: float) -> str:
    """Give a measured length as text, rounded down so that words never round a shortfall away."""
    return f"{math.floor(length_m + 1e-6):,} m"


def metres_needed(length_m: float) -> str:
    """Give a required length as text, rounded up so that words never promise too little."""
    return f"{math.ceil(length_m - 1e-6):,} m"


def share_of_load(share: float) -> str:
    """Give a share 0..1 of a load in words."""
    return "half a load" if share == 0.5 else f"{share:.0%} of a load"


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
    run, full = metres(length_m), metres_needed(full_m)
    reason = f"{run}; {full} needed"
    if length_m < least_m:
        least = f"{share_of_load(intake.least_load_fraction)} needs {metres_needed(least_m)}"
        reason = f"{run}, too short: {least}, a full load {full}"
    elif length_m < full_m:
        share = math.floor(100.0 * run_share(length_m, intake))
        reason = f"{run}, enough for {share}% of a load; a full load needs {full}"
    state: State = "not met" if length_m < least_m else "met"
    figure = Figure(length_m, least_m, "m")
    points = ((least_m, 0.0), (full_m, 50.0), (2.0 * full_m, 100.0))
    return criterion(
        "run length", state, reason, hard=True, figure=figure, points=points[least_m >= full_m :]
    )


def load(litres: float | None, limited_by: str, tank_l: float, least_fraction: float) -> Criterion:
    """Judge today's load against the least useful one. Score: 100 x litres / tank."""
    least_l = least_fraction * tank_l
    figure = Figure(litres, least_l, "L")
    if litres is None:
        return criterion("load", "unknown", f"unknown, of {tank_l:,.0f} L", hard=True, figure=figure)
    enough = litres >= least_l * (1.0 - 1e-9)
    reason = f"{litres:,.0f} L of {tank_l:,.0f} L, limited by the {limited_by}"
    if not enough:
        reason += f"; less than {share_of_load(least_fraction)} is not worth the flight"
    state: State = "met" if enough else "not met"
    return criterion("load", state, reason, hard=True, figure=figure, points=((0.0, 0.0), (tank_l, 100.0)))


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
        f"two passes of {both_l / 2.0:,.0f} L would take {both_l:,.0f} L: {math.ceil(extra_s)} s more, the turn back "
        f"included. That brings more water per hour where the round trip with one pass is longer than "
        f"{math.ceil(worth_s)} s. The ranking counts one pass"
    )
    return TwoPasses(both_l, extra_s, worth_s, text)


def width(corridor_m: float, required_m: float) -> Criterion:
    """Judge the corridor that the survey kept clear along the run. Score: 100 when met.

    Notes: the survey tells that the corridor is kept, not how much wider the water is; so a survey with a narrower
    corridor leaves the width unknown.
    """
    state: State = "met" if corridor_m >= required_m else "unknown"
    reason = f"{corridor_m:.0f} m clear along the run; {required_m:.0f} m needed"
    if state == "unknown":
        reason = (
            f"unknown along the run: surveyed with a corridor of {corridor_m:.0f} m, {required_m:.0f} m needed; "
            "survey with a wider corridor"
        )
    figure = Figure(corridor_m, required_m, "m")
    return criterion("width", state, reason, hard=True, score=100.0, figure=figure)


def _wind_within(name: str, reason: str, measured_ms: float, limit_ms: float, scale_ms: float) -> Criterion:
    """Judge a part of the wind against its upper limit."""
    state: State = "met" if measured_ms <= limit_ms + WIND_TOLERANCE_MS else "not met"
    figure = Figure(measured_ms, limit_ms, "m/s", most=True)
    points = margin_points(limit_ms, scale_ms, most=True)
    return criterion(name, state, reason, hard=True, figure=figure, points=points)


def wind_strength(
    wind_ms: float, limit_ms: float, gust_ms: float | None = None, spread_limit_ms: float | None = None
) -> Criterion:
    """Judge the wind speed, of the gusts where any are reported, and their spread above the mean.

    Score: 50 at the limit, 100 in calm; with a limit of the spread the lower of both.
    """
    strongest_ms = wind_ms if gust_ms is None else gust_ms
    reason = f"{wind_ms / MS_PER_KNOT:.1f} kt"
    reason += "" if gust_ms is None else f", gusts {gust_ms / MS_PER_KNOT:.1f} kt"
    reason += f", limit {limit_ms / MS_PER_KNOT:.1f} kt"
    judged = _wind_within("wind strength", reason, strongest_ms, limit_ms, limit_ms)
    if gust_ms is None or spread_limit_ms is None or judged.state == "not met":
        return judged
    spread_ms = gust_ms - wind_ms
    reason += f"; gust spread {spread_ms / MS_PER_KNOT:.1f} kt, limit {spread_limit_ms / MS_PER_KNOT:.1f} kt"
    spread = _wind_within("wind strength", reason, spread_ms, spread_limit_ms, spread_limit_ms)
    ruling = spread.state == "not met" or spread.score < judged.score
    return spread if ruling else replace(judged, reason=reason)


def wind_parts(wind_from_deg: float, wind_ms: float, heading_deg: float) -> tuple[float, float]:
    """Give head wind (negative: tail wind) and crosswind (never negative) [m/s] on a heading; same north for both.

    Notes: W cos(a) and |W sin(a)|, a from the heading to where the wind comes from: plain trigonometry.
    """
    angle = math.radians(wind_from_deg - heading_deg)
    return wind_ms * math.cos(angle), abs(wind_ms * math.sin(angle))


def worst_parts(air: SourceConditions, heading_grid_deg: float) -> tuple[float, float]:
    """Give the head wind (negative: tail wind) and crosswind [m/s] that count on a heading.

    Notes: a gust counts where it hurts: as crosswind and tail wind, never as more head wind. A wind from anywhere may
    be all crosswind and all tail wind.
    """
    strongest_ms = air.wind_ms if air.gust_ms is None else air.gust_ms
    if air.wind_variable:
        return -strongest_ms, strongest_ms
    head_ms, _ = wind_parts(air.wind_from_grid_deg, air.wind_ms, heading_grid_deg)
    gust_head_ms, cross_ms = wind_parts(air.wind_from_grid_deg, strongest_ms, heading_grid_deg)
    return min(head_ms, gust_head_ms), cross_ms


def crosswind(cross_ms: float, limit_ms: float) -> Criterion:
    """Judge the crosswind on the run's heading. Score: 50 at the limit, 100 without any."""
    reason = f"{cross_ms / MS_PER_KNOT:.1f} kt on the run, limit {limit_ms / MS_PER_KNOT:.1f} kt"
    return _wind_within("crosswind", reason, cross_ms, limit_ms, limit_ms)


def tail_wind(head_ms: float, limit_ms: float) -> Criterion:
    """Judge the tail wind on the run's heading; measured is the tail wind, negative when it is a head wind.

    Score: 50 at the limit, 100 with a head wind of 5 m/s or more; linear.
    """
    tail_ms = -head_ms
    kind = "none; head wind " if head_ms >= 0.0 else ""
    reason = f"{kind}{abs(head_ms) / MS_PER_KNOT:.1f} kt on the run, limit {limit_ms / MS_PER_KNOT:.1f} kt"
    return _wind_within("tail wind", reason, tail_ms, limit_ms, limit_ms + HEAD_WIND_SCALE_MS)


def rotor_clearance(
    clear_radius_m: float, required_m: float, limited_by: str, unknown_heights: tuple[str, ...]
) -> Criterion:
    """Judge the clear radius round the hover point. Score: `margin_points`, scale = the required radius."""
    reason = f"{clear_radius_m:.1f} m, limited by {limited_by}; {required_m:.1f} m needed"
    state: State = "met" if clear_radius_m >= required_m else "not met"
    if state == "met" and unknown_heights:
        state = "unknown"
        reason = f"unknown: no height known of {', '.join(unknown_heights)} near the hover point"
    figure = Figure(clear_radius_m, required_m, "m")
    points = margin_points(required_m, required_m)
    return criterion("rotor clearance", state, reason, hard=True, figure=figure, points=points)


def hover_payload(
    payload_kg: float | None, full_load_kg: float, fill: HoverFill | GroundHose, why: str
) -> Criterion:
    """Judge the mass that can be lifted out of ground effect against the least load's mass; a full load is the aim.

    Score: 0 at the least load, 50 at a full load, 100 with 20 % to spare; linear between.
    """
    least_kg = fill.least_load_fraction * full_load_kg
    figure = Figure(payload_kg, least_kg, "kg")
    if payload_kg is None:
        return criterion("hover payload", "unknown", f"unknown: {why}", hard=True, figure=figure)
    lifted = f"{max(0.0, payload_kg):,.0f} kg with full fuel"
    reason = f"{lifted} ({why}); a full load is {full_load_kg:,.0f} kg"
    state: State = "met" if payload_kg >= least_kg * (1.0 - 1e-9) else "not met"
    if state == "not met":
        reason += f", and even {share_of_load(fill.least_load_fraction)} is too heavy"
    points = ((least_kg, 0.0), (full_load_kg, 50.0), ((1.0 + HOVER_PAYLOAD_SCALE) * full_load_kg, 100.0))
    kept = points[least_kg >= full_load_kg :]
    return criterion("hover payload", state, reason, hard=True, figure=figure, points=kept)
