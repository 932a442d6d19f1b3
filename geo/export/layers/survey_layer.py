"""The survey as map layers in WGS 84: water bodies with what is known of them, their runs, their hover points."""

import geopandas

from geo.base.errors import BadArgument
from geo.export.drawing.palette import mark_of
from geo.export.hover_ways import TOLD_SLOPES, open_words, slopes_text
from geo.export.layers.ranked_layer import BAR, Row, layer
from geo.export.layers.table import same_named
from geo.export.place_text import position_text
from geo.records.geographic_shapes import geographic
from geo.records.ranking import Ranking
from geo.records.region import Region, RegionFrame
from geo.records.survey import BodySurvey, HoverPoint, LeastDepth, RegionSurvey, Run

CONFIDENCE = 0.95
BODY_FIGURES = (
    "body_id", "name", "kind", "area_m2", "perimeter_m", "shoreline_development", "salinity_class", "salinity_reason",
    "greatest_depth",
)  # fmt: skip
RUN_FIGURES = (
    "search", "length_m", "upper_bound_m", "heading_true_deg", "corridor_width_m", "usable_ahead_m", "usable_back_m",
    "limited_by",
)  # fmt: skip


def survey_layers(
    region: Region, survey: RegionSurvey, ranking: Ranking | None = None
) -> dict[str, geopandas.GeoDataFrame]:
    """Give the layers water (polygons), survey_runs (lines), hover_points and hover_sectors (points), all EPSG:4326.

    Parameters: the region and its survey; ranking adds each body's verdict for its question.

    Raises: BadArgument when the survey is not of this region's input.
    """
    if survey.fingerprint != region.fingerprint:
        raise BadArgument(
            f"the survey is of input {survey.fingerprint}, the region is {region.fingerprint}: survey the region again"
        )
    bodies, states = {body.body_id: body for body in region.bodies}, verdicts(ranking)
    runs = [(body, run) for body in survey.bodies for run in (*body.shape_runs, *body.usable_runs)]
    hovers = [(body, body.hover_point) for body in survey.bodies if body.hover_point is not None]
    return {
        "water": layer(
            [_water_row(one, region.frame, *states.get(one.body_id, (None, False))) for one in survey.bodies],
            [geographic(bodies[one.body_id].polygon, region.frame) for one in survey.bodies],
            "water",
        ),
        "survey_runs": layer(
            [_run_row(body, run) for body, run in runs],
            [geographic(run.line, region.frame) for _, run in runs],
            "survey_runs",
        ),
        "hover_points": layer(
            [_hover_row(body, hover, region.frame) for body, hover in hovers],
            [geographic(hover.point, region.frame) for _, hover in hovers],
            "hover_points",
        ),
        "hover_sectors": _sectors_layer(survey, region.frame),
    }


def _sectors_layer(survey: RegionSurvey, frame: RegionFrame) -> geopandas.GeoDataFrame:
    ways = [(body, k, hover) for body in survey.bodies for k, hover in enumerate(body.hover_points, start=1)]
    shapes = [geographic(hover.point, frame) for _, _, hover in ways]
    return layer([_sectors_row(*way, frame) for way in ways], shapes, "hover_sectors")


def verdicts(ranking: Ranking | None) -> dict[str, tuple[str, bool]]:
    """Give each body's verdict and whether it is ranked, by body id."""
    if ranking is None:
        return {}
    left_out = {one.body_id: (one.verdict, False) for one in ranking.excluded}
    return left_out | {source.body_id: (source.assessment.verdict, True) for source in ranking.sources}


def _sure(depth: LeastDepth | None) -> float | None:
    return None if depth is None else depth.depth_with_confidence_m(CONFIDENCE)


def _evidence(depth: LeastDepth) -> str:
    return depth.reason if depth.quantiles_m is None else depth.evidence


def _next_place(body: BodySurvey, frame: RegionFrame) -> str:
    if body.next_sounding is None or body.next_sounding.point is None:
        return ""
    return position_text(body.next_sounding.point, frame)


def _water_row(body: BodySurvey, frame: RegionFrame, verdict: str | None, ranked: bool) -> Row:
    run, hover = body.longest_run, body.hover_point
    return same_named(body, *BODY_FIGURES) | {
        "verdict": verdict,
        "state": mark_of(verdict, ranked).label,
        "area_today_m2": body.area_today_m2.value,
        "elevation_m": body.surface_elevation_m.value,
        "elevation_origin": body.surface_elevation_m.origin,
        "level_change_m": body.level_change_m.value,
        "mean_depth_m": body.mean_depth_m.value,
        "volume_m3": body.volume_m3.value,
        "longest_run_m": None if run is None else run.length_m,
        "longest_run_true_deg": None if run is None else run.heading_true_deg,
        "run_depth_95_m": None if run is None else _sure(run.depth),
        "hover_clear_radius_m": None if hover is None else hover.clear_radius_m,
        "hover_depth_95_m": None if hover is None else _sure(hover.depth),
        "levels": BAR.join(one.sentence for one in body.level_outlooks),
        "next_sounding_ddm": _next_place(body, frame),
        "next_sounding": "" if body.next_sounding is None else body.next_sounding.sentence,
        "remarks": BAR.join(body.remarks),
    }


def _run_row(body: BodySurvey, run: Run) -> Row:
    return (
        same_named(body, "body_id", "name")
        | same_named(run, *RUN_FIGURES)
        | {
            "depth_95_m": _sure(run.depth),
            "depth_evidence": _evidence(run.depth),
            "start_excess_m": run.start_end.excess_m,
            "end_excess_m": run.end_end.excess_m,
            "start_what": run.start_end.what,
            "end_what": run.end_end.what,
        }
    )


def _sectors_row(body: BodySurvey, place: int, hover: HoverPoint, frame: RegionFrame) -> Row:
    """One of all places to hover, with what stands round it; hover_points has the best one alone."""
    sectors, known = hover.sectors, []
    if sectors is not None:
        known = [slope for slope, each in zip(sectors.slopes[0], sectors.unknown, strict=True) if not each]
    first, second = (open_words(hover, slope, frame) for slope in TOLD_SLOPES)
    return same_named(body, "body_id", "name") | {
        "place": place,
        "clear_radius_m": hover.clear_radius_m,
        "depth_95_m": _sure(hover.depth),
        "least_slope": 100.0 * min(known) if known else None,
        "open_at_8": first,
        "open_at_12": second,
        "slopes": "" if sectors is None else slopes_text(sectors),
        "position_ddm": position_text(hover.point, frame),
    }


def _hover_row(body: BodySurvey, hover: HoverPoint, frame: RegionFrame) -> Row:
    row = same_named(body, "body_id", "name") | same_named(hover, "clear_radius_m", "limited_by")
    return row | {
        "depth_95_m": _sure(hover.depth),
        "depth_evidence": _evidence(hover.depth),
        "position_ddm": position_text(hover.point, frame),
    }
