"""From a polygon to the flat rings that the run search works on, about an origin that costs no digit."""

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.survey.longest.frame import Rings, load_shore, origin_of


def polygon_parts(polygon: shapely.Polygon | shapely.MultiPolygon) -> list[shapely.Polygon]:
    """Give the parts of a polygon after checking that a run can be searched in them.

    Raises: BadArgument when it is no polygon, is empty, holds a coordinate that is no finite number, or is invalid.
    """
    if not isinstance(polygon, shapely.Polygon | shapely.MultiPolygon):
        kind = getattr(polygon, "geom_type", type(polygon).__name__)
        raise BadArgument(f"A run is searched in a polygon, not in a {kind}: pass a Polygon or MultiPolygon.")
    if polygon.is_empty:
        raise BadArgument(
            "The polygon is empty, so it holds no run: leave it out, or give the water's outline."
        )
    coordinates = shapely.get_coordinates(polygon)
    broken = np.flatnonzero(~np.isfinite(coordinates).all(axis=1))
    if broken.size > 0:
        raise BadArgument(
            f"Vertex {int(broken[0])} of the polygon is {tuple(map(float, coordinates[broken[0]]))}: every coordinate "
            "must be a finite number; correct or delete that vertex."
        )
    parts = [part for part in shapely.get_parts(polygon) if not part.is_empty]
    for number, part in enumerate(parts):
        if not part.is_valid:
            raise BadArgument(
                f"Part {number} of the polygon is not valid ({shapely.is_valid_reason(part)}): a run needs to know "
                "what is water; repair it first, e.g. shapely.make_valid(polygon, method='structure')."
            )
    return parts


def shore_of(polygon: shapely.Polygon) -> tuple[Rings, np.ndarray]:
    """Give the rings of one valid polygon about a local origin, and that origin (2,) [m]."""
    rings = [shapely.get_coordinates(ring) for ring in (polygon.exterior, *polygon.interiors)]
    coordinates = np.concatenate(rings)
    origin = origin_of(coordinates)
    offsets = np.concatenate([[0], np.cumsum([len(ring) for ring in rings])])
    return load_shore(coordinates, offsets.astype(np.int64), origin), origin
