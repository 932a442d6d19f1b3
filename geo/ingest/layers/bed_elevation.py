"""Turns a raster of bed elevations into depths below the level at which each body's depths hold."""

import numpy as np
import shapely

from geo.base.grid import Grid
from geo.ingest.checks.report import FileReport, first_of
from geo.records.region import WaterBody

# Cells so far outside the outline still count: a strip along the shore touches them.
MARGIN_CELLS = 2.0


def depths_below_levels(elevation: Grid, bodies: tuple[WaterBody, ...], report: FileReport) -> Grid:
    """Give depth = depth_level - elevation [m] in and just round each body; NaN elsewhere and without a level.

    Parameters: elevations of the bed [m, up] in the region's vertical datum; the bodies. A caution names those bodies
    in the raster whose depth_level is unknown: their depths stay unknown.
    """
    depth = np.full(elevation.values.shape, np.nan, np.float32)
    without = []
    for margin in (0.0, MARGIN_CELLS * max(elevation.cell_east_m, elevation.cell_north_m)):
        for body in bodies:
            window, inside = _cells(elevation, body.polygon, margin)
            inside &= np.isfinite(elevation.values[window])
            if body.depth_level_m is None:
                without += [body.body_id] if margin == 0.0 and inside.any() else []
                continue
            free = inside & np.isnan(depth[window])
            depth[window] = np.where(free, body.depth_level_m - elevation.values[window], depth[window])
    if without:
        what = f"bed elevations of {len(without)} bodies whose depth_level is unknown"
        rule = f"{what} give no depth: {first_of(without)}"
        fix = "map the column depth_level in [water.columns] and fill it in"
        report.add("caution", rule, fix, field="depth_raster.reference")
    return Grid(depth, elevation.west_m, elevation.north_m, elevation.cell_east_m, elevation.cell_north_m)


def _cells(grid: Grid, polygon: shapely.Polygon, margin_m: float) -> tuple[tuple[slice, slice], np.ndarray]:
    """The window of a polygon's cells in the raster, and which of their centres lie within margin_m of it."""
    west, south, east, north = polygon.bounds
    rows, columns = grid.values.shape
    first, last = (
        int(np.clip((grid.north_m - y) // grid.cell_north_m + step, 0, rows))
        for y, step in ((north + margin_m, 0), (south - margin_m, 1))
    )
    left, right = (
        int(np.clip((x - grid.west_m) // grid.cell_east_m + step, 0, columns))
        for x, step in ((west - margin_m, 0), (east + margin_m, 1))
    )
    window = (slice(first, last), slice(left, right))
    x, y = np.meshgrid(
        grid.west_m + (np.arange(left, right) + 0.5) * grid.cell_east_m,
        grid.north_m - (np.arange(first, last) + 0.5) * grid.cell_north_m,
    )
    shape = polygon if margin_m == 0.0 else polygon.buffer(margin_m, quad_segs=4)
    return window, np.asarray(shapely.contains_xy(shape, x, y))
