"""Obstacles raised onto a raster of heights: every cell that one of them reaches gets its top, unknown ones bar it."""

from collections.abc import Sequence
from dataclasses import dataclass
from threading import Lock

import numpy as np
import shapely
from rasterio.features import rasterize
from rasterio.transform import Affine

from geo.base.grid import Grid

# A buffer of 16 chords per quadrant lies up to 0.5 % inside the true circle; widened so that nothing is missed.
BUFFER_ALLOWANCE = 1.005
# The library that draws shapes onto the raster must not be entered by two threads at once.
_DRAWING = Lock()


@dataclass(frozen=True, eq=False)
class ObstacleTop:
    """An obstacle (or a piece of a long one) with its top above sea level [m]; None: height unknown."""

    what: str
    shape: shapely.Geometry
    top_m: float | None


def raised(heights_m: np.ndarray, grid: Grid, obstacles: Sequence[ObstacleTop], reach_m: float) -> np.ndarray:
    """Give heights with every cell within reach of an obstacle raised to its top, or to inf where that is unknown."""
    if not obstacles:
        return heights_m
    reach_m = max(reach_m * BUFFER_ALLOWANCE, 0.1)
    tops = [(one.shape, np.inf if one.top_m is None else one.top_m) for one in obstacles]
    tops.sort(key=lambda pair: pair[1])  # the last one drawn stays
    shapes = [(shapely.buffer(shape, reach_m, quad_segs=16), top_m) for shape, top_m in tops]
    return np.maximum(heights_m, drawn(shapes, grid, "float64", -np.inf))


def drawn(shapes: Sequence, grid: Grid, dtype: str, fill: float) -> np.ndarray:
    """Draw shapes, or (shape, value) pairs, onto the cells of a raster that they touch."""
    affine = Affine(grid.cell_east_m, 0.0, grid.west_m, 0.0, -grid.cell_north_m, grid.north_m)
    size = grid.values.shape
    with _DRAWING:
        return rasterize(shapes, out_shape=size, fill=fill, transform=affine, all_touched=True, dtype=dtype)
