"""The ranking as map layers in WGS 84: sources as points, the runs flown, the legs loaded and empty, the question."""

from collections.abc import Callable, Sequence
from typing import Any

import geopandas
import pandas as pd
import shapely

from geo.base.geodesy import geodesic
from geo.base.positions import degrees_minutes, feet, knots, magnetic_bearing_deg, nautical_miles
from geo.base.unit_system import TRADE, UnitSystem
from geo.export.drawing.palette import mark_of
from geo.export.layers.table import same_named, table
from geo.export.place_text import position_text, variation
from geo.records.aircraft import METHOD_NAMES
from geo.records.columns import LAYERS
from geo.records.conditions import SourceConditions, Weather
from geo.records.extras import Certainty
from geo.records.flight import Leg
from geo.records.geographic_shapes import LEG_STEP_M, geographic
from geo.records.ranking import Exclusion, RankedSource, Ranking
from geo.records.region import RegionFrame, WaterBody
from geo.records.suitability import MethodAssessment

Row = dict[str, object]
CRS = "EPSG:4326"
BAR = " | "
CYCLE_FIGURES = (
    "litres", "round_trip_s", "fill_s", "manoeuvre_source_s", "drop_s", "manoeuvre_fire_s", "loads_per_hour",
    "litres_per_hour",
)  # fmt: skip


def ranked_frame(
    ranking: Ranking, frame: RegionFrame, bodies: Sequence[WaterBody] = (), certainty: Certainty | None = None
) -> geopandas.GeoDataFrame:
    """Give one point per ranked source, best first, then one per excluded source: the layer ranked.

    Parameters: ranking; the region's frame; bodies, whose inner point places an excluded source that has no fill point
    (without it such a row has no geometry); certainty of the order, whose shares are empty without it.
    Returns: EPSG:4326 points. rank is empty for excluded sources. Unknown figures are empty, never 0.
    """
    polygons = {body.body_id: body.polygon for body in bodies}
    pairs: list[tuple[Row, shapely.Point | None]] = []
    pairs += [_ranked_row(source, ranking, frame) for source in ranking.sources]
    shares = {} if certainty is None else {one.body_id: one for one in certainty.sources}
    for (row, _), source in zip(pairs, ranking.sources, strict=True):
        if source.body_id in shares:
            one = shares[source.body_id]
            row |= {"best_share": one.best, "first_three_share": one.first_three}
    pairs += [_excluded_row(one, ranking, frame, polygons.get(one.body_id)) for one in ranking.excluded]
    return layer([row for row, _ in pairs], [point for _, point in pairs], "ranked")


def layer(rows: Sequence[Row], shapes: Sequence[Any], name: str) -> geopandas.GeoDataFrame:
    """Give rows and their shapes (None: no place) as the EPSG:4326 layer of this name in `columns.LAYERS`."""
    geometry = geopandas.GeoSeries(list(shapes), crs=CRS)
    return geopandas.GeoDataFrame(table(rows, LAYERS[name]), geometry=geometry, crs=CRS)


def _or_none(function: Callable[[float], float], value: float | None) -> float | None:
    return None if value is None else function(value)


def _ranked_row(source: RankedSource, ranking: Ranking, frame: RegionFrame) -> tuple[Row, shapely.Point]:
    point, drop = geographic(source.fill_point, frame), geographic(source.drop_point, frame)
    row: Row = {column.name: None for column in LAYERS["ranked"]}
    row |= (
        same_named(source, "rank", "body_id", "name", "kind", "reason")
        | _assessment(source.assessment)
        | _cycle(source)
        | _fuel(source)
    )
    row |= _air(source.conditions) | _place(point, ranking, source.conditions.elevation_m)
    row |= _from_drop(point, drop, ranking)
    row |= {"other_methods": _others(source.other_methods), "cautions": BAR.join(source.cautions)}
    row["state"] = mark_of(source.assessment.verdict, True).label
    row |= _run(source.run_line, source.assessment, ranking, frame)
    return row, point


def _excluded_row(
    exclusion: Exclusion, ranking: Ranking, frame: RegionFrame, polygon: shapely.Polygon | None
) -> tuple[Row, shapely.Point | None]:
    row: Row = {column.name: None for column in LAYERS["ranked"]}
    row |= same_named(exclusion, "body_id", "name", "kind", "verdict", "reason")
    row["state"] = mark_of(exclusion.verdict, False).label
    ordered = sorted(exclusion.assessments, key=_worth)
    place = None if polygon is None else shapely.point_on_surface(polygon)
    if ordered:
        best = ordered[0]
        # The load is not repeated here: a figure beside an exclusion reads as an offer.
        row |= {"method": METHOD_NAMES[best.method], "agent": best.agent, "score": float(best.score)}
        row |= {"cautions": BAR.join(best.cautions), "other_methods": _others(ordered[1:])}
        place = best.fill_point if best.fill_point is not None else place
    if place is None:
        return row, None
    point = geographic(place, frame)
    return row | _place(point, ranking, None), point


def _worth(assessment: MethodAssessment) -> tuple[int, float]:
    return ("usable", "survey first", "not usable").index(assessment.verdict), -assessment.score


def _assessment(assessment: MethodAssessment) -> Row:
    row = same_named(assessment, "verdict", "litres_ruled_by", "loads_available", "agent")
    return row | {"method": METHOD_NAMES[assessment.method], "score": float(assessment.score)}


def _others(assessments: Sequence[MethodAssessment]) -> str:
    return BAR.join(f"{METHOD_NAMES[a.method]}: {a.verdict} ({a.reason})" for a in assessments)


def _cycle(source: RankedSource) -> Row:
    cycle, loaded, empty = source.cycle, source.cycle.loaded_leg, source.cycle.empty_leg
    highest_m, what = None, "height unknown on a part of the route"
    # Known only when both legs are: the higher of one known and one unknown is unknown.
    if loaded.safe_altitude_m is not None and empty.safe_altitude_m is not None:
        leg = loaded if loaded.safe_altitude_m >= empty.safe_altitude_m else empty
        highest_m, what = leg.safe_altitude_m, leg.highest_what
    return same_named(cycle, *CYCLE_FIGURES) | {
        "loaded_leg_s": loaded.time_s,
        "empty_leg_s": empty.time_s,
        "loaded_leg_m": loaded.distance_m,
        "empty_leg_m": empty.distance_m,
        "safe_altitude_m": highest_m,
        "safe_altitude_ft": _or_none(feet, highest_m),
        "highest_what": what,
    }


def _fuel(source: RankedSource) -> Row:
    return {
        "loads_per_fuel": source.fuel.loads,
        "litres_per_fuel": source.fuel.litres,
        "long_run_litres_per_hour": source.fuel.long_run_litres_per_hour,
    }


def _air(conditions: SourceConditions) -> Row:
    row = same_named(conditions, "elevation_m", "density_altitude_m", "temperature_c", "wind_from_true_deg")
    return row | {
        "elevation_ft": _or_none(feet, conditions.elevation_m),
        "density_altitude_ft": _or_none(feet, conditions.density_altitude_m),
        "wind_kt": knots(conditions.wind_ms),
    }


def _place(point: shapely.Point, ranking: Ranking, elevation_m: float | None) -> Row:
    variation_deg, note = variation(point, ranking.weather.compass_day, elevation_m)
    return {
        "longitude_deg": point.x,
        "latitude_deg": point.y,
        "position_ddm": degrees_minutes(point.x, point.y),
        "variation_deg": variation_deg,
        "magnetic_note": note,
    }


def _from_drop(point: shapely.Point, drop: shapely.Point, ranking: Ranking) -> Row:
    line = geodesic(drop.x, drop.y, point.x, point.y)
    variation_deg, _ = variation(drop, ranking.weather.compass_day)
    return {
        "distance_m": line.distance_m,
        "distance_nmi": nautical_miles(line.distance_m),
        "bearing_true_deg": line.start_bearing_deg,
        "bearing_magnetic_deg": _or_none(
            lambda v: magnetic_bearing_deg(line.start_bearing_deg, v), variation_deg
        ),
    }


def _run(
    line: shapely.LineString | None, assessment: MethodAssessment, ranking: Ranking, frame: RegionFrame
) -> Row:
    if line is None:
        return {}
    heading_deg = assessment.run_heading_true_deg
    middle = geographic(line.interpolate(0.5, normalized=True), frame)
    variation_deg, _ = variation(middle, ranking.weather.compass_day)
    magnetic_deg = None
    if heading_deg is not None and variation_deg is not None:
        magnetic_deg = magnetic_bearing_deg(heading_deg, variation_deg)
    start, end = (position_text(shapely.get_point(line, i), frame) for i in (0, -1))
    return {
        "run_length_m": float(line.length),
        "run_heading_true_deg": heading_deg,
        "run_heading_magnetic_deg": magnetic_deg,
        "run_start_ddm": start,
        "run_end_ddm": end,
    }


def runs_frame(ranking: Ranking, frame: RegionFrame) -> geopandas.GeoDataFrame:
    """Give the run of each ranked source that has one, as EPSG:4326 lines: the layer runs."""
    rows: list[Row] = []
    shapes = []
    for source in ranking.sources:
        if source.run_line is not None:
            run = _run(source.run_line, source.assessment, ranking, frame)
            named = same_named(source, "rank", "body_id", "name")
            rows.append(named | {key.removeprefix("run_"): value for key, value in run.items()})
            shapes.append(geographic(source.run_line, frame))
    return layer(rows, shapes, "runs")


def legs_frame(ranking: Ranking, frame: RegionFrame) -> geopandas.GeoDataFrame:
    """Give both legs of each ranked source as EPSG:4326 lines with a vertex every 2 km: the layer legs."""
    rows, shapes = [], []
    for source in ranking.sources:
        for load, leg in (("loaded", source.cycle.loaded_leg), ("empty", source.cycle.empty_leg)):
            rows.append(_leg_row(source, load, leg))
            shapes.append(geographic(leg.route, frame, LEG_STEP_M))
    return layer(rows, shapes, "legs")


def _leg_row(source: RankedSource, load: str, leg: Leg) -> Row:
    row = same_named(source, "rank", "body_id", "name")
    row |= same_named(leg, "time_s", "distance_m", "climb_m", "safe_altitude_m", "highest_what")
    return row | {
        "load": load,
        "distance_nmi": nautical_miles(leg.distance_m),
        "safe_altitude_ft": _or_none(feet, leg.safe_altitude_m),
        "detour": "yes" if leg.detour else "no",
        "cautions": BAR.join(leg.cautions),
    }


def question_table(ranking: Ranking) -> pd.DataFrame:
    """Give the question and all assumptions as item and value, so that no layer travels without what it answers."""
    weather = ranking.weather
    items = {
        "region": ranking.region_name,
        "fire": f"{ranking.fire_name} ({ranking.fire_id})",
        "aircraft": f"{ranking.aircraft} ({ranking.profile_id})",
        "wind": wind_text(weather),
        "temperature": f"{weather.oat_c:g} degC at {weather.read_at}",
        "pressure": f"QNH {weather.qnh_hpa:g} hPa",
        "day": "not given" if weather.day is None else weather.day.isoformat(),
        "survey": ranking.survey_fingerprint,
        "ranked, left out": f"{len(ranking.sources)}, {len(ranking.excluded)}",
    }
    items |= {f"assumption: {key}": value for key, value in ranking.assumptions.items()}
    items |= {f"caution {number}": text for number, text in enumerate(ranking.cautions, 1)}
    return table([{"item": key, "value": str(value)} for key, value in items.items()], LAYERS["question"])


def question_lines(ranking: Ranking) -> list[str]:
    """Give the question and all assumptions as lines of text."""
    return [f"{item}: {value}" for item, value in question_table(ranking).itertuples(index=False)]


def wind_text(weather: Weather, units: UnitSystem = TRADE) -> str:
    """Give the wind as crews say it: 300°T at 18 kt, from; or calm."""
    if weather.wind_ms == 0:
        return "calm"
    return f"from {weather.wind_from_true_deg:03.0f}°T at {units.speed.text(weather.wind_ms)}{weather.gust_words}"
