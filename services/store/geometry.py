"""One geometry type for both databases: GeoPackageBinary in SQLite, EWKB in PostGIS, shapely on the Python side.

Also the functions that SQL may call on shapes in both. In SQLite they are Python functions registered on every
connection; the R*Tree's triggers need five of them (OGC 12-128r17, annex F.3).
"""

import sqlite3
import struct
from collections.abc import Callable
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry
from sqlalchemy import Boolean, Column, ColumnElement, Dialect, Float, cast, or_
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.functions import FunctionElement
from sqlalchemy.types import UserDefinedType

SRID = 4326
_LITTLE_ENDIAN, _XY_ENVELOPE, _EMPTY = 0x01, 0x02, 0x10
# How two shapes may lie to each other, by the names of shapely; SQL has them as ST_Contains and so on.
RELATIONS = ("contains", "crosses", "disjoint", "equals", "intersects", "overlaps", "touches", "within")
_ENVELOPE_BYTES = (0, 32, 48, 48, 64)


def to_blob(shape: BaseGeometry) -> bytes:
    """Write a shape as GeoPackageBinary with its XY envelope (OGC 12-128r17, clause 2.1.3)."""
    flat = shapely.force_2d(shape)
    if flat.is_empty:
        header = struct.pack("<2sBBi", b"GP", 0, _LITTLE_ENDIAN | _EMPTY, SRID)
    else:
        west, south, east, north = flat.bounds
        header = struct.pack(
            "<2sBBi4d", b"GP", 0, _LITTLE_ENDIAN | _XY_ENVELOPE, SRID, west, east, south, north
        )
    return header + shapely.to_wkb(flat, byte_order=1)


def _body_at(blob: bytes) -> int:
    """Give where the WKB begins. Raises: ValueError for bytes that are no GeoPackageBinary."""
    if len(blob) < 8 or blob[:2] != b"GP" or (blob[3] >> 1) & 7 >= len(_ENVELOPE_BYTES):
        raise ValueError("not a GeoPackage geometry")
    return 8 + _ENVELOPE_BYTES[(blob[3] >> 1) & 7]


def from_blob(blob: bytes) -> BaseGeometry:
    """Read GeoPackageBinary. Raises: ValueError for other bytes; shapely.GEOSException for bad WKB."""
    return shapely.from_wkb(blob[_body_at(blob) :])


def _bounds(blob: bytes) -> tuple[float, float, float, float] | None:
    """Give west, east, south, north of a blob from its envelope, or from its shape; None when empty."""
    start = _body_at(blob)
    if blob[3] & _EMPTY:
        return None
    if start > 8:
        order = "<" if blob[3] & _LITTLE_ENDIAN else ">"
        return struct.unpack_from(f"{order}4d", blob, 8)
    shape = from_blob(blob)
    if shape.is_empty:
        return None
    west, south, east, north = shape.bounds
    return west, east, south, north


def from_hex_ewkb(text: str) -> BaseGeometry:
    """Read PostGIS's own text of a shape (EWKB in hexadecimal) as a shape without SRID.

    Notes: in bytes, because GEOS reads hexadecimal five times slower (measured: 20 us against 4 us for a polygon of 33
    positions).
    Raises: ValueError for what is no hexadecimal; shapely.GEOSException for bad WKB.
    """
    return shapely.set_srid(shapely.from_wkb(bytes.fromhex(text)), 0)


class Geometry(UserDefinedType):
    """A geometry column in WGS 84 (EPSG:4326, longitude first). Takes and gives shapely geometries.

    Parameters: kind, the GeoPackage and PostGIS name of the geometry: GEOMETRY, POINT, LINESTRING, POLYGON...
    """

    cache_ok = True

    def __init__(self, kind: str = "GEOMETRY") -> None:
        self.kind = kind

    def get_col_spec(self, **_: Any) -> str:
        """Give the column's type in SQL."""
        return self.kind

    def bind_processor(self, dialect: Dialect) -> Callable[[Any], Any]:
        """Give what writes a shape."""
        if dialect.name == "sqlite":
            return lambda shape: None if shape is None else to_blob(shape)
        return lambda shape: (
            None
            if shape is None
            else shapely.to_wkb(
                shapely.set_srid(shapely.force_2d(shape), SRID), hex=True, include_srid=True, byte_order=1
            )
        )

    def result_processor(self, dialect: Dialect, coltype: object) -> Callable[[Any], Any]:
        """Give what reads a shape."""
        if dialect.name == "sqlite":
            return lambda blob: None if blob is None else from_blob(blob)
        return lambda text: None if text is None else from_hex_ewkb(text)


@compiles(Geometry, "postgresql")
def _postgis_column(type_: Geometry, compiler: Any, **_: Any) -> str:
    return f"geometry({type_.kind}, {SRID})"


class _BoxMeets(FunctionElement):
    """True where the envelope of a layer's geometry meets a box; answered by the spatial index on both databases."""

    inherit_cache = True
    name = "box_meets"
    type = Boolean()

    def self_group(self, against: Any = None) -> "_BoxMeets":
        """Stand in WHERE as it is: with the "= 1" that SQLite's booleans get, the whole layer would be scanned."""
        return self


@compiles(_BoxMeets, "sqlite")
def _rtree_search(element: _BoxMeets, compiler: Any, **kw: Any) -> str:
    column, *box = element.clauses
    west, south, east, north = (compiler.process(edge, **kw) for edge in box)
    fid = compiler.process(column.table.c.fid, **kw)
    # An alias keeps the name of the table that it stands for.
    tree = f"rtree_{getattr(column.table, 'element', column.table).name}_{column.name}"
    return (
        f"{fid} IN (SELECT id FROM {tree} WHERE maxx >= {west} AND minx <= {east} "
        f"AND maxy >= {south} AND miny <= {north})"
    )


@compiles(_BoxMeets, "postgresql")
def _gist_search(element: _BoxMeets, compiler: Any, **kw: Any) -> str:
    column, *box = (compiler.process(one, **kw) for one in element.clauses)
    return f"({column} && ST_MakeEnvelope({', '.join(box)}, {SRID}))"


def envelope_meets(
    column: Column, west_deg: float, south_deg: float, east_deg: float, north_deg: float
) -> ColumnElement[bool]:
    """Give the condition that the envelope of a layer's shape meets a box in WGS 84 [deg].

    A box with west_deg above east_deg crosses the antimeridian and is asked for as two.

    Notes: both indexes keep envelopes in single precision rounded outwards, so that a shape within some metres of the
    box may come too, and none is missed.
    """
    if west_deg > east_deg:
        return or_(
            envelope_meets(column, west_deg, south_deg, 180.0, north_deg),
            envelope_meets(column, -180.0, south_deg, east_deg, north_deg),
        )
    return _BoxMeets(column, *(cast(edge, Float(53)) for edge in (west_deg, south_deg, east_deg, north_deg)))


def _of_shapes(function: Callable[..., Any]) -> Callable[..., Any]:
    """A function of SQL is empty where a shape that it takes is."""
    return lambda *blobs: None if None in blobs else function(*blobs)


def _edge(index: int) -> Callable[..., Any]:
    return _of_shapes(lambda blob: (_bounds(blob) or (None,) * 4)[index])


def _relation(name: str) -> Callable[..., Any]:
    predicate = getattr(shapely, name)
    return _of_shapes(lambda one, other: int(predicate(from_blob(one), from_blob(other))))


def _from_text(text: str | None, srid: int = SRID) -> bytes | None:
    if srid != SRID:
        raise ValueError(f"shapes are kept in EPSG:{SRID}, not EPSG:{srid}")
    return None if text is None else to_blob(shapely.from_wkt(text))


_FUNCTIONS: dict[str, tuple[int, Callable[..., Any]]] = {
    "ST_MinX": (1, _edge(0)),
    "ST_MaxX": (1, _edge(1)),
    "ST_MinY": (1, _edge(2)),
    "ST_MaxY": (1, _edge(3)),
    "ST_IsEmpty": (1, _of_shapes(lambda blob: int(_bounds(blob) is None))),
    "ST_GeomFromText": (2, _from_text),
    **{f"ST_{name.capitalize()}": (2, _relation(name)) for name in RELATIONS},
}


def register_functions(connection: sqlite3.Connection) -> None:
    """Give a SQLite connection the PostGIS functions that the store's SQL and its R*Tree triggers call."""
    for name, (count, function) in _FUNCTIONS.items():
        connection.create_function(name, count, function, deterministic=True)
