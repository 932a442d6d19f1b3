"""The ground as routes are sought over it: corridor heights with obstacles raised, unknown and closed parts shut.

Unknown never counts as good: no route is led over unknown terrain or past an obstacle of unknown height to save time.
(A direct leg there is still flown by the leg rule, with its cautions.)
"""

from dataclasses import dataclass
from threading import Lock

import numpy as np
import shapely
from rasterio.features import rasterize
from rasterio.transform import Affine

from geo.base.grid import Grid
from geo.flight.legs.corridor import BUFFER_ALLOWANCE, Corridor
from geo.flight.legs.heights import EXEMPT_REACH_M
from geo.flight.legs.no_fly_routes import Airspace
from geo.flight.routing.route_kernels import Ground

# The library that draws no-fly areas onto the raster must not be entered by two threads at once.
_DRAWING = Lock()


@dataclass(frozen=True, eq=False)
class RouteGround:
    """open: heights with the shut edges of no-fly areas beside them; barred: the same heights, inf in every cell that
    a no-fly area touches; lowest_m: the lowest height known."""

    open: Ground
    barred: Ground
    lowest_m: float
    bounds: tuple[float, float, float, float]


def _raise_obstacles(
    heights: np.ndarray, prepared: Corridor, grid: Grid, reach_m: float, unknown_m: float
) -> None:
    """Raise every cell that an obstacle reaches to its top, or to unknown_m where its height is unknown."""
    reach_m = max(reach_m * BUFFER_ALLOWANCE, 0.1)
    tops = [(top.shape, unknown_m if top.top_m is None else top.top_m) for top in prepared.obstacles]
    if not tops:
        return
    tops.sort(key=lambda pair: pair[1])  # the last one burnt stays
    shapes = [(shapely.buffer(shape, reach_m), top_m) for shape, top_m in tops]
    np.maximum(heights, _drawn(shapes, grid, "float64", -np.inf), out=heights)


def _drawn(shapes: list, grid: Grid, dtype: str, fill: float) -> np.ndarray:
    """Draw shapes, or (shape, value) pairs, onto the cells that they touch."""
    affine = Affine(grid.cell_east_m, 0.0, grid.west_m, 0.0, -grid.cell_north_m, grid.north_m)
    size = grid.values.shape
    with _DRAWING:
        return rasterize(shapes, out_shape=size, fill=fill, transform=affine, all_touched=True, dtype=dtype)


def _edges(shrunk: shapely.Geometry) -> np.ndarray:
    parts = [part for part in shapely.get_parts(shrunk) if isinstance(part, shapely.Polygon)]
    rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
    rows = [np.hstack((points[:-1], points[1:])) for points in map(shapely.get_coordinates, rings)]
    return np.ascontiguousarray(np.concatenate(rows)) if rows else np.empty((0, 4))


def route_ground(prepared: Corridor, airspace: Airspace) -> RouteGround | None:
    """Prepare a corridor's heights and the no-fly areas for many searches; None without terrain.

    Returns: RouteGround over the whole raster, float64.
    """
    grid, surface, unknown = prepared.ground, prepared.surface, prepared.unknown
    if grid is None or surface is None or unknown is None or not np.any(np.isfinite(grid.values)):
        return None
    lowest = float(np.nanmin(grid.values))
    far = np.where(unknown, np.inf, surface.values).astype(float)
    near = np.where(np.isfinite(grid.values), grid.values, np.inf).astype(float)
    _raise_obstacles(far, prepared, grid, prepared.half_width_m, np.inf)
    # Close to an end the pilot sees and avoids what is not measured, as in the leg rule, which says so in a caution.
    _raise_obstacles(near, prepared, grid, min(prepared.half_width_m, EXEMPT_REACH_M), -np.inf)
    frame = (grid.west_m, grid.north_m, grid.cell_east_m, grid.cell_north_m)
    edges = _edges(airspace.shrunk.shape)
    free = Ground(far, near, edges, *frame)
    if not len(edges):
        return RouteGround(free, free, lowest, grid.bounds)
    shut = _drawn([airspace.shrunk.shape], grid, "uint8", 0).astype(bool)
    barred = Ground(np.where(shut, np.inf, far), np.where(shut, np.inf, near), edges, *frame)
    return RouteGround(free, barred, lowest, grid.bounds)
