"""Distance from points in the water to the shore, islands included."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely


@dataclass(frozen=True, eq=False)
class Shore:
    """The outline of one water body, ready for many distance questions."""

    polygon: shapely.Polygon

    @cached_property
    def edges(self) -> shapely.STRtree:
        """Every straight piece of the outline (shell and islands) in a spatial index."""
        pieces = []
        for ring in (self.polygon.exterior, *self.polygon.interiors):
            xy = shapely.get_coordinates(ring)
            pieces.append(np.stack((xy[:-1], xy[1:]), axis=1))
        return shapely.STRtree(shapely.linestrings(np.concatenate(pieces)))

    def distance_m(self, easting_m: np.ndarray, northing_m: np.ndarray) -> np.ndarray:
        """Give the distance to the nearest shore [m] of n points; 0 for points that are not in the water.

        Parameters: easting_m, northing_m arrays (n,) [m]. Returns: array (n,) [m], never negative.
        """
        points = shapely.points(np.asarray(easting_m, float), np.asarray(northing_m, float))
        if len(points) == 0:
            return np.zeros(0)
        index, distance = self.edges.query_nearest(points, return_distance=True, all_matches=False)
        result = np.zeros(len(points))
        result[index[0]] = distance
        shapely.prepare(self.polygon)
        return np.where(shapely.contains_xy(self.polygon, easting_m, northing_m), result, 0.0)

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
