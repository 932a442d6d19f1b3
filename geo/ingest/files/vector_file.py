"""Reads one layer of a vector file as WGS 84 shapes and columns. Runs in the worker."""

import re
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pyogrio.raw
import shapely

from geo.ingest.files.crs_reading import settle_crs, to_degrees_from
from geo.ingest.files.dbf_text import dbf_encoding
from geo.ingest.files.file_kind import (
    VECTOR_KINDS,
    VECTOR_WORDS,
    file_kind,
    holds_word,
    other_name,
    refuse_entities,
    refuse_large,
)
from geo.ingest.files.geojson_check import check_geojson
from geo.ingest.files.gpx_file import RawLayer, read_gpx
from geo.ingest.files.messages import pack_geometries, plain_list
from geo.ingest.files.refusal import Note, Refusal, caution
from geo.ingest.files.shape_check import MAX_FEATURES, positions_in_degrees, sound_shapes
from geo.ingest.files.unpacking import copy_database, copy_shapefile, holds_kml, unpack_kmz, unpack_shapefile

# What a GeoPackage writes where no coordinate system is known.
UNDEFINED = re.compile(r"Undefined (geographic|Cartesian)", re.IGNORECASE)


def read_vector(
    path: str,
    columns: list[str] | None,
    expect: str,
    layer: str | None = None,
    crs: str | None = None,
    encoding: str | None = None,
) -> dict[str, Any]:
    """Give the features of one layer.

    Parameters: columns, names of those that are wanted, None for all; a missing one is refused with the list of those
    there. expect is "polygon", "point", "line" or "any"; other shapes are set aside with a fault. layer, crs, encoding
    are as declared in region.toml, None where not.

    Returns: a plain dict: kind, layer, rows (n,) int64 row numbers from 1, geometries (packed WKB in WGS 84 degrees, a
    missing one where the feature was set aside), columns (name -> list), faults (with "row" where one is meant).

    Raises: Refusal when the file as a whole cannot be used.
    """
    source = Path(path)
    kind = _accepted_kind(source)
    if kind == "GPX":
        refuse_entities(source)
        raw = read_gpx(source, expect, layer)
        _need_columns(columns, list(raw.columns), raw.name)
    else:
        with tempfile.TemporaryDirectory() as folder:
            raw = _read_copy(source, kind, Path(folder), layer, columns, encoding)
    way = to_degrees_from(settle_crs(raw.crs, crs))
    shapes, shape_faults = sound_shapes(raw.shapes, expect)
    degrees, position_faults = positions_in_degrees(shapes, way)
    # A row that the file's own reader has set aside is not told of twice.
    told = {fault["row"] for fault in raw.faults if "row" in fault}
    return {
        "kind": kind,
        "layer": raw.name,
        "rows": np.arange(1, len(shapes) + 1, dtype=np.int64),
        "geometries": pack_geometries(shapely.to_wkb(degrees)),
        "columns": {
            name: plain_list(raw.columns[name]) for name in raw.columns if columns is None or name in columns
        },
        "faults": [
            *other_name(source, kind),
            *way.faults,
            *(one for one in (*shape_faults, *position_faults) if one["row"] not in told),
            *raw.faults,
        ],
    }


def _read_copy(
    source: Path, kind: str, folder: Path, layer: str | None, columns: list[str] | None, encoding: str | None
) -> RawLayer:
    """Read one layer of a file that GDAL opens, from a private copy where it comes in pieces."""
    opened, encoding, faults = _private_copy(source, kind, folder, layer, encoding)
    if columns and kind in ("Shapefile", "zip") and not opened.with_suffix(".dbf").exists():
        names = ", ".join(columns)
        rule = f"the .dbf of the Shapefile is missing; it holds the columns {names}"
        raise Refusal(rule, "send all parts (.shp, .shx, .dbf, .prj, .cpg) together", field=names)
    pyogrio.set_gdal_config_options({"SHAPE_RESTORE_SHX": "YES" if kind in ("Shapefile", "zip") else None})
    objects = _objects(opened) if kind == "GeoPackage" else None
    name = _chosen_layer(opened, layer if kind != "zip" else None)
    # A view runs the file's own SQL, which can loop for ever or hide rows; only real tables are read.
    if objects is not None and objects.get(name) != "table":
        raise Refusal("the layer is a view, not a table", "export it to a GeoPackage of its own", layer=name)
    meta, shapes, cells = _read(opened, name, columns, encoding)
    return RawLayer(name, shapes, cells, faults, _carried_crs(meta, kind))


def _accepted_kind(source: Path) -> str:
    kind = file_kind(source)
    if kind == "zip" and holds_kml(source):
        kind = "KMZ"
    if kind not in VECTOR_KINDS:
        raise Refusal(f"the file is not a vector layer ({kind})", f"use {VECTOR_WORDS}")
    refuse_large(source, kind)
    return kind


def _private_copy(
    source: Path, kind: str, scratch: Path, layer: str | None, encoding: str | None
) -> tuple[Path, str | None, list[Note]]:
    if kind == "GeoPackage":
        opened, faults = copy_database(source, scratch)
        return opened, encoding, faults
    if kind in ("Shapefile", "zip"):
        zipped = kind == "zip"
        opened = unpack_shapefile(source, scratch, layer) if zipped else copy_shapefile(source, scratch)
        encoding, faults = dbf_encoding(opened, encoding)
        if not opened.with_suffix(".shx").exists():
            rule = "the Shapefile has no .shx; the index was rebuilt in a copy"
            faults.append(caution(rule, "send all parts"))
        return opened, encoding, faults
    if kind in ("KML", "KMZ"):
        opened = unpack_kmz(source, scratch) if kind == "KMZ" else source
        if file_kind(opened) != "KML":
            raise Refusal("the doc.kml of the KMZ is no KML", "export the layer again")
        refuse_entities(opened)
        # What lies behind a link is not read, so that a part of the layer would be missing in silence.
        if holds_word(opened, b"NETWORKLINK"):
            rule = "the KML takes a part of its data from other files (NetworkLink), which are not read"
            raise Refusal(rule, "export the layer itself as KML, with nothing linked")
        return opened, encoding, []
    return source, encoding, check_geojson(source) if kind == "GeoJSON" else []


def _chosen_layer(opened: Path, layer: str | None) -> str:
    try:
        layers = pyogrio.list_layers(opened)
    except IndexError:
        raise Refusal("the file holds no layer", "export it again") from None
    names = [str(name) for name, _ in layers]
    if layer is not None:
        if layer not in names:
            fix = f"name one of: {', '.join(names)}"
            raise Refusal("the layer is not in the file", fix, field="layer", value=layer)
        return layer
    if not names:
        raise Refusal("the file holds no layer", "export it again")
    spatial = [str(name) for name, kind in layers if kind is not None]
    if len(spatial) == 1:
        return spatial[0]
    if len(names) > 1:
        counts = ", ".join(f"{name} ({kind or 'no shapes'})" for name, kind in layers)
        fix = f"declare layer as one of: {counts}"
        raise Refusal("the file has several layers", fix, "ask", field="layer")
    return names[0]


def _objects(opened: Path) -> dict[str, str]:
    """Give the tables and views of a GeoPackage with their kind."""
    try:
        with closing(sqlite3.connect(f"file:{opened}?mode=ro", uri=True)) as connection:
            found = dict(connection.execute("select name, type from sqlite_master"))
    except sqlite3.DatabaseError as error:
        rule = f"the GeoPackage is damaged or cut short ({error})"
        raise Refusal(rule, "export or send it again") from None
    if "gpkg_contents" not in found:
        raise Refusal("the file is an SQLite database but no GeoPackage", "export the layer as GeoPackage")
    return found


def _read(
    opened: Path, layer: str, columns: list[str] | None, encoding: str | None
) -> tuple[dict[str, Any], np.ndarray, dict[str, np.ndarray]]:
    info = pyogrio.read_info(opened, layer=layer, encoding=encoding)
    fields = [str(name) for name in info["fields"]]
    meta, _, shapes, values = pyogrio.raw.read(
        opened,
        layer=layer,
        columns=fields if columns is None else [name for name in columns if name in fields],
        encoding=encoding,
        force_2d=True,
        max_features=MAX_FEATURES + 1,
        datetime_as_string=True,
    )
    _check_rows(layer, shapes, values)
    _need_columns(columns, fields, layer)
    if len(shapes) > MAX_FEATURES:
        rule = f"the layer has more than {MAX_FEATURES} features"
        raise Refusal(rule, "cut it down to the region", layer=layer)
    return meta, shapes, dict(zip((str(name) for name in meta["fields"]), values, strict=True))


def _need_columns(columns: list[str] | None, fields: list[str], layer: str) -> None:
    missing = ", ".join(name for name in columns or () if name not in fields)
    if missing:
        known = f"map one of: {', '.join(fields)}"
        fix = known if fields else "export it with its columns: it has none at all"
        raise Refusal(f"the column {missing} is not in the layer", fix, layer=layer, field=missing)


def _check_rows(layer: str, shapes: np.ndarray | None, values: list[np.ndarray]) -> None:
    if shapes is not None and len(shapes) > 0:
        return
    if shapes is None and any(len(column) for column in values):
        raise Refusal("the layer has rows but no shapes", "export a layer that has some", layer=layer)
    raise Refusal("the layer has no rows", "export a layer that has some", layer=layer)


def _carried_crs(meta: dict[str, Any], kind: str) -> str | None:
    if kind in ("KML", "KMZ"):
        return "EPSG:4326"
    crs = meta["crs"] or None
    return None if crs is not None and UNDEFINED.search(crs[:80]) is not None else crs
