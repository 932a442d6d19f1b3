"""Which survey would make a run sure: along which lines, how far apart, looking for what, and how much it helps."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely

from geo.records.bed_search import BedSearch
from geo.records.survey import DEPTH_PROBABILITIES, LeastDepth
from geo.survey.depth.bounds import EVEN_SHARES
from geo.survey.depth.corridor import Disc, Strip
from geo.survey.depth.field import DepthField
from geo.survey.depth.looked import Looked, SoundedSurvey
from geo.survey.depth.model import DepthModel
from geo.survey.depth.unseen import BedDepths, Unseen

# A boat's sounder keeps one depth each so many metres of its line, with this error (one sigma); a side scan towed with
# it finds what stands so much above the bed (all three: common practice, no source).
STEP_M, SOUNDER_SD_M, SCAN_FEATURE_M = 10.0, 0.15, 0.5
# The fewest lines come first; those of an unbroken sounder lie so far apart [m].
SOUNDER_SPACINGS_M = (20.0, 10.0, 5.0)


@dataclass(frozen=True, eq=False)
class SurveyPlan:
    """A survey to come: its lines [m], how it would search, its words.

    chance: what it leaves if it reads what is expected now; None: nothing is known of the bed yet.
    """

    lines: tuple[shapely.LineString, ...]
    search: BedSearch
    words: str
    chance: float | None = None


def next_survey(
    model: DepthModel, area: Strip | Disc, now: LeastDepth, required_m: float, probability: float
) -> SurveyPlan:
    """Give the smallest survey that would lift the chance of a depth to what is asked, else the one that helps most.

    Parameters: the body's model; the run's strip or hover circle; its least depth as known now; the depth [m] and the
    probability wanted. Raises: BadArgument where the area's line has no length.
    Notes: each plan is tried: its soundings are taken to read what the field expects, and to find nothing that stands
    on the bed. What they will really read decides afterwards.
    """
    best: SurveyPlan | None = None
    for plan in _plans(area):
        tried = replace(plan, chance=_chance_after(model, area, now, plan, required_m))
        if best is None or (tried.chance or 0.0) > (best.chance or 0.0) + 0.005:
            best = tried
        if tried.chance is not None and tried.chance >= probability:
            break
    assert best is not None
    return best


def _plans(area: Strip | Disc) -> Iterator[SurveyPlan]:
    half = area.radius_m if isinstance(area, Disc) else 0.5 * area.width_m
    middle = area.line if isinstance(area, Strip) else None
    if middle is None:
        x, y = shapely.get_coordinates(area.line)[0]
        middle = shapely.LineString([(x - half - STEP_M, y), (x + half + STEP_M, y)])
    for spacing_m in SOUNDER_SPACINGS_M:
        each = int(np.ceil(half / spacing_m))
        lines = tuple(_beside(middle, k * spacing_m) for k in range(-each, each + 1))
        search = BedSearch("lines", "planned", line_spacing_m=spacing_m)
        yield SurveyPlan(
            lines, search, f"{len(lines)} lines along it, {spacing_m:.0f} m apart, with an unbroken sounder"
        )
    side_m = 5.0 * np.ceil((half + 5.0) / 5.0)
    search = BedSearch("swath", "planned", SCAN_FEATURE_M, 2.0 * side_m)
    words = f"one line along it with a side scan that sees {side_m:.0f} m to each side and finds what stands "
    yield SurveyPlan((middle,), search, f"{words}{SCAN_FEATURE_M:g} m above the bed")
    lines = tuple(_beside(middle, k * 0.5 * side_m) for k in range(-2, 3))
    words = f"{len(lines)} lines along it, {0.5 * side_m:.0f} m apart, with such a side scan"
    yield SurveyPlan(lines, search, words)


def _beside(line: shapely.LineString, offset_m: float) -> shapely.LineString:
    beside = line if offset_m == 0.0 else line.offset_curve(offset_m, join_style="mitre")
    return beside if isinstance(beside, shapely.LineString) and not beside.is_empty else line


def _chance_after(
    model: DepthModel, area: Strip | Disc, now: LeastDepth, plan: SurveyPlan, required_m: float
) -> float | None:
    table = now.quantiles_m if now.bed_quantiles_m is None else now.bed_quantiles_m
    if table is None:
        return None
    xy = np.concatenate([shapely.get_coordinates(shapely.segmentize(line, STEP_M)) for line in plan.lines])
    xy = xy[model.shore.distance_m(xy[:, 0], xy[:, 1]) > 0.0]
    if not len(xy):
        return None
    bed = BedDepths(np.interp(EVEN_SHARES, DEPTH_PROBABILITIES, table)[None])
    field = model.fitted_field() if now.data_class == "soundings" else None
    if field is not None and field.process is not None:
        after = _sounded(field, xy)
        draws = after.draws(area)
        table = after.least_table(draws)
        bed = BedDepths(draws.depth_m, np.column_stack((draws.easting_m, draws.northing_m)))
    looked = Looked((*model.looked.sounded, SoundedSurvey(xy, plan.search)), model.looked.areas)
    unseen = Unseen(area, looked, model.body.kind, bed, model.level_m, model.finds)
    return float(1.0 - np.interp(required_m, unseen.table(table), DEPTH_PROBABILITIES))


def _sounded(field: DepthField, xy: np.ndarray) -> DepthField:
    """Give a field as if it had been sounded at places (k, 2) and had read what it expects; its figures are kept."""
    process, x, y = field.known, xy[:, 0], xy[:, 1]
    shore_m = field.shore.distance_m(x, y)
    depth_m = field.at(x, y)[0] - field.level_change_m
    more = replace(
        process,
        easting_m=np.append(process.easting_m, x),
        northing_m=np.append(process.northing_m, y),
        depth_m=np.append(process.depth_m, depth_m),
        noise_m2=np.append(process.noise_m2, np.full(len(x), SOUNDER_SD_M**2)),
        shore_distance_m=np.append(process.shore_distance_m, shore_m),
        whole=None,
    )
    return replace(field, process=more)
