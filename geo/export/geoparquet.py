"""GeoParquet 1.1: one layer a file, for tables of columns and for data bases."""

from pathlib import Path

import geopandas
import pandas as pd

from geo.export.whole_file import whole_file

SCHEMA_VERSION = "1.1.0"


def write_geoparquet(path: Path, frame: geopandas.GeoDataFrame) -> Path:
    """Write one layer (EPSG:4326) as GeoParquet, unknown cells as null.

    Notes: the covering by boxes must be there exactly where a shape is, which the writing library cannot keep for rows
    without a place: a layer that has such rows gets no covering.
    Raises: OSError when the disk refuses; the old file is then untouched.

    References: GeoParquet 1.1.0 (bbox covering, zstd as its best practices advise).
    """
    typed = frame.copy()
    for column in typed.columns:
        # A column of text in which every cell is unknown would else get no type at all.
        if pd.api.types.is_object_dtype(typed[column].dtype):
            typed[column] = typed[column].astype("string")
    with whole_file(path) as private:
        typed.to_parquet(
            private,
            index=False,
            compression="zstd",
            schema_version=SCHEMA_VERSION,
            write_covering_bbox=not (frame.geometry.isna().any() or frame.empty),
        )
    return Path(path)
