"""Make the demo region: an invented island group in open ocean, with everything that a planner's files would hold.

    python demo_region/make_demo_region.py            write the files beside this script
    python demo_region/make_demo_region.py --check    say whether the committed files hold what a new run makes

The same seed gives the same islands. Text files are compared byte for byte, GeoPackage, FlatGeobuf and GeoTIFF by
content: positions to 0.02 m, heights and depths to 0.13 m, every other value exactly.
"""

import argparse
import sys
import tempfile
from pathlib import Path

import evidence
import files
import islands
import numpy as np
import pyogrio
import rasterio
import terrain

HERE = Path(__file__).resolve().parent
RASTERS = ("terrain.tif", "bay_depths.tif")
LAYERS = ("waters.gpkg", "obstacles.fgb")
TEXTS = (
    "soundings.csv", "lake_map.geojson", "sea_chart.geojson", "sites.kml", "closures.geojson", "fires.geojson",
    "fill_stations.geojson",
)  # fmt: skip


def write(folder: Path) -> None:
    """Write every generated file of the region into `folder`."""
    world = islands.make()
    rng = np.random.default_rng(terrain.SEED + 1)
    north_m = terrain.ROWS * terrain.CELL_M
    files.write_raster(folder / "terrain.tif", world.height_m, 0.0, north_m, terrain.CELL_M, None)
    files.write_waters(folder / "waters.gpkg", world.waters)
    files.write_csv(folder / "soundings.csv", evidence.soundings(world, rng))
    depths, west_m, north_m = evidence.bay_depths(world)
    files.write_raster(
        folder / "bay_depths.tif", depths, west_m, north_m, evidence.BAY_CELL_M, evidence.NO_DEPTH
    )
    files.write_geojson(folder / "lake_map.geojson", evidence.contours(world))
    files.write_geojson(folder / "sea_chart.geojson", evidence.chart_areas(world))
    files.write_flatgeobuf(folder / "obstacles.fgb", evidence.obstacles(world))
    files.write_geojson(folder / "closures.geojson", evidence.closures(world))
    files.write_kml(folder / "sites.kml", evidence.sites(world))
    files.write_geojson(folder / "fires.geojson", evidence.fires(rng))
    files.write_geojson(folder / "fill_stations.geojson", evidence.fill_stations())


def differences(made: Path, committed: Path) -> list[str]:
    """Give one sentence for every file that does not hold what it should."""
    found = []
    for name in (*RASTERS, *LAYERS, *TEXTS):
        if not (committed / name).exists():
            found.append(f"{name} is missing")
        elif name in RASTERS and not _same_raster(made / name, committed / name):
            found.append(f"{name} holds other cells")
        elif name in LAYERS and not _same_layer(made / name, committed / name):
            found.append(f"{name} holds other features")
        elif name in TEXTS and (made / name).read_bytes() != (committed / name).read_bytes():
            found.append(f"{name} holds other text")
    return found


def _same_raster(one: Path, other: Path) -> bool:
    with rasterio.open(one) as a, rasterio.open(other) as b:
        if (a.crs, a.transform, a.shape, a.nodata) != (b.crs, b.transform, b.shape, b.nodata):
            return False
        return bool(np.allclose(a.read(1), b.read(1), rtol=0.0, atol=0.13))


def _same_layer(one: Path, other: Path) -> bool:
    a, b = pyogrio.read_dataframe(one), pyogrio.read_dataframe(other)
    if a.crs != b.crs or not a.drop(columns="geometry").equals(b.drop(columns="geometry")):
        return False
    return bool(a.geometry.geom_equals_exact(b.geometry, 0.02).all())


def main() -> int:
    """Write or check the files; 1 when a check finds a difference."""
    parser = argparse.ArgumentParser(
        description="Make the files of the demo region, or check the committed ones."
    )
    parser.add_argument("--check", action="store_true", help="compare the committed files with a new run")
    if not parser.parse_args().check:
        write(HERE)
        return 0
    with tempfile.TemporaryDirectory() as folder:
        write(Path(folder))
        found = differences(Path(folder), HERE)
    print("\n".join(found) if found else "the committed files hold what a new run makes")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
