"""FlatGeobuf: one layer a file, read in part over a network."""

from pathlib import Path

import geopandas

from geo.base.whole_file import write_whole
from geo.export.formats.gdal_layer import write_layer


def write_flatgeobuf(path: Path, name: str, frame: geopandas.GeoDataFrame) -> Path:
    """Write one layer (EPSG:4326) as FlatGeobuf, layer `name` of geo.export.formats.gdal_layer.GEOMETRY_TYPES.

    Notes: the format's index has no room for a row without a place. A layer that has such rows is written without an
    index rather than without those rows.
    Raises: OSError or pyogrio's error when the disk refuses; the old file is then untouched.

    References: FlatGeobuf specification 3.0 (index optional).
    """
    index = {"SPATIAL_INDEX": "NO" if frame.geometry.isna().any() or frame.empty else "YES"}
    return write_whole(
        path, lambda private: write_layer(private, name, frame, "FlatGeobuf", layer_options=index)
    )
