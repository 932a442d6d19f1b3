"""Writes small region folders for the tests of ingest. All places are in open ocean and invented."""

import hashlib
from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
import shapely
from affine import Affine

LAKE = shapely.box(-30.02, -40.01, -30.00, -40.00)
POND = shapely.box(-29.96, -40.05, -29.955, -40.046)
HEAD = 'name = "Test"\nvertical_datum = "Test datum"\n'
WATER = '[water]\nfile = "water.gpkg"\n'
TERRAIN = '[terrain]\nfile = "dem.tif"\nvertical_unit = "metre"\nvertical_datum = "same"\n'
SOUNDINGS = (
    '[soundings]\nfile = "s.csv"\ncrs = "EPSG:4326"\nunit = "metre"\npositive = "down"\nsurvey_order = "1a"\n'
    '[soundings.columns]\nlongitude = "lon"\nlatitude = "lat"\ndepth = "depth"\n'
)


def frame_of(shapes, crs="EPSG:4326", **columns) -> gpd.GeoDataFrame:
    """Give a frame of shapes and columns."""
    return gpd.GeoDataFrame(columns, geometry=list(shapes), crs=crs)


def write_region(
    folder: Path, toml: str = HEAD + WATER, shapes=(LAKE, POND), crs="EPSG:4326", **columns
) -> Path:
    """Write region.toml and water.gpkg and give the folder."""
    (folder / "region.toml").write_text(toml)
    frame_of(shapes, crs, **columns).to_file(folder / "water.gpkg", layer="water")
    return folder


def write_dem(
    path: Path, values: np.ndarray, west=-30.1, north=-39.95, cell=0.001, crs="EPSG:4326", **profile
) -> Path:
    """Write a one-band GeoTIFF."""
    scale, unit = profile.pop("scale", None), profile.pop("unit", None)
    rows, columns = values.shape[-2:]
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=rows,
        width=columns,
        count=1 if values.ndim == 2 else len(values),
        dtype=values.dtype,
        crs=crs,
        transform=Affine(cell, 0.0, west, 0.0, -cell, north),
        **profile,
    ) as dataset:
        dataset.write(values if values.ndim == 3 else values[None])
        if scale is not None:
            dataset.scales, dataset.offsets = (scale[0],), (scale[1],)
        if unit is not None:
            dataset.units = (unit,)
    return path


def plain_dem(low: float = 10.0, rows: int = 150, columns: int = 200) -> np.ndarray:
    """Give a tilted plane of heights."""
    return (low + np.add.outer(0.5 * np.arange(rows), 0.2 * np.arange(columns))).astype("float32")


def comb(teeth: int, west: float = -30.02, south: float = -40.01, size: float = 0.01) -> shapely.Polygon:
    """Give one ring whose two zigzags cross about teeth^2 times."""
    along = np.linspace(0.01, 0.99, 2 * teeth)
    upright = [(x, 0.0 if k % 4 in (0, 3) else 1.0) for k, x in enumerate(along)]
    level = [(1.05 if k % 4 in (0, 3) else -0.05, y) for k, y in enumerate(along[::-1])]
    ring = np.array(upright + level)
    return shapely.Polygon(ring * size + [west, south])


def snapshot(folder: Path) -> dict[str, str]:
    """Give the files of a folder with the hash of each."""
    return {
        one.relative_to(folder).as_posix(): hashlib.sha256(one.read_bytes()).hexdigest()
        for one in sorted(folder.rglob("*"))
        if one.is_file()
    }
