"""The two areas whose least depth is asked for: the corridor along a run, and the circle under a hover.

Both give their points in order of distance from the middle, so that a narrower area's points are the first points of a
wider one's: with the same seeded numbers a wider corridor is then never deeper.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from geo.base.errors import BadArgument
from geo.base.grid import Grid

# Distances from the middle at which points lie; the area's own edge is added to them.
CORRIDOR_RUNGS_M = np.concatenate((np.arange(10.0, 60.0, 10.0), [75.0, 100.0, 150.0, 200.0, 300.0, 500.0]))
DISC_RUNGS_M = np.concatenate(
    ([2.5, 5.0, 7.5, 10.0], np.arange(15.0, 65.0, 5.0), [80.0, 100.0, 150.0, 200.0])
)
DISC_POINTS_PER_RING = 12
# Stations are at most this many: beyond, they lie farther apart than asked for (runs of 4 km at 10 m).
MOST_STATIONS = 400
CELLS_PER_PIECE = 64


def _rungs(half_m: float, rungs_m: np.ndarray) -> np.ndarray:
    inner = rungs_m[rungs_m < half_m - 1e-6]
    return np.append(inner, half_m) if half_m > 0 else inner


@dataclass(frozen=True, eq=False)
class Strip:
    """A strip of width_m [m] along a line, square at both ends."""

    line: shapely.LineString
    width_m: float

    def __post_init__(self) -> None:
        if not (np.isfinite(self.width_m) and self.width_m >= 0.0):
            raise BadArgument(
                f"width_m {self.width_m}: must be finite and >= 0; give the corridor's width in metres"
            )
        if self.line.is_empty or not np.isfinite(self.xy).all() or not self.line.length > 0:
            raise BadArgument(
                "line: must have a length > 0 and finite coordinates; give the run's two ends in metres"
            )

    @cached_property
    def xy(self) -> np.ndarray:
        """Corners of the line, (k, 2) [m], repeated ones dropped."""
        corners = shapely.get_coordinates(self.line)
        moved = np.append(True, np.any(np.diff(corners, axis=0) != 0.0, axis=1))
        return corners[moved]

    @cached_property
    def area(self) -> BaseGeometry:
        """The strip as a polygon; the line itself at width 0."""
        if self.width_m == 0.0:
            return self.line
        return self.line.buffer(0.5 * self.width_m, cap_style="flat", join_style="mitre")

    def offset_m(self, easting_m: np.ndarray, northing_m: np.ndarray, beside_m: float = 0.0) -> np.ndarray:
        """Distance of points from the middle line [m]; infinite where one is more than beside_m outside the strip."""
        points = shapely.points(easting_m, northing_m)
        inside = shapely.distance(self.area, points) <= beside_m + 1e-9
        return np.where(inside, shapely.distance(self.line, points), np.inf)

    def points(self, step_m: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Give easting_m, northing_m, offset_m of points that fill the strip, the middle line first.

        step_m: wanted distance between stations along the line [m]; at most MOST_STATIONS stations.
        """
        count = min(max(int(np.ceil(self.line.length / step_m)), 2), MOST_STATIONS) + 1
        along = np.linspace(0.0, self.line.length, count)
        legs = np.diff(self.xy, axis=0)
        lengths = np.hypot(legs[:, 0], legs[:, 1])
        ends = np.concatenate(([0.0], np.cumsum(lengths)))
        leg = np.clip(np.searchsorted(ends, along, side="right") - 1, 0, len(legs) - 1)
        unit = legs[leg] / lengths[leg, None]
        middle = self.xy[leg] + (along - ends[leg])[:, None] * unit
        normal = np.column_stack((unit[:, 1], -unit[:, 0]))
        rungs = _rungs(0.5 * self.width_m, CORRIDOR_RUNGS_M)
        sides = np.concatenate(([0.0], np.stack((rungs, -rungs), axis=1).ravel()))
        all_xy = (middle[None] + sides[:, None, None] * normal[None]).reshape(-1, 2)
        return all_xy[:, 0], all_xy[:, 1], np.repeat(np.abs(sides), count)

    def cells(self, grid: Grid) -> tuple[np.ndarray, np.ndarray]:
        """Give rows and columns of every cell that the strip touches; indices may lie outside the raster."""
        found = []
        for index in range(len(self.xy) - 1):
            start, end = self.xy[index], self.xy[index + 1]
            length = float(np.hypot(*(end - start)))
            unit = (end - start) / length
            # At a bend the strip is wider than its legs; lengthening both covers the wedge between them.
            start = start - (0.5 * self.width_m if index > 0 else 0.0) * unit
            end = end + (0.5 * self.width_m if index < len(self.xy) - 2 else 0.0) * unit
            pieces = max(
                int(np.ceil(length / (CELLS_PER_PIECE * max(grid.cell_east_m, grid.cell_north_m)))), 1
            )
            nodes = start + np.linspace(0.0, 1.0, pieces + 1)[:, None] * (end - start)
            found += [_rectangle_cells(grid, a, b, 0.5 * self.width_m) for a, b in pairwise(nodes)]
        cells = np.unique(np.concatenate(found, axis=1), axis=1)
        return cells[0], cells[1]


@dataclass(frozen=True, eq=False)
class Disc:
    """A circle of radius_m [m] round a point."""

    point: shapely.Point
    radius_m: float

    def __post_init__(self) -> None:
        if not (np.isfinite(self.radius_m) and self.radius_m >= 0.0):
            raise BadArgument(
                f"radius_m {self.radius_m}: must be finite and >= 0; give the circle's radius in metres"
            )
        if self.point.is_empty or not np.isfinite([self.point.x, self.point.y]).all():
            raise BadArgument("point: must have finite coordinates; give the hover position in metres")

    @property
    def line(self) -> shapely.Point:
        """The middle of the area."""
        return self.point

    @cached_property
    def area(self) -> BaseGeometry:
        """The circle as a polygon; the point itself at radius 0."""
        return self.point if self.radius_m == 0.0 else self.point.buffer(self.radius_m)

    def offset_m(self, easting_m: np.ndarray, northing_m: np.ndarray, beside_m: float = 0.0) -> np.ndarray:
        """Distance of points from the middle [m]; infinite where one is more than beside_m outside the circle."""
        distance = np.hypot(easting_m - self.point.x, northing_m - self.point.y)
        return np.where(distance <= self.radius_m + beside_m, distance, np.inf)

    def points(self, step_m: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Give easting_m, northing_m, offset_m of points that fill the circle, the middle first."""
        rungs = _rungs(self.radius_m, DISC_RUNGS_M)
        angle = np.arange(DISC_POINTS_PER_RING) * (2.0 * np.pi / DISC_POINTS_PER_RING)
        offset = np.concatenate(([0.0], np.repeat(rungs, DISC_POINTS_PER_RING)))
        turn = np.concatenate(([0.0], np.tile(angle, len(rungs))))
        return self.point.x + offset * np.sin(turn), self.point.y + offset * np.cos(turn), offset

    def cells(self, grid: Grid) -> tuple[np.ndarray, np.ndarray]:
        """Give rows and columns of every cell that the circle touches; indices may lie outside the raster."""
        middle, reach = np.array([self.point.x, self.point.y]), np.full(2, self.radius_m)
        rows, columns, x, y = _window(grid, middle - reach, middle + reach)
        gap_x = np.maximum(np.abs(x - middle[0]) - 0.5 * grid.cell_east_m, 0.0)
        gap_y = np.maximum(np.abs(y - middle[1]) - 0.5 * grid.cell_north_m, 0.0)
        touched = np.hypot(gap_x, gap_y) <= self.radius_m
        return rows[touched], columns[touched]


def _window(grid: Grid, low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, ...]:
    """Rows, columns and centres of the cells of the axis-aligned window low..high [m]."""
    first_column = int(np.floor((low[0] - grid.west_m) / grid.cell_east_m))
    last_column = int(np.floor((high[0] - grid.west_m) / grid.cell_east_m))
    first_row = int(np.floor((grid.north_m - high[1]) / grid.cell_north_m))
    last_row = int(np.floor((grid.north_m - low[1]) / grid.cell_north_m))
    rows, columns = np.mgrid[first_row : last_row + 1, first_column : last_column + 1].reshape(2, -1)
    x = grid.west_m + (columns + 0.5) * grid.cell_east_m
    y = grid.north_m - (rows + 0.5) * grid.cell_north_m
    return rows, columns, x, y


def _rectangle_cells(grid: Grid, start: np.ndarray, end: np.ndarray, half_width_m: float) -> np.ndarray:
    """Rows and columns (2, k) of the cells that meet the rectangle round start..end (separating axes, exact)."""
    middle = 0.5 * (start + end)
    half_length = 0.5 * float(np.hypot(*(end - start)))
    unit = (end - start) / (2.0 * half_length)
    ux, uy = abs(unit[0]), abs(unit[1])
    reach = np.array([half_length * ux + half_width_m * uy, half_length * uy + half_width_m * ux])
    rows, columns, x, y = _window(grid, middle - reach, middle + reach)
    dx, dy = x - middle[0], y - middle[1]
    a, b = 0.5 * grid.cell_east_m, 0.5 * grid.cell_north_m
    touched = (np.abs(dx * unit[0] + dy * unit[1]) <= half_length + a * ux + b * uy) & (
        np.abs(dx * unit[1] - dy * unit[0]) <= half_width_m + a * uy + b * ux
    )
    return np.stack((rows[touched], columns[touched]))
