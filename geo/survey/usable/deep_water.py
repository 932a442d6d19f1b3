"""Where a water is surely deep: a picture to choose runs by, before each chosen run's own depth is asked for.

The least depth of a run is always asked of the depth model, jointly over all places of the run. That is too slow for
every place where a run could lie; so runs are chosen by single places here: the depth that each exceeds with
probability 0.95.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from geo.base.grid import Grid
from geo.records.region import DepthGrid
from geo.survey.depth.model import DepthModel
from geo.survey.depth.raster import raster_sd_m
from geo.survey.ground import window

# Cells of the picture: fine enough for runs of some hundred metres, cheap to fill.
CELLS = 900
SIGMAS_95 = 1.645
# Depths [m] that runs are looked for in, a quarter more than 1, 1.5, 2 and 3 m: the least of many places is lower than
# the depth of its lowest place (our choice, no source).
DEPTHS_M = (3.75, 2.5, 1.9, 1.25)


@dataclass(frozen=True, eq=False)
class DeepWater:
    """Depth [m] exceeded at single places with probability 0.95, today; layers are rasters, the shallower counts.

    frame: the cells that outlines of deep parts are made of.
    """

    frame: Grid
    layers: tuple[Grid, ...]

    def sure_m(self, easting_m: np.ndarray, northing_m: np.ndarray) -> np.ndarray:
        """Give the depth [m] of positions; NaN where nothing is known."""
        found = np.full(np.shape(easting_m), np.nan)
        for layer in self.layers:
            found = np.fmin(found, layer.nearest(easting_m, northing_m))
        return found

    def part(self, depth_m: float, water: shapely.Polygon) -> BaseGeometry:
        """Give the part of the water that is surely deeper than depth_m [m]; empty where there is none."""
        if not self.layers:
            return shapely.Polygon()
        x, y = _centres(self.frame)
        deep = self.sure_m(x, y) >= depth_m
        half_e, half_n = self.frame.cell_east_m / 2.0, self.frame.cell_north_m / 2.0
        boxes = shapely.box(x[deep] - half_e, y[deep] - half_n, x[deep] + half_e, y[deep] + half_n)
        return shapely.union_all(boxes).intersection(water) if boxes.size else shapely.Polygon()


def deep_water(model: DepthModel) -> DeepWater:
    """Give the picture of sure depths of a water from whatever evidence its depth model has; without any it is empty.

    Notes: from a single stated depth no place's depth is known; the picture then only says that it is the deeper the
    further from the shore, as the model of stated depths does.
    """
    water = model.body.polygon
    layers: list[Grid] = []
    frame = _frame(water)
    x, y = _centres(frame)
    inside = shapely.contains_xy(water, x, y)
    if model.depth_grid is not None:
        layers.append(_raster_layer(model.depth_grid, water, model.level_m))
    if model.evidence is not None and model.field.process is not None:
        mean, sd = np.full(x.shape, np.nan), np.full(x.shape, np.nan)
        mean[inside], sd[inside] = model.field.at(x[inside], y[inside])
        layers.append(replace(frame, values=mean - SIGMAS_95 * sd))
    if not layers and model.charted is not None:
        sure = np.where(inside, model.charted.sure_m(x, y, SIGMAS_95), np.nan)
        layers.append(replace(frame, values=sure))
    if not layers and model.body.stated_depth is not None:
        shore_m = np.zeros(x.shape)
        shore_m[inside] = model.shore.distance_m(x[inside], y[inside])
        share = shore_m / max(float(shore_m.max()), 1e-9)
        depth = 0.5 * model.body.stated_depth.greatest_m * share + model.level_m
        layers.append(replace(frame, values=np.where(inside, depth, np.nan)))
    return DeepWater(frame, tuple(layers))


def _raster_layer(depth_grid: DepthGrid, water: shapely.Polygon, level_m: float) -> Grid:
    """Give the part of a depth raster over the water, lowered by its uncertainty."""
    grid = depth_grid.grid
    top, bottom, left, right = window(grid, water.bounds)
    depth = grid.values[top:bottom, left:right].astype(float)
    sure = depth - SIGMAS_95 * raster_sd_m(depth_grid, depth) + level_m
    if sure.size == 0:
        sure, top, left = np.full((1, 1), np.nan), 0, 0
    return Grid(
        sure,
        grid.west_m + left * grid.cell_east_m,
        grid.north_m - top * grid.cell_north_m,
        grid.cell_east_m,
        grid.cell_north_m,
    )


def _frame(water: shapely.Polygon) -> Grid:
    west, south, east, north = water.bounds
    cell_m = float(np.sqrt(water.area / CELLS))
    # A needle has a large box for its area: no more than 16 boxes for each cell of water.
    cell_m = max(cell_m, float(np.sqrt((east - west) * (north - south) / (16.0 * CELLS))))
    rows, columns = (max(int(np.ceil(side / cell_m)), 1) for side in (north - south, east - west))
    return Grid(np.empty((rows, columns)), west, north, cell_m, cell_m)


def _centres(grid: Grid) -> tuple[np.ndarray, np.ndarray]:
    rows, columns = grid.values.shape
    x = grid.west_m + (np.arange(columns) + 0.5) * grid.cell_east_m
    y = grid.north_m - (np.arange(rows) + 0.5) * grid.cell_north_m
    east, north = np.meshgrid(x, y)
    return east, north
