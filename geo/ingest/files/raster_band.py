"""One band of a raster as its file has it: values, place, coordinate system and unit. Runs in the worker."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import rasterio
from affine import Affine
from pyproj import CRS
from rasterio.enums import ColorInterp

from geo.ingest.files.ascii_grid import read_ascii_grid
from geo.ingest.files.crs_reading import settle_crs
from geo.ingest.files.nodata import mask_nodata
from geo.ingest.files.refusal import Note, Refusal, caution

MAX_CELLS = 100_000_000


@dataclass(frozen=True)
class Band:
    """One band as read: values with NaN where unknown, north up, and its georeference."""

    values: np.ndarray
    transform: Affine
    crs: CRS
    unit: str | None
    faults: list[Note]


def check_size(rows: int, columns: int, bands: int) -> None:
    """Hold a raster's size against the limit. Raises: Refusal."""
    if rows * columns * bands > MAX_CELLS:
        rule = f"the raster has {rows} x {columns} x {bands} cells; the limit is {MAX_CELLS}"
        raise Refusal(rule, "cut it down to the region", value=rows * columns * bands)


def _check_dataset(dataset: rasterio.DatasetReader, bands: int) -> None:
    check_size(dataset.height, dataset.width, dataset.count)
    kind = np.dtype(dataset.dtypes[0]) if not dataset.dtypes[0].startswith("complex") else np.dtype(complex)
    coloured = dataset.colorinterp[0] in (ColorInterp.red, ColorInterp.palette)
    if dataset.count != bands or kind.kind not in "iuf" or coloured:
        rule, fix = "heights or depths need one plain numeric band", "export the single band of values"
        if bands > 1:
            rule, fix = "winds need two plain bands, u and v", "export u and v as the two bands of one file"
        rule += "; this is a picture or has several or complex bands"
        raise Refusal(rule, fix, value=f"{dataset.count} bands of {dataset.dtypes[0]}")
    place = dataset.transform
    if place.is_identity or place.a == 0 or place.e == 0:
        rule = "the raster does not say where it lies (no georeference in the file; world files are not read)"
        raise Refusal(rule, "write the georeference into the GeoTIFF")
    if place.b != 0 or place.d != 0:
        raise Refusal("the raster is rotated", "warp it to north up", value=f"{place.b:g}, {place.d:g}")


def tiff_band(
    source: Path, declared_crs: str | None, declared_nodata: float | None, band: int, bands: int
) -> Band:
    """Give one band (counted from 1) of a GeoTIFF of so many bands.

    Raises: Refusal for another count of bands, a picture, no place or a turned one, and as `mask_nodata`.
    """
    with rasterio.open(source, driver="GTiff") as dataset:
        _check_dataset(dataset, bands)
        carried = dataset.crs.to_wkt(version="WKT2_2019") if dataset.crs is not None else None
        crs = settle_crs(carried, declared_crs)
        raw = dataset.read(band)
        values = raw.astype(np.float32 if raw.dtype.itemsize <= 2 or raw.dtype == np.float32 else np.float64)
        faults = mask_nodata(values, dataset.nodata, declared_nodata)
        scale, offset = dataset.scales[band - 1], dataset.offsets[band - 1]
        if scale != 1.0 or offset != 0.0:
            values = values * scale + offset
            faults.append(caution(f"scale {scale:g} and offset {offset:g} of the file were applied", "check"))
        unit = dataset.units[band - 1] or vertical_unit(carried)
        return _north_up(values, dataset.transform, crs, unit, faults)


def vertical_unit(crs_text: str | None) -> str | None:
    """Name the unit of the heights in a compound CRS, None where it has none."""
    if crs_text is None or not (crs := CRS.from_wkt(crs_text)).is_compound:
        return None
    return crs.sub_crs_list[1].axis_info[0].unit_name


def _north_up(values: np.ndarray, place: Affine, crs: CRS, unit: str | None, faults: list[Note]) -> Band:
    if place.a < 0:
        raise Refusal("the raster runs from east to west", "warp it to north up", value=place.a)
    if place.e > 0:
        faults.append(caution("the raster is stored from south to north; it was turned", "store it north up"))
        values = values[::-1]
        place = Affine(place.a, 0.0, place.c, 0.0, -place.e, place.f + place.e * values.shape[0])
    return Band(np.ascontiguousarray(values), place, crs, unit or None, faults)


def ascii_band(source: Path, declared_crs: str | None, declared_nodata: float | None) -> Band:
    """Give the band of an ASCII grid. Raises: Refusal as `read_ascii_grid` and `mask_nodata`."""
    grid = read_ascii_grid(source)
    crs = settle_crs(grid.crs_text, declared_crs)
    faults = mask_nodata(grid.values, grid.nodata, declared_nodata)
    if grid.decimal_comma:
        faults.append(caution("numbers with decimal comma were read as such", "check a few"))
    place = Affine(grid.cell_x, 0.0, grid.west, 0.0, -grid.cell_y, grid.north)
    return Band(grid.values, place, crs, None, faults)
