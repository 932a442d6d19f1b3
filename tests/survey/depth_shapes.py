"""Water bodies whose bed is known in closed form, and soundings of them with seeded noise."""

from collections.abc import Callable
from datetime import date

import numpy as np
import shapely

from geo.base.grid import Grid
from geo.records.bed_search import BedSearch
from geo.records.region import DepthGrid, Soundings, StatedDepth, WaterBody

EAST, NORTH = 31000.0, 82000.0  # unequal, so that swapped axes show
RADIUS = 400.0
GREATEST = 12.0
# Beds here are told by their closed form: somebody saw that nothing stands on them. What nobody saw is the business of
# tests/survey/test_depth_unseen.py.
SEEN_DRY = BedSearch("dry", "seen dry", line_spacing_m=1e6)
Bed = Callable[[np.ndarray, np.ndarray], np.ndarray]


def circle(radius_m: float = RADIUS) -> shapely.Polygon:
    return shapely.Point(EAST, NORTH).buffer(radius_m, quad_segs=90)


def basin(width_m: float, height_m: float) -> shapely.Polygon:
    """Rectangle with its south-west corner at EAST, NORTH."""
    return shapely.box(EAST, NORTH, EAST + width_m, NORTH + height_m)


def cone(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return GREATEST * (1.0 - np.hypot(x - EAST, y - NORTH) / RADIUS)


def bowl(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return GREATEST * (1.0 - ((x - EAST) ** 2 + (y - NORTH) ** 2) / RADIUS**2)


def flat_with_banks(polygon: shapely.Polygon, depth_m: float, bank_m: float) -> Bed:
    """Bed of one depth with banks that fall off within bank_m of the shore."""

    def bed(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        distance = shapely.distance(polygon.boundary, shapely.points(x, y))
        return depth_m * (1.0 - np.exp(-distance / bank_m))

    return bed


def inside(polygon: shapely.Polygon, count: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    west, south, east, north = polygon.bounds
    x, y = np.zeros(0), np.zeros(0)
    while len(x) < count:
        u, v = rng.uniform(west, east, 4 * count), rng.uniform(south, north, 4 * count)
        keep = shapely.contains_xy(polygon, u, v)
        x, y = np.append(x, u[keep]), np.append(y, v[keep])
    return x[:count], y[:count]


def record(x, y, depth, sd=0.1, body_id="tarn", days=None) -> Soundings:
    x = np.asarray(x, float)
    return Soundings(
        x,
        np.asarray(y, float),
        np.asarray(depth, float),
        np.broadcast_to(np.asarray(sd, float), x.shape).copy(),
        np.full(len(x), body_id, dtype=object),
        tuple(f"soundings.csv row {k + 2}" for k in range(len(x))),
        tuple(days) if days is not None else (date(2024, 3, 2),) * len(x),
        (SEEN_DRY,),
        np.zeros(len(x), int),
    )


def sounded(
    polygon: shapely.Polygon, bed: Bed, count: int, seed: int = 1, sd: float = 0.1, **more
) -> Soundings:
    rng = np.random.default_rng(seed)
    x, y = inside(polygon, count, rng)
    return record(x, y, bed(x, y) + rng.normal(0.0, sd, count), sd, **more)


def body(polygon: shapely.Polygon, level: float | None = 0.0, stated: StatedDepth | None = None) -> WaterBody:
    return WaterBody(
        "tarn", "Tarn", "lake", polygon, "water.gpkg", level_change_m=level,
        level_origin=None if level is None else "gauge", stated_depth=stated,
    )  # fmt: skip


def raster(
    polygon: shapely.Polygon, bed: Bed, east_m: float, north_m: float, a: float = 0.5, b: float = 0.013
):
    """Depth raster with cells of unequal sides that covers the polygon and 3 cells around; cell centres are exact."""
    west, south, east, north = polygon.bounds
    west, north = west - 3 * east_m, north + 3 * north_m
    columns, rows = int((east - west) / east_m) + 4, int((north - south) / north_m) + 4
    xx, yy = np.meshgrid(
        west + (np.arange(columns) + 0.5) * east_m, north - (np.arange(rows) + 0.5) * north_m
    )
    grid = Grid(bed(xx, yy), west, north, east_m, north_m)
    return DepthGrid(grid, a, b, "depth.tif", date(2023, 5, 4), SEEN_DRY)
