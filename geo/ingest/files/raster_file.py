"""Reads one raster band and brings it into the metric plane. Runs in the worker."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
import rasterio.warp
from affine import Affine
from pyproj import CRS, Geod
from rasterio.enums import ColorInterp, Resampling
from rasterio.vrt import WarpedVRT

from geo.ingest.files.ascii_grid import read_ascii_grid
from geo.ingest.files.crs_reading import settle_crs, to_degrees_from
from geo.ingest.files.file_kind import file_kind, other_name
from geo.ingest.files.refusal import Refusal, note
from geo.ingest.files.shape_check import check_degrees

MAX_CELLS = 100_000_000
SUSPECT_NODATA = (-9999.0, -32768.0, -32767.0, -999.0, -99999.0, 9999.0, 32767.0, 65535.0)
HUGE = 1e19
# How far a position may be off in the source raster; the library's 0.125 moved a tilted plane by 4 % of a cell.
WARP_TOLERANCE_CELLS = 0.01
GEODESIC = Geod(ellps="WGS84")


@dataclass(frozen=True)
class Band:
    """One band as read: values with NaN where unknown, north up, and its georeference."""

    values: np.ndarray
    transform: Affine
    crs: CRS
    unit: str | None
    faults: list[dict[str, Any]]


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
    if kind not in ("GeoTIFF", "ASCII grid"):
        raise Refusal(f"the file is not a raster ({kind})", "use GeoTIFF or ASCII grid")
    if kind == "ASCII grid" and bands != 1:
        raise Refusal("an ASCII grid holds one band", f"give a GeoTIFF of {bands} bands")
    ascii_grid = kind == "ASCII grid"
    read = _ascii_band(source, crs, nodata) if ascii_grid else _tiff_band(source, crs, nodata, band, bands)
    faults = list(read.faults)
    renamed = other_name(source, kind)
    if renamed is not None:
        faults.append(note("caution", renamed, "name it by what it is"))
    if not np.isfinite(read.values).any():
        raise Refusal("the raster has no known value", "export it again", value=f"{read.values.size} cells")
    grid = _in_plane(read, metric_wkt, highest)
    return {**grid, "unit": read.unit, "kind": kind, "faults": [*faults, *to_degrees_from(read.crs).faults]}


def _check_size(rows: int, columns: int, bands: int) -> None:
    if rows * columns * bands > MAX_CELLS:
        raise Refusal(
            f"the raster has {rows} x {columns} x {bands} cells; the limit is {MAX_CELLS}",
            "cut it down to the region",
            value=rows * columns * bands,
        )


def _check_dataset(dataset: rasterio.DatasetReader, bands: int) -> None:
    _check_size(dataset.height, dataset.width, dataset.count)
    kind = np.dtype(dataset.dtypes[0]) if not dataset.dtypes[0].startswith("complex") else np.dtype(complex)
    coloured = dataset.colorinterp[0] in (ColorInterp.red, ColorInterp.palette)
    if dataset.count != bands or kind.kind not in "iuf" or coloured:
        rule, cure = "heights or depths need one plain numeric band", "export the single band of values"
        if bands > 1:
            rule, cure = "winds need two plain bands, u and v", "export u and v as the two bands of one file"
        raise Refusal(
            f"{rule}; this is a picture or has several or complex bands",
            cure,
            value=f"{dataset.count} bands of {dataset.dtypes[0]}",
        )
    place = dataset.transform
    if place.is_identity or place.a == 0 or place.e == 0:
        raise Refusal(
            "the raster does not say where it lies (no georeference in the file; world files are not read)",
            "write the georeference into the GeoTIFF",
        )
    if place.b != 0 or place.d != 0:
        raise Refusal("the raster is rotated", "warp it to north up", value=f"{place.b:g}, {place.d:g}")


def _tiff_band(
    source: Path, declared_crs: str | None, declared_nodata: float | None, band: int, bands: int
) -> Band:
    with rasterio.open(source, driver="GTiff") as dataset:
        _check_dataset(dataset, bands)
        carried = dataset.crs.to_wkt(version="WKT2_2019") if dataset.crs is not None else None
        crs = settle_crs(carried, declared_crs)
        raw = dataset.read(band)
        values = raw.astype(np.float32 if raw.dtype.itemsize <= 2 or raw.dtype == np.float32 else np.float64)
        faults = _mask(values, dataset.nodata, declared_nodata)
        scale, offset = dataset.scales[band - 1], dataset.offsets[band - 1]
        if scale != 1.0 or offset != 0.0:
            values = values * scale + offset
            faults.append(
                note("caution", f"scale {scale:g} and offset {offset:g} of the file were applied", "check")
            )
        return _north_up(
            values, dataset.transform, crs, dataset.units[band - 1] or vertical_unit(carried), faults
        )


def vertical_unit(crs_text: str | None) -> str | None:
    """Name the unit of the heights in a compound CRS, None where it has none."""
    if crs_text is None or not (crs := CRS.from_wkt(crs_text)).is_compound:
        return None
    return crs.sub_crs_list[1].axis_info[0].unit_name


def _north_up(
    values: np.ndarray, place: Affine, crs: CRS, unit: str | None, faults: list[dict[str, Any]]
) -> Band:
    if place.a < 0:
        raise Refusal("the raster runs from east to west", "warp it to north up", value=place.a)
    if place.e > 0:
        faults.append(
            note("caution", "the raster is stored from south to north; it was turned", "store it north up")
        )
        values = values[::-1]
        place = Affine(place.a, 0.0, place.c, 0.0, -place.e, place.f + place.e * values.shape[0])
    return Band(np.ascontiguousarray(values), place, crs, unit or None, faults)


def _ascii_band(source: Path, declared_crs: str | None, declared_nodata: float | None) -> Band:
    grid = read_ascii_grid(source)
    crs = settle_crs(grid.crs_text, declared_crs)
    faults = _mask(grid.values, grid.nodata, declared_nodata)
    if grid.decimal_comma:
        faults.append(note("caution", "numbers with decimal comma were read as such", "check a few"))
    place = Affine(grid.cell_x, 0.0, grid.west, 0.0, -grid.cell_y, grid.north)
    return Band(grid.values, place, crs, None, faults)


def _mask(values: np.ndarray, carried: float | None, declared: float | None) -> list[dict[str, Any]]:
    """Set nodata to NaN in place; give cautions. Raises Refusal (ask) when nodata is undeclared or contradictory."""
    faults = []
    if carried is not None and declared is not None and not _same(carried, declared):
        raise Refusal(
            f"the file says nodata {carried:g}, region.toml says {declared:g}",
            "remove nodata from region.toml, or mend the file",
            "ask",
            field="nodata",
        )
    nodata = carried if carried is not None else declared
    if nodata is not None and np.isfinite(nodata):
        masked = values == np.asarray(nodata).astype(values.dtype)
        values[masked] = np.nan
        if nodata == 0 and masked.any():
            faults.append(
                note(
                    "caution",
                    f"nodata is 0: {int(masked.sum())} cells at sea level count as unknown",
                    "use -9999",
                )
            )
    elif np.isnan(values).any() and nodata is None:
        count = int(np.isnan(values).sum())
        faults.append(
            note("caution", f"{count} cells are not numbers; they count as unknown", "declare nodata")
        )
    values[np.isinf(values)] = np.nan
    _ask_about_suspects(values)
    return faults


def _ask_about_suspects(values: np.ndarray) -> None:
    for suspect in [*SUSPECT_NODATA, *_huge(values)]:
        count = int((values == suspect).sum())
        if count and _stands_alone(values, suspect):
            raise Refusal(
                f"{count} cells hold {suspect:g} and nodata is not declared as that",
                f"declare nodata = {suspect:g} if they are unknown, or remove them",
                "ask",
                field="nodata",
                value=f"{suspect:g}",
            )


def _huge(values: np.ndarray) -> list[float]:
    with np.errstate(invalid="ignore"):
        return [float(one) for one in np.unique(values[np.abs(values) > HUGE])[:3]]


def _stands_alone(values: np.ndarray, suspect: float) -> bool:
    """True when no other value lies within 5 % of the suspect: real ground has neighbours in height."""
    with np.errstate(invalid="ignore"):
        distance = np.abs(values[(values != suspect) & np.isfinite(values)] - suspect)
    return distance.size == 0 or float(distance.min()) > 0.05 * abs(suspect)


def _same(one: float, other: float) -> bool:
    return one == other or (np.isnan(one) and np.isnan(other)) or np.float32(one) == np.float32(other)


def _ground_cell(band: Band) -> tuple[float, float]:
    """Give the size of the middle cell on the ground [m], east and north."""
    rows, columns = band.values.shape
    place = band.transform
    x, y = place.c + place.a * columns / 2, place.f + place.e * rows / 2
    steps = np.array([[x, y], [x + place.a, y], [x, y + place.e]])
    if band.crs.is_geographic:
        check_degrees(_corners(band))
    degrees = to_degrees_from(band.crs)(steps)
    if not np.isfinite(degrees).all():
        raise Refusal("the raster lies where its coordinate system has no meaning", "check its crs")
    east = GEODESIC.inv(*degrees[0], *degrees[1])[2]
    north = GEODESIC.inv(*degrees[0], *degrees[2])[2]
    return east, north


def _corners(band: Band) -> np.ndarray:
    rows, columns = band.values.shape
    west, north = band.transform.c, band.transform.f
    east, south = west + columns * band.transform.a, north + rows * band.transform.e
    return np.array([[west, north], [east, north], [west, south], [east, south]])


def _in_plane(band: Band, metric_wkt: str, highest: bool) -> dict[str, Any]:
    metric = CRS.from_wkt(metric_wkt)
    if band.crs.equals(metric, ignore_axis_order=True):
        place = band.transform
        return _grid(band.values.astype(np.float32), place.c, place.f, place.a, -place.e)
    cell_east, cell_north = _ground_cell(band)
    corners = _corners(band)
    bounds = (corners[0, 0], corners[2, 1], corners[1, 0], corners[0, 1])
    source_crs, target_crs = band.crs.to_wkt(), metric_wkt
    west, south, east, north = rasterio.warp.transform_bounds(source_crs, target_crs, *bounds, densify_pts=21)
    columns, rows = int(np.ceil((east - west) / cell_east)), int(np.ceil((north - south) / cell_north))
    _check_size(rows, columns, 1)
    target = Affine(cell_east, 0.0, west, 0.0, -cell_north, north)
    place = {"crs": target_crs, "transform": target, "width": columns, "height": rows}
    values = _warped(band, source_crs, place, highest)
    return _grid(values, west, north, cell_east, cell_north)


def _grid(
    values: np.ndarray, west: float, north: float, cell_east: float, cell_north: float
) -> dict[str, Any]:
    return {
        "values": values,
        "west_m": float(west),
        "north_m": float(north),
        "cell_east_m": float(cell_east),
        "cell_north_m": float(cell_north),
    }


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
    stored = {
        "driver": "GTiff",
        "height": rows,
        "width": columns,
        "count": 1,
        "dtype": "float32",
        "nodata": np.nan,
    }
    way = Resampling.max if highest else Resampling.bilinear
    how = {"resampling": way, "nodata": np.nan, "tolerance": WARP_TOLERANCE_CELLS}
    with rasterio.MemoryFile() as memory:
        with memory.open(**stored, crs=source_crs, transform=transform) as dataset:
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
    west, east = _corners(band)[:2, 0]
    if not band.crs.is_geographic or (west >= -180.0 and east <= 180.0):
        return None
    if highest:
        values = np.full((target["height"], target["width"]), np.nan, np.float32)
        place = {"src_transform": band.transform, "src_crs": source_crs, "src_nodata": np.nan}
        place |= {"dst_transform": target["transform"], "dst_crs": target["crs"], "dst_nodata": np.nan}
        rasterio.warp.reproject(known.astype(np.float32), values, **place, resampling=Resampling.max)
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
