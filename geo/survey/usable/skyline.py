"""All that rises above the water along a line: terrain cells and obstacles, placed by the line's own axes.

Axes: `along` counts from the line's start in its direction, `aside` is the distance from its axis [m].
"""

from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely

from geo.records.region import Obstacle
from geo.survey.clearance import Surroundings, obstacle_label
from geo.survey.ground import GroundHeights, WaterMask, cells_in, window

# A long line is looked at in lengths of this many metres, so that the boxes read from the terrain stay small.
CHUNK_M = 4000.0
# Spans of wire are cut this fine [m], so that the place of each part is known well.
SPAN_PART_M = 20.0


@dataclass(frozen=True, eq=False)
class Risings:
    """Things beside a line as parallel arrays (n,) [m].

    near_m, far_m: where a thing begins and ends along the line; aside_m: its least distance from the axis; rise_m: its
    top above the water, NaN where unknown; solid: True for an obstacle, which also bars the water below it.
    """

    near_m: np.ndarray
    far_m: np.ndarray
    aside_m: np.ndarray
    rise_m: np.ndarray
    solid: np.ndarray
    labels: tuple[str, ...]
    label: np.ndarray

    def reversed(self, length_m: float) -> "Risings":
        """Give the same things seen from the other end of a line of length_m [m]."""
        return replace(self, near_m=length_m - self.far_m, far_m=length_m - self.near_m)


@dataclass(frozen=True, eq=False)
class Axis:
    """A straight line with its own axes."""

    start: np.ndarray
    direction: np.ndarray
    length_m: float

    def place(self, easting_m: np.ndarray, northing_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Give along and across (to the right) [m] of positions."""
        de, dn = easting_m - self.start[0], northing_m - self.start[1]
        east, north = self.direction
        return de * east + dn * north, de * north - dn * east

    def strip(self, from_m: float, to_m: float, half_m: float) -> shapely.Polygon:
        """Give the rectangle round a part of the line (or of its extension) [m]."""
        east, north = self.direction
        corners = [(from_m, -half_m), (to_m, -half_m), (to_m, half_m), (from_m, half_m)]
        return shapely.Polygon(
            [(self.start[0] + a * east + c * north, self.start[1] + a * north - c * east) for a, c in corners]
        )


def axis_of(line: shapely.LineString) -> Axis:
    """Give the axis from a line's first to its last point."""
    ends = shapely.get_coordinates(line)[[0, -1]]
    length_m = float(np.hypot(*(ends[1] - ends[0])))
    return Axis(ends[0], (ends[1] - ends[0]) / length_m, length_m)


@dataclass(frozen=True, eq=False)
class Skyline:
    """What stands round one water body, made ready once for many lines."""

    around: Surroundings
    _land: dict[int, np.ndarray] = field(default_factory=dict)

    def along(self, axis: Axis) -> Risings:
        """Give everything above the water that any surface of a line can meet, on the line and on both extensions.

        Notes: a cell counts with its extent along and across the line; of a cell on the shore only the land part
        counts; terrain that is missing counts as a thing of unknown height. No thing is left out and none is made
        smaller; the true extent of a slanting thing may be smaller than what is given.
        """
        chosen = self.around.settings
        half_m = chosen.corridor_width_m / 2.0 + chosen.surface_divergence * chosen.end_look_m
        edges = np.arange(-chosen.end_look_m, axis.length_m + chosen.end_look_m, CHUNK_M)
        found = [np.empty((5, 0)), self._obstacles(axis, half_m)]
        for from_m in edges:
            to_m = min(from_m + CHUNK_M, axis.length_m + chosen.end_look_m)
            found += self._terrain(axis, float(from_m), float(to_m), half_m)
        near, far, aside, rise, label = np.concatenate(found, axis=1)
        return Risings(near, far, aside, rise, label > 0, ("terrain", *self._labels), label.astype(int))

    def _terrain(self, axis: Axis, from_m: float, to_m: float, half_m: float) -> list[np.ndarray]:
        """Give cells of one part of the strip as arrays (5, n): near, far, aside, rise, label 0."""
        ground = self.around.ground
        mask, strip = ground.mask, axis.strip(from_m, to_m, half_m)
        if mask is None:
            dry = strip.difference(ground.water)
            return [_outside(axis, dry)]
        row, column, along, across, half_along, half_across = _cells(mask, axis, strip, from_m, to_m, half_m)
        rise = mask.terrain.values[row, column].astype(float) + ground.error_m - ground.surface_m
        cover = mask.cover(row, column)
        counted = (cover != WaterMask.WATER) & ~(rise <= 0.0)
        shore, land = counted & (cover == WaterMask.SHORE), counted & (cover == WaterMask.LAND)
        aside = np.maximum(np.abs(across[land]) - half_across, 0.0)
        cells = np.stack([along[land] - half_along, along[land] + half_along, aside, rise[land], 0.0 * aside])
        found = [cells, self._shore(mask, axis, row[shore], column[shore], rise[shore])]
        raster = shapely.box(*mask.terrain.bounds)
        if not raster.covers(strip):
            found.append(_outside(axis, strip.difference(raster).difference(ground.water)))
        return found

    def _shore(
        self, mask: WaterMask, axis: Axis, row: np.ndarray, column: np.ndarray, rise: np.ndarray
    ) -> np.ndarray:
        """Give the land parts of shore cells as an array (5, n)."""
        return _extents(axis, self.land_corners(mask, row, column), rise, np.zeros(len(rise)))

    def land_corners(self, mask: WaterMask, row: np.ndarray, column: np.ndarray) -> list[np.ndarray]:
        """Give the corners (k, 2) [m] of the land part of each shore cell; each cell is cut once for all lines."""
        key = row * mask.terrain.values.shape[1] + column
        new = np.array([i for i, k in enumerate(key.tolist()) if k not in self._land], int)
        if new.size:
            boxes = mask.boxes(row[new], column[new])
            water = self.around.ground.water.intersection(shapely.box(*shapely.total_bounds(boxes)))
            parts = shapely.difference(boxes, water)
            corners, index = shapely.get_coordinates(parts, return_index=True)
            for k, i in enumerate(new):
                self._land[int(key[i])] = corners[index == k]
        return [self._land[k] for k in key.tolist()]

    @cached_property
    def _labels(self) -> tuple[str, ...]:
        return tuple(obstacle_label(obstacle) for obstacle in self.around.obstacles)

    @cached_property
    def obstacle_parts(self) -> tuple[list[np.ndarray], np.ndarray, np.ndarray]:
        """Corners, rise and label number of every part of every obstacle."""
        surface_m = self.around.ground.surface_m
        corners: list[np.ndarray] = []
        rises: list[float] = []
        labels: list[int] = []
        for number, obstacle in enumerate(self.around.obstacles, start=1):
            for part, top_m in _obstacle_parts(obstacle, self.around.ground):
                corners.append(part)
                rises.append(top_m - surface_m if surface_m is not None else np.nan)
                labels.append(number)
        return corners, np.array(rises, float), np.array(labels, float)

    def _obstacles(self, axis: Axis, half_m: float) -> np.ndarray:
        corners, rise, label = self.obstacle_parts
        found = _extents(axis, corners, rise, label)
        look_m = self.around.settings.end_look_m
        near = (found[2] < half_m) & (found[1] > -look_m) & (found[0] < axis.length_m + look_m)
        return found[:, near & ~(found[3] <= 0.0)]


def _cells(
    mask: WaterMask, axis: Axis, strip: shapely.Polygon, from_m: float, to_m: float, half_m: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, float, float]:
    """Give row, column, along, across of the cells that touch a strip, and half their extent along and across."""
    grid, (east, north) = mask.terrain, np.abs(axis.direction)
    top, bottom, left, right = window(grid, strip.bounds)
    x = grid.west_m + (np.arange(left, right) + 0.5) * grid.cell_east_m
    y = grid.north_m - (np.arange(top, bottom) + 0.5) * grid.cell_north_m
    along, across = axis.place(x[None, :], y[:, None])
    half_along = (grid.cell_east_m * east + grid.cell_north_m * north) / 2.0
    half_across = (grid.cell_east_m * north + grid.cell_north_m * east) / 2.0
    touches = (along > from_m - half_along) & (along < to_m + half_along)
    row, column = np.nonzero(touches & (np.abs(across) < half_m + half_across))
    kept = along[row, column], across[row, column]
    return row + top, column + left, *kept, float(half_along), float(half_across)


def _extents(axis: Axis, corners: list[np.ndarray], rise: np.ndarray, label: np.ndarray) -> np.ndarray:
    """Give near, far, aside, rise and label of things from their corners, as an array (5, n); empty things drop out."""
    counts = np.array([len(each) for each in corners], int)
    if counts.sum() == 0:
        return np.empty((5, 0))
    there = counts > 0
    points = np.concatenate(corners)
    along, across = axis.place(points[:, 0], points[:, 1])
    first = np.concatenate(([0], np.cumsum(counts[there])[:-1]))
    low, high = np.minimum.reduceat(across, first), np.maximum.reduceat(across, first)
    near, far = np.minimum.reduceat(along, first), np.maximum.reduceat(along, first)
    aside = np.maximum(np.maximum(low, -high), 0.0)
    return np.stack([near, far, aside, rise[there], label[there]])


def _outside(axis: Axis, area: shapely.Geometry) -> np.ndarray:
    """Give an area without terrain as things of unknown height; slivers from rounding are none."""
    parts = [part for part in shapely.get_parts(area) if part.area > 1e-3]
    corners = [shapely.get_coordinates(part) for part in parts]
    return _extents(axis, corners, np.full(len(parts), np.nan), np.zeros(len(parts)))


def _obstacle_parts(obstacle: Obstacle, ground: GroundHeights) -> list[tuple[np.ndarray, float]]:
    """Give corners (k, 2) and top [m, elevation; NaN unknown] of every part of an obstacle."""
    found: list[tuple[np.ndarray, float]] = []
    for shape in shapely.get_parts(obstacle.shape):
        if shape.geom_type == "LineString":
            found += _span_parts(shape, obstacle, ground)
        elif shape.geom_type == "Polygon":
            found += _area_parts(shape, obstacle, ground)
        else:
            corners = shapely.get_coordinates(shape)
            found.append((corners, _top(obstacle, float(ground.level_m(corners)[0]))))
    return found


def _top(obstacle: Obstacle, ground_m: float) -> float:
    if obstacle.top_elevation_m is not None:
        return obstacle.top_elevation_m
    height_m = obstacle.height_above_ground_m
    return np.nan if height_m is None else ground_m + height_m


def _span_parts(
    line: shapely.LineString, obstacle: Obstacle, ground: GroundHeights
) -> list[tuple[np.ndarray, float]]:
    """Give short parts of each span of a wire; a span hangs at its height above the highest ground under it."""
    found = []
    corners = shapely.get_coordinates(line)
    for start, end in pairwise(corners):
        top_m = _top(obstacle, ground.highest_along_m(shapely.LineString([start, end])))
        count = max(int(np.ceil(np.hypot(*(end - start)) / SPAN_PART_M)), 1)
        nodes = start + np.linspace(0.0, 1.0, count + 1)[:, None] * (end - start)
        found += [(nodes[i : i + 2], top_m) for i in range(count)]
    return found


def _area_parts(
    area: shapely.Polygon, obstacle: Obstacle, ground: GroundHeights
) -> list[tuple[np.ndarray, float]]:
    """Give the part of an area in each terrain cell; what lies off the terrain stands on unknown ground."""
    if ground.mask is None:
        return [(shapely.get_coordinates(area), _top(obstacle, np.nan))]
    cells = cells_in(ground.mask.terrain, area.bounds)
    boxes = ground.mask.boxes(cells.row, cells.column)
    touched = shapely.intersects(boxes, area)
    row, column = cells.row[touched], cells.column[touched]
    pieces = shapely.intersection(boxes[touched], area)
    found = [
        (shapely.get_coordinates(piece), _top(obstacle, float(level_m)))
        for piece, level_m in zip(pieces, ground.cell_level_m(row, column), strict=True)
    ]
    rest = area.difference(shapely.box(*ground.mask.terrain.bounds))
    return found + [(shapely.get_coordinates(rest), _top(obstacle, np.nan))] * (not rest.is_empty)
