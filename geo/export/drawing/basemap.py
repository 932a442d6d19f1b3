"""The background of the map page, from the region's own terrain: a shaded relief and contours.

Drawn in the web maps' usual projection, because that is what a browser shows. No length is measured in it.
"""

import math
from dataclasses import dataclass
from io import BytesIO

import contourpy
import numpy as np
import shapely
from PIL import Image
from pyproj import CRS, Transformer
from rasterio.transform import Affine
from rasterio.warp import Resampling, reproject

from geo.base.geodesy import to_degrees
from geo.base.grid import Grid
from geo.export.drawing.map_drawing import relief_lightness
from geo.records.document import collection, feature, geometry_object

MAP_CRS = CRS.from_epsg(3857)
MOST_PIXELS = 2048
MOST_LEVELS = 24
INTERVALS_M = (5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0)
LEAST_CONTOUR_POINTS = 8


@dataclass(frozen=True)
class Relief:
    """A picture of the relief (PNG, see-through where the ground is level or unknown) and its west, south, east,
    north edges in EPSG:3857 [m of that projection]."""

    png: bytes
    edges: tuple[float, float, float, float]


def relief(terrain: Grid, crs_wkt: str) -> Relief:
    """Give the shaded relief of a terrain, light from the north-west, at most MOST_PIXELS wide or high."""
    shaded = relief_lightness(_thinned(terrain))
    rows, columns = shaded.values.shape
    source = Affine(shaded.cell_east_m, 0.0, shaded.west_m, 0.0, -shaded.cell_north_m, shaded.north_m)
    crs = CRS.from_wkt(crs_wkt)
    west, south, east, north = Transformer.from_crs(crs, MAP_CRS, always_xy=True).transform_bounds(
        *shaded.bounds
    )
    pixel = max((east - west) / min(columns, MOST_PIXELS), (north - south) / min(rows, MOST_PIXELS))
    width, height = max(math.ceil((east - west) / pixel), 1), max(math.ceil((north - south) / pixel), 1)
    transform = Affine(pixel, 0.0, west, 0.0, -pixel, north)
    seen = np.full((height, width), np.nan, np.float32)
    reproject(
        shaded.values.astype(np.float32),
        seen,
        src_transform=source,
        src_crs=crs,
        dst_transform=transform,
        dst_crs=MAP_CRS,
        src_nodata=np.nan,
        dst_nodata=np.nan,
        resampling=Resampling.bilinear,
    )
    picture = Image.fromarray(_light_and_shade(seen, _level_lightness(_thinned(terrain), shaded)), "LA")
    held = BytesIO()
    picture.save(held, "PNG", optimize=True)
    return Relief(held.getvalue(), (west, north - pixel * height, west + pixel * width, north))


def _level_lightness(terrain: Grid, shaded: Grid) -> float:
    """Give the lightness of level low ground, which is to be see-through; the middle lightness where none is level."""
    steep = (
        np.hypot(*np.gradient(terrain.values.astype(float))) if min(terrain.values.shape) > 1 else np.zeros(1)
    )
    level = np.broadcast_to(steep, shaded.values.shape) == 0.0
    level &= (
        terrain.values <= np.nanpercentile(terrain.values, 50) if np.isfinite(terrain.values).any() else False
    )
    found = shaded.values[level & np.isfinite(shaded.values)]
    if not found.size:
        found = shaded.values[np.isfinite(shaded.values)]
    return float(np.clip(np.median(found), 0.05, 0.95)) if found.size else 0.5


def _light_and_shade(lightness: np.ndarray, level: float) -> np.ndarray:
    """Give grey and opacity (rows, columns, 2): black over what is darker than level ground, white over what is
    lighter, each as see-through as it is near to it, so that the page's own paper, light or dark, lies below."""
    known = np.isfinite(lightness)
    value = np.clip(np.where(known, lightness, level), 0.0, 1.0)
    lighter = value > level
    opacity = np.where(lighter, (value - level) / (1.0 - level), (level - value) / level)
    return np.round(np.dstack([lighter, opacity]) * 255.0).astype(np.uint8)


def contours(terrain: Grid, crs_wkt: str) -> dict:
    """Give contours as a GeoJSON FeatureCollection with elevation_m, at a round interval of at most MOST_LEVELS levels.

    Notes: the lines are thinned to half a cell; a picture, no survey.
    """
    grid = _thinned(terrain)
    values = grid.values
    if min(values.shape) < 2 or not np.isfinite(values).any():
        return collection(())
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    interval = next((i for i in INTERVALS_M if (high - low) / i <= MOST_LEVELS), 1000.0)
    generator = contourpy.contour_generator(*grid.centres, np.ma.masked_invalid(values))
    features = []
    for level in np.arange(np.ceil(low / interval) * interval, high, interval):
        kept = [part for part in generator.lines(float(level)) if len(part) >= LEAST_CONTOUR_POINTS]
        if not kept:
            continue
        lines = shapely.MultiLineString([np.asarray(part) for part in kept])
        lines = shapely.simplify(lines, 0.5 * max(grid.cell_east_m, grid.cell_north_m))
        in_degrees = shapely.transform(lines, lambda c: np.column_stack(to_degrees(crs_wkt, *c.T)))
        features.append(feature(geometry_object(in_degrees), elevation_m=float(level)))
    return collection(features)


def _thinned(terrain: Grid) -> Grid:
    return terrain.thinned(max(1, int(np.ceil(max(terrain.values.shape) / MOST_PIXELS))))
