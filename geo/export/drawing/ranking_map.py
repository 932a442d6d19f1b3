"""The map of a ranking: relief, waters by verdict, the fire, what is closed, the first routes flown."""

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
    draw_mark,
    draw_relief,
    fit_bounds,
)
from geo.export.drawing.map_furniture import corners, draw_closures, draw_furniture, draw_obstacles
from geo.export.drawing.palette import BLACK, MARKS, VERMILLION, YELLOW, Mark, mark_of
from geo.export.layers.survey_layer import verdicts
from geo.records.ranking import RankedSource, Ranking
from geo.records.region import Closure, Fire, Region
from geo.records.station import HOSE_KINDS, OPEN_KINDS

LEGS_SHOWN = 3
LISTED = 10
FIRE_EDGE = "#7A3600"
STATION_MARK = "p"  # five corners: neither the round mark of a water nor the square of a base


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
    shown: list[shapely.Geometry] = [
        leg for source in ranking.sources[:LEGS_SHOWN] for leg in _routes(source)
    ]
    for source in ranking.sources[:LISTED]:
        shown += [source.fill_point, source.drop_point]
        shown += [] if source.run_line is None else [source.run_line]
    shown += [] if fire is None else [fire.area]
    if not ranking.sources:
        shown += [body.polygon for body in region.bodies]
    if not shown:
        raise BadArgument("the ranking has no source and the region no water: there is nothing to draw")
    west, south, east, north = (float(edge) for edge in shapely.total_bounds(shown))
    return west, south, east, north


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
            draw_mark(axes, point, mark.plot_marker, mark.colour, 10, 6)
    return [mark for mark in MARKS if mark in used]


def _draw_ground(axes: Axes, region: Region, ranking: Ranking, fire: Fire | None) -> None:
    if fire is not None:
        draw_area(axes, fire.area, VERMILLION, "++", 0.7, 3, FIRE_EDGE)
    draw_closures(axes, _closed(region, ranking))
    draw_obstacles(axes, region.obstacles, 13.0)
    if region.base is not None:
        draw_mark(axes, region.base.point, "s", YELLOW, 11, 9, BLACK)


def _closed(region: Region, ranking: Ranking) -> list[Closure]:
    return [one for one in region.closures if one.in_force(ranking.weather.day)]


def of_station(source: RankedSource) -> bool:
    """Say whether a source is a fill station and not a water."""
    return source.kind in (*HOSE_KINDS, *OPEN_KINDS)


def _draw_sources(axes: Axes, ranking: Ranking) -> None:
    metre_per_pixel = np.ptp(axes.get_xlim()) / axes_pixels(axes)[0]
    for source in reversed(ranking.sources[:LEGS_SHOWN]):
        loaded, empty = _routes(source)
        width = 3.0 - 0.6 * (source.rank - 1)
        # Out and back are often one line: the leg back is drawn 6 pixels beside it.
        beside = shapely.offset_curve(empty, 6 * metre_per_pixel)
        draw_line(axes, beside, BLACK, 0.6 * width, (0, (5, 3)), 10)
        draw_line(axes, loaded, BLACK, width, "-", 11)
    for source in ranking.sources:
        if source.run_line is not None:
            draw_line(axes, source.run_line, YELLOW, 2.6, "-", 12)
        mark = MARKS[0] if source.assessment.verdict == "usable" else MARKS[1]
        colour = mark_of(source.assessment.verdict, True).colour
        marker = STATION_MARK if of_station(source) else mark.plot_marker
        draw_mark(axes, source.fill_point, marker, colour, 13, 14).set_markeredgewidth(1.6)


def _label(axes: Axes, region: Region, ranking: Ranking, fire: Fire | None, bounds: Bounds) -> None:
    view = shapely.box(*bounds)
    labels = [*_labels_of_sources(ranking), *_labels_of_places(region, fire)]
    labels += _labels_of_areas(region, ranking, view)
    inside = [label for label in labels if shapely.contains_xy(view, label.easting_m, label.northing_m)]
    lines = [line for source in ranking.sources[:LEGS_SHOWN] for line in _routes(source)]
    lines += [source.run_line for source in ranking.sources[:LISTED] if source.run_line is not None]
    draw_labels(axes, inside, corners(axes), lines)


def _labels_of_sources(ranking: Ranking) -> list[Label]:
    look = ((14.0, True, True), (11.0, False, False))
    return [
        Label(one.fill_point.x, one.fill_point.y, f"{one.rank} {one.name}", *look[number >= LISTED])
        for number, one in enumerate(ranking.sources)
    ]


def _labels_of_places(region: Region, fire: Fire | None) -> list[Label]:
    labels = []
    if fire is not None:
        place = shapely.point_on_surface(fire.area)
        labels.append(Label(place.x, place.y, fire.name, 13, True, True))
    if region.base is not None:
        labels.append(Label(region.base.point.x, region.base.point.y, region.base.name, 10))
    return labels


def _labels_of_areas(region: Region, ranking: Ranking, view: shapely.Polygon) -> list[Label]:
    """Name the waters that are not ranked and the closed areas, as far as they are in view."""
    ranked = {source.body_id for source in ranking.sources}
    named: list[tuple[shapely.Geometry, str]] = [
        (body.polygon, body.name) for body in region.bodies if body.body_id not in ranked
    ]
    named += [(one.area, one.name) for one in _closed(region, ranking)]
    parts = [(shapely.intersection(area, view), name) for area, name in named]
    places = [(shapely.point_on_surface(part), name) for part, name in parts if part.area > 0]
    return [Label(place.x, place.y, name, 10) for place, name in places]
