"""The ranking as a map for a briefing: relief, waters by verdict, the fire, what is closed, the first ways flown."""

from pathlib import Path

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from geo.errors import BadArgument
from geo.export.canvas import (
    INK,
    axes_pixels,
    draw_legend,
    map_axes,
    new_figure,
    text_axes,
    title,
    words,
    write_png,
)
from geo.export.map_drawing import (
    Bounds,
    Label,
    draw_area,
    draw_arrow,
    draw_backing,
    draw_labels,
    draw_line,
    draw_relief,
    draw_scale_bar,
    fit_bounds,
)
from geo.export.palette import BLACK, MARKS, REDDISH_PURPLE, VERMILLION, YELLOW, Mark, mark_of
from geo.export.positions import bearing_text, duration_text, knots, nautical_miles
from geo.export.ranked_layer import wind_text
from geo.export.survey_layer import verdicts
from geo.geodesy import plane_geodesic
from geo.records.aircraft import METHOD_NAMES
from geo.records.ranking import RankedSource, Ranking
from geo.records.region import Fire, Region
from geo.records.survey import RegionSurvey
from geo.units import METRE_PER_NAUTICAL_MILE

LEGS_SHOWN = 3
LISTED = 10
LEGEND_TOP = 0.33
FIRE_EDGE = "#7A3600"


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
    fire = fire or next((one for one in region.fires if one.fire_id == ranking.fire_id), None)
    figure = new_figure()
    axes = map_axes(figure, 0.015, 0.02, 0.715, 0.885)
    bounds = fit_bounds(_extent(region, ranking, fire), axes, 0.12)
    if region.terrain is not None:
        draw_relief(axes, region.terrain, bounds)
    marks = _draw_waters(axes, region, ranking, bounds)
    _draw_ground(axes, region, ranking, fire)
    _draw_sources(axes, ranking)
    _draw_furniture(axes, ranking, bounds)
    _label(axes, region, ranking, fire, bounds)
    _title(figure, ranking)
    _panel(figure, ranking, marks, region, fire, shapely.box(*bounds))
    return write_png(path, figure)


def _extent(region: Region, ranking: Ranking, fire: Fire | None) -> Bounds:
    """Give the bounds of what must be seen; the whole water of a huge body need not."""
    shown = [source.fill_point for source in ranking.sources[:LISTED]]
    shown += [source.run_line for source in ranking.sources[:LISTED] if source.run_line is not None]
    shown += [source.drop_point for source in ranking.sources[:LISTED]]
    shown += [leg for source in ranking.sources[:LEGS_SHOWN] for leg in _routes(source)]
    shown += [fire.area] if fire is not None else []
    if not ranking.sources:
        shown += [body.polygon for body in region.bodies]
    if not shown:
        raise BadArgument("the ranking has no source and the region no water: there is nothing to draw")
    return tuple(float(v) for v in shapely.total_bounds(np.array(shown, dtype=object)))


def _routes(source: RankedSource) -> tuple[shapely.LineString, shapely.LineString]:
    return source.cycle.loaded_leg.route, source.cycle.empty_leg.route


def _draw_waters(axes: Axes, region: Region, ranking: Ranking, bounds: Bounds) -> list[Mark]:
    """Draw the waters in view by their state; give the marks that were used."""
    states, view = verdicts(ranking), shapely.box(*bounds)
    used = []
    for body in region.bodies:
        if not shapely.intersects(body.polygon, view):
            continue
        mark = mark_of(*states.get(body.body_id, (None, False)))
        used.append(mark)
        draw_area(axes, body.polygon, mark.colour, mark.hatch, 0.78 if mark is MARKS[0] else 0.42, 2)
        west, south, east, north = body.polygon.bounds
        if max(east - west, north - south) < 0.02 * (bounds[2] - bounds[0]):
            # A dam of a few pixels would be lost: its mark stands for it.
            point = shapely.point_on_surface(body.polygon)
            axes.plot(
                point.x,
                point.y,
                mark.plot_marker,
                color=mark.colour,
                markeredgecolor="white",
                markersize=10,
                zorder=6,
            )
    return [mark for mark in MARKS if mark in used]


def _draw_ground(axes: Axes, region: Region, ranking: Ranking, fire: Fire | None) -> None:
    if fire is not None:
        draw_area(axes, fire.area, VERMILLION, "++", 0.7, 3, FIRE_EDGE)
    for closure in region.closures:
        if closure.in_force(ranking.weather.day):
            draw_area(axes, closure.area, REDDISH_PURPLE, "\\\\", 0.10, 4)
    for obstacle in region.obstacles:
        if shapely.get_dimensions(obstacle.shape) == 0:
            points = shapely.get_coordinates(obstacle.shape)
            axes.plot(*points.T, "1", color=BLACK, markersize=13, markeredgewidth=2.2, zorder=8)
        else:
            draw_line(axes, _outline(obstacle.shape), BLACK, 1.2, (0, (1, 2)), 7)
    if region.base is not None:
        axes.plot(
            region.base.point.x,
            region.base.point.y,
            "s",
            color=YELLOW,
            markeredgecolor=BLACK,
            markersize=11,
            zorder=9,
        )


def _outline(shape: shapely.Geometry) -> shapely.Geometry:
    return shapely.boundary(shape) if shapely.get_dimensions(shape) == 2 else shape


def _draw_sources(axes: Axes, ranking: Ranking) -> None:
    metre_per_pixel = np.ptp(axes.get_xlim()) / axes_pixels(axes)[0]
    for source in reversed(ranking.sources[:LEGS_SHOWN]):
        loaded, empty = _routes(source)
        width = 3.0 - 0.6 * (source.rank - 1)
        # Out and back are often one line: the way back is drawn 6 pixels beside it.
        beside = shapely.offset_curve(empty, 6 * metre_per_pixel)
        draw_line(axes, beside, BLACK, 0.6 * width, (0, (5, 3)), 10)
        draw_line(axes, loaded, BLACK, width, "-", 11)
    for source in ranking.sources:
        if source.run_line is not None:
            draw_line(axes, source.run_line, YELLOW, 2.6, "-", 12)
        axes.plot(
            source.fill_point.x,
            source.fill_point.y,
            MARKS[0].plot_marker if source.assessment.verdict == "usable" else MARKS[1].plot_marker,
            color=mark_of(source.assessment.verdict, True).colour,
            markeredgecolor="white",
            markeredgewidth=1.6,
            markersize=13,
            zorder=14,
        )


def _draw_furniture(axes: Axes, ranking: Ranking, bounds: Bounds) -> None:
    draw_backing(axes, 0.008, 0.009, 0.27, 0.066)
    draw_backing(axes, 0.915, 0.845, 0.078, 0.146)
    draw_scale_bar(axes, bounds, 1000.0, "km", 0.022)
    draw_scale_bar(axes, bounds, METRE_PER_NAUTICAL_MILE, "nmi", 0.048)
    draw_arrow(axes, (0.955, 0.92), 0.0, "north", INK)
    if ranking.weather.wind_ms > 0:
        draw_backing(axes, 0.815, 0.845, 0.1, 0.146)
        # Wind is FROM: the arrow points to where it blows.
        text = f"wind {knots(ranking.weather.wind_ms):.0f} kt"
        draw_arrow(axes, (0.87, 0.92), ranking.weather.wind_from_true_deg + 180.0, text, INK)


def _label(axes: Axes, region: Region, ranking: Ranking, fire: Fire | None, bounds: Bounds) -> None:
    labels = [
        Label(s.fill_point.x, s.fill_point.y, f"{s.rank} {s.name}", 14, True, True)
        for s in ranking.sources[:LISTED]
    ]
    labels += [
        Label(s.fill_point.x, s.fill_point.y, f"{s.rank} {s.name}", 11) for s in ranking.sources[LISTED:]
    ]
    if fire is not None:
        place = shapely.point_on_surface(fire.area)
        labels.append(Label(place.x, place.y, fire.name, 13, True, True))
    if region.base is not None:
        labels.append(Label(region.base.point.x, region.base.point.y, region.base.name, 10))
    view, ranked = shapely.box(*bounds), {source.body_id for source in ranking.sources}
    others = [(body.polygon, body.name) for body in region.bodies if body.body_id not in ranked]
    others += [(c.area, c.name) for c in region.closures if c.in_force(ranking.weather.day)]
    for area, name in others:
        part = shapely.intersection(area, view)
        if part.area > 0:
            place = shapely.point_on_surface(part)
            labels.append(Label(place.x, place.y, name, 10))
    inside = [label for label in labels if shapely.contains_xy(view, label.easting_m, label.northing_m)]
    lines = [line for source in ranking.sources[:LEGS_SHOWN] for line in _routes(source)]
    lines += [source.run_line for source in ranking.sources[:LISTED] if source.run_line is not None]
    draw_labels(axes, inside, _corners(axes), lines)


def _corners(axes: Axes) -> list[Bounds]:
    """Give the pixels that scale bars and arrows hold."""
    box = axes.get_window_extent()
    return [
        (box.x0, box.y0, box.x0 + 0.36 * box.width, box.y0 + 0.075 * box.height),
        (box.x0 + 0.82 * box.width, box.y0 + 0.84 * box.height, box.x1, box.y1),
    ]


def _title(figure: Figure, ranking: Ranking) -> None:
    weather = ranking.weather
    day = "no date given" if weather.day is None else weather.day.isoformat()
    title(
        figure,
        f"Water for {ranking.fire_name}",
        f"{ranking.aircraft}, wind {wind_text(ranking)}, {weather.oat_c:g} °C at {weather.station_elevation_m:g} m, "
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
    words(axes, 0.0, 0.985, "Ranking", 16, bold=True)
    words(axes, 0.80, 0.982, "round trip", 10, right=True)
    words(axes, 1.0, 0.982, "L/h", 10, right=True)
    rows = ranking.sources[:LISTED]
    for number, source in enumerate(rows):
        _row(axes, source, 0.95 - 0.043 * number, region)
    _left_out(axes, ranking, 0.945 - 0.043 * len(rows), len(rows))
    _legend(axes, marks, region, fire, view)


def _row(axes: Axes, source: RankedSource, height: float, region: Region) -> None:
    points = [(point.x, point.y) for point in (source.drop_point, source.fill_point)]
    way = plane_geodesic(region.frame.crs_wkt, *points)
    detail = f"{METHOD_NAMES[source.assessment.method]}, {source.cycle.litres:,.0f} L, "
    detail += f"{nautical_miles(way.distance_m):.1f} nmi {bearing_text(way.start_bearing_deg)}"
    words(axes, 0.0, height, f"{source.rank}", 14, bold=True)
    words(axes, 0.08, height + 0.008, source.name, 11.5, end=0.66)
    words(axes, 0.08, height - 0.010, detail, 9.5, soft=True)
    words(axes, 0.80, height + 0.008, duration_text(source.cycle.round_trip_s), 11.5, right=True)
    words(axes, 1.0, height + 0.008, f"{source.cycle.litres_per_hour:,.0f}", 11.5, right=True)


def _left_out(axes: Axes, ranking: Ranking, top: float, listed: int) -> None:
    """List what is left out with its reason: the sources that a reader would miss."""
    more = len(ranking.sources) - listed
    if more > 0:
        words(axes, 0.08, top, f"and {more} more in the files", 10, soft=True)
    if not ranking.sources:
        words(axes, 0.0, top, "No source can be ranked.", 13, bold=True)
    if not ranking.excluded:
        return
    words(axes, 0.0, top - 0.03, f"Left out: {len(ranking.excluded)}", 13, bold=True)
    room = max(0, int((top - 0.058 - LEGEND_TOP) / 0.036))
    for number, one in enumerate(ranking.excluded[:room]):
        height = top - 0.058 - 0.036 * number
        verdict = "usable, left out" if one.verdict == "usable" else one.verdict
        words(axes, 0.0, height + 0.007, f"{one.name} ({verdict})", 10.5)
        words(axes, 0.0, height - 0.009, one.reason, 9.5, soft=True)


def _legend(axes: Axes, marks: list[Mark], region: Region, fire: Fire | None, view: shapely.Polygon) -> None:
    """Explain what is in view, and nothing else."""
    handles: list = [
        Patch(
            facecolor=to_rgba(m.colour, 0.45 if m.hatch else 0.8),
            edgecolor=m.colour,
            hatch=m.hatch,
            label=m.label,
        )
        for m in marks
    ]
    handles.append(Line2D([], [], color=YELLOW, linewidth=3, label="run of a ram intake"))
    handles.append(Line2D([], [], color=BLACK, linewidth=2.4, label="leg with the load (first three)"))
    handles.append(
        Line2D([], [], color=BLACK, linewidth=1.6, linestyle=(0, (5, 3)), label="leg back (drawn beside)")
    )
    if fire is not None:
        handles.append(
            Patch(facecolor=to_rgba(VERMILLION, 0.7), edgecolor=FIRE_EDGE, hatch="++", label="fire")
        )
    if any(shapely.intersects(closure.area, view) for closure in region.closures):
        handles.append(Patch(facecolor="none", edgecolor=REDDISH_PURPLE, hatch="\\\\", label="closed area"))
    if any(shapely.intersects(obstacle.shape, view) for obstacle in region.obstacles):
        mast = Line2D(
            [], [], color=BLACK, marker="1", markersize=12, markeredgewidth=2, linestyle=(0, (1, 2))
        )
        mast.set_label("obstacle: mast, wire")
        handles.append(mast)
    if region.base is not None and shapely.intersects(region.base.point, view):
        square = {"marker": "s", "markeredgecolor": BLACK, "markersize": 10, "linestyle": "none"}
        handles.append(Line2D([], [], color=YELLOW, label="base", **square))
    draw_legend(axes, handles)
