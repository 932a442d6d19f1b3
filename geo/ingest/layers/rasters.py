"""Terrain and depth raster of a region: units, datum and sign as declared, then one grid in the metric plane."""

from datetime import date
from typing import Any

import numpy as np
import shapely

from geo.base.grid import Grid
from geo.ingest.checks.report import FileReport, first_of
from geo.ingest.layers.bed_elevation import depths_below_levels
from geo.ingest.layers.reader import FileReader
from geo.ingest.layers.survey_quality import Uncertainty, declared_search, declared_uncertainty
from geo.ingest.layers.water import DEEPEST_M, HIGHEST_ELEVATION_M, LOWEST_ELEVATION_M
from geo.ingest.settings import UNIT_M, DepthRaster, RasterFile, Terrain
from geo.ingest.settings_file import UNDECLARED_DATUM
from geo.records.region import DepthGrid, RegionFrame, WaterBody

UNIT_WORDS = {
    "m": "metre", "metre": "metre", "meter": "metre", "metres": "metre", "meters": "metre",
    "ft": "foot", "foot": "foot", "feet": "foot", "us survey foot": "foot", "us_survey_foot": "foot",
}  # fmt: skip
SAME_DATUM = ("same", "same as region", "same as region's", "same as the region's")
WRONG_SIGN_SHARE = 0.5


def read_terrain(
    reader: FileReader, section: Terrain, frame: RegionFrame, bodies: tuple[WaterBody, ...]
) -> Grid | None:
    """Give the terrain [m above the region's vertical datum], None (with faults) when it cannot be used."""
    report = reader.report.about(section.file)
    factor = unit_factor(section, report)
    datum_fits = _check_datum(section.vertical_datum, frame.vertical_datum, report)
    answer = reader.read_raster(section, frame.crs_wkt)
    if answer is None or factor is None or not datum_fits or not unit_agrees(answer, section, report):
        return None
    grid = grid_of(answer, factor)
    low, high = float(np.nanmin(grid.values)), float(np.nanmax(grid.values))
    if low < LOWEST_ELEVATION_M or high > HIGHEST_ELEVATION_M:
        allowed = f"{LOWEST_ELEVATION_M:.0f} to {HIGHEST_ELEVATION_M:.0f} m"
        rule = f"heights from {low:.0f} to {high:.0f} m lie outside {allowed}"
        report.add("ask", rule, "declare nodata, or the true vertical_unit", field="terrain.nodata")
        return None
    return grid if not bodies or _check_cover(grid, bodies, report) else None


def read_depth_grid(
    reader: FileReader, section: DepthRaster, frame: RegionFrame, bodies: tuple[WaterBody, ...]
) -> DepthGrid | None:
    """Give the depth raster [m, positive down], None (with faults) when it cannot be used."""
    report = reader.report.about(section.file)
    factor, uncertainty = unit_factor(section, report), _declared_depths(section, report)
    answer = reader.read_raster(section, frame.crs_wkt)
    if answer is None or factor is None or section.positive is None or uncertainty is None:
        return None
    if not unit_agrees(answer, section, report):
        return None
    if section.reference == "vertical datum" and bodies:
        up = grid_of(answer, factor if section.positive == "up" else -factor)
        grid = depths_below_levels(up, bodies, report)
    else:
        grid = grid_of(answer, factor if section.positive == "down" else -factor)
    if not _check_depths(grid, bodies, report):
        return None
    a_m, b = uncertainty.quadrature_terms()
    origin, day = f"{section.file} ({uncertainty.origin})", _day(section.date, report)
    return DepthGrid(grid, a_m, b, origin, day, declared_search(section, report, section.key))


def _declared_depths(section: DepthRaster, report: FileReport) -> Uncertainty | None:
    """Ask for the sign and the uncertainty of the depths where they are not declared; give the uncertainty."""
    if section.positive is None:
        fix = 'declare positive = "down" or "up"'
        report.ask_for(section.key, "positive", "the sign of the depths", fix)
    uncertainty = declared_uncertainty(section, report)
    if uncertainty is None:
        fix = "declare survey_order, catzoc or uncertainty_a_m"
        report.ask_for(section.key, "survey_order", "the uncertainty of the depths", fix)
    return uncertainty


def unit_factor(section: RasterFile, report: FileReport) -> float | None:
    """Give the factor of a section's vertical unit into metres, None (with a fault) where it declares none."""
    if section.vertical_unit is not None:
        return UNIT_M[section.vertical_unit]
    fix = 'declare vertical_unit = "metre" or "foot"'
    report.ask_for(section.key, "vertical_unit", "the vertical unit", fix)
    return None


def unit_agrees(answer: dict[str, Any], section: RasterFile, report: FileReport) -> bool:
    """Say whether the unit in a raster file is the declared one, where it has any; report where it is not."""
    stated = UNIT_WORDS.get(str(answer["unit"]).strip().lower()) if answer["unit"] is not None else None
    if stated is None or stated == section.vertical_unit:
        return True
    rule = f"the file says its values are in {stated}, region.toml says {section.vertical_unit}"
    report.add("ask", rule, "mend the one that is wrong", field="vertical_unit", value=answer["unit"])
    return False


def _check_datum(declared: str | None, wanted: str, report: FileReport) -> bool:
    if wanted == UNDECLARED_DATUM and declared is not None:
        return True  # the region's own is asked for first
    if declared is not None and declared.strip().lower() in (*SAME_DATUM, wanted.strip().lower()):
        return True
    rule = "the vertical datum of the terrain is not declared"
    if declared is not None:
        rule = f"the terrain's vertical datum is not the region's ({wanted}), and heights are never shifted"
    fix = 'declare vertical_datum in [terrain] ("same" where it is the region\'s), or convert the terrain'
    report.add("ask", rule, fix, field="terrain.vertical_datum", value=declared)
    return False


def grid_of(answer: dict[str, Any], factor: float) -> Grid:
    """Give what the reading process answered as a grid, each value times a factor."""
    values = answer["values"] * np.float32(factor)
    return Grid(values, answer["west_m"], answer["north_m"], answer["cell_east_m"], answer["cell_north_m"])


def _check_cover(grid: Grid, bodies: tuple[WaterBody, ...], report: FileReport) -> bool:
    middles = shapely.point_on_surface([body.polygon for body in bodies])
    known = np.isfinite(grid.nearest(shapely.get_x(middles), shapely.get_y(middles)))
    missing = [body.body_id for body, there in zip(bodies, known, strict=True) if not there]
    if known.any():
        if missing:
            rule = f"no terrain at {len(missing)} of {len(bodies)} water bodies: {first_of(missing)}"
            report.add("caution", rule, "add terrain there; heights stay unknown")
        return True
    west, south, east, north = grid.bounds
    report.add(
        "refuse",
        "the terrain covers none of the water"
        f" (it lies at {west:.0f} to {east:.0f} m east, {south:.0f} to {north:.0f} m north of the water's centre)",
        "check both coordinate systems; longitude and latitude of one file may be swapped",
    )
    return False


def _check_depths(grid: Grid, bodies: tuple[WaterBody, ...], report: FileReport) -> bool:
    if np.isnan(grid.values).all():
        return False
    deepest = float(np.nanmax(grid.values))
    if deepest > DEEPEST_M:
        rule = f"a depth of {deepest:.0f} m is deeper than any ocean"
        report.add("ask", rule, "declare nodata or the true unit")
        return False
    if not bodies:
        return True
    inside = _depths_inside(grid, bodies)
    if inside.size == 0:
        report.add("caution", "the depth raster covers none of the water", "check its coordinate system")
        return True
    share = float((inside < 0).mean())
    if share > WRONG_SIGN_SHARE:
        report.add(
            "ask",
            f"{100 * share:.0f} % of the depths in the water are above it with the declared sign",
            'check positive = "down" or "up" in [depth_raster]; where the values are elevations of the bed, declare'
            ' positive = "up" and reference = "vertical datum"',
            field="depth_raster.positive",
        )
        return False
    return True


def _depths_inside(grid: Grid, bodies: tuple[WaterBody, ...]) -> np.ndarray:
    rows, columns = np.nonzero(np.isfinite(grid.values))
    keep = slice(None, None, max(1, len(rows) // 100_000))
    rows, columns = rows[keep], columns[keep]
    points = shapely.points(
        grid.west_m + (columns + 0.5) * grid.cell_east_m, grid.north_m - (rows + 0.5) * grid.cell_north_m
    )
    tree = shapely.STRtree([body.polygon for body in bodies])
    return grid.values[rows, columns][np.unique(tree.query(points, predicate="within")[0])]


def _day(value: date | str | None, report: FileReport) -> date | None:
    if value is None or isinstance(value, date):
        return value
    try:
        return date.fromisoformat(value)
    except ValueError:
        rule = "the date is no day in the form year-month-day"
        report.add("caution", rule, "mend it", field="date", value=value)
        return None
