"""Water bodies of many kinds of bed, made anew for each seed, with features narrower than the soundings lie apart.

No bed here is measured: sizes and depths are invented in the ranges that such waters have (common practice, no source).
Trees are objects: the bed is smooth, and each tree reaches up to its own top within its radius.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from scipy.spatial import cKDTree

from geo.survey.depth.corridor import Strip

TREE_RADIUS_M = 1.0
GRID_M = 3.0
Surface = Callable[[np.ndarray, np.ndarray], np.ndarray]


@dataclass(frozen=True, eq=False)
class Bed:
    """One bed: outline, smooth surface of depths [m], trees as east, north, top below the surface (k, 3) [m]."""

    kind: str
    polygon: shapely.Polygon
    surface: Surface
    asked_m: float = 2.0
    trees: np.ndarray = field(default_factory=lambda: np.zeros((0, 3)))
    block: int = 0

    @property
    def name(self) -> str:
        """What seeds the simulation of this bed."""
        return f"{self.kind} of {self.polygon.area:.3f} m2"

    def bed(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Depth [m] of the bed alone, without what stands on it."""
        return np.maximum(self.surface(np.asarray(x, float), np.asarray(y, float)), 0.0)

    def depth(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """True depth [m] at points (n,), trees included."""
        depth = self.surface(np.asarray(x, float), np.asarray(y, float))
        if len(self.trees):
            away, near = cKDTree(self.trees[:, :2]).query(np.column_stack((x, y)))
            hit = away <= TREE_RADIUS_M
            depth[hit] = np.minimum(depth[hit], self.trees[near[hit], 2])
        return np.maximum(depth, 0.0)

    def least(self, strip: Strip) -> float:
        """True least depth [m] in a strip: of its surface on a fine grid, and of every tree in it."""
        half, length = 0.5 * strip.width_m, strip.line.length
        along = np.linspace(0.0, length, int(length / GRID_M) + 2)
        start, end = strip.xy[0], strip.xy[-1]
        unit = (end - start) / length
        side = np.linspace(-half, half, int(2.0 * half / GRID_M) + 2)
        at = start + along[:, None, None] * unit + side[None, :, None] * np.array([unit[1], -unit[0]])
        found = float(self.surface(at[..., 0].ravel(), at[..., 1].ravel()).min())
        if len(self.trees):
            reach = shapely.distance(strip.area, shapely.points(self.trees[:, :2])) <= TREE_RADIUS_M
            found = min(found, float(self.trees[reach, 2].min(initial=np.inf)))
        return max(found, 0.0)


def outline(rng: np.random.Generator) -> shapely.Polygon:
    """A lake of 12 to 100 hectares with a wavy shore."""
    long_m = rng.uniform(600.0, 1500.0)
    wide_m = long_m * rng.uniform(0.35, 0.6)
    turn = np.linspace(0.0, 2.0 * np.pi, 160, endpoint=False)
    wave = 1.0 + sum(
        rng.uniform(0.0, 0.12 / k) * np.sin(k * turn + rng.uniform(0.0, 6.3)) for k in (2, 3, 5, 8)
    )
    xy = 0.5 * np.column_stack((long_m * np.cos(turn), wide_m * np.sin(turn))) * wave[:, None]
    about = rng.uniform(0.0, np.pi)
    spin = np.array([[np.cos(about), -np.sin(about)], [np.sin(about), np.cos(about)]])
    return shapely.Polygon(xy @ spin + rng.uniform(20_000.0, 60_000.0, 2))


def rough(rng: np.random.Generator, size_m: float, parts: int = 24) -> Surface:
    """A random smooth field of unit variance whose waves are about size_m long and shorter."""
    wave = size_m * rng.uniform(0.5, 2.0, parts)
    turn, phase = rng.uniform(0.0, np.pi, parts), rng.uniform(0.0, 2.0 * np.pi, parts)
    weight = wave / np.sqrt(0.5 * (wave**2).sum())

    def field_(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        found = np.zeros(np.shape(x))
        for w, t, p, a in zip(wave, turn, phase, weight, strict=True):
            found += a * np.sin(2.0 * np.pi * (x * np.cos(t) + y * np.sin(t)) / w + p)
        return found

    return field_


def basin(polygon: shapely.Polygon, rng: np.random.Generator, deep_m: float, relief: float = 0.12) -> Surface:
    """A smooth basin: steep or gentle banks to about deep_m, with long waves on it."""
    scale = rng.uniform(0.03, 0.15) * np.sqrt(polygon.area)
    shape = rough(rng, 0.7 * np.sqrt(polygon.area))
    shore = polygon.boundary
    shapely.prepare(shore)

    def depth(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        away = shapely.distance(shore, shapely.points(x, y)) * shapely.contains_xy(polygon, x, y)
        return deep_m * (1.0 - np.exp(-away / scale)) * np.exp(relief * shape(x, y))

    return depth


def smooth(rng: np.random.Generator) -> Bed:
    """A basin without any feature."""
    polygon = outline(rng)
    return Bed("smooth", polygon, basin(polygon, rng, rng.uniform(3.0, 12.0)))


def _drowned(rng: np.random.Generator, kind: str, each_m2: float) -> Bed:
    polygon = outline(rng)
    surface = basin(polygon, rng, rng.uniform(4.0, 10.0))
    at = inside(polygon, rng.poisson(polygon.area / each_m2), rng)
    bed = surface(*at)
    top = bed - np.minimum(rng.uniform(1.5, 9.0, len(bed)), bed - 0.2)
    return Bed(kind, polygon, surface, trees=np.column_stack((*at, top))[bed > 0.5])


def dense_trees(rng: np.random.Generator) -> Bed:
    """A flooded wood: a tree on each 1,500 m2."""
    return _drowned(rng, "drowned trees, 1 per 1,500 m2", 1500.0)


def sparse_trees(rng: np.random.Generator) -> Bed:
    """Flooded pasture: a tree on each 15,000 m2."""
    return _drowned(rng, "drowned trees, 1 per 15,000 m2", 15_000.0)


def road_bank(rng: np.random.Generator) -> Bed:
    """A basin that an old road crosses on a bank 8 m wide, its top 1.0 to 1.6 m deep, with a gap for a bridge."""
    polygon = outline(rng)
    ground = basin(polygon, rng, rng.uniform(5.0, 12.0))
    middle = np.array(polygon.centroid.coords[0]) + rng.uniform(-80.0, 80.0, 2)
    turn, bend = rng.uniform(0.0, np.pi), rng.uniform(-0.0006, 0.0006)
    top, gap = rng.uniform(1.0, 1.6), rng.uniform(-150.0, 150.0)

    def depth(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        along = (x - middle[0]) * np.cos(turn) + (y - middle[1]) * np.sin(turn)
        across = (y - middle[1]) * np.cos(turn) - (x - middle[0]) * np.sin(turn) - bend * along**2
        slope = top + np.maximum(np.abs(across) - 4.0, 0.0) / 1.5
        slope[np.abs(along - gap) < 12.0] = np.inf
        found = ground(x, y)
        return np.minimum(found, np.maximum(slope, 0.0))

    return Bed("road bank", polygon, depth)


def shelf(rng: np.random.Generator) -> Bed:
    """A drowned flood plain, 1.6 to 3.2 m deep with levees and scrolls, and the old channel 30 to 60 m wide in it."""
    polygon = outline(rng)
    size = np.sqrt(polygon.area)
    level = rng.uniform(2.2, 3.2)
    banks = basin(polygon, rng, 1.0, 0.0)
    scrolls, long = rough(rng, rng.uniform(25.0, 60.0)), rough(rng, size)
    middle, turn = np.array(polygon.centroid.coords[0]), rng.uniform(0.0, np.pi)
    wave, swing, half, deep = (
        size * rng.uniform(0.4, 0.8),
        size * 0.12,
        rng.uniform(15.0, 30.0),
        rng.uniform(3.0, 6.0),
    )

    def depth(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        along = (x - middle[0]) * np.cos(turn) + (y - middle[1]) * np.sin(turn)
        across = (y - middle[1]) * np.cos(turn) - (x - middle[0]) * np.sin(turn)
        off = np.abs(across - swing * np.sin(2.0 * np.pi * along / wave)) / half
        levee = 0.4 * np.exp(-(((off - 1.5) / 0.4) ** 2))
        plain = level + 0.12 * scrolls(x, y) + 0.2 * long(x, y) - levee
        return banks(x, y) * (plain + deep * np.exp(-((off / 0.8) ** 4)))

    return Bed("flood-plain shelf with channel", polygon, depth)


def playa(rng: np.random.Generator) -> Bed:
    """A flat dry-country lake, 1.0 to 1.5 m deep, with low dunes; 1 m is asked for."""
    polygon = outline(rng)
    level, banks = rng.uniform(1.05, 1.5), basin(polygon, rng, 1.0, 0.0)
    dunes, long = rough(rng, rng.uniform(20.0, 80.0)), rough(rng, 0.8 * np.sqrt(polygon.area))
    height = rng.uniform(0.03, 0.12)
    return Bed(
        "flat playa",
        polygon,
        lambda x, y: banks(x, y) * (level + height * dunes(x, y) + 0.06 * long(x, y)),
        1.0,
    )


def glacial(rng: np.random.Generator) -> Bed:
    """Deep basins parted by sills 1.2 to 3 m deep, with one or two islands."""
    polygon = outline(rng)
    size = np.sqrt(polygon.area)
    for east, north in np.transpose(inside(polygon.buffer(-0.1 * size), rng.integers(1, 3), rng)):
        polygon = polygon.difference(
            shapely.Point(east, north).buffer(rng.uniform(0.02, 0.06) * size, quad_segs=6)
        )
    ground = basin(polygon, rng, rng.uniform(10.0, 25.0), 0.25)
    middle, turn = np.array(polygon.centroid.coords[0]), rng.uniform(0.0, np.pi)
    where, half = rng.uniform(-0.4, 0.4, 2) * size, rng.uniform(12.0, 35.0, 2)
    top = rng.uniform(1.2, 3.0, 2)

    def depth(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        along = (x - middle[0]) * np.cos(turn) + (y - middle[1]) * np.sin(turn)
        found = ground(x, y)
        for at, wide, least in zip(where, half, top, strict=True):
            sill = np.exp(-(((along - at) / wide) ** 2))
            found = np.minimum(found, found * (1.0 - sill) + least * sill)
        return found

    return Bed("glacial sills, islands", polygon, depth)


def quarry(rng: np.random.Generator) -> Bed:
    """A flooded quarry: level benches with steep faces, and a ramp 10 to 16 m wide across them."""
    polygon = outline(rng)
    size = np.sqrt(polygon.area)
    shore, step, face = polygon.boundary, rng.uniform(0.05, 0.12) * size, rng.uniform(3.0, 8.0)
    first, wander = rng.uniform(1.0, 3.0), rough(rng, 0.3 * size)
    middle, turn = np.array(polygon.centroid.coords[0]), rng.uniform(0.0, 2.0 * np.pi)
    half, fall = rng.uniform(5.0, 8.0), rng.uniform(0.04, 0.1)

    def depth(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        away = shapely.distance(shore, shapely.points(x, y)) * shapely.contains_xy(polygon, x, y)
        place = np.maximum(away + 0.2 * step * wander(x, y), 0.0) / step
        bench = np.floor(place)
        found = first + face * (bench - 1.0 + np.minimum((place - bench) * 6.0, 1.0))
        found = np.minimum(found, first + 4.0 * face)
        found = np.where(away < 0.6 * step, np.minimum(found, away / (0.6 * step) * first), found)
        along = (x - middle[0]) * np.cos(turn) + (y - middle[1]) * np.sin(turn) + 0.35 * size
        across = (y - middle[1]) * np.cos(turn) - (x - middle[0]) * np.sin(turn)
        ramp = np.where((np.abs(across) < half) & (along < 0.7 * size), np.maximum(fall * along, 0.3), np.inf)
        return np.minimum(np.maximum(found, 0.0), np.where(away > 0.0, ramp, np.inf))

    return Bed("quarry with benches and ramp", polygon, depth)


def mounds(rng: np.random.Generator) -> Bed:
    """A basin with narrow mounds, 8 to 25 m across at half height, one for each 40,000 m2."""
    polygon = outline(rng)
    ground = basin(polygon, rng, rng.uniform(4.0, 10.0))
    at = np.column_stack(inside(polygon, max(rng.poisson(polygon.area / 40_000.0), 1), rng))
    wide, share = rng.uniform(5.0, 15.0, len(at)), rng.uniform(0.4, 0.9, len(at))

    def depth(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        found = ground(x, y)
        for (east, north), w, s in zip(at, wide, share, strict=True):
            found = found * (1.0 - s * np.exp(-((x - east) ** 2 + (y - north) ** 2) / (2.0 * w**2)))
        return found

    return Bed("narrow mounds", polygon, depth)


# Kinds whose features are as wide as boats sound or wider; what is narrower is the rate's business, not the field's.
WIDE = (shelf, playa, glacial, quarry, mounds, smooth)
FIRST_BLOCK = 1000


def beds_to_learn(count: int, seed: int) -> list[Bed]:
    """So many beds of each wide kind; each kind is one block, so that it can be left out."""
    return [
        replace(make(np.random.default_rng([seed, k, number])), block=FIRST_BLOCK + k)
        for k, make in enumerate(WIDE)
        for number in range(count)
    ]


MAKERS = (dense_trees, sparse_trees, road_bank, shelf, playa, glacial, quarry, mounds, smooth)


def inside(polygon: shapely.Polygon, count: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Points spread evenly over the water."""
    west, south, east, north = polygon.bounds
    x, y = np.zeros(0), np.zeros(0)
    while len(x) < count:
        u, v = rng.uniform(west, east, 4 * count + 8), rng.uniform(south, north, 4 * count + 8)
        keep = shapely.contains_xy(polygon, u, v)
        x, y = np.append(x, u[keep]), np.append(y, v[keep])
    return x[:count], y[:count]


def runs(bed: Bed, count: int, rng: np.random.Generator, width_m: float = 20.0) -> list[shapely.LineString]:
    """Straight runs of 150 to 700 m whose strips lie in the water, at random."""
    water, size = bed.polygon, float(np.sqrt(bed.polygon.area))
    shapely.prepare(water)
    found: list[shapely.LineString] = []
    for _ in range(60 * count):
        (x,), (y,) = inside(water, 1, rng)
        length, turn = rng.uniform(150.0, min(700.0, 0.8 * size)), rng.uniform(0.0, 2.0 * np.pi)
        line = shapely.LineString([(x, y), (x + length * np.sin(turn), y + length * np.cos(turn))])
        if water.covers(line.buffer(0.5 * width_m, cap_style="flat")):
            found.append(line)
        if len(found) == count:
            break
    return found


def places(bed: Bed, count: int, design: str, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Places of about `count` soundings: "random" over the water, along boat "tracks", or a "grid" of even steps."""
    if design == "random":
        return inside(bed.polygon, count, rng)
    if design == "grid":
        step = np.sqrt(bed.polygon.area / count)
        west, south, east, north = bed.polygon.bounds
        xx, yy = np.meshgrid(
            np.arange(west + rng.uniform(0, step), east, step), np.arange(south, north, step)
        )
        wet = shapely.contains_xy(bed.polygon, xx.ravel(), yy.ravel())
        return xx.ravel()[wet], yy.ravel()[wet]
    turns = np.column_stack(inside(bed.polygon, max(count // 25, 2) + 1, rng))
    track = shapely.LineString(turns)
    at = np.linspace(0.0, 1.0, 3 * count)
    xy = shapely.get_coordinates(shapely.line_interpolate_point(track, at, normalized=True))
    wet = xy[shapely.contains_xy(bed.polygon, xy[:, 0], xy[:, 1])]
    pick = np.unique(np.linspace(0, len(wet) - 1, count).astype(int))
    return wet[pick, 0], wet[pick, 1]
