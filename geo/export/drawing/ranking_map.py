"""The map of a ranking: relief, waters by verdict, the fire, what is closed, the first ways flown."""

import numpy as np
import shapely
from matplotlib.axes import Axes

from geo.base.errors import BadArgument
from geo.base.positions import knots
from geo.export.drawing.canvas import axes_pixels
from geo.export.drawing.map_drawing import (
    Bounds,
    Label,
    draw_area,
    draw_labels,
    draw_line,
    draw_relief,
    fit_bounds,
)
from geo.export.drawing.map_furniture import corners, draw_furniture
from geo.export.drawing.palette import BLACK, MARKS, REDDISH_PURPLE, VERMILLION, YELLOW, Mark, mark_of
from geo.export.layers.survey_layer import verdicts
from geo.records.ranking import RankedSource, Ranking
from geo.records.region import Fire, Region

LEGS_SHOWN = 3
LISTED = 10
FIRE_EDGE = "#7A3600"


def draw_ranking_map(
    axes: Axes, region: Region, ranking: Ranking, fire: Fire | None
) -> tuple[list[Mark], Bounds]:
    """Draw the map into map axes; give the marks that were used and the map's bounds [m].

    Notes: grid north up; shows the fire and the first LISTED sources, and the legs of the first LEGS_SHOWN.
    Raises: BadArgument when there is nothing to draw.
    """
    bounds = fit_bounds(_extent(region, ranking, fire), axes, 0.12)
    if region.terrain is not None:
        draw_relief(axes, region.terrain, bounds)
    marks = _draw_waters(axes, region, ranking, bounds)
    _draw_ground(axes, region, ranking, fire)
    _draw_sources(axes, ranking)
    wind = None
    if ranking.weather.wind_ms > 0:
        # Wind is FROM: the arrow points to where it blows.
        wind = (f"wind {knots(ranking.weather.wind_ms):.0f} kt", ranking.weather.wind_from_true_deg + 180.0)
    draw_furniture(axes, bounds, ("km", 1000.0), wind)
    _label(axes, region, ranking, fire, bounds)
    return marks, bounds


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
    draw_labels(axes, inside, corners(axes), lines)
