"""The map of one water for paper, legible without colour: runs with lettered ends, hover point, what stands near."""

import shapely
from matplotlib.axes import Axes

from geo.export.drawing.canvas import map_axes
from geo.export.drawing.map_drawing import (
    Label,
    draw_area,
    draw_labels,
    draw_line,
    draw_mark,
    draw_relief,
    draw_ring,
    fit_bounds,
)
from geo.export.drawing.map_furniture import corners, draw_closures, draw_furniture, draw_obstacles, draw_ways
from geo.export.drawing.palette import BLACK, BLUE, GREY, SKY_BLUE, VERMILLION
from geo.export.sheets.paper import picture, picture_address
from geo.records.region import Region, WaterBody
from geo.records.survey import BodySurvey, Run

# The usual height, and lower ones for a sheet that is too full for the run from the side.
MAP_HEIGHTS_IN = {"A4": (4.3, 3.3, 2.5), "Letter": (3.6, 2.9, 2.2)}
LEAST_SEEN_M = 200.0  # from edge to edge of the map of a tiny dam
MAP_KEY = (
    "Black line with ends A and B: the run described below, flown in either direction; thin lines: other runs. Cross "
    "with dashed circle: hover point, clear radius; heavy arcs: ways in and out, clear above 8 %. Dotted ground: "
    "fallen dry at today's level, or not searched. Three-armed mark or dotted line: mast or wire. "
    "Slanting hatch: closed area. Grid north is up."
)


def water_map(region: Region, body: WaterBody, record: BodySurvey, run: Run | None, height_in: float) -> str:
    """Give the map of a water body as an address that holds it; run is the one with lettered ends."""
    figure = picture(height_in)
    axes = map_axes(figure, 0.0, 0.0, 1.0, 1.0)
    bounds = fit_bounds(body.polygon.bounds, axes, 0.15, LEAST_SEEN_M)
    if region.terrain is not None:
        draw_relief(axes, region.terrain, bounds)
    _draw_water(axes, region, body, record)
    view = shapely.box(*bounds)
    labels = [*_draw_run(axes, run), *_draw_hover(axes, record), *_draw_obstacles(axes, region, view)]
    ways = [] if record.hover_point is None else draw_ways(axes, record.hover_point)
    draw_furniture(axes, bounds, ("m", 1.0))
    inside = [label for label in labels if shapely.contains_xy(view, label.easting_m, label.northing_m)]
    draw_labels(axes, inside, corners(axes), [*ways, *([] if run is None else [run.line])])
    return picture_address(figure)


def _draw_water(axes: Axes, region: Region, body: WaterBody, record: BodySurvey) -> None:
    if record.water_today is not None:
        draw_area(axes, body.polygon, GREY, "..", 0.25, 1.9, GREY)
    today = body.polygon if record.water_today is None else record.water_today
    draw_area(axes, today, SKY_BLUE, "", 0.75, 2, BLUE)
    draw_closures(axes, region.closures)
    for other in record.usable_runs:
        draw_line(axes, other.line, BLACK, 0.9, "-", 5)


def _draw_run(axes: Axes, run: Run | None) -> list[Label]:
    if run is None:
        return []
    draw_line(axes, run.line, BLACK, 3.2, "-", 7)
    labels = []
    for name, index in (("A", 0), ("B", -1)):
        end = shapely.get_point(run.line, index)
        draw_mark(axes, end, "o", "white", 9, 8, BLACK).set_markeredgewidth(2)
        labels.append(Label(end.x, end.y, name, 17, True, True))
    return labels


def _draw_hover(axes: Axes, record: BodySurvey) -> list[Label]:
    hover = record.hover_point
    if hover is None:
        return []
    place = hover.point
    draw_ring(axes, hover, BLACK, 1.4, 9, (0, (4, 2)))
    draw_mark(axes, place, "P", VERMILLION, 13, 10)
    return [Label(place.x, place.y, "hover", 13, True, True)]


def _draw_obstacles(axes: Axes, region: Region, view: shapely.Polygon) -> list[Label]:
    draw_obstacles(axes, region.obstacles, 15.0)
    seen = [(shapely.intersection(one.shape, view), one.name or one.kind) for one in region.obstacles]
    places = [(part.representative_point(), name) for part, name in seen if not part.is_empty]
    return [Label(place.x, place.y, name, 12) for place, name in places]
