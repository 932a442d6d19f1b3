"""The plan of the surface beyond one end of a run.

Axes used here: `along` runs from the run's end in the direction of flight, `across` to the right of it [m].
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely


@dataclass(frozen=True)
class Fan:
    """The plan of the surface beyond one end: a trapezoid from `end` along `heading_grid_deg`."""

    end: tuple[float, float]
    heading_grid_deg: float
    half_width_m: float
    divergence: float
    look_m: float

    @cached_property
    def direction(self) -> tuple[float, float]:
        """East and north parts of the unit vector along the heading."""
        angle = np.radians(self.heading_grid_deg)
        return float(np.sin(angle)), float(np.cos(angle))

    @cached_property
    def outline(self) -> shapely.Polygon:
        """The trapezoid, wider and longer by a micrometre so that rounding loses nothing on its edge."""
        slack = 1e-6
        near, far = self.half_width_m + slack, self.half_width_m + self.divergence * self.look_m + slack
        east, north = self.direction
        corners = [(-slack, -near), (self.look_m + slack, -far), (self.look_m + slack, far), (-slack, near)]
        return shapely.Polygon(
            [
                (self.end[0] + along * east + across * north, self.end[1] + along * north - across * east)
                for along, across in corners
            ]
        )

    def along_m(self, easting_m: np.ndarray, northing_m: np.ndarray) -> np.ndarray:
        """Distance [m] of positions beyond the end, measured along the heading."""
        east, north = self.direction
        return (easting_m - self.end[0]) * east + (northing_m - self.end[1]) * north

    def nearest_along_m(self, shapes: np.ndarray) -> np.ndarray:
        """Least distance [m] beyond the end of each shape, never below 0; infinity for an empty one."""
        coordinates, index = shapely.get_coordinates(shapes, return_index=True)
        nearest = np.full(len(shapes), np.inf)
        np.minimum.at(nearest, index, self.along_m(coordinates[:, 0], coordinates[:, 1]))
        return np.maximum(nearest, 0.0)
