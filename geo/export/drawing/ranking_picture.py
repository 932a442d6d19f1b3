"""The ranking as a map for a briefing: relief, waters by verdict, the fire, what is closed, the first routes flown."""

from datetime import date
from pathlib import Path

import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from geo.base.errors import BadArgument
from geo.base.positions import duration_text, nautical_miles, true_and_magnetic
from geo.export.drawing.canvas import (
    draw_legend,
    key_line,
    key_mark,
    map_axes,
    new_figure,
    text_axes,
    title,
    words,
    write_png,
)
from geo.export.drawing.map_furniture import DOTTED
from geo.export.drawing.palette import BLACK, REDDISH_PURPLE, USABLE, VERMILLION, YELLOW, Mark
from geo.export.drawing.ranking_map import FIRE_EDGE, LISTED, STATION_MARK, draw_ranking_map, of_station
from geo.export.layers.ranked_layer import wind_text
from geo.export.place_text import distance_between, variation
from geo.export.subjects import fire_of
from geo.records.geographic_shapes import geographic
from geo.records.ranking import RankedSource, Ranking
from geo.records.region import Fire, Region
from geo.records.survey import RegionSurvey

LEGEND_TOP = 0.33


def ranking_picture(
    path: Path, region: Region, survey: RegionSurvey, ranking: Ranking, fire: Fire | None = None
) -> Path:
    """Draw the ranking as a PNG of 1600 x 1100 pixels.

    Parameters: path; region, its survey and ranking; fire, where it is not one of the region's.
    The map is grid north up and shows the fire and the first 10 sources; the legs of the first three are drawn.

    Raises: BadArgument when survey and region are not of one input; OSError when the disk refuses (the old file is
    then untouched).
    """
    if not survey.fingerprint == region.fingerprint == ranking.survey_fingerprint:
        raise BadArgument(
            "region, survey and ranking are not of one input "
            f"({region.fingerprint}, {survey.fingerprint}, {ranking.survey_fingerprint}): survey and rank again"
        )
    fire = fire or fire_of(region, ranking)
    figure = new_figure()
    axes = map_axes(figure, 0.015, 0.02, 0.715, 0.885)
    marks, bounds = draw_ranking_map(axes, region, ranking, fire)
    _title(figure, ranking)
    _panel(figure, ranking, marks, region, fire, shapely.box(*bounds))
    return write_png(path, figure)


def _title(figure: Figure, ranking: Ranking) -> None:
    weather = ranking.weather
    day = "no date given" if weather.day is None else weather.day.isoformat()
    title(
        figure,
        f"Water for {ranking.fire_name}",
        f"{ranking.aircraft}, wind {wind_text(weather)}, {weather.oat_c:g} °C at {weather.read_at}, "
        f"QNH {weather.qnh_hpa:g} hPa, {day}, {ranking.region_name}",
    )


def _panel(
    figure: Figure,
    ranking: Ranking,
    marks: list[Mark],
    region: Region,
    fire: Fire | None,
    view: shapely.Polygon,
) -> None:
    axes = text_axes(figure, 0.742, 0.02, 0.25, 0.96)
    words(axes, (0.0, 0.985), "Ranking", 16, bold=True)
    words(axes, (0.68, 0.982), "round trip", 10, right=True)
    words(axes, (1.0, 0.982), "L/h sustained", 10, right=True)
    listed = ranking.sources[:LISTED]
    for number, source in enumerate(listed):
        _row(axes, source, 0.95 - 0.043 * number, region, ranking.weather.compass_day)
    _left_out(axes, ranking, 0.945 - 0.043 * len(listed), len(listed))
    _legend(axes, marks, region, ranking, fire, view)


def _row(axes: Axes, source: RankedSource, height: float, region: Region, day: date | None) -> None:
    line = distance_between(source.drop_point, source.fill_point, region.frame)
    variation_deg, _ = variation(geographic(source.fill_point, region.frame), day)
    heading = source.assessment.run_heading_true_deg
    run = "" if heading is None else f" {true_and_magnetic(heading, variation_deg)}"
    detail = f"{source.assessment.way}{run}, {source.cycle.litres:,.0f} L, {nautical_miles(line.distance_m):.1f} NM "
    detail += true_and_magnetic(line.start_bearing_deg, variation_deg)
    words(axes, (0.0, height), f"{source.rank}", 14, bold=True)
    words(axes, (0.08, height + 0.008), source.name, 11.5, end=0.56)
    words(axes, (0.08, height - 0.010), detail, 9.5, soft=True)
    words(axes, (0.68, height + 0.008), duration_text(source.cycle.round_trip_s), 11.5, right=True)
    words(axes, (1.0, height + 0.008), f"{source.fuel.sustained_litres_per_hour:,.0f}", 11.5, right=True)


def _left_out(axes: Axes, ranking: Ranking, top: float, listed: int) -> None:
    """List what is left out with its reason: the sources that a reader would miss."""
    more = len(ranking.sources) - listed
    if more > 0:
        words(axes, (0.08, top), f"and {more} more in the files", 10, soft=True)
    if not ranking.sources:
        words(axes, (0.0, top), "No source can be ranked.", 13, bold=True)
    if not ranking.excluded:
        return
    words(axes, (0.0, top - 0.03), f"Left out: {len(ranking.excluded)}", 13, bold=True)
    rows = max(0, int((top - 0.058 - LEGEND_TOP) / 0.036))
    for number, one in enumerate(ranking.excluded[:rows]):
        height = top - 0.058 - 0.036 * number
        verdict = "usable, left out" if one.verdict == "usable" else one.verdict
        words(axes, (0.0, height + 0.007), f"{one.name} ({verdict})", 10.5)
        words(axes, (0.0, height - 0.009), one.reason, 9.5, soft=True)


def _legend(
    axes: Axes, marks: list[Mark], region: Region, ranking: Ranking, fire: Fire | None, view: shapely.Polygon
) -> None:
    """Explain what is in view, and nothing else."""
    handles: list[Artist] = [Patch(facecolor=to_rgba(m.colour, 0.45 if m.hatch else 0.8), edgecolor=m.colour,
                                   hatch=m.hatch, label=m.label) for m in marks]  # fmt: skip
    handles += [
        key_line("run of a ram intake", YELLOW, 3),
        key_line("leg with the load (first three)", BLACK, 2.4),
        key_line("leg back (drawn beside)", BLACK, 1.6, linestyle=(0, (5, 3))),
    ]
    if any(of_station(one) and shapely.intersects(one.fill_point, view) for one in ranking.sources):
        handles.append(key_mark("fill station", USABLE.colour, STATION_MARK, 11))
    if fire is not None:
        colour = to_rgba(VERMILLION, 0.7)
        handles.append(Patch(facecolor=colour, edgecolor=FIRE_EDGE, hatch="++", label="fire"))
    draw_legend(axes, handles + _key_of_ground(region, view))


def _key_of_ground(region: Region, view: shapely.Polygon) -> list[Artist]:
    """Give the entries of what is closed, of obstacles and of the base, as far as they are in view."""
    handles: list[Artist] = []
    if any(shapely.intersects(closure.area, view) for closure in region.closures):
        handles.append(Patch(facecolor="none", edgecolor=REDDISH_PURPLE, hatch="\\\\", label="closed area"))
    if any(shapely.intersects(obstacle.shape, view) for obstacle in region.obstacles):
        look = {"markeredgewidth": 2, "linestyle": DOTTED}
        handles.append(key_mark("obstacle: mast, wire", BLACK, "1", 12, BLACK, **look))
    if region.base is not None and shapely.intersects(region.base.point, view):
        handles.append(key_mark("base", YELLOW, "s", 10, BLACK))
    return handles
