"""Canopy raster of a region: how high trees stand above the terrain, in metres, on its own grid in the metric plane."""

import numpy as np
import shapely
from rasterio.features import rasterize
from rasterio.transform import Affine

from geo.base.grid import Grid
from geo.ingest.checks.report import FileReport, first_of
from geo.ingest.layers.rasters import grid_of, unit_agrees, unit_factor
from geo.ingest.layers.reader import FileReader
from geo.ingest.settings import Canopy
from geo.records.region import TALLEST_TREE_M, RegionFrame, WaterBody

# Trees within this of a water can stand under a surface beyond a run's end: the survey looks 1,500 m far.
NEAR_M = 1500.0


def read_canopy(
    reader: FileReader,
    section: Canopy,
    frame: RegionFrame,
    bodies: tuple[WaterBody, ...],
    *,
    has_terrain: bool,
) -> Grid | None:
    """Give the canopy heights [m above the terrain, NaN unknown], None (with faults) when they cannot be used.

    Notes: a file that says nothing of cells wholly in a water of the region is taken to mean that no trees stand there;
    everywhere else what it does not say stays unknown.
    """
    report = reader.report.about(section.file)
    factor = unit_factor(section, report)
    answer = reader.read_raster(section, frame.crs_wkt, highest=True)
    if answer is None or factor is None or not unit_agrees(answer, section, report):
        return None
    grid = grid_of(answer, factor)
    if not _heights_fit(grid, report):
        return None
    if not has_terrain:
        report.add("caution", "canopy heights stand on no terrain and are not used", "give [terrain] as well")
    grid = _bare_water(grid, bodies)
    _check_cover(grid, bodies, report)
    return grid


def _heights_fit(grid: Grid, report: FileReport) -> bool:
    low, high = float(np.nanmin(grid.values)), float(np.nanmax(grid.values))
    if low >= 0.0 and high <= TALLEST_TREE_M:
        return True
    allowed = f"0 to {TALLEST_TREE_M:.0f} m above the terrain"
    rule = f"canopy heights from {low:.0f} to {high:.0f} m lie outside {allowed}"
    fix = "declare nodata, the true vertical_unit, or give heights above the ground and not elevations"
    report.add("ask", rule, fix, field="canopy.nodata")
    return False


def _bare_water(grid: Grid, bodies: tuple[WaterBody, ...]) -> Grid:
    """Give the canopy with 0 m where it is unknown and a cell lies wholly in a water."""
    if not bodies or not np.isnan(grid.values).any():
        return grid
    place = Affine(grid.cell_east_m, 0, grid.west_m, 0, -grid.cell_north_m, grid.north_m)
    shapes = [(body.polygon, 1) for body in bodies] + [(body.polygon.boundary, 0) for body in bodies]
    wet = rasterize(shapes, grid.values.shape, transform=place, all_touched=True, dtype="uint8")
    values = np.where((wet == 1) & np.isnan(grid.values), 0.0, grid.values)
    return Grid(values, grid.west_m, grid.north_m, grid.cell_east_m, grid.cell_north_m)


def _check_cover(grid: Grid, bodies: tuple[WaterBody, ...], report: FileReport) -> None:
    """Caution where trees near a water are unknown."""
    missing = [body.body_id for body in bodies if not _known_round(grid, body.polygon)]
    if missing:
        where = f"within {NEAR_M:.0f} m of {len(missing)} of {len(bodies)} water bodies"
        fix = "add canopy there (0 where nothing grows); what is not given stays unknown, and ends of runs with it"
        report.add("caution", f"canopy height is not known everywhere {where}: {first_of(missing)}", fix)


def _known_round(grid: Grid, water: shapely.Polygon) -> bool:
    west, south, east, north = water.bounds
    rows, columns = grid.values.shape
    left = int(np.floor((west - NEAR_M - grid.west_m) / grid.cell_east_m))
    right = int(np.ceil((east + NEAR_M - grid.west_m) / grid.cell_east_m))
    top = int(np.floor((grid.north_m - north - NEAR_M) / grid.cell_north_m))
    bottom = int(np.ceil((grid.north_m - south + NEAR_M) / grid.cell_north_m))
    if left < 0 or top < 0 or right > columns or bottom > rows:
        return False
    return not bool(np.isnan(grid.values[top:bottom, left:right]).any())
