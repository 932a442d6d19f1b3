"""Distance from points in the water to the shore, islands included."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numba import njit
from shapely.geometry.base import BaseGeometry

from geo.base.prepared import Prepared

# With fewer straight pieces than this the plain formula over all of them beats the spatial index.
FEW_PIECES = 6000


@dataclass(frozen=True, eq=False)
class Shoreline:
    """The outline of one water body, ready for many distance questions."""

    polygon: shapely.Polygon

    @cached_property
    def _water(self) -> Prepared:
        return Prepared(self.polygon)

    @cached_property
    def pieces(self) -> np.ndarray:
        """Every straight piece of the outline (shell and islands) as (k, 2 ends, 2) [m]."""
        found = []
        for ring in (self.polygon.exterior, *self.polygon.interiors):
            xy = shapely.get_coordinates(ring)
            found.append(np.stack((xy[:-1], xy[1:]), axis=1))
        return np.concatenate(found)

    @cached_property
    def _columns(self) -> tuple[np.ndarray, ...]:
        start, along = self.pieces[:, 0], self.pieces[:, 1] - self.pieces[:, 0]
        return tuple(np.ascontiguousarray(column) for column in (*start.T, *along.T))

    @cached_property
    def edges(self) -> shapely.STRtree:
        """The pieces in a spatial index."""
        return shapely.STRtree(np.asarray(shapely.linestrings(self.pieces)))

    def distance_m(self, easting_m: np.ndarray, northing_m: np.ndarray) -> np.ndarray:
        """Give the distance to the nearest shore [m] of n points; 0 for points that are not in the water.

        Parameters: easting_m, northing_m arrays (n,) [m]. Returns: array (n,) [m], never negative.
        """
        x, y = np.asarray(easting_m, float), np.asarray(northing_m, float)
        if len(x) == 0:
            return np.zeros(0)
        inside = self._water.contains_xy(x, y)
        result = np.zeros(len(x))
        if len(self.pieces) <= FEW_PIECES:
            result[inside] = _least_distance(x[inside], y[inside], *self._columns)
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

    def covers(self, area: BaseGeometry, slack_m: float = 0.05) -> bool:
        """True when the area lies in the water, overhangs of up to slack_m forgiven.

        A run that keeps exactly its corridor touches the shore; rounding must not put it on land.
        """
        if self._water.covers(area):
            return True
        inner = area.buffer(-slack_m)
        if not inner.is_empty:
            return bool(self._water.covers(inner))
        return bool(area.difference(self.polygon.buffer(slack_m)).is_empty)

    def lattice(self, count: int) -> tuple[np.ndarray, np.ndarray, float]:
        """Give about `count` points on a square lattice inside the water, and the lattice step [m].

        Returns easting_m (k,), northing_m (k,), step_m. Cell-centred, so that mean x area integrates a field.
        """
        west, south, east, north = self.polygon.bounds
        step = float(np.sqrt(self.polygon.area / count))
        columns, rows = (max(int(np.ceil(side / step)), 1) for side in (east - west, north - south))
        x = west + (np.arange(columns) + 0.5) * (east - west) / columns
        y = south + (np.arange(rows) + 0.5) * (north - south) / rows
        xx, yy = (a.ravel() for a in np.meshgrid(x, y))
        inside = self._water.contains_xy(xx, yy)
        if not inside.any():
            point = self.polygon.representative_point()
            return np.array([point.x]), np.array([point.y]), step
        return xx[inside], yy[inside], step


# Without fastmath the least of many is not found several at a time; no value here can be other than finite.
@njit(cache=True, fastmath=True)
def _least_distance(
    easting_m: np.ndarray,
    northing_m: np.ndarray,
    start_east: np.ndarray,
    start_north: np.ndarray,
    along_east: np.ndarray,
    along_north: np.ndarray,
) -> np.ndarray:
    """Distance [m] from points (n,) to the nearest of k straight pieces, each start + share x along; all are tried."""
    square = np.maximum(along_east * along_east + along_north * along_north, 1e-300)
    unit_east, unit_north = along_east / square, along_north / square
    result = np.empty(len(easting_m))
    for i in range(len(easting_m)):
        least = 1e300
        for k in range(len(start_east)):
            east, north = easting_m[i] - start_east[k], northing_m[i] - start_north[k]
            share = min(max(east * unit_east[k] + north * unit_north[k], 0.0), 1.0)
            east -= share * along_east[k]
            north -= share * along_north[k]
            least = min(least, east * east + north * north)
        result[i] = np.sqrt(least)
    return result
