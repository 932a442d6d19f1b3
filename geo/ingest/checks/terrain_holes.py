"""Where the terrain is unknown between the water, the fires and the base: no leg can be cleared there."""

from dataclasses import dataclass

import numpy as np
import shapely
from scipy import ndimage

from geo.base.geodesy import to_degrees
from geo.base.grid import Grid
from geo.ingest.checks.report import FileReport
from geo.records.region import RegionFrame

EIGHT_NEIGHBOURS = np.ones((3, 3), int)


@dataclass(frozen=True)
class TerrainHoles:
    """Unknown terrain in an area: its share (0 to 1), and a place in the largest hole (plane [m]) with its area."""

    share: float
    largest_m2: float
    easting_m: float
    northing_m: float


def find_holes(terrain: Grid, area: shapely.Geometry) -> TerrainHoles:
    """Give the cells without a height within a convex area, by their centres; what lies beyond the raster counts too.

    Parameters: area is convex, in the metric plane.
    """
    rows, columns, inside = _cells_inside(terrain, area)
    cell_m2 = terrain.cell_east_m * terrain.cell_north_m
    unknown = inside & np.isnan(terrain.values[rows, columns])
    beyond = shapely.difference(area, shapely.box(*terrain.bounds))
    known_m2 = float(np.count_nonzero(inside) - np.count_nonzero(unknown)) * cell_m2
    missing_m2 = float(np.count_nonzero(unknown)) * cell_m2 + beyond.area
    holes = [_largest_inside(terrain, unknown, (rows.start, columns.start))]
    for part in shapely.get_parts(beyond):
        place = shapely.point_on_surface(part)
        if part.area > 0.0:
            holes.append((float(part.area), float(place.x), float(place.y)))
    whole_m2 = known_m2 + missing_m2
    return TerrainHoles(missing_m2 / whole_m2 if whole_m2 > 0.0 else 0.0, *max(holes))


def _cells_inside(terrain: Grid, area: shapely.Geometry) -> tuple[slice, slice, np.ndarray]:
    """Give the window of the raster around a convex area and a mask of the cells in it, row by row."""
    west, south, east, north = shapely.bounds(area).tolist()
    row, column, _ = terrain.cell_of(np.array([west, east]), np.array([north, south]))
    rows, columns = slice(int(row[0]), int(row[1]) + 1), slice(int(column[0]), int(column[1]) + 1)
    northing_m = terrain.north_m - (np.arange(rows.start, rows.stop) + 0.5) * terrain.cell_north_m
    easting_m = terrain.west_m + (np.arange(columns.start, columns.stop) + 0.5) * terrain.cell_east_m
    ends = np.array([[[west - 1.0, y], [east + 1.0, y]] for y in northing_m])
    # A line crosses a convex area once: its cut gives where the area begins and ends in that row.
    cut = shapely.bounds(shapely.intersection(shapely.linestrings(ends), area))
    with np.errstate(invalid="ignore"):
        inside = (easting_m >= cut[:, :1]) & (easting_m <= cut[:, 2:3])
    return rows, columns, inside


def _largest_inside(terrain: Grid, unknown: np.ndarray, start: tuple[int, int]) -> tuple[float, float, float]:
    """Give area [m2], easting and northing [m] of the largest hole: of the cell of it nearest to its middle."""
    if not unknown.any():
        return 0.0, float("nan"), float("nan")
    labels, _ = ndimage.label(unknown, EIGHT_NEIGHBOURS)
    sizes = np.bincount(labels[unknown])[1:]
    row, column = np.nonzero(labels == int(np.argmax(sizes)) + 1)
    middle = int(np.argmin((row - row.mean()) ** 2 + (column - column.mean()) ** 2))
    return (
        float(sizes.max()) * terrain.cell_east_m * terrain.cell_north_m,
        terrain.west_m + (start[1] + int(column[middle]) + 0.5) * terrain.cell_east_m,
        terrain.north_m - (start[0] + int(row[middle]) + 0.5) * terrain.cell_north_m,
    )


def check_holes(
    terrain: Grid, shapes: list[shapely.Geometry], frame: RegionFrame, report: FileReport
) -> dict[str, float | None]:
    """Caution about unknown terrain within the convex hull of shapes, and give the figures for the summary.

    Returns: share (0 to 1), and of the largest hole its area [km2] and place [deg]; None where there is no hole.
    """
    holes = find_holes(terrain, shapely.convex_hull(shapely.GeometryCollection(shapes)))
    names = ("largest_hole_km2", "largest_hole_longitude", "largest_hole_latitude")
    if not holes.share > 0.0:
        return {"share": 0.0, **dict.fromkeys(names)}
    longitude, latitude = to_degrees(frame.crs_wkt, np.array([holes.easting_m]), np.array([holes.northing_m]))
    area_km2 = holes.largest_m2 / 1e6
    report.add(
        "caution",
        f"the terrain is unknown in {100.0 * holes.share:.2g} % of the area between the water, the fires and the base;"
        f" the largest hole ({area_km2:.3g} km2) is at longitude {longitude[0]:.5f}, latitude {latitude[0]:.5f}."
        " Legs cannot be cleared there",
        "fill the holes, or give a terrain file that covers all of it",
    )
    largest = (area_km2, float(longitude[0]), float(latitude[0]))
    return {"share": holes.share, **dict(zip(names, largest, strict=True))}
