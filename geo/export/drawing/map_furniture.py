"""What every map shows: masts and wires, closed areas; scale bars, north and, where known, the wind, of one size."""

from collections.abc import Iterable

import numpy as np
import shapely
from matplotlib.axes import Axes

from geo.base.units import METRE_PER_NAUTICAL_MILE
from geo.export.drawing.canvas import INK, axes_pixels
from geo.export.drawing.map_drawing import (
    Bounds,
    Pattern,
    draw_area,
    draw_arrow,
    draw_backing,
    draw_line,
    draw_scale_bar,
)
from geo.export.drawing.palette import BLACK, REDDISH_PURPLE
from geo.export.hover_ways import TOLD_SLOPES, open_ranges
from geo.records.region import Closure, Obstacle
from geo.records.survey import HoverPoint

DOTTED: Pattern = (0, (1, 2))
PLATE_PX, BARS_PX = 142, 64  # heights of what stands behind the arrows and behind the scale bars
WAYS_PX = 46  # radius of the arcs of ways in and out where the clear circle is drawn smaller
EDGE = 0.009  # free to the map's edge, as a part of it


def draw_furniture(
    axes: Axes, bounds: Bounds, unit: tuple[str, float], wind: tuple[str, float] | None = None
) -> None:
    """Draw two scale bars, north, and the wind with its words and the direction that it blows TO [deg].

    Parameters: unit, name and metres of the first scale bar; the second is in nautical miles.
    """
    # Parts of the height: letters and arrows are of one size in pixels.
    pixel = 1.0 / axes_pixels(axes)[1]
    plate, middle = PLATE_PX * pixel, 1.0 - 78 * pixel
    draw_backing(axes, 0.008, EDGE, 0.30, BARS_PX * pixel)
    draw_backing(axes, 0.915, 1.0 - EDGE - plate, 0.078, plate)
    draw_scale_bar(axes, bounds, unit[1], unit[0], 21 * pixel)
    draw_scale_bar(axes, bounds, METRE_PER_NAUTICAL_MILE, "NM", 47 * pixel)
    draw_arrow(axes, (0.955, middle), 0.0, "north", INK)
    if wind is not None:
        draw_backing(axes, 0.815, 1.0 - EDGE - plate, 0.1, plate)
        draw_arrow(axes, (0.87, middle), wind[1], wind[0], INK)


def corners(axes: Axes) -> list[Bounds]:
    """Give the pixels that scale bars and arrows hold."""
    box = axes.get_window_extent()
    return [
        (box.x0, box.y0, box.x0 + 0.36 * box.width, box.y0 + BARS_PX + 9),
        (box.x0 + 0.82 * box.width, box.y1 - PLATE_PX - 14, box.x1, box.y1),
    ]


def draw_closures(axes: Axes, closures: Iterable[Closure]) -> None:
    """Draw closed areas as a slanting hatch."""
    for closure in closures:
        draw_area(axes, closure.area, REDDISH_PURPLE, "\\\\", 0.10, 4)


def draw_obstacles(axes: Axes, obstacles: Iterable[Obstacle], size: float) -> None:
    """Draw masts as three-armed marks of this size [pt], wires and the outlines of areas as dotted lines."""
    for obstacle in obstacles:
        shape, dimensions = obstacle.shape, shapely.get_dimensions(obstacle.shape)
        if dimensions == 0:
            points = shapely.get_coordinates(shape).T
            axes.plot(*points, "1", color=BLACK, markersize=size, markeredgewidth=0.16 * size, zorder=8)
        else:
            outline = shapely.boundary(shape) if dimensions == 2 else shape
            draw_line(axes, outline, BLACK, 0.1 * size, DOTTED, 7)


def draw_ways(axes: Axes, hover: HoverPoint) -> list[shapely.LineString]:
    """Draw heavy arcs round a hover point where a surface of the first of TOLD_SLOPES clears everything; give them."""
    if hover.sectors is None:
        return []
    metre_per_pixel = float(np.ptp(axes.get_xlim())) / axes_pixels(axes)[0]
    radius = max(hover.clear_radius_m + 9.0 * metre_per_pixel, WAYS_PX * metre_per_pixel)
    half_step = 180.0 / len(hover.sectors.slopes[0])
    arcs = []
    for first, last in open_ranges(hover.sectors, TOLD_SLOPES[0]):
        angles = np.radians(np.linspace(first - half_step, last + half_step, 90))
        x, y = hover.point.x + radius * np.sin(angles), hover.point.y + radius * np.cos(angles)
        arcs.append(shapely.LineString(np.column_stack([x, y])))
        draw_line(axes, arcs[-1], BLACK, 3.4, "-", 8.5)
    return arcs
