"""Islands and waters put together: the coast, the relief with every water laid into it."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
import terrain
import waters
from affine import Affine
from rasterio import features
from scipy import ndimage

_TROUGHS = (
    terrain.Trough((2_500, 14_000), (10_300, 9_500), 500),
    terrain.Trough((12_000, 8_000), (18_500, 4_200), 500),
    terrain.Trough((6_000, 8_400), (10_500, 5_600), 400),
    terrain.Trough((13_000, 14_050), (18_500, 11_000), 300),
)
# centre easting, northing, half axes [m, local] of the three islands before the coast is made ragged
_ISLANDS = ((11_000, 10_500, 9_500, 7_200), (21_300, 16_600, 2_200, 1_700), (22_000, 4_200, 2_500, 2_100))


@dataclass(frozen=True, eq=False)
class Islands:
    """height_m: (ROWS, COLUMNS), 0 at sea; land: the coast as polygons (local m); waters: all water bodies."""

    height_m: np.ndarray
    land: shapely.Geometry
    waters: tuple[waters.Water, ...]


def make() -> Islands:
    """Grow the islands from the one seed."""
    rng = np.random.default_rng(terrain.SEED)
    easting, northing = terrain.cell_centres()
    ragged = 0.33 * terrain.noise(rng, 4000.0, 5, 0.55)
    blobs = [1.0 - np.hypot((easting - e) / a, (northing - n) / b) for e, n, a, b in _ISLANDS]
    land_mask = ndimage.binary_fill_holes(np.maximum.reduce(blobs) + ragged > 0.0)
    plain = terrain.smoothstep(1.3 - np.hypot((easting - 7_000) / 3_500, (northing - 5_200) / 1_800))
    uplift = terrain.uplift_of(land_mask, _TROUGHS, plain, rng)
    height = terrain.grow(land_mask, uplift, terrain.noise(rng, 600.0, 4))
    land = coast(land_mask)
    bodies = waters.read(Path(__file__).with_name("waters.toml"), terrain.SEED, land)
    return Islands(laid_into(height, bodies), land, bodies)


def coast(land_mask: np.ndarray) -> shapely.Geometry:
    """Give the coast as polygons (local m): the cells' outline with its corners rounded off."""
    to_local = Affine(terrain.CELL_M, 0, 0, 0, -terrain.CELL_M, terrain.ROWS * terrain.CELL_M)
    found = features.shapes(land_mask.astype(np.uint8), mask=land_mask, transform=to_local)
    parts = [shapely.geometry.shape(outline) for outline, _ in found]
    parts = [_rounded(part) for part in parts if part.area > 4e5]
    return shapely.MultiPolygon(sorted(parts, key=lambda part: -part.area))


def _rounded(polygon: shapely.Polygon) -> shapely.Polygon:
    """Cut corners twice (Chaikin) after dropping the raster's staircase."""
    ring = np.asarray(polygon.simplify(26.0).exterior.coords)[:-1]
    for _ in range(2):
        after = np.roll(ring, -1, axis=0)
        ring = np.stack([0.75 * ring + 0.25 * after, 0.25 * ring + 0.75 * after], axis=1).reshape(-1, 2)
    return shapely.Polygon(ring).simplify(3.0)


def laid_into(height: np.ndarray, bodies: tuple[waters.Water, ...]) -> np.ndarray:
    """Give the relief with each inland water as a flat surface at its level and its banks joined to the land."""
    inland = [body for body in bodies if body.sort != "open sea"]
    for body in inland:
        height = _valley(height, body)
    height = np.where(height > 0.0, np.maximum(ndimage.gaussian_filter(height, 0.6), 0.6), 0.0)
    for body in inland:
        height = _banks(height, body)
    for body in inland:
        wet = terrain.mask_of(body.polygon) | (terrain.distance_m(_core(body)) < 25.0)
        height = np.where(wet, body.level_m, height)
    return np.round(height * 16.0) / 16.0


def _core(body: waters.Water) -> np.ndarray:
    """Give the cells of a water, at least the one below its middle."""
    mask = terrain.mask_of(body.polygon)
    if not mask.any():
        point = body.polygon.representative_point()
        mask[terrain.ROWS - 1 - int(point.y // terrain.CELL_M), int(point.x // terrain.CELL_M)] = True
    return mask


def _valley(height: np.ndarray, body: waters.Water) -> np.ndarray:
    """Keep the valley floor low beyond both ends of a long water, as ice leaves it."""
    if body.carve_m <= 0.0:
        return height
    easting, northing = terrain.cell_centres()
    middle, unit, length = waters.axis_of(body.polygon)
    along = np.abs((easting - middle[0]) * unit[0] + (northing - middle[1]) * unit[1])
    across = np.abs((northing - middle[1]) * unit[0] - (easting - middle[0]) * unit[1])
    beyond = np.maximum(along - length / 2, 0.0)
    half_width = body.polygon.area / length * 0.62
    off = np.maximum(across - half_width - 70.0 - 0.12 * beyond, 0.0)
    kept = (1.0 - terrain.smoothstep(off / 650.0)) * (
        1.0 - terrain.smoothstep((beyond - body.carve_m) / 700.0)
    )
    floor = body.level_m + 0.3 + 0.03 * beyond + 0.25 * off
    lowered = kept * np.minimum(height, floor) + (1.0 - kept) * height
    return np.where(height > 0.0, np.maximum(lowered, 0.6), 0.0)


def _banks(height: np.ndarray, body: waters.Water) -> np.ndarray:
    """Join the land round a water to its level: gentle banks, or walls of rock where `wall` is given."""
    away = terrain.distance_m(_core(body))
    if body.wall is not None:
        steep = body.level_m + body.wall * away
        height = np.where(away < body.bank_m, np.maximum(height, steep), height)
    slope = body.wall if body.wall is not None else 0.005 if body.carve_m > 0.0 else 0.02
    share = terrain.smoothstep(away / body.bank_m)
    joined = (body.level_m + 0.1 + slope * away) * (1.0 - share) + height * share
    return np.where(height > 0.0, joined, 0.0)
