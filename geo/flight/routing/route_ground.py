"""The ground as routes are sought over it: corridor heights with obstacles raised, unknown and closed parts shut.

Unknown never counts as good: no route is led over unknown terrain or past an obstacle of unknown height to save time.
(A direct leg past an obstacle of unknown height is still flown by the leg rule, with a caution.)
"""

from dataclasses import dataclass

import numpy as np

from geo.flight.legs.corridor import Corridor
from geo.flight.legs.no_fly_routes import Airspace
from geo.flight.legs.obstacle_heights import drawn
from geo.flight.routing.route_kernels import Ground


@dataclass(frozen=True, eq=False)
class RouteGround:
    """open: heights with the shut edges of no-fly areas beside them; barred: the same heights, inf in every cell that
    a no-fly area touches; lowest_m: the lowest height known."""

    open: Ground
    barred: Ground
    lowest_m: float
    bounds: tuple[float, float, float, float]


def route_ground(prepared: Corridor, airspace: Airspace) -> RouteGround | None:
    """Prepare a corridor's heights and the no-fly areas for many searches; None without terrain.

    Returns: RouteGround over the whole raster, float64.
    """
    grid, surface, unknown = prepared.ground, prepared.surface, prepared.unknown
    if grid is None or surface is None or unknown is None or not np.any(np.isfinite(grid.values)):
        return None
    lowest = float(np.nanmin(grid.values))
    frame = prepared.frame
    far, near, edges = prepared.far, prepared.near, airspace.outline_m
    assert far is not None and near is not None
    free = Ground(far, near, edges, *frame)
    if not len(edges):
        return RouteGround(free, free, lowest, grid.bounds)
    shut = drawn([airspace.shrunk.shape], grid, "uint8", 0).astype(bool)
    barred = Ground(np.where(shut, np.inf, far), np.where(shut, np.inf, near), edges, *frame)
    return RouteGround(free, barred, lowest, grid.bounds)
