"""The sheet of a ranking: what was asked, the first ten waters, the map, the cautions, the version."""

from io import BytesIO

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from geo.errors import BadArgument
from geo.export.canvas import map_axes
from geo.export.geographic_shapes import geographic
from geo.export.positions import bearing_text, degrees_minutes, duration_text, nautical_miles
from geo.export.ranked_layer import wind_text
from geo.export.ranking_map import LISTED, draw_ranking_map
from geo.export.sheets.paper import Paper, one_page, picture_address
from geo.geodesy import plane_geodesic
from geo.records.aircraft import METHOD_NAMES
from geo.records.ranking import RankedSource, Ranking
from geo.records.region import Fire, Region
from geo.records.supply import Further

# The map is drawn larger than it is printed, so that its lines and letters become fine.
MAP_INCHES, MAP_DPI = (12.6, 6.6), 150
MAP_KEY = (
    "Number: rank. Filled: usable and ranked; slanting hatch: survey first; crossed hatch: not usable or left out. "
    "Crosses: the fire. Full black line: leg with the load; dashed: leg back, drawn beside it (first three). "
    "Pale line in a water: run of a ram intake. Three-armed mark or dotted line: mast or wire. Grid north is up."
)
WARNING = (
    "Advice only: the pilot in command decides. Look before the first fill. Wires may be missing from the data; levels "
    "change; local rules apply. Unknown was never counted as good."
)


def ranking_sheet(
    region: Region,
    ranking: Ranking,
    further: Further | None = None,
    fire: Fire | None = None,
    *,
    paper: Paper = "A4",
    version: str = "",
) -> bytes:
    """Give the sheet of a ranking as a PDF of one page.

    Parameters: fire, where it is not one of the region's; version, words on when and as what the answer is kept.
    Raises: BadArgument when region and ranking are not of one input, or for another paper.
    """
    if region.fingerprint != ranking.survey_fingerprint:
        raise BadArgument(
            f"region and ranking are not of one input ({region.fingerprint}, {ranking.survey_fingerprint}): rank again"
        )
    fire = fire or next((one for one in region.fires if one.fire_id == ranking.fire_id), None)
    certain = {}
    if further is not None and further.certainty is not None:
        certain = {one.body_id: one.best for one in further.certainty.sources}
    weather = ranking.weather
    values = {
        "title": f"Water for {ranking.fire_name}",
        "aircraft": ranking.aircraft,
        "asked": [
            f"wind {wind_text(ranking)}, QNH {weather.qnh_hpa:g} hPa",
            f"{weather.oat_c:g} °C at {weather.station_elevation_m:g} m",
            "no date given: all closures count"
            if weather.day is None
            else f"closures in force on {weather.day}",
            f"loads go to {ranking.assumptions.get('drop point', 'a place that was not stated')}",
            ranking.region_name,
        ],
        "warning": WARNING,
        "rows": [_row(source, region, certain.get(source.body_id)) for source in ranking.sources[:LISTED]],
        "left_out": _left_out(ranking),
        "map": picture_address(_map(region, ranking, fire)),
        "map_key": MAP_KEY,
        "cautions": ranking.cautions,
        "foot": f"{version + '; ' if version else ''}input {ranking.survey_fingerprint[:12]}; bearings true",
    }
    return one_page("ranking.html", values, paper)


def _row(source: RankedSource, region: Region, best: float | None) -> dict:
    place = geographic(source.fill_point, region.frame)
    way = plane_geodesic(
        region.frame.crs_wkt,
        (source.drop_point.x, source.drop_point.y),
        (source.fill_point.x, source.fill_point.y),
    )
    method = METHOD_NAMES[source.assessment.method]
    heading = source.assessment.run_heading_true_deg
    ruled = source.assessment.litres_ruled_by
    return {
        "rank": source.rank,
        "name": source.name,
        "way": method if heading is None else f"{method}, run {bearing_text(heading)}",
        "place": degrees_minutes(place.x, place.y),
        "distance": f"{nautical_miles(way.distance_m):.1f} nmi",
        "bearing": bearing_text(way.start_bearing_deg),
        "round_trip": duration_text(source.cycle.round_trip_s),
        "load": f"{source.cycle.litres:,.0f} L" + ("" if ruled == "tank" else " *"),
        "hour": f"{source.cycle.litres_per_hour:,.0f} L",
        "long_run": "" if source.fuel is None else f"{source.fuel.long_run_litres_per_hour:,.0f} L",
        "best": "" if best is None else f"{best:.0%}",
        "caution": "; ".join(source.cautions[:2]),
    }


def _left_out(ranking: Ranking) -> str:
    more = len(ranking.sources) - LISTED
    survey = sum(one.verdict == "survey first" for one in ranking.excluded)
    parts = [f"{more} more are ranked." if more > 0 else ""]
    parts.append(f"{len(ranking.excluded)} waters are left out, {survey} of them until they are surveyed.")
    parts.append(
        "Best: share of 1,000 samples of wind, fill time and depth in which it comes first. * a partial load."
    )
    return " ".join(part for part in parts if part)


def _map(region: Region, ranking: Ranking, fire: Fire | None) -> bytes:
    figure = Figure(figsize=MAP_INCHES, dpi=MAP_DPI)
    FigureCanvasAgg(figure)
    draw_ranking_map(map_axes(figure, 0.0, 0.0, 1.0, 1.0), region, ranking, fire)
    held = BytesIO()
    figure.savefig(held, format="png", dpi=MAP_DPI, pil_kwargs={"compress_level": 4})
    return held.getvalue()
