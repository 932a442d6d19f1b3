"""Distance from points in the water to the shore, islands included."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

# With fewer straight pieces than this the plain formula over all of them beats the spatial index.
FEW_PIECES = 160
BLOCK_CELLS = 400_000


@dataclass(frozen=True, eq=False)
class Shore:
    """The outline of one water body, ready for many distance questions."""

    polygon: shapely.Polygon

    @cached_property
    def pieces(self) -> np.ndarray:
        """Every straight piece of the outline (shell and islands) as (k, 2 ends, 2) [m]."""
        found = []
        for ring in (self.polygon.exterior, *self.polygon.interiors):
            xy = shapely.get_coordinates(ring)
            found.append(np.stack((xy[:-1], xy[1:]), axis=1))
        return np.concatenate(found)

    @cached_property
    def edges(self) -> shapely.STRtree:
        """The pieces in a spatial index."""
        return shapely.STRtree(shapely.linestrings(self.pieces))

    def distance_m(self, easting_m: np.ndarray, northing_m: np.ndarray) -> np.ndarray:
        """Give the distance to the nearest shore [m] of n points; 0 for points that are not in the water.

        Parameters: easting_m, northing_m arrays (n,) [m]. Returns: array (n,) [m], never negative.
        """
        x, y = np.asarray(easting_m, float), np.asarray(northing_m, float)
        if len(x) == 0:
            return np.zeros(0)
        shapely.prepare(self.polygon)
        inside = shapely.contains_xy(self.polygon, x, y)
        result = np.zeros(len(x))
        if len(self.pieces) <= FEW_PIECES:
            result[inside] = _least_distance(x[inside], y[inside], self.pieces)
        elif inside.any():
            points = shapely.points(x[inside], y[inside])
            index, distance = self.edges.query_nearest(points, return_distance=True, all_matches=False)
            result[np.flatnonzero(inside)[index[0]]] = distance
        return result

    @cached_property
    def greatest_m(self) -> float:
        """The greatest distance to shore in the body [m]: radius of the largest inscribed circle, within 1 %."""
        tolerance = max(0.01 * self.polygon.area / max(self.polygon.length, 1e-9), 1e-3)
        return float(shapely.maximum_inscribed_circle(self.polygon, tolerance).length)

    def covers(self, area: shapely.Geometry, slack_m: float = 0.05) -> bool:
        """True when the area lies in the water, overhangs of up to slack_m forgiven.

        A run that keeps exactly its corridor touches the shore; rounding must not put it on land.
        """
        shapely.prepare(self.polygon)
        if self.polygon.covers(area):
            return True
        inner = area.buffer(-slack_m)
        if not inner.is_empty:
            return bool(self.polygon.covers(inner))
        return bool(area.difference(self.polygon.buffer(slack_m)).is_empty)

    def lattice(self, count: int) -> tuple[np.ndarray, np.ndarray, float]:
        """Give about `count` points on a square lattice inside the water, and the lattice step [m].

        Returns easting_m (k,), northing_m (k,), step_m. Cell-centred, so that mean x area integrates a field.
        """
        west, south, east, north = self.polygon.bounds
        step = float(np.sqrt(self.polygon.area / count))
        columns, rows = (
            max(int(np.ceil((east - west) / step)), 1),
            max(int(np.ceil((north - south) / step)), 1),
        )
        x = west + (np.arange(columns) + 0.5) * (east - west) / columns
        y = south + (np.arange(rows) + 0.5) * (north - south) / rows
        xx, yy = (a.ravel() for a in np.meshgrid(x, y))
        shapely.prepare(self.polygon)
        inside = shapely.contains_xy(self.polygon, xx, yy)
        if not inside.any():
            point = self.polygon.representative_point()
            return np.array([point.x]), np.array([point.y]), step
        return xx[inside], yy[inside], step


def _least_distance(x: np.ndarray, y: np.ndarray, pieces: np.ndarray) -> np.ndarray:
    """Distance [m] from points (n,) to the nearest of k straight pieces, all against all, block by block."""
    start, along = pieces[:, 0], pieces[:, 1] - pieces[:, 0]
    length2 = np.maximum((along**2).sum(axis=1), 1e-300)
    unit = along / length2[:, None]
    result = np.empty(len(x))
    step = max(BLOCK_CELLS // len(pieces), 1)
    for first in range(0, len(x), step):
        block = slice(first, first + step)
        east, north = x[block, None] - start[:, 0], y[block, None] - start[:, 1]
        share = np.clip(east * unit[:, 0] + north * unit[:, 1], 0.0, 1.0)
        east -= share * along[:, 0]
        north -= share * along[:, 1]
        result[block] = np.sqrt((east * east + north * north).min(axis=1))
    return result
