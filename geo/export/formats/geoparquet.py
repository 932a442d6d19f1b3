"""GeoParquet 1.1: one layer a file, for tables of columns and for data bases."""

from pathlib import Path
from typing import Any, Literal

import geopandas
import pandas as pd
import pyarrow
import pyarrow.parquet

from geo.base.whole_file import write_whole

SCHEMA_VERSION = "1.1.0"
COMPRESSION: Literal["zstd"] = "zstd"


def write_geoparquet(path: Path, frame: geopandas.GeoDataFrame) -> Path:
    """Write one layer (EPSG:4326) as GeoParquet, unknown cells as null.

    Raises: OSError when the disk refuses; the old file is then untouched.

    References: GeoParquet 1.1.0 (bbox covering, zstd as its best practices advise).
    """
    typed = frame.copy()
    for column in typed.columns:
        # A column of text in which every cell is unknown would else get no type at all.
        if pd.api.types.is_object_dtype(typed[column].dtype):
            typed[column] = typed[column].astype("string")

    def write(private: Path) -> None:
        layout: dict[str, Any] = {"schema_version": SCHEMA_VERSION, "write_covering_bbox": True}
        typed.to_parquet(private, index=False, compression=COMPRESSION, **layout)
        if frame.geometry.isna().any():
            _empty_boxes(private)

    return write_whole(path, write)


def _empty_boxes(path: Path) -> None:
    """Take the boxes away from rows without a shape: they must be there exactly where a shape is."""
    table = pyarrow.parquet.read_table(path)
    boxes = table["bbox"].combine_chunks()
    emptied = pyarrow.StructArray.from_arrays(
        boxes.flatten(), fields=list(boxes.type), mask=table["geometry"].combine_chunks().is_null()
    )
    changed = table.set_column(
        table.schema.get_field_index("bbox"), pyarrow.field("bbox", boxes.type), emptied
    )
    pyarrow.parquet.write_table(
        changed.replace_schema_metadata(table.schema.metadata), path, compression=COMPRESSION
    )
