"""Records as plain JSON documents: field names as they are, shapes as RFC 7946 geometries in degrees.

A document of a ranking carries every figure that went into it, so that a reader can redo each sum by hand.
"""

import math
from collections.abc import Iterable
from dataclasses import fields, is_dataclass
from datetime import date
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import mapping
from shapely.geometry.base import BaseGeometry

from geo.records.geographic_shapes import geographic
from geo.records.region import RegionFrame

DECIMALS = 6  # of a degree: about 10 cm on the ground, what RFC 7946 section 11.2 advises
FIGURE_DECIMALS = 6


def geojson_geometry(shape: shapely.Geometry, frame: RegionFrame) -> dict | None:
    """Give a plane shape as a GeoJSON geometry object (RFC 7946)."""
    return geometry_object(geographic(shape, frame))


def feature(geometry: dict | None, /, **properties: object) -> dict:
    """Give a geometry object and its properties as a GeoJSON Feature."""
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def collection(features: Iterable[dict]) -> dict:
    """Give Features as a GeoJSON FeatureCollection."""
    return {"type": "FeatureCollection", "features": list(features)}


def document(record: object, frame: RegionFrame) -> object:
    """Give a record (any nesting of dataclasses) as JSON-ready values; days and times as ISO 8601 writes them.

    Raises: ValueError for a NaN or infinite number, which no record may hold.
    """
    if is_dataclass(record) and not isinstance(record, type):
        shown = (one.name for one in fields(record) if one.metadata.get("in_documents", True))
        return {name: document(getattr(record, name), frame) for name in shown}
    if isinstance(record, dict):
        return {str(key): document(value, frame) for key, value in record.items()}
    if isinstance(record, tuple | list):
        return [document(value, frame) for value in record]
    return _plain(record, frame)


def _plain(value: object, frame: RegionFrame) -> object:
    if isinstance(value, shapely.Geometry):
        return geojson_geometry(value, frame)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Path):
        return str(value)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError("a record holds a number that is not finite; unknown must be None")
        return round(value, FIGURE_DECIMALS)
    return value


def geometry_object(shape: shapely.Geometry | None) -> dict | None:
    """Give a shape in degrees as a GeoJSON geometry with 6 decimals and outer rings counter-clockwise."""
    if shape is None or shapely.is_empty(shape):
        return None
    rounded = shapely.transform(shape, lambda c: np.round(c, DECIMALS))
    if shapely.get_dimensions(shape) == 2:
        if not shapely.is_valid(rounded):
            # Rounding closed a narrow neck: snap the whole outline instead, which keeps it valid.
            rounded = shapely.set_precision(shape, 10.0**-DECIMALS)
        rounded = shapely.orient_polygons(rounded, exterior_cw=False)
    assert isinstance(rounded, BaseGeometry)  # what every shape is
    geometry = mapping(rounded)
    return {"type": geometry["type"], "coordinates": _listed(geometry["coordinates"])}


def _listed(coordinates: tuple | float) -> list | float:
    if isinstance(coordinates, int | float):
        # Snapping can leave the 17th digit behind.
        return round(float(coordinates), DECIMALS)
    return [_listed(part) for part in coordinates]
