"""Shapely geometries as fields of records: carried as they are, written to JSON as WKB in hexadecimal."""

from typing import Annotated, Any

import shapely
from pydantic import PlainSerializer, PlainValidator


def _read(value: Any) -> shapely.Geometry:
    return value if isinstance(value, shapely.Geometry) else shapely.from_wkb(bytes.fromhex(value))


def _write(geometry: shapely.Geometry) -> str:
    return shapely.to_wkb(geometry, hex=True)


_codec = (PlainValidator(_read), PlainSerializer(_write, return_type=str))

# All coordinates are easting_m, northing_m in the region's metric CRS unless a name says longitude/latitude.
PointM = Annotated[shapely.Point, *_codec]
LineM = Annotated[shapely.LineString, *_codec]
PolygonM = Annotated[shapely.Polygon, *_codec]
AreaM = Annotated[shapely.Polygon | shapely.MultiPolygon, *_codec]
ShapeM = Annotated[shapely.Geometry, *_codec]
