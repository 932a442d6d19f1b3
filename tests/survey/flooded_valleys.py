"""Surveyed bodies: reservoirs whose bed is known everywhere, made by damming streams of a real terrain model.

Terrain: the elevation sample that matplotlib carries (jacksboro_fault_dem.npz, 3 arc seconds, whole metres). A dam is
put across a stream cell and the valley above it is flooded; only the dam is a made shore. Bodies are disjoint. The bed
between cells is bilinear, so features smaller than a cell are not there. Small bodies are the same terrain with both
lengths and heights shrunk, slopes kept.
"""

import heapq
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from itertools import pairwise

import contourpy
import numpy as np
import shapely
from scipy import ndimage
from shapely import LineString, Polygon

from geo.base.grid import Grid

CELL_EAST_M, CELL_NORTH_M = 74.3, 92.5
SCALES = (1.0, 0.5, 0.25)
BLOCK_CELLS = 90
NEIGHBOURS = ((-1, 0), (1, 0), (0, -1), (0, 1), (-1, -1), (-1, 1), (1, -1), (1, 1))
WALL_M = -3.0
MARGIN = 12


@dataclass(frozen=True, eq=False)
class Reservoir:
    """One flooded valley: outline, depth [m] (negative on land), terrain block, the linear scale it is shrunk by, and
    the ground around as height above the water [m]."""

    name: str
    polygon: Polygon
    depth: Grid
    block: int
    scale: float
    ground: Grid

    def bed(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """True depth [m] at points; 0 where the bilinear bed stands a little above the level at the shore."""
        return np.maximum(self.depth.bilinear(np.asarray(x, float), np.asarray(y, float)), 0.0)


def terrain() -> np.ndarray:
    """Elevation [m], row 0 north."""
    path = files("matplotlib") / "mpl-data" / "sample_data" / "jacksboro_fault_dem.npz"
    return np.load(str(path))["elevation"].astype(float)


def drainage(elevation: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pre-order number of each cell in the drainage tree, and the number of cells upstream of it, itself included.

    Priority flood from the edge of the terrain (Barnes, Lehman and Mulla 2014, Computers & Geosciences 62:117-127).
    """
    rows, columns = elevation.shape
    parent = np.full(elevation.size, -1)
    seen = np.zeros(elevation.shape, bool)
    edge = np.ones(elevation.shape, bool)
    edge[1:-1, 1:-1] = False
    queue = [(elevation[r, c], r * columns + c) for r, c in np.argwhere(edge)]
    seen |= edge
    heapq.heapify(queue)
    order = []
    while queue:
        level, cell = heapq.heappop(queue)
        order.append(cell)
        row, column = divmod(cell, columns)
        for dr, dc in NEIGHBOURS:
            r, c = row + dr, column + dc
            if 0 <= r < rows and 0 <= c < columns and not seen[r, c]:
                seen[r, c] = True
                parent[r * columns + c] = cell
                heapq.heappush(queue, (max(level, elevation[r, c]), r * columns + c))
    size = np.ones(elevation.size, int)
    for cell in reversed(order):
        if parent[cell] >= 0:
            size[parent[cell]] += size[cell]
    first, free = np.zeros(elevation.size, int), 0
    used = np.ones(elevation.size, int)
    for cell in order:
        if parent[cell] < 0:
            first[cell] = free
            free += size[cell]
        else:
            first[cell] = first[parent[cell]] + used[parent[cell]]
            used[parent[cell]] += size[cell]
    return first.reshape(elevation.shape), size.reshape(elevation.shape)


def flooded(elevation: np.ndarray, catchment: np.ndarray, outlet: tuple[int, int], level_m: float):
    """Lake cells above a dam, or None where the valley does not hold the level."""
    rows, columns = np.flatnonzero(catchment.any(1)), np.flatnonzero(catchment.any(0))
    window = (slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1))
    labels, _ = ndimage.label(catchment[window] & (elevation[window] < level_m))
    lake = np.zeros(elevation.shape, bool)
    lake[window] = labels == labels[outlet[0] - rows[0], outlet[1] - columns[0]]
    if not 60 <= lake.sum() <= 1500 or elevation[outlet] >= level_m:
        return None
    rim = ndimage.binary_dilation(lake, np.ones((3, 3))) & ~lake
    if lake[[0, -1]].any() or lake[:, [0, -1]].any():
        return None
    # Rim cells below the level are where the dam stands.
    return lake if (elevation[rim] < level_m).mean() < 0.12 else None


def outlined(
    elevation: np.ndarray, lake: np.ndarray, level_m: float, scale: float
) -> tuple[Polygon, Grid, Grid]:
    """Outline, depth raster and ground of a lake; ground beside it that lies lower is the far side of the dam."""
    rows, columns = np.flatnonzero(lake.any(1)), np.flatnonzero(lake.any(0))
    window = (
        slice(max(rows[0] - MARGIN, 0), rows[-1] + MARGIN + 1),
        slice(max(columns[0] - MARGIN, 0), columns[-1] + MARGIN + 1),
    )
    height = (elevation[window] - level_m) * scale
    depth = np.where(lake[window], -height, np.minimum(-height, WALL_M * scale))
    east, north = CELL_EAST_M * scale, CELL_NORTH_M * scale
    x, y = (
        (np.arange(depth.shape[1]) + 0.5) * east,
        (depth.shape[0] - 0.5 - np.arange(depth.shape[0])) * north,
    )
    rings, offsets = contourpy.contour_generator(x, y, depth, fill_type="OuterOffset").filled(0.0, 1e9)
    polygons = []
    for points, bounds in zip(rings, offsets, strict=True):
        parts = [points[a:b] for a, b in pairwise(bounds)]
        polygons.append(Polygon(parts[0], parts[1:]))
    largest = max(polygons, key=lambda p: p.area)
    top = float(depth.shape[0] * north)
    return largest, Grid(depth, 0.0, top, east, north), Grid(height, 0.0, top, east, north)


@lru_cache(maxsize=4)
def reservoirs(count: int = 96, seed: int = 20240) -> tuple[Reservoir, ...]:
    """Disjoint reservoirs of all sizes from the one terrain; the same ones for the same seed."""
    elevation = terrain()
    first, size = drainage(elevation)
    rng = np.random.default_rng(seed)
    streams = np.argwhere((size >= 120) & (size <= 20000))
    taken = np.zeros(elevation.shape, bool)
    found = []
    for row, column in streams[rng.permutation(len(streams))][:6000]:
        if len(found) == count:
            break
        if taken[row, column]:
            continue
        start = first[row, column]
        catchment = (first >= start) & (first < start + size[row, column])
        level = elevation[row, column] + rng.integers(8, 60) + 0.5
        lake = flooded(elevation, catchment, (row, column), level)
        if lake is None or (lake & taken).any():
            continue
        taken |= ndimage.binary_dilation(lake, np.ones((3, 3)))
        scale = SCALES[len(found) % len(SCALES)]
        polygon, depth, ground = outlined(elevation, lake, level, scale)
        across = elevation.shape[1] // BLOCK_CELLS + 1
        block = int(row // BLOCK_CELLS * across + column // BLOCK_CELLS)
        if polygon.is_valid:
            found.append(Reservoir(f"valley {len(found) + 1}", polygon, depth, block, scale, ground))
    return tuple(found)


def inside(polygon: Polygon, count: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Points spread evenly over the water."""
    west, south, east, north = polygon.bounds
    x, y = np.zeros(0), np.zeros(0)
    while len(x) < count:
        u, v = rng.uniform(west, east, 4 * count), rng.uniform(south, north, 4 * count)
        keep = shapely.contains_xy(polygon, u, v)
        x, y = np.append(x, u[keep]), np.append(y, v[keep])
    return x[:count], y[:count]


def order_one_sd(depth: np.ndarray) -> np.ndarray:
    """One sigma [m] of IHO S-44 Ed. 6 order 1: sqrt(0.5^2 + (0.013 d)^2) at 95 %."""
    return np.hypot(0.5, 0.013 * depth) / 1.96


def random_run(polygon: Polygon, rng: np.random.Generator, width_m: float = 20.0) -> LineString | None:
    """A straight run of 60 to 800 m whose strip is in the water."""
    shapely.prepare(polygon)
    size = float(np.sqrt(polygon.area))
    for _ in range(200):
        x, y = inside(polygon, 1, rng)
        length, turn = rng.uniform(0.15, 0.8) * size, rng.uniform(0.0, 2.0 * np.pi)
        line = LineString([(x[0], y[0]), (x[0] + length * np.sin(turn), y[0] + length * np.cos(turn))])
        if 60.0 <= length <= 800.0 and polygon.covers(line.buffer(0.5 * width_m, cap_style="flat")):
            return line
    return None
