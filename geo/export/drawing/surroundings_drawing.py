"""What stands round the water, as every map draws it: masts and wires, closed areas."""

from collections.abc import Iterable

import shapely
from matplotlib.axes import Axes

from geo.export.drawing.map_drawing import Pattern, draw_area, draw_line
from geo.export.drawing.palette import BLACK, REDDISH_PURPLE
from geo.records.region import Closure, Obstacle

DOTTED: Pattern = (0, (1, 2))


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
