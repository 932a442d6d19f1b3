"""Reads one raster band and brings it into the metric plane. Runs in the worker."""

from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from affine import Affine
from pyproj import CRS, Geod
from rasterio.enums import Resampling
from rasterio.vrt import WarpedVRT
from rasterio.warp import reproject, transform_bounds

from geo.ingest.files.crs_reading import to_degrees_from
from geo.ingest.files.file_kind import file_kind, other_name
from geo.ingest.files.nodata import HUGE
from geo.ingest.files.raster_band import Band, ascii_band, check_size, tiff_band
from geo.ingest.files.refusal import Refusal
from geo.ingest.files.shape_check import check_degrees

# How far a position may be off in the source raster; the library's 0.125 moved a tilted plane by 4 % of a cell.
WARP_TOLERANCE_CELLS = 0.01
GEODESIC = Geod(ellps="WGS84")


def read_raster(
    path: str,
    metric_wkt: str,
    crs: str | None = None,
    nodata: float | None = None,
    band: int = 1,
    bands: int = 1,
    highest: bool = False,
) -> dict[str, Any]:
    """Give one band (counted from 1) of a raster of so many bands in the metric plane, in the file's own unit and sign.

    Returns: values float32 (rows, columns) NaN where unknown, west_m, north_m, cell_east_m, cell_north_m, unit (as the
    file states it, or None), faults.

    Raises: Refusal when the raster has no place, another count of bands, too many cells, undeclared nodata, broken
    values.

    Notes: bilinear, or, where highest, the highest of all cells that a new one meets, unknown where any of them is;
    cells of about the source's ground resolution in each direction; nodata is masked before. A raster that is already
    in the metric CRS is taken as it is.
    """
    source = Path(path)
    kind = file_kind(source)
    ascii_grid = kind == "ASCII grid"
    if not ascii_grid and kind != "GeoTIFF":
        raise Refusal(f"the file is not a raster ({kind})", "use GeoTIFF or ASCII grid")
    if ascii_grid and bands != 1:
        raise Refusal("an ASCII grid holds one band", f"give a GeoTIFF of {bands} bands")
    read = ascii_band(source, crs, nodata) if ascii_grid else tiff_band(source, crs, nodata, band, bands)
    if not np.isfinite(read.values).any():
        raise Refusal("the raster has no known value", "export it again", value=f"{read.values.size} cells")
    grid = _in_plane(read, metric_wkt, highest)
    faults = [*read.faults, *other_name(source, kind), *to_degrees_from(read.crs).faults]
    return {**grid, "unit": read.unit, "kind": kind, "faults": faults}


def _ground_cell(band: Band) -> tuple[float, float]:
    """Give the size of the middle cell on the ground [m], east and north."""
    rows, columns = band.values.shape
    place = band.transform
    x, y = place.c + place.a * columns / 2, place.f + place.e * rows / 2
    steps = np.array([[x, y], [x + place.a, y], [x, y + place.e]])
    if band.crs.is_geographic:
        west, south, right, top = _bounds(band)
        check_degrees(np.array([[x, y] for y in (top, south) for x in (west, right)]))
    degrees = to_degrees_from(band.crs)(steps)
    if not np.isfinite(degrees).all():
        raise Refusal("the raster lies where its coordinate system has no meaning", "check its crs")
    east = GEODESIC.inv(*degrees[0], *degrees[1])[2]
    north = GEODESIC.inv(*degrees[0], *degrees[2])[2]
    return east, north


def _bounds(band: Band) -> tuple[float, float, float, float]:
    """Give west, south, east and north in the file's own coordinate system."""
    rows, columns = band.values.shape
    west, north = band.transform.c, band.transform.f
    return west, north + rows * band.transform.e, west + columns * band.transform.a, north


def _in_plane(band: Band, metric_wkt: str, highest: bool) -> dict[str, Any]:
    metric = CRS.from_wkt(metric_wkt)
    if band.crs.equals(metric, ignore_axis_order=True):
        own = band.transform
        return _grid(band.values.astype(np.float32), own.c, own.f, own.a, -own.e)
    cell_east, cell_north = _ground_cell(band)
    source_crs = band.crs.to_wkt()
    west, south, east, north = transform_bounds(source_crs, metric_wkt, *_bounds(band), densify_pts=21)
    columns, rows = int(np.ceil((east - west) / cell_east)), int(np.ceil((north - south) / cell_north))
    check_size(rows, columns, 1)
    target = Affine(cell_east, 0.0, west, 0.0, -cell_north, north)
    place = {"crs": metric_wkt, "transform": target, "width": columns, "height": rows}
    values = _warped(band, source_crs, place, highest)
    return _grid(values, west, north, cell_east, cell_north)


def _grid(
    values: np.ndarray, west: float, north: float, cell_east: float, cell_north: float
) -> dict[str, Any]:
    frame = {"west_m": west, "north_m": north, "cell_east_m": cell_east, "cell_north_m": cell_north}
    return {"values": values, **{name: float(value) for name, value in frame.items()}}


def _warped(band: Band, source_crs: str, target: dict[str, Any], highest: bool) -> np.ndarray:
    # The highest of anything and an unknown is unknown: it goes in as higher than any height.
    known = np.where(np.isnan(band.values), HUGE, band.values) if highest else band.values
    values = _over_the_antimeridian(band, known, source_crs, target, highest)
    if values is None:
        values = _viewed(known, band.transform, source_crs, target, highest)
    return np.where(values >= 0.5 * HUGE, np.nan, values) if highest else values


def _viewed(
    known: np.ndarray, transform: Affine, source_crs: str, target: dict[str, Any], highest: bool
) -> np.ndarray:
    # Through a warped view because only that lets the error of the approximated transformation be set.
    rows, columns = known.shape
    stored = {"driver": "GTiff", "height": rows, "width": columns, "count": 1, "dtype": "float32"}
    chosen = Resampling.max if highest else Resampling.bilinear
    how = {"resampling": chosen, "nodata": np.nan, "tolerance": WARP_TOLERANCE_CELLS}
    with rasterio.MemoryFile() as memory:
        with memory.open(**stored, nodata=np.nan, crs=source_crs, transform=transform) as dataset:
            dataset.write(known.astype(np.float32), 1)
        with memory.open() as dataset, WarpedVRT(dataset, **target, **how) as view:
            return view.read(1)


def _over_the_antimeridian(
    band: Band, known: np.ndarray, source_crs: str, target: dict[str, Any], highest: bool
) -> np.ndarray | None:
    """Give the values of a raster in degrees that reaches beyond longitude -180 or 180; None for every other.

    Notes: the view looks for its places from -180 to 180 and finds nothing beyond. Bilinear, the raster is laid whole
    at each turn of the Earth, so that both sides have their neighbours across; the highest of cells that straddle the
    antimeridian is only found by the warper that turns longitudes about the raster's middle.
    """
    west, _, east, _ = _bounds(band)
    if not band.crs.is_geographic or (west >= -180.0 and east <= 180.0):
        return None
    if highest:
        values = np.full((target["height"], target["width"]), np.nan, np.float32)
        place = {"src_transform": band.transform, "src_crs": source_crs, "src_nodata": np.nan}
        place |= {"dst_transform": target["transform"], "dst_crs": target["crs"], "dst_nodata": np.nan}
        reproject(known.astype(np.float32), values, **place, resampling=Resampling.max)
        return values
    a, b, c, d, e, f = band.transform[:6]
    found = [
        _viewed(known, Affine(a, b, c + turn, d, e, f), source_crs, target, highest)
        for turn in (-360.0, 0.0, 360.0)
        if west + turn < 180.0 and east + turn > -180.0
    ]
    values = found[0]
    for more in found[1:]:
        values = np.where(np.isnan(values), more, values)
    return values
