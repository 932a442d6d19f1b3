"""FlatGeobuf: one layer a file, read in part over a network."""

from pathlib import Path

import geopandas
import pyogrio

from geo.base.whole_file import whole_file
from geo.export.formats.geopackage import GEOMETRY_TYPES


def write_flatgeobuf(path: Path, name: str, frame: geopandas.GeoDataFrame) -> Path:
    """Write one layer (EPSG:4326) as FlatGeobuf, layer `name` of geo.export.formats.geopackage.GEOMETRY_TYPES.

    Notes: the format's index has no room for a row without a place. A layer that has such rows is written without an
    index rather than without those rows.
    Raises: OSError or pyogrio's error when the disk refuses; the old file is then untouched.

    References: FlatGeobuf specification 3.0 (index optional).
    """
    kind = GEOMETRY_TYPES[name]
    with whole_file(path) as private:
        pyogrio.write_dataframe(
            frame,
            private,
            layer=name,
            driver="FlatGeobuf",
            geometry_type=kind,
            promote_to_multi=kind.startswith("Multi"),
            layer_options={"SPATIAL_INDEX": "NO" if frame.geometry.isna().any() or frame.empty else "YES"},
        )
    return Path(path)
