"""What the survey measures of each water body. Independent of the aircraft and of the day's weather."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np

from geo.base.grid import Grid
from geo.records.geometry import AreaM, LineM, PointM
from geo.records.region import SalinityClass, WaterKind

# The probabilities at which every least-depth distribution is tabulated.
DEPTH_PROBABILITIES: tuple[float, ...] = tuple(
    float(p)
    for p in np.round(
        np.concatenate(([0.005, 0.01, 0.02], np.linspace(0.05, 0.95, 19), [0.98, 0.99, 0.995])), 3
    )
)
DataClass = Literal["soundings", "depth grid", "chart", "stated depth", "none"]


@dataclass(frozen=True)
class SurveySettings:
    """What the survey is run with. corridor_width_m is the clear width that a run keeps on its whole length;
    heading_step_deg the fan of the rose; hover_radius_cap_m the clear radius beyond which more does not count.

    surface_slope is the slope of the surface ahead of the lift-off and, where approach_slope is None, also of the one
    behind the touch-down (one published heliport surface for both: 14 CFR Part 77, 8:1). useful_cap_m: a usable run
    need not be longer; least_useful_m: a shorter one is of no use to anybody; most_runs: usable runs kept for one
    water (all three: common practice, no source). as_of: the day, YYYY-MM-DD, for which depth evidence is aged; None
    says its dates and takes nothing off."""

    corridor_width_m: float = 60.0
    heading_step_deg: float = 10.0
    hover_radius_cap_m: float = 60.0
    end_look_m: float = 1500.0
    surface_slope: float = 0.125
    surface_divergence: float = 0.10
    hover_circle_m: float = 5.0
    approach_slope: float | None = None
    useful_cap_m: float = 1000.0
    least_useful_m: float = 300.0
    most_runs: int = 30
    as_of: str | None = None


@dataclass(frozen=True)
class LeastDepth:
    """Distribution of the least depth [m] met anywhere along a run's corridor, or in the hover circle, today.

    quantiles_m[i] is the depth that the least depth stays below with probability DEPTH_PROBABILITIES[i]; None
    when nothing is known of the depth, and then `reason` says why. shallowest is where the least depth is likeliest.
    bed_quantiles_m is the same of the bed alone, without what may stand on it unseen (None: the same), and unseen says
    what that is and why nobody would have seen it.
    """

    data_class: DataClass
    quantiles_m: tuple[float, ...] | None
    reason: str
    evidence: str
    shallowest: PointM | None = None
    expected_least_m: float | None = None
    oldest_on: date | None = None
    level_known: bool = True
    bed_quantiles_m: tuple[float, ...] | None = None
    unseen: str = ""

    def bed_probability_at_least(self, required_m: float) -> float | None:
        """Probability that the bed itself is at least required_m deep everywhere; None when unknown."""
        if self.quantiles_m is None:
            return None
        table = self.quantiles_m if self.bed_quantiles_m is None else self.bed_quantiles_m
        return float(1.0 - np.interp(required_m, table, DEPTH_PROBABILITIES))

    def probability_at_least(self, required_m: float) -> float | None:
        """Probability that the depth is at least required_m everywhere; None when unknown.

        Linear between tabulated quantiles; never outside [0.005, 0.995], because the table says no more.
        """
        if self.quantiles_m is None:
            return None
        below = np.interp(required_m, self.quantiles_m, DEPTH_PROBABILITIES)
        return float(1.0 - below)

    def depth_with_confidence_m(self, probability: float) -> float | None:
        """Depth [m] that is exceeded everywhere with the given probability; None when unknown."""
        if self.quantiles_m is None:
            return None
        return float(np.interp(1.0 - probability, DEPTH_PROBABILITIES, self.quantiles_m))


# Surfaces that begin to rise later: so far apart, so many, and how high above the water a helicopter gathers speed
# (about 10 ft, common practice, no source).
LATER_STEP_M, LATER_COUNT, LEVEL_HEIGHT_M = 100.0, 15, 3.0


@dataclass(frozen=True)
class EndClearance:
    """What stands under the climb-out (or let-down) surface beyond one end of a run.

    The surface starts at the run's end at water level, rises with `slope`, is as wide as the corridor and diverges.
    excess_m > 0: something stands that much above the surface, distance_m beyond the end; excess_m <= 0: clear by that
    much at the critical place; None: unknown (no terrain there), with the reason in `what`. excess_m counts the
    terrain's 90 % error in full; excess_without_error_m leaves it out: where that one alone is clear, only the error
    of the terrain speaks against the end. steepest_slope is the least slope of a surface that clears all of it (None
    while anything is unknown), steepest_without_error_slope the same without that error; so a surface of any other
    slope can be judged from it. divergence: how far the surface widens to each side per metre. later_slopes are the
    least slopes of surfaces that begin to rise 100, 200, 300 ... m beyond the end (`LATER_STEP_M`), and stay
    `LEVEL_HEIGHT_M` above the water before: None where something stands higher than that before; empty while anything
    is unknown. later_slopes_without_error are the same without the terrain's error.
    """

    heading_grid_deg: float
    slope: float
    excess_m: float | None
    distance_m: float | None
    what: str
    looked_m: float
    unknown_heights: tuple[str, ...] = ()
    steepest_slope: float | None = None
    excess_without_error_m: float | None = None
    steepest_without_error_slope: float | None = None
    divergence: float | None = None
    later_slopes: tuple[float | None, ...] = ()
    later_slopes_without_error: tuple[float | None, ...] = ()


@dataclass(frozen=True)
class Run:
    """One straight run in the water. `line` goes from start to end; it may be flown either way.

    start_end and end_end are the surfaces beyond line's first and last point. upper_bound_m bounds any longer run
    of the same search. A run with corridor width w keeps w/2 of water on both sides and w/2 beyond both ends.

    "longest" and "heading" runs describe the shape of the water. A "usable" run is a piece of such a run that can be
    flown: cut to where its depth is surest and its ends are clear, never longer than useful_cap_m; upper_bound_m is
    then the length of the chord that it was cut from. start_approach and end_approach are the surfaces of the
    approach where its slope is another than that of the climb-out, else None. usable_ahead_m and usable_back_m are
    the lengths from touch-down to lift-off whose surfaces are clear for sure, flown from start to end and back: 0 is
    none, None is unknown; limited_by says what limits them.
    """

    search: Literal["longest", "heading", "usable"]
    length_m: float
    upper_bound_m: float
    heading_grid_deg: float
    heading_true_deg: float
    corridor_width_m: float
    line: LineM
    depth: LeastDepth
    start_end: EndClearance
    end_end: EndClearance
    start_approach: EndClearance | None = None
    end_approach: EndClearance | None = None
    usable_ahead_m: float | None = None
    usable_back_m: float | None = None
    limited_by: str = ""


@dataclass(frozen=True)
class Sectors:
    """What stands round a hover point, by direction: number i looks towards i x 360 / n degrees from grid north.

    slopes[k][i] is the least slope, never rounded down, of a surface that begins climbs_m[k] above the water at the
    point and clears all that is known in direction i; without_error[k][i] leaves the terrain's error out. A surface
    is half_width_m wide to each side at the point, diverges, and is looked at over looked_m. things names what stands
    there (with its distance and its height above the water); ruling[i] is the one that sets slopes[0][i], None where
    nothing rises above the water; unknown[i] are those whose height nobody knows, which bar direction i till somebody
    does.
    """

    climbs_m: tuple[float, ...]
    slopes: tuple[tuple[float, ...], ...]
    without_error: tuple[tuple[float, ...], ...]
    ruling: tuple[int | None, ...]
    unknown: tuple[tuple[int, ...], ...]
    things: tuple[str, ...]
    half_width_m: float
    divergence: float
    looked_m: float


@dataclass(frozen=True)
class HoverPoint:
    """A place to hover: position, clear radius [m] to shore and obstacles, the depth under it, and its ways in and out.

    sectors: None where nobody looked round it; its ways in and out are then unknown.
    """

    point: PointM
    clear_radius_m: float
    limited_by: str
    depth: LeastDepth
    unknown_heights: tuple[str, ...] = ()
    sectors: Sectors | None = None


@dataclass(frozen=True)
class Measure:
    """A number with where it came from; value None means unknown, and origin says why."""

    value: float | None
    origin: str


@dataclass(frozen=True)
class LevelOutlook:
    """How far the level may fall until a run or the hover point is no longer deep enough.

    where: "run 043/223" (true headings) or "hover point"; lowest_elevation_m: the lowest level [m, elevation] at which
    required_m [m] is met everywhere there with probability `confidence`; elevations_m and probabilities: the curve of
    that chance against the level. Depth only: the shore, which comes nearer as the level falls, is not counted.
    """

    where: str
    required_m: float
    confidence: float
    lowest_elevation_m: float
    elevations_m: tuple[float, ...]
    probabilities: tuple[float, ...]
    sentence: str


@dataclass(frozen=True)
class SurveyAdvice:
    """Which survey would make a place sure: its lines [m], how far apart [m] (None: one line), and it in words.

    chance: what it leaves if it reads what is expected now; None: nothing is known of the bed yet.
    """

    lines: tuple[LineM, ...]
    line_spacing_m: float | None
    words: str
    chance: float | None


@dataclass(frozen=True)
class SoundingAdvice:
    """Where to sound next: `where` it serves, the chance of required_m [m] there today (None: unknown).

    point: None where no single sounding would make it surer; the sentence says so.

    sd_before_m, sd_after_m: one sigma of the depth where the verdict hangs, without and with it [m]; None where there
    is no depth field to tell them from. survey: the survey that would make the place sure.
    """

    point: PointM | None
    where: str
    required_m: float
    chance: float | None
    sd_before_m: float | None
    sd_after_m: float | None
    sentence: str
    survey: SurveyAdvice | None = None


@dataclass(frozen=True)
class BodySurvey:
    """Everything the survey knows of one water body.

    area_m2 and perimeter_m are those of the outline, area_today_m2 and water_today those of the water left at today's
    level; water_today is None where the outline was searched, and the largest part otherwise. greatest_depth is a
    sentence on a water that nobody sounded; it serves no verdict.
    """

    body_id: str
    name: str
    kind: WaterKind
    area_m2: float
    perimeter_m: float
    shoreline_development: float
    surface_elevation_m: Measure
    level_change_m: Measure
    salinity_class: SalinityClass | None
    salinity_reason: str
    longest_run: Run | None
    heading_runs: tuple[Run, ...]
    hover_point: HoverPoint | None
    volume_m3: Measure
    mean_depth_m: Measure
    obstacles_listed: bool
    remarks: tuple[str, ...] = ()
    usable_runs: tuple[Run, ...] = ()
    area_today_m2: Measure = Measure(None, "not surveyed")
    water_today: AreaM | None = None
    level_outlooks: tuple[LevelOutlook, ...] = ()
    next_sounding: SoundingAdvice | None = None
    greatest_depth: str = ""
    further_hover_points: tuple[HoverPoint, ...] = ()

    @property
    def hover_points(self) -> tuple[HoverPoint, ...]:
        """All places to hover that are kept: the best whatever the fire, then those that are nearer to some fires."""
        return () if self.hover_point is None else (self.hover_point, *self.further_hover_points)

    @property
    def shape_runs(self) -> tuple[Run, ...]:
        """The runs that describe the shape of the water: the longest first, then one per heading."""
        return ((self.longest_run,) if self.longest_run is not None else ()) + self.heading_runs

    @property
    def runs(self) -> tuple[Run, ...]:
        """The runs to be judged: the usable ones, or all runs where there is none."""
        return self.usable_runs if self.usable_runs else self.shape_runs


@dataclass(frozen=True, eq=False)
class DepthPicture:
    """Expected depth today and its one sigma [m] on one raster; NaN where there is no water or nothing is known."""

    mean: Grid
    sd: Grid
    origin: str


@dataclass(frozen=True)
class RegionSurvey:
    """The survey of a region: which inputs (fingerprint), which settings, one record per water body."""

    region_name: str
    fingerprint: str
    settings: SurveySettings
    bodies: tuple[BodySurvey, ...]
