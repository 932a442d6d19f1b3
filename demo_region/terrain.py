"""The relief of the invented islands: uplift, erosion by rivers, then the water bodies laid into it.

Only sums, products, quotients and square roots go into the erosion, and its input is rounded, so that another
processor grows the same valleys.
"""

import heapq
from dataclasses import dataclass

import numba
import numpy as np
import shapely
from scipy import ndimage

SEED = 4718
CELL_M = 40.0
NEIGHBOURS = (
    (-1, -1),
    (-1, 0),
    (-1, 1),
    (0, -1),
    (0, 1),
    (1, -1),
    (1, 0),
    (1, 1),
)  # rows south, columns east
COLUMNS, ROWS = 625, 500
WEST_M, SOUTH_M = 563_500.0, 4_784_000.0  # EPSG:32709 (UTM 9 S), about 47 S 128 W: open ocean
NORTH_M = SOUTH_M + ROWS * CELL_M
START_RELIEF_M = 25.0
HILLS_M = 1_300.0  # the highest ridges
PEAK_M, PEAK_AT, PEAK_REACH_M = (
    1_900.0,
    (10_600.0, 12_100.0),
    3_800.0,
)  # one massif rises this much above them


@dataclass(frozen=True)
class Trough:
    """A straight valley of little uplift, from one point to another [m, local], with its width [m]."""

    start: tuple[float, float]
    end: tuple[float, float]
    width_m: float


def cell_centres() -> tuple[np.ndarray, np.ndarray]:
    """Give local easting and northing [m] of every cell centre, shape (ROWS, COLUMNS), row 0 in the north."""
    easting = (np.arange(COLUMNS) + 0.5) * CELL_M
    northing = (ROWS - np.arange(ROWS) - 0.5) * CELL_M
    return np.meshgrid(easting, northing)


def noise(
    rng: np.random.Generator, wavelength_m: float, octaves: int, persistence: float = 0.5
) -> np.ndarray:
    """Give smooth value noise of mean near 0 and amplitude near 1, shape (ROWS, COLUMNS)."""
    easting, northing = cell_centres()
    total, amplitude, weight = np.zeros(easting.shape), 1.0, 0.0
    for octave in range(octaves):
        step = wavelength_m / 2**octave
        lattice = rng.uniform(-1.0, 1.0, (int(ROWS * CELL_M / step) + 4, int(COLUMNS * CELL_M / step) + 4))
        at = np.array([northing / step + 1.0, easting / step + 1.0])
        total += amplitude * ndimage.map_coordinates(lattice, at, order=3, mode="nearest")
        weight += amplitude
        amplitude *= persistence
    return total / weight


def mask_of(polygon: shapely.Geometry) -> np.ndarray:
    """Give True where a cell centre lies in the polygon (local coordinates)."""
    easting, northing = cell_centres()
    return shapely.contains_xy(polygon, easting, northing)


def distance_m(mask: np.ndarray) -> np.ndarray:
    """Give the distance [m] of every cell to the nearest True cell, 0 in it."""
    return ndimage.distance_transform_edt(~mask) * CELL_M


def smoothstep(x: np.ndarray) -> np.ndarray:
    """Give 0 below 0, 1 above 1 and 3x^2 - 2x^3 between."""
    x = np.clip(x, 0.0, 1.0)
    return x * x * (3.0 - 2.0 * x)


@numba.njit(cache=False)
def _receivers(height: np.ndarray, land: np.ndarray, cell_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Give for every cell the index of its steepest lower neighbour (itself in a pit) and the step's length."""
    rows, columns = height.shape
    receiver = np.empty(rows * columns, np.int64)
    length = np.full(rows * columns, cell_m)
    for r in range(rows):
        for c in range(columns):
            here = r * columns + c
            receiver[here], best = here, 0.0
            if not land[r, c]:
                continue
            for dr, dc in NEIGHBOURS:
                i, j = r + dr, c + dc
                if i < 0 or j < 0 or i >= rows or j >= columns:
                    continue
                step = cell_m * (np.sqrt(2.0) if dr != 0 and dc != 0 else 1.0)
                slope = (height[r, c] - height[i, j]) / step
                if slope > best:
                    best, receiver[here], length[here] = slope, i * columns + j, step
    return receiver, length


@numba.njit(cache=False)
def _drained(height: np.ndarray, land: np.ndarray, rise_m: float) -> np.ndarray:
    """Fill every pit so that each land cell has a way down to the sea (priority flood), rising rise_m a cell.

    References: Barnes, Lehman and Mulla (2014), Computers and Geosciences 62, algorithm 3 (from memory).
    """
    rows, columns = height.shape
    filled = height.copy()
    seen = ~land
    heap = [(0.0, 0)]
    heap.pop()
    for r in range(rows):
        for c in range(columns):
            if not land[r, c]:
                heapq.heappush(heap, (filled[r, c], r * columns + c))
    while len(heap) > 0:
        here, at = heapq.heappop(heap)
        r, c = at // columns, at % columns
        for dr, dc in NEIGHBOURS:
            i, j = r + dr, c + dc
            if i < 0 or j < 0 or i >= rows or j >= columns or seen[i, j]:
                continue
            seen[i, j] = True
            filled[i, j] = max(filled[i, j], here + rise_m)
            heapq.heappush(heap, (filled[i, j], i * columns + j))
    return filled


@numba.njit(cache=False)
def _cut(
    height: np.ndarray, order: np.ndarray, receiver: np.ndarray, length: np.ndarray, k: float, cell_m: float
) -> None:
    """Lower the flat array `height` by one implicit step of E = k sqrt(A) S; order rises in height.

    References: Braun and Willett (2013), Geomorphology 180-181, eq. 20 to 23 with n = 1, m = 1/2 (from memory).
    """
    area = np.full(height.size, cell_m * cell_m)
    for at in order[::-1]:
        if receiver[at] != at:
            area[receiver[at]] += area[at]
    for at in order:
        if receiver[at] != at:
            f = k * np.sqrt(area[at]) / length[at]
            height[at] = (height[at] + f * height[receiver[at]]) / (1.0 + f)


def grow(land: np.ndarray, uplift_m: np.ndarray, rough: np.ndarray, steps: int = 90) -> np.ndarray:
    """Give the height [m] of the land after `steps` of uplift and erosion; the sea is at 0.

    uplift_m is the rise in one step before scaling; rough (about -1 to 1) is the relief that decides where the
    first water runs.
    """
    tilt = 0.004 * distance_m(~land)  # so that every valley finds the sea
    height = np.where(land, 1.0 + np.round(START_RELIEF_M * rough + tilt, 6), 0.0)
    uplift_m = np.round(uplift_m, 6)
    for step in range(steps):
        height = np.where(land, height + uplift_m, 0.0)
        if step % 6 == 0:
            height = _drained(height, land, 0.02)
        receiver, length = _receivers(height, land, CELL_M)
        order = np.argsort(height.ravel(), kind="stable")
        flat = height.ravel().copy()
        _cut(flat, order, receiver, length, 0.06, CELL_M)
        height = flat.reshape(height.shape)
        around = ndimage.uniform_filter(height, 3, mode="nearest")
        height = np.where(land, height + 0.04 * (around - height), 0.0)
    return np.where(land, np.maximum(_raised(height / height.max()), 0.6), 0.0)


def _raised(share: np.ndarray) -> np.ndarray:
    """Give heights [m] from shares of the highest: ridges of HILLS_M, and one massif of PEAK_M more."""
    easting, northing = cell_centres()
    away = np.hypot(easting - PEAK_AT[0], northing - PEAK_AT[1])
    return share * (HILLS_M + PEAK_M * smoothstep(1.0 - away / PEAK_REACH_M))


def uplift_of(
    land: np.ndarray, troughs: tuple[Trough, ...], plain: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Give the uplift: rising away from the coast, small in troughs and plains, uneven otherwise."""
    easting, northing = cell_centres()
    inland = smoothstep(distance_m(~land) / 4200.0)
    uplift = (0.10 + inland) * (1.0 + 0.8 * noise(rng, 5000.0, 4))
    for trough in troughs:
        away = shapely.distance(
            shapely.LineString([trough.start, trough.end]), shapely.points(easting, northing)
        )
        away = away + 420.0 * noise(rng, 1500.0, 3)
        uplift *= 0.05 + 0.95 * smoothstep((away - trough.width_m / 2) / 1500.0)
    return np.where(land, np.maximum(uplift, 0.01) * (1.0 - 0.93 * plain), 0.0) * 8.0
