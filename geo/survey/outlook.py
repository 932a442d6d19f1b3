"""What a planner asks next: how far may the level fall, where to sound, what may a water hold that nobody sounded."""

from dataclasses import dataclass

import numpy as np
import shapely

from geo.base.grid import Grid
from geo.records.survey import (
    HoverPoint,
    LeastDepth,
    LevelOutlook,
    Run,
    SoundingAdvice,
    SurveyAdvice,
    SurveySettings,
)
from geo.survey.body_runs import SCOOP_STRIP_M
from geo.survey.depth.corridor import Disc, Strip
from geo.survey.depth.level import small_dam_volume, usable_down_to
from geo.survey.depth.model import DepthModel
from geo.survey.depth.next_survey import next_survey
from geo.survey.depth.planning import NO_GAIN, next_sounding
from geo.survey.depth.recalibration import shipped_recalibration
from geo.survey.depth.unsounded import greatest_depth, land_slope

# The survey knows no aircraft: levels are told for these plain depths [m], for a run and for a hover point with the
# probabilities that the two ways to fill ask for by default.
PLAIN_DEPTHS_M = (1.0, 2.0)
RUN_CONFIDENCE, HOVER_CONFIDENCE = 0.95, 0.8
SOUNDING_DEPTH_M = 2.0
# A run that is surely this deep gains nothing by more (our choice, no source).
DEEP_ENOUGH_M = 3.0
# A place whose chance of SOUNDING_DEPTH_M lies between these is uncertain: one more sounding may decide it.
UNCERTAIN = (0.05, 0.95)
CURVE_POINTS = 25
# A sounding that takes less than this share off one sigma is said to bring hardly anything (our choice, no source).
LEAST_GAIN = 0.05
SURVEYED = ("soundings", "depth grid", "chart")
STILL_WATERS = ("lake", "reservoir", "dam", "pond", "unknown")


@dataclass(frozen=True, eq=False)
class Place:
    """A run or the hover point as a place in the water: its name, shape, width or diameter [m] and least depth."""

    name: str
    shape: shapely.LineString | shapely.Point
    width_m: float
    confidence: float
    depth: LeastDepth

    @property
    def area(self) -> Strip | Disc:
        """The strip or the circle."""
        if isinstance(self.shape, shapely.Point):
            return Disc(self.shape, 0.5 * self.width_m)
        return Strip(self.shape, self.width_m)

    @property
    def chance(self) -> float | None:
        """Chance of SOUNDING_DEPTH_M everywhere today; None when unknown."""
        return self.depth.probability_at_least(SOUNDING_DEPTH_M)


def places(
    longest: Run | None, usable: tuple[Run, ...], hover: HoverPoint | None, settings: SurveySettings
) -> list[Place]:
    """Give the best run, surest first and then longest, and the hover point, as far as there are any.

    Notes: a run below least_useful_m is of use to nobody and is left out.
    """
    found = []
    runs = usable if usable else ((longest,) if longest is not None else ())
    runs = tuple(run for run in runs if run.length_m >= settings.least_useful_m)
    if runs:
        best = max(runs, key=lambda run: (_sureness(run.depth), run.length_m))
        heading = round(best.heading_true_deg) % 360
        name = f"run {heading:03d}/{(heading + 180) % 360:03d}"
        found.append(
            Place(name, best.line, min(SCOOP_STRIP_M, best.corridor_width_m), RUN_CONFIDENCE, best.depth)
        )
    if hover is not None:
        found.append(
            Place("hover point", hover.point, 2.0 * settings.hover_circle_m, HOVER_CONFIDENCE, hover.depth)
        )
    return found


def _sureness(depth: LeastDepth) -> float:
    """Depth that is there for sure, as far as more of it helps, in steps of 0.25 m: below that length counts."""
    sure_m = depth.depth_with_confidence_m(RUN_CONFIDENCE)
    return -1.0 if sure_m is None else np.floor(4.0 * min(sure_m, DEEP_ENOUGH_M)) / 4.0


def level_outlooks(model: DepthModel, asked: list[Place]) -> tuple[LevelOutlook, ...]:
    """Give how far the level may fall for each place and plain depth; empty for the sea and without a known level.

    Notes: only places whose depth was surveyed or charted are told. The curve spans the levels from where
    the place runs dry for sure to 1 m above today's.
    """
    body = model.body
    if body.kind == "sea" or body.surface_elevation_m is None or body.level_change_m is None:
        return ()
    found = []
    for place in asked:
        if place.depth.data_class not in SURVEYED or place.depth.quantiles_m is None:
            continue
        fall_m = place.depth.quantiles_m[-1] + 1.0
        levels = body.level_change_m + np.linspace(-fall_m, 1.0, CURVE_POINTS)
        elevations_m = tuple((body.surface_elevation_m - body.level_change_m + levels).tolist())
        for required_m in PLAIN_DEPTHS_M:
            curve = usable_down_to(model, place.area, required_m, place.confidence, levels)
            if curve is None:
                continue
            chances = tuple(curve[0].tolist())
            lowest_m = body.surface_elevation_m - body.level_change_m + curve[1]
            words = _level_sentence(place, required_m, lowest_m, body.surface_elevation_m)
            asked_for = place.name, required_m, place.confidence
            found.append(LevelOutlook(*asked_for, lowest_m, elevations_m, chances, words))
    return tuple(found)


def _level_sentence(place: Place, required_m: float, lowest_m: float, today_m: float) -> str:
    what = f"{required_m:.1f} m with {100 * place.confidence:.0f} % on all of the {place.name}"
    if place.name == "hover point":
        what = f"{required_m:.1f} m with {100 * place.confidence:.0f} % at the hover point"
    if lowest_m <= today_m:
        return f"{what} down to a level of {lowest_m:.1f} m (today {today_m:.1f} m)"
    return f"{what} only from a level of {lowest_m:.1f} m up (today {today_m:.1f} m)"


def sounding_advice(model: DepthModel, asked: list[Place]) -> SoundingAdvice | None:
    """Give what to survey next for the first place that is uncertain; None where every place is sure or hopeless.

    Notes: from the depth field where there is one, and without a place where no single sounding helps; from a raster or
    chart its shallowest place; else the middle.
    """
    for place in asked:
        chance = place.chance
        bed = place.depth.bed_probability_at_least(SOUNDING_DEPTH_M)
        # What stands unseen makes no place hopeless: a survey settles that.
        if chance is not None and bed is not None and not (UNCERTAIN[0] < bed and chance < UNCERTAIN[1]):
            continue
        field = model.fitted_field() if place.depth.data_class == "soundings" else None
        plan = None
        if field is not None:
            plan = next_sounding(field, place.shape, place.width_m, SOUNDING_DEPTH_M)
        point = _plain_point(place) if plan is None else plan.point
        before, after = (None, None) if plan is None else (plan.sd_before_m, plan.sd_after_m)
        survey = _survey_advice(model, place)
        words = f"{_advice_sentence(place, chance, before, after)}; {survey_sentence(place, survey)}"
        return SoundingAdvice(point, place.name, SOUNDING_DEPTH_M, chance, before, after, words, survey)
    return None


def _survey_advice(model: DepthModel, place: Place) -> SurveyAdvice:
    plan = next_survey(model, place.area, place.depth, SOUNDING_DEPTH_M, place.confidence)
    spacing_m = plan.lines[0].distance(plan.lines[1]) if len(plan.lines) > 1 else None
    return SurveyAdvice(plan.lines, spacing_m, plan.words, plan.chance)


def survey_sentence(place: Place, survey: SurveyAdvice) -> str:
    """Say which survey would help a place, and how much."""
    if survey.chance is None:
        return f"survey it with {survey.words}"
    enough = survey.chance >= place.confidence
    helps = f"would leave {survey.chance:.0%} if it reads what is expected and finds nothing on the bed"
    return f"{survey.words} {helps}{'' if enough else f', not the {place.confidence:.0%} that are needed'}"


def _plain_point(place: Place) -> shapely.Point:
    if place.depth.data_class in ("depth grid", "chart") and place.depth.shallowest is not None:
        return place.depth.shallowest
    if isinstance(place.shape, shapely.Point):
        return place.shape
    return place.shape.interpolate(0.5, normalized=True)


def _advice_sentence(
    place: Place, chance: float | None, before_m: float | None, after_m: float | None
) -> str:
    odds = "unknown" if chance is None else f"{chance:.0%}"
    text = f"for the {place.name}, whose chance of {SOUNDING_DEPTH_M:.1f} m everywhere is {odds}"
    if before_m is None or after_m is None:
        return f"{text}: its middle or shallowest place first; there is no depth field yet to choose by"
    sigma = f"one sigma stays at {before_m:.2f} m where it is decided"
    if after_m >= (1.0 - NO_GAIN) * before_m:
        return f"{text}: no single sounding helps ({sigma}); only a survey of the whole place does"
    if after_m > (1.0 - LEAST_GAIN) * before_m:
        return f"{text}: one sounding alone makes it hardly surer ({sigma}); plan several, this one first"
    return f"{text}: one sigma where it is decided falls from {before_m:.2f} to {after_m:.2f} m"


def unsounded_depth(model: DepthModel, terrain: Grid | None, surface_m: float | None) -> str:
    """Give a sentence on the greatest depth of a still water that nobody sounded; "" where there is none to give.

    Notes: from shore and land alone. No verdict may rest on it. A small dam whose greatest depth was stated gets its
    rule-of-thumb volume instead.
    """
    body = model.body
    known = model.evidence is not None or model.chart is not None
    if body.kind not in STILL_WATERS or known or model.bed_source()[0] is not None:
        return ""
    if body.stated_depth is not None:
        if body.kind not in ("dam", "pond") or body.volume_m3 is not None:
            return ""
        volume = small_dam_volume(float(body.polygon.area), body.stated_depth.greatest_m)
        return f"volume when full about {volume.value:,.0f} m3: {volume.origin}"
    rule = shipped_recalibration().unsounded
    if terrain is None or surface_m is None or rule is None:
        return ""
    slope = land_slope(model.shore, terrain, surface_m)
    if slope is None:
        return ""
    return greatest_depth(model.shore, slope, rule, body.kind not in ("reservoir", "dam")).text
