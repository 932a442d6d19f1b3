"""From a polygon to the flat rings that the run search works on, about an origin that costs no digit."""

import numpy as np
import shapely

from geo.errors import BadArgument
from geo.survey.run_search import Shore


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


def _origin(coordinates: np.ndarray) -> np.ndarray:
    """Give an origin near the coordinates whose subtraction is exact.

    Notes: a multiple of a power of two no smaller than the extent, so that every difference keeps the last bit of
    its coordinate; and 0 where the coordinates are not far from 0 anyway.
    """
    low, high = coordinates.min(axis=0), coordinates.max(axis=0)
    step = 2.0 ** np.ceil(np.log2(max(float((high - low).max()), 1e-300)))
    middle = 0.5 * (low + high)
    return np.where(np.abs(middle) < 4.0 * step, 0.0, np.floor(middle / step) * step)


def shore_of(polygon: shapely.Polygon) -> tuple[Shore, np.ndarray]:
    """Give the rings of one valid polygon, doubled and without repeated vertices, and their origin (2,) [m]."""
    coordinates = shapely.get_coordinates(polygon)
    origin = _origin(coordinates)
    xs, ys, first, last = [], [], [], []
    at = 0
    for ring in (polygon.exterior, *polygon.interiors):
        local = shapely.get_coordinates(ring)[:-1] - origin
        local = local[np.any(local != np.roll(local, 1, axis=0), axis=1)]
        xs += [local[:, 0], local[:, 0]]
        ys += [local[:, 1], local[:, 1]]
        first.append(at)
        last.append(at + len(local))
        at += 2 * len(local)
    shore = Shore(
        np.ascontiguousarray(np.concatenate(xs)),
        np.ascontiguousarray(np.concatenate(ys)),
        np.array(first, np.int64),
        np.array(last, np.int64),
    )
    return shore, origin
