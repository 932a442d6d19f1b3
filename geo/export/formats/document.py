"""Records as plain JSON documents: field names as they are, shapes as RFC 7946 geometries in degrees.

A document of a ranking carries every figure that went into it, so that a reader can redo each sum by hand.
"""

import math
from dataclasses import fields, is_dataclass
from datetime import date
from pathlib import Path

import shapely

from geo.export.formats.geojson import geometry_object
from geo.records.geographic_shapes import geographic
from geo.records.region import RegionFrame

FIGURE_DECIMALS = 6


def geojson_geometry(shape: shapely.Geometry, frame: RegionFrame) -> dict | None:
    """Give a plane shape as a GeoJSON geometry object (RFC 7946)."""
    return geometry_object(geographic(shape, frame))


def document(record: object, frame: RegionFrame) -> object:
    """Give a record (any nesting of dataclasses) as JSON-ready values; days and times as ISO 8601 writes them.

    Raises: ValueError for a NaN or infinite number, which no record may hold.
    """
    if is_dataclass(record) and not isinstance(record, type):
        shown = (one.name for one in fields(record) if one.metadata.get("in_documents", True))
        return {name: document(getattr(record, name), frame) for name in shown}
    if isinstance(record, shapely.Geometry):
        return geojson_geometry(record, frame)
    if isinstance(record, dict):
        return {str(key): document(value, frame) for key, value in record.items()}
    if isinstance(record, tuple | list):
        return [document(value, frame) for value in record]
    if isinstance(record, date):
        return record.isoformat()
    if isinstance(record, Path):
        return str(record)
    if isinstance(record, float):
        if not math.isfinite(record):
            raise ValueError("a record holds a number that is not finite; unknown must be None")
        return round(record, FIGURE_DECIMALS)
    return record
