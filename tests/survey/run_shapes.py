"""Polygons to search runs in: random lakes with islands, and lattice shapes full of coincidences."""

import numpy as np
import pytest
import shapely


def random_lake(rng: np.random.Generator, vertices: int = 16, islands: int = 2) -> shapely.Polygon:
    """Give a random star-shaped lake of about 1 km with small random islands."""
    lake = shapely.Polygon(_star(rng, vertices, 0.0, 0.0, 100.0, 1000.0))
    for _ in range(islands):
        x, y = rng.uniform(-400.0, 400.0, 2)
        lake = lake.difference(shapely.Polygon(_star(rng, int(rng.integers(3, 7)), x, y, 10.0, 150.0)))
    return largest_part(lake)


def _star(rng: np.random.Generator, count: int, x: float, y: float, least: float, most: float) -> np.ndarray:
    angles = 2.0 * np.pi * (np.arange(count) + rng.uniform(0.0, 0.9, count)) / count
    radii = rng.uniform(least, most, count)
    return np.column_stack([x + radii * np.cos(angles), y + radii * np.sin(angles)])


def lattice_lake(rng: np.random.Generator, size: int = 5, triangles: int = 3) -> shapely.Polygon:
    """Give a union of unit cells less some triangles on the lattice, scaled so that every vertex is an integer.

    Such shapes are full of collinear edges, islands that touch the shore or one another in a corner, and lines
    that graze several corners at once.
    """
    cells = [shapely.box(i, j, i + 1, j + 1) for i in range(size) for j in range(size) if rng.random() < 0.7]
    if not cells:
        return lattice_lake(rng, size, triangles)
    lake = shapely.union_all(cells)
    for _ in range(triangles):
        corners = rng.integers(0, size + 1, (3, 2)).astype(float)
        triangle = shapely.Polygon(corners)
        if triangle.area > 0.0:
            cut = lake.difference(triangle)
            whole = shapely.get_coordinates(cut) * 2.0
            if not cut.is_empty and np.array_equal(whole, np.round(whole)):
                lake = cut
    doubled = shapely.transform(largest_part(lake), lambda points: np.round(points * 2.0))
    return doubled if doubled.is_valid else lattice_lake(rng, size, 0)


def largest_part(area: shapely.Geometry) -> shapely.Polygon:
    """Give the polygon of greatest area of a geometry."""
    parts = [part for part in shapely.get_parts(area) if part.geom_type == "Polygon"]
    return max(parts, key=lambda part: part.area)


def turned(polygon: shapely.Geometry, angle_deg: float, x: float = 0.0, y: float = 0.0) -> shapely.Geometry:
    """Give a polygon turned clockwise about the origin and shifted."""
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return shapely.transform(polygon, lambda p: p @ np.array([[c, -s], [s, c]]) + (x, y))


def some_of(count: int, fast: int) -> list:
    """Numbers from 0: the first few for every run, the others for the slow one."""
    return [pytest.param(n, marks=pytest.mark.slow if n >= fast else ()) for n in range(count)]
