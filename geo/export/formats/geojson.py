"""GeoJSON (RFC 7946): WGS 84, outer rings counter-clockwise, cut at the antimeridian, no crs member."""

import json
import math
from pathlib import Path

import geopandas
import numpy as np
import pandas as pd

from geo.base.whole_file import write_whole_text
from geo.records.document import FIGURE_DECIMALS, collection, feature, geometry_object


def write_geojson(path: Path, frame: geopandas.GeoDataFrame) -> Path:
    """Write one layer as a FeatureCollection; unknown figures are null, a row without a place has a null geometry.

    Raises: OSError when the disk refuses; the old file is then untouched.

    References: RFC 7946 sections 3.1.6 (right-hand rule), 3.1.9 (antimeridian), 4 (no crs), 11.2 (precision).
    """
    layer = feature_collection(frame)
    return write_whole_text(
        path, json.dumps(layer, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    )


def feature_collection(frame: geopandas.GeoDataFrame) -> dict:
    """Give a layer (EPSG:4326, already cut at the antimeridian) as a FeatureCollection of plain values."""
    names = [name for name in frame.columns if name != frame.geometry.name]
    rows = (map(plain_value, row) for row in frame[names].itertuples(index=False, name=None))
    return collection(
        feature(geometry_object(shape), **dict(zip(names, row, strict=True)))
        for shape, row in zip(frame.geometry, rows, strict=True)
    )


def plain_value(value: object) -> str | int | float | bool | None:
    """Give a table cell as a plain value: unknown is None, numbers are Python's own."""
    if value is None or value is pd.NA or (isinstance(value, float | np.floating) and math.isnan(value)):
        return None
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return round(value, FIGURE_DECIMALS)
    return value if isinstance(value, int) else str(value)
