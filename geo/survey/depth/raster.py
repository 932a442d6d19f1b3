"""Least depth from a depth raster whose error is common to the whole survey."""

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.special import ndtri

from geo.base.errors import BadArgument
from geo.records.region import DepthGrid
from geo.records.survey import DEPTH_PROBABILITIES
from geo.survey.depth.ageing import Ageing
from geo.survey.depth.corridor import Disc, Strip
from geo.survey.depth.shore import Shoreline
from geo.survey.ground import window

# A mean depth or volume needs at least this share of the body to have cells.
LEAST_COVER = 0.95
LATTICE_POINTS = 4000


@dataclass(frozen=True)
class RasterLeast:
    """Least depth over an area from the raster; quantiles_m None where a cell is unknown, `gap` then says where."""

    quantiles_m: tuple[float, ...] | None
    gap: str
    shallowest: shapely.Point | None
    expected_m: float | None
    cells: int
    sd_m: float | None


def raster_sd_m(depth_grid: DepthGrid, depth_m: np.ndarray) -> np.ndarray:
    """Give one sigma [m] of depths: sqrt(a^2 + (b d)^2) / 1.96 (form of IHO S-44 Ed. 6, table 1, 95 %)."""
    return np.hypot(depth_grid.uncertainty_a_m, depth_grid.uncertainty_b * depth_m) / 1.96


def raster_least(
    depth_grid: DepthGrid, area: Strip | Disc, level_change_m: float, age: Ageing | None = None
) -> RasterLeast:
    """Give the distribution of the least depth over an area.

    Parameters: the raster, the area, today's level minus the survey's [m], what its age takes off (None: nothing).
    Returns: RasterLeast.

    Raises: BadArgument for an uncertainty that is negative or not finite.

    Notes: every cell that the area touches counts. The error is taken as common to all cells (one z ~ N(0, 1) times
    the cell's sigma): a datum or tide error moves the whole survey, and the least of many independent cells would
    only be biased low. Then quantile p of the least is min over cells of depth + z_p sigma, exactly.
    """
    a, b = depth_grid.uncertainty_a_m, depth_grid.uncertainty_b
    if not (np.isfinite(a) and np.isfinite(b) and a >= 0.0 and b >= 0.0):
        raise BadArgument(f"depth raster uncertainty a {a} m, b {b}: both must be finite and >= 0")
    grid = depth_grid.grid
    rows, columns = area.cells(grid)
    inside = (rows >= 0) & (rows < grid.values.shape[0]) & (columns >= 0) & (columns < grid.values.shape[1])
    depth = np.full(len(rows), np.nan)
    depth[inside] = grid.values[rows[inside], columns[inside]]
    x = grid.west_m + (columns + 0.5) * grid.cell_east_m
    y = grid.north_m - (rows + 0.5) * grid.cell_north_m
    unknown = np.flatnonzero(~np.isfinite(depth))
    if len(unknown):
        k = unknown[0]
        gap = f"the depth raster is unknown in {len(unknown)} of {len(depth)} cells, first at E {x[k]:.0f} N {y[k]:.0f}"
        if len(unknown) == len(depth):
            gap = "the depth raster does not reach this place"
        return RasterLeast(None, gap, None, None, len(depth), None)
    sd = raster_sd_m(depth_grid, depth)
    if age is not None:
        depth, sd = age.applied(depth, sd)
    z = ndtri(np.concatenate((DEPTH_PROBABILITIES, (np.arange(200) + 0.5) / 200)))
    least = np.array([np.min(depth + each * sd) for each in z]) + level_change_m
    table = np.maximum(np.maximum.accumulate(least[: len(DEPTH_PROBABILITIES)]), 0.0)
    even = np.maximum(least, 0.0)[-200:]
    k = int(np.argmin(depth))
    place = shapely.shortest_line(area.area, shapely.Point(x[k], y[k])).interpolate(0.0)
    return RasterLeast(
        tuple(float(q) for q in table), "", place, float(even.mean()), len(depth), float(sd[k])
    )


def raster_reaches(depth_grid: DepthGrid, shore: Shoreline) -> bool:
    """True where the raster has a known depth at a cell centre in the body, or at a point of a smaller body."""
    grid = depth_grid.grid
    first, last, left, right = window(grid, shore.polygon.bounds)
    if first >= last or left >= right:
        return False
    known = np.argwhere(np.isfinite(grid.values[first:last, left:right]))
    x = grid.west_m + (left + known[:, 1] + 0.5) * grid.cell_east_m
    y = grid.north_m - (first + known[:, 0] + 0.5) * grid.cell_north_m
    point = shore.polygon.representative_point()
    here = grid.nearest(np.array([point.x]), np.array([point.y]))
    return bool(shapely.contains_xy(shore.polygon, x, y).any() or np.isfinite(here[0]))


def raster_mean(
    depth_grid: DepthGrid, shore: Shoreline, level_change_m: float, age: Ageing | None = None
) -> tuple[float, float, float]:
    """Give mean depth of the water left [m], share of the body under water, share of the body that has cells."""
    x, y, _step = shore.lattice(LATTICE_POINTS)
    depth = depth_grid.grid.nearest(x, y)
    if age is not None:
        depth = age.applied(depth, np.zeros(len(depth)))[0]
    known = np.isfinite(depth)
    if not known.any():
        return 0.0, 0.0, 0.0
    today = np.maximum(depth[known] + level_change_m, 0.0)
    wet = float((today > 0).mean())
    return (float(today[today > 0].mean()) if wet > 0 else 0.0), wet, float(known.mean())
