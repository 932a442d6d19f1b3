"""One GeoPackage with every layer and its style, written by GDAL alone.

The style table is written through GDAL too: a second SQLite library on the same file in the same process would
break the file's locks.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import geopandas
import pandas as pd
import pyogrio

from geo.base.whole_file import write_whole
from geo.export.formats.gdal_layer import write_layer
from geo.export.formats.map_style import layer_styles

VERSION = "1.3"  # older desktop programs call 1.4 "only partially supported"
GEOMETRY_COLUMN = "geom"


def write_geopackage(path: Path, layers: Mapping[str, geopandas.GeoDataFrame | pd.DataFrame]) -> Path:
    """Write layers (EPSG:4326 frames, or tables without geometry) to one new GeoPackage with a style per layer.

    Parameters: path; layers by name, names as in geo.records.columns.LAYERS.

    Raises: OSError or pyogrio's error when the disk refuses; the old file is then untouched. A file that another
    program holds open keeps its old content there until it is opened again.

    References: OGC 12-128r17 (GeoPackage 1.3); styles as the desktop map program keeps them in "layer_styles".
    """

    def write(private: Path) -> None:
        for number, (name, layer) in enumerate(layers.items()):
            _write_layer(private, name, layer, "fid", append=number > 0)
        _write_layer(private, "layer_styles", _style_rows(layers), "id", append=True)

    return write_whole(path, write)


def _write_layer(
    path: Path, name: str, layer: geopandas.GeoDataFrame | pd.DataFrame, key: str, *, append: bool
) -> None:
    how: dict[str, Any] = {"append": append, "dataset_options": None if append else {"VERSION": VERSION}}
    if isinstance(layer, geopandas.GeoDataFrame):
        options = {"GEOMETRY_NAME": GEOMETRY_COLUMN, "FID": key, "SPATIAL_INDEX": "YES"}
        write_layer(path, name, layer, "GPKG", layer_options=options, **how)
        return
    options = {"ASPATIAL_VARIANT": "GPKG_ATTRIBUTES", "FID": key}
    pyogrio.write_dataframe(layer, path, layer=name, driver="GPKG", layer_options=options, **how)


def _style_rows(layers: Mapping[str, object]) -> pd.DataFrame:
    styles = {name: style for name, style in layer_styles().items() if name in layers}
    count = len(styles)
    return pd.DataFrame(
        {
            "f_table_catalog": [""] * count,
            "f_table_schema": [""] * count,
            "f_table_name": list(styles),
            "f_geometry_column": [GEOMETRY_COLUMN] * count,
            "styleName": [f"{name} (fetchwater)" for name in styles],
            "styleQML": list(styles.values()),
            "styleSLD": [""] * count,
            "useAsDefault": [True] * count,
            "description": ["states in the colour-blind safe set of Okabe and Ito, with shapes"] * count,
            "owner": [""] * count,
            "ui": pd.Series([None] * count, dtype=object),
            "update_time": pd.Series([pd.NaT] * count, dtype="datetime64[ms]"),
        }
    )
