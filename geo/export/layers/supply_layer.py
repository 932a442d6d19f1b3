"""The fire's edge in stretches by their best source, as a map layer in WGS 84."""

from collections.abc import Sequence
from dataclasses import asdict

import geopandas

from geo.export.layers.ranked_layer import Row, layer
from geo.records.aircraft import METHOD_NAMES
from geo.records.extras import Stretch
from geo.records.geographic_shapes import geographic
from geo.records.region import RegionFrame


def supply_frame(supply: Sequence[Stretch], frame: RegionFrame) -> geopandas.GeoDataFrame:
    """Give the stretches as EPSG:4326 lines: the layer supply, with no row where none was asked for."""
    rows: list[Row] = []
    for stretch in supply:
        row = asdict(stretch)
        del row["line"]
        row["method"] = None if stretch.method is None else METHOD_NAMES[stretch.method]
        rows.append(row)
    return layer(rows, [geographic(stretch.line, frame) for stretch in supply], "supply")
