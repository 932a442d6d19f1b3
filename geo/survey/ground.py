"""Terrain around one water body: which cells are water, shore or land, and how high the ground is."""

from dataclasses import dataclass
from functools import cached_property
from typing import ClassVar

import numpy as np
import shapely
from rasterio.features import rasterize
from rasterio.transform import Affine

from geo.base.grid import Grid
from geo.survey.fan import Fan


@dataclass(frozen=True, eq=False)
class Cells:
    """Cells of a raster as parallel arrays; near_m is the distance [m] of each cell's nearest part."""

    row: np.ndarray
    column: np.ndarray
    near_m: np.ndarray


def window(grid: Grid, bounds: tuple[float, float, float, float]) -> tuple[int, int, int, int]:
    """Give row and column ranges (from, to, from, to) of the cells that touch west, south, east, north [m]."""
    rows, columns = grid.values.shape
    west, south, east, north = bounds
    top = int(np.clip(np.floor((grid.north_m - north) / grid.cell_north_m), 0, rows))
    bottom = int(np.clip(np.floor((grid.north_m - south) / grid.cell_north_m) + 1, 0, rows))
    left = int(np.clip(np.floor((west - grid.west_m) / grid.cell_east_m), 0, columns))
    right = int(np.clip(np.floor((east - grid.west_m) / grid.cell_east_m) + 1, 0, columns))
    return top, bottom, left, right


def cells_in(grid: Grid, bounds: tuple[float, float, float, float]) -> Cells:
    """Give every cell that touches a box; near_m is 0."""
    top, bottom, left, right = window(grid, bounds)
    row, column = np.mgrid[top:bottom, left:right]
    return Cells(row.ravel(), column.ravel(), np.zeros(row.size))


def cells_across(grid: Grid, fan: Fan) -> Cells:
    """Give every cell that touches the fan, with the distance of its nearest part beyond the end, at least 0.

    Notes: cells are tested by their extent along and across the fan, which keeps every cell that touches it and,
    beside its slanting sides, a few that only come within half a cell of it.
    """
    top, bottom, left, right = window(grid, fan.outline.bounds)
    east, north = fan.direction
    d_east = grid.west_m + (np.arange(left, right) + 0.5) * grid.cell_east_m - fan.end[0]
    d_north = grid.north_m - (np.arange(top, bottom) + 0.5) * grid.cell_north_m - fan.end[1]
    along = d_north[:, None] * north + d_east[None, :] * east
    across = np.abs(d_east[None, :] * north - d_north[:, None] * east)
    half_along = (grid.cell_east_m * abs(east) + grid.cell_north_m * abs(north)) / 2.0
    half_across = (grid.cell_east_m * abs(north) + grid.cell_north_m * abs(east)) / 2.0
    reach = fan.half_width_m + half_across + fan.divergence * np.minimum(along + half_along, fan.look_m)
    touches = (along > -half_along) & (along < fan.look_m + half_along) & (across < reach)
    row, column = np.nonzero(touches)
    return Cells(row + top, column + left, np.maximum(along[row, column] - half_along, 0.0))


@dataclass(frozen=True, eq=False)
class WaterMask:
    """Which terrain cells are LAND, SHORE (partly water) or WATER (wholly water) for one water body."""

    water: shapely.Polygon
    terrain: Grid

    LAND: ClassVar[int] = 0
    SHORE: ClassVar[int] = 1
    WATER: ClassVar[int] = 2

    @cached_property
    def _cover(self) -> tuple[int, int, np.ndarray]:
        """First row, first column and cover of the cells round the water; everything beyond is land."""
        grid = self.terrain
        top, bottom, left, right = window(grid, self.water.bounds)
        if top >= bottom or left >= right:
            return 0, 0, np.zeros((0, 0), np.uint8)
        shape = (bottom - top, right - left)
        place = Affine(
            grid.cell_east_m, 0, grid.west_m + left * grid.cell_east_m,
            0, -grid.cell_north_m, grid.north_m - top * grid.cell_north_m,
        )  # fmt: skip
        # Drawn in this order: the area, then every cell that its edge touches.
        drawn = [(self.water, self.WATER), (self.water.boundary, self.SHORE)]
        cover = rasterize(drawn, shape, fill=self.LAND, transform=place, all_touched=True, dtype="uint8")
        return top, left, cover

    def cover(self, row: np.ndarray, column: np.ndarray) -> np.ndarray:
        """Give LAND, SHORE or WATER of cells."""
        top, left, cover = self._cover
        r, c = row - top, column - left
        inside = (r >= 0) & (r < cover.shape[0]) & (c >= 0) & (c < cover.shape[1])
        found = np.full(len(row), self.LAND, np.uint8)
        found[inside] = cover[r[inside], c[inside]]
        return found

    def cells(self, cover: int) -> tuple[np.ndarray, np.ndarray]:
        """Give rows and columns of all cells of one cover round the water, WATER or SHORE."""
        top, left, found = self._cover
        row, column = np.nonzero(found == cover)
        return row + top, column + left

    def boxes(self, row: np.ndarray, column: np.ndarray) -> np.ndarray:
        """Give the outlines of cells as polygons."""
        grid = self.terrain
        west = grid.west_m + column * grid.cell_east_m
        north = grid.north_m - row * grid.cell_north_m
        return shapely.box(west, north - grid.cell_north_m, west + grid.cell_east_m, north)

    def heights_m(self, cover: int) -> np.ndarray:
        """Give the known terrain heights [m] of all cells of one cover round the water."""
        top, left, found = self._cover
        part = self.terrain.values[top : top + found.shape[0], left : left + found.shape[1]]
        values = part[found == cover].astype(float)
        return values[np.isfinite(values)]


# What the heights are of where a canopy raised the terrain.
WITH_TREES = "terrain with trees"


@dataclass(frozen=True, eq=False)
class GroundHeights:
    """Heights round one water body: terrain plus error_m on land, surface_m in the water.

    mask is None where no terrain was given; surface_m is None where the water level is unknown. what says what the
    heights are of: "terrain", or "terrain with trees" where a canopy raised it; bare is then the terrain without them,
    on the same cells, on which obstacles stand (None: the mask's own terrain).
    """

    water: shapely.Polygon
    mask: WaterMask | None
    surface_m: float | None
    error_m: float
    what: str = "terrain"
    bare: Grid | None = None

    @property
    def _floor(self) -> Grid:
        """The terrain that obstacles stand on."""
        assert self.mask is not None
        return self.bare if self.bare is not None else self.mask.terrain

    def cell_level_m(self, row: np.ndarray, column: np.ndarray) -> np.ndarray:
        """Give the ground [m] of cells with the terrain's error: water level in the water, NaN where unknown."""
        assert self.mask is not None
        level = self._floor.values[row, column].astype(float) + self.error_m
        if self.surface_m is not None:
            level[self.mask.cover(row, column) == WaterMask.WATER] = self.surface_m
        return level

    def level_m(self, positions_m: np.ndarray) -> np.ndarray:
        """Give the ground [m] at positions (n, 2) with the terrain's error; water level in the water."""
        if self.mask is None:
            level = np.full(len(positions_m), np.nan)
        else:
            level = self._floor.nearest(positions_m[:, 0], positions_m[:, 1]) + self.error_m
        if self.surface_m is not None:
            level[shapely.intersects_xy(self.water, positions_m[:, 0], positions_m[:, 1])] = self.surface_m
        return level

    def highest_along_m(self, line: shapely.LineString) -> float:
        """Give the highest ground [m] under a line, read at every half cell; NaN where any of it is unknown."""
        count = 1
        if self.mask is not None:
            step_m = min(self.mask.terrain.cell_east_m, self.mask.terrain.cell_north_m) / 2.0
            count = int(np.ceil(line.length / step_m)) + 1
        points = shapely.line_interpolate_point(line, np.linspace(0.0, 1.0, count), normalized=True)
        return float(np.max(self.level_m(shapely.get_coordinates(points))))


def ground_round(
    water: shapely.Polygon,
    terrain: Grid | None,
    surface_m: float | None,
    error_m: float | None,
    covered: Grid | None = None,
) -> GroundHeights:
    """Give the heights round a water from its terrain.

    Parameters: terrain [m] with its 90 % error [m], None as 0; covered, the same cells with the trees on them [m].
    """
    error_m = error_m if error_m is not None else 0.0
    if terrain is None:
        return GroundHeights(water, None, surface_m, error_m)
    if covered is None:
        return GroundHeights(water, WaterMask(water, terrain), surface_m, error_m)
    return GroundHeights(water, WaterMask(water, covered), surface_m, error_m, WITH_TREES, terrain)
