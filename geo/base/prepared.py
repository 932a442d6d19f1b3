"""A shape prepared for many questions, also from several threads at once."""

from threading import Lock

import numpy as np
import shapely


class Prepared:
    """A shape prepared once and asked one question at a time.

    GEOS' prepared geometries keep state while they answer, so that two threads that ask one at once can end the process
    (libgeos issue 825, "Prepared geometry is not thread-safe"). What is prepared is a private copy: preparing marks the
    object itself, wherever else it is used, and a region's shapes are shared by all requests.
    """

    def __init__(self, shape: shapely.Geometry) -> None:
        self.shape = shape
        self._own = shapely.from_wkb(shapely.to_wkb(shape))
        shapely.prepare(self._own)
        self._lock = Lock()
        self._west, self._south, self._east, self._north = shapely.bounds(shape).tolist()

    def reaches(self, place: shapely.Point) -> bool:
        """Give whether a point lies in the shape or on its outline; one outside its box costs nothing."""
        x, y = place.x, place.y
        within = self._west <= x <= self._east and self._south <= y <= self._north
        return within and bool(self.intersects(place))

    def intersects(self, others: shapely.Geometry | np.ndarray) -> np.ndarray:
        """Give whether the shape and each other have a point in common."""
        with self._lock:
            return np.asarray(shapely.intersects(self._own, others))

    def contains_xy(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Give whether each point lies inside the shape, its border not counted."""
        with self._lock:
            return shapely.contains_xy(self._own, x, y)

    def covers(self, others: shapely.Geometry | np.ndarray) -> np.ndarray:
        """Give whether no point of each other lies outside the shape."""
        with self._lock:
            return np.asarray(shapely.covers(self._own, others))

    def distance(self, others: shapely.Geometry | np.ndarray) -> np.ndarray:
        """Give the distance between the shape and each other."""
        with self._lock:
            return np.asarray(shapely.distance(self._own, others))
