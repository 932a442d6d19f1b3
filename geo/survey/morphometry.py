"""Size and shape of a water polygon in the region's metric plane."""

from dataclasses import dataclass
from math import pi, sqrt

import shapely

from geo.base.errors import BadArgument


@dataclass(frozen=True)
class Morphometry:
    """Size and shape of one water body.

    area_m2 is the water surface: islands are left out. perimeter_m is the outer shoreline only; the shores of
    islands are in island_perimeter_m, because their count depends on the scale of the map more than on the water.
    """

    area_m2: float
    perimeter_m: float
    island_perimeter_m: float
    island_count: int
    shoreline_development: float


def morphometry(polygon: shapely.Polygon) -> Morphometry:
    """Give area, outer shoreline, island shoreline and shoreline development of a polygon.

    Parameters: polygon in the metric plane [m], single part, islands as holes.
    Returns: Morphometry; areas [m2], lengths [m].
    Raises: BadArgument: the polygon is empty or has no area.

    Notes: Shoreline development D_L = P / (2 sqrt(pi A)), with P the outer shoreline and A the water surface, so that a
    reader can redo it from the two printed numbers. D_L >= 1, and 1 only for a circle without islands. The length of a
    shore grows with the detail of the map, so D_L compares only shores drawn at one scale.
    References: G. E. Hutchinson, A Treatise on Limnology, vol. 1, 1957, ch. 2 (the definition; cited from memory).
    """
    if polygon.is_empty or polygon.area <= 0.0:
        raise BadArgument(
            "water polygon has no area: a water body needs an area above 0 m2. Fix: draw its outline again, "
            "or leave it out"
        )
    outer_m = float(polygon.exterior.length)
    return Morphometry(
        area_m2=float(polygon.area),
        perimeter_m=outer_m,
        island_perimeter_m=float(sum(ring.length for ring in polygon.interiors)),
        island_count=len(polygon.interiors),
        shoreline_development=outer_m / (2.0 * sqrt(pi * polygon.area)),
    )
