"""A region of two small lakes on a flat plain, invented, at 47 S 128 W: surveyed in about a second."""

import json

import numpy as np
import rasterio
from affine import Affine

# Two rectangles of water, west to east, in degrees; 0.012 degrees of longitude are about 910 m here. L1 has room for a
# run and, before its shore, for the way on which a loaded aircraft gathers speed; L2 has not.
LAKES = {"L1": (-128.028, -47.010, -128.008, -47.006), "L2": (-127.98, -47.010, -127.968, -47.006)}
FIRE = (-128.004, -46.996, -128.0, -46.993)
CENTRE = (-128.0, -47.0)


def _ring(box):
    west, south, east, north = box
    return [[[west, south], [east, south], [east, north], [west, north], [west, south]]]


def _collection(features):
    return json.dumps(
        {
            "type": "FeatureCollection",
            "features": [
                {
                    "type": "Feature",
                    "properties": properties,
                    "geometry": {"type": "Polygon", "coordinates": _ring(box)},
                }
                for properties, box in features
            ],
        }
    )


def write_tiny_region(folder):
    """Write the region's folder. L1 and L2 lie at 100 m, 6 m deep at most, their levels known."""
    folder.mkdir(parents=True)
    lakes = [
        (
            {"id": name, "name": f"Lake {name}", "kind": "lake", "datum_m": 100.0, "now_m": 100.0, "deep_m": 6.0,
             "deep_sd_m": 0.3, "salt": "fresh", "salt_seen": "2026-01-10"},
            box,
        )
        for name, box in LAKES.items()
    ]  # fmt: skip
    (folder / "lakes.geojson").write_text(_collection(lakes))
    (folder / "fires.geojson").write_text(_collection([({"id": "F1", "name": "Dry Hill"}, FIRE)]))
    heights = np.full((240, 320), 102.0, np.float32)
    with rasterio.open(
        folder / "terrain.tif", "w", driver="GTiff", width=320, height=240, count=1, dtype="float32",
        crs="EPSG:4326", transform=Affine(0.0004, 0.0, -128.064, 0.0, -0.0004, -46.952), nodata=-9999,
    ) as raster:  # fmt: skip
        raster.write(heights, 1)
    (folder / "region.toml").write_text(
        """name = "Two lakes (invented)"
vertical_datum = "made datum"
[water]
file = "lakes.geojson"
vertical_unit = "metre"
[water.columns]
id = "id"
name = "name"
kind = "kind"
depth_level = "datum_m"
current_level = "now_m"
stated_depth = "deep_m"
stated_depth_sd = "deep_sd_m"
salinity_class = "salt"
salinity_date = "salt_seen"
[terrain]
file = "terrain.tif"
vertical_unit = "metre"
vertical_datum = "made datum"
error_m = 0.5
[station]
name = "Plain gauge"
elevation = 102.0
vertical_unit = "metre"
[fires]
file = "fires.geojson"
[fires.columns]
id = "id"
name = "name"
"""
    )
    return folder
