"""The water bodies: outline, level, true bed and what the keepers' register says, as waters.toml designs them."""

import tomllib
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import shapely
import shapes

# Waters lie along the valleys, which run as the prevailing wind blows: from 300 to 120 degrees.
ALONG_DEG = 120.0
# Drowned side valleys: place along the axis (share of its length from the middle), heading [deg], reach [m].
_ARMS = ((-0.12, 55.0, 520.0), (0.24, 25.0, 430.0), (0.05, 190.0, 380.0))
_BAR_HALF_LENGTH_M = 110.0


@dataclass(frozen=True)
class Bed:
    """The true bed; depth greatest_m (1 - exp(-d / scale_m)) at distance d from the shore, a bar at shoal_m."""

    greatest_m: float
    scale_m: float
    shoal_m: float | None = None


@dataclass(frozen=True)
class Water:
    """One water body. None means that the register is silent; waters.toml says what each field means."""

    ref: str
    name: str
    sort: str
    polygon: shapely.Polygon
    level_m: float
    bed: Bed
    level_now_m: float | None = None
    carve_m: float = 0.0
    wall: float | None = None
    bank_m: float = 160.0
    sounded: bool = False
    scanned: bool = False
    stated_m: float | None = None
    stated_sd_m: float | None = None
    stated_on: date | None = None
    salt: str | None = None
    salt_on: date | None = None
    conductivity_ms_cm: float | None = None
    conductivity_c: float | None = None
    volume_m3: float | None = None
    consent: str | None = None
    keeper: str | None = None
    remarks: str | None = None


def read(path: Path, seed: int, land: shapely.Geometry) -> tuple[Water, ...]:
    """Give the designed water bodies; `land` (local m) cuts estuaries and bays. Each has its own random numbers."""
    designs = tomllib.loads(path.read_text(encoding="utf-8"))["water"]
    return tuple(
        _water(design, np.random.default_rng([seed, *design["ref"].encode()]), land) for design in designs
    )


def _water(design: dict[str, Any], rng: np.random.Generator, land: shapely.Geometry) -> Water:
    known = {key: value for key, value in design.items() if key not in ("shape", "bed")}
    return Water(**known, polygon=_outline(design["shape"], rng, land), bed=Bed(**design["bed"]))


def _outline(shape: dict[str, Any], rng: np.random.Generator, land: shapely.Geometry) -> shapely.Polygon:
    """Draw the outline that a shape table asks for."""
    size = {key: value for key, value in shape.items() if key not in ("form", "within", "islands", "arms")}
    if shape["form"] in ("lake", "pond", "dam"):
        size = {"heading_deg": ALONG_DEG} | size
    polygon = {"lake": shapes.lake, "pond": shapes.pond, "dam": shapes.dam, "crescent": shapes.crescent}.get(
        shape["form"], shapes.stream
    )(rng, **size)
    if shape.get("arms"):
        polygon = _with_arms(rng, polygon)
    for east, north, radius in shape.get("islands", ()):
        place = (shape["centre"][0] + east, shape["centre"][1] + north)
        polygon = polygon.difference(shapes.pond(rng, place, (2.3 * radius, 1.7 * radius), 80.0, vertices=14))
    if "within" in shape:
        cut = polygon.intersection(land) if shape["within"] == "land" else polygon.difference(land)
        polygon = max(shapely.get_parts(cut), key=lambda part: part.area)
    return polygon


def _with_arms(rng: np.random.Generator, polygon: shapely.Polygon) -> shapely.Polygon:
    """Join drowned side valleys to a reservoir."""
    middle, unit, length = axis_of(polygon)
    for along, heading, reach in _ARMS:
        out = np.array([np.sin(np.radians(heading)), np.cos(np.radians(heading))])
        centre = middle + unit * along * length + 0.36 * reach * out
        polygon = polygon.union(shapes.lake(rng, tuple(centre), reach, 0.3 * reach, heading, rough=0.2))
    return shapely.Polygon(polygon.exterior)


def axis_of(polygon: shapely.Polygon) -> tuple[np.ndarray, np.ndarray, float]:
    """Give the middle, the unit vector and the length [m] of a water along ALONG_DEG."""
    unit = np.array([np.sin(np.radians(ALONG_DEG)), np.cos(np.radians(ALONG_DEG))])
    along = np.asarray(polygon.exterior.coords) @ unit
    centre = np.array(polygon.centroid.coords[0])
    middle = centre + unit * ((along.min() + along.max()) / 2 - centre @ unit)
    return middle, unit, float(along.max() - along.min())


def depth_m(water: Water, easting_m: np.ndarray, northing_m: np.ndarray) -> np.ndarray:
    """Give the true depth [m] below level_m at points, 0 on land."""
    inside = shapely.contains_xy(water.polygon, easting_m, northing_m)
    away = shapely.distance(water.polygon.boundary, shapely.points(easting_m, northing_m))
    swell = 1.0 + 0.08 * np.sin(easting_m / 170.0) * np.cos(northing_m / 210.0)
    depth = np.where(inside, water.bed.greatest_m * (1.0 - np.exp(-away / water.bed.scale_m)) * swell, 0.0)
    if water.bed.shoal_m is None:
        return depth
    middle, unit, _ = axis_of(water.polygon)
    along = (np.column_stack([easting_m, northing_m]) - middle) @ unit
    bar = np.exp(-((along / _BAR_HALF_LENGTH_M) ** 4))
    return np.minimum(depth, depth * (1.0 - bar) + water.bed.shoal_m * bar)
