"""One layer of a file, written by GDAL with the geometry type that the layer always has."""

from pathlib import Path
from typing import Any

import geopandas
import pyogrio

GEOMETRY_TYPES = {
    "ranked": "Point",
    "hover_points": "Point",
    "hover_sectors": "Point",
    "sites": "Point",
    "runs": "MultiLineString",
    "legs": "MultiLineString",
    "survey_runs": "MultiLineString",
    "supply": "MultiLineString",
    "water": "MultiPolygon",
}


def write_layer(path: Path, name: str, frame: geopandas.GeoDataFrame, driver: str, **options: Any) -> None:
    """Write one layer (EPSG:4326), `name` of GEOMETRY_TYPES; options as `pyogrio.write_dataframe` has them.

    Raises: OSError or pyogrio's error when the disk refuses.
    """
    kind = GEOMETRY_TYPES[name]
    pyogrio.write_dataframe(
        frame,
        path,
        layer=name,
        driver=driver,
        geometry_type=kind,
        promote_to_multi=kind.startswith("Multi"),
        **options,
    )
