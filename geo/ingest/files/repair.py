"""Validity and repair of polygons in the metric plane. Runs in the worker; a tangled shape gets it killed."""

from typing import Any

import numpy as np
import shapely

from geo.ingest.files.messages import unpack_geometries

POLYGONS = ("Polygon", "MultiPolygon")


def find_invalid(geometries: dict[str, np.ndarray]) -> dict[str, Any]:
    """Give the places (n,) of the shapes that are not valid, with the reasons."""
    shapes = shapely.from_wkb(np.array(unpack_geometries(geometries), object), on_invalid="ignore")
    present = shapely.get_type_id(shapes) >= 0
    places = np.flatnonzero(present & ~shapely.is_valid(shapes))
    return {"places": places, "reasons": [str(one) for one in shapely.is_valid_reason(shapes[places])]}


def _polygons_only(shape: shapely.Geometry) -> shapely.Geometry:
    parts = [one for one in shapely.get_parts(shape) if one.geom_type in POLYGONS and one.area > 0]
    # The union also mends what the structure method left invalid.
    return shapely.union_all(parts)


def repair(geometry: bytes) -> dict[str, Any]:
    """Give one shape made valid, None when nothing of it is left, and the share of its area that changed.

    Notes: the structure method decides by rings, outer against holes, which is what the drawing of a lake means; in
    about one case in a hundred its result is still invalid, and the union of its parts is valid. The change is
    |after - before| / after; the area before is the one that the rings enclose as drawn (shoelace).
    """
    shape = shapely.from_wkb(geometry)
    before = float(shape.area)
    mended: Any = shapely.make_valid(shape, method="structure", keep_collapsed=False)
    if shape.geom_type in POLYGONS:
        mended = _polygons_only(mended)
        if mended.is_empty or not mended.is_valid or mended.area <= 0:
            return {"geometry": None, "change": 1.0}
    change = abs(mended.area - before) / mended.area if mended.area > 0 else 0.0
    return {"geometry": shapely.to_wkb(mended), "change": float(change)}
