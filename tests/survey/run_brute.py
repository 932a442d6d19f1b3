"""Runs by brute force, written apart from the program: every pair of vertices, every edge, every piece by its middle.

Nothing here prunes, sweeps or decides by side: a line is cut at every meeting with the shore, and a piece counts when
its middle is in the closed polygon. O(n^3), exact in rational arithmetic for integer coordinates.
"""

from fractions import Fraction
from itertools import combinations, pairwise

import numpy as np
import shapely


def rings_of(polygon: shapely.Polygon) -> list[np.ndarray]:
    """Give the rings as open arrays (n, 2)."""
    return [shapely.get_coordinates(ring)[:-1] for ring in (polygon.exterior, *polygon.interiors)]


def edges_of(polygon: shapely.Polygon) -> np.ndarray:
    """Give the edges (m, 2, 2)."""
    return np.concatenate([np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for ring in rings_of(polygon)])


def longest_run_by_pairs(polygon: shapely.Polygon) -> float:
    """Give the longest run [m] in floating point, for polygons in general position."""
    vertices = np.concatenate(rings_of(polygon))
    edges = edges_of(polygon)
    return max(longest_on_line(edges, a, b - a) for a, b in combinations(vertices, 2) if np.any(a != b))


def rose_by_vertices(polygon: shapely.Polygon, heading_deg: float) -> float:
    """Give the longest run [m] along a heading in floating point: a line through each vertex."""
    direction = np.array([np.sin(np.radians(heading_deg)), np.cos(np.radians(heading_deg))])
    edges = edges_of(polygon)
    return max(longest_on_line(edges, vertex, direction) for vertex in np.concatenate(rings_of(polygon)))


def longest_on_line(edges: np.ndarray, start: np.ndarray, step: np.ndarray) -> float:
    """Give the longest piece of a line in the polygon of these edges [m]; touching within 1e-9 of the size counts."""
    size = np.ptp(edges.reshape(-1, 2), axis=0).max()
    direction = step / np.hypot(*step)
    along = (edges - start) @ direction
    across = (edges - start) @ np.array([-direction[1], direction[0]])
    across = np.where(np.abs(across) < 1e-11 * size, 0.0, across)
    one, two = across[:, 0], across[:, 1]
    crossing = one * two < 0.0
    share = one[crossing] / (one[crossing] - two[crossing])
    cuts = along[crossing, 0] + share * (along[crossing, 1] - along[crossing, 0])
    cuts = np.unique(np.concatenate([cuts, along[across == 0.0]]))
    best = current = 0.0
    for low, high in pairwise(cuts):
        middle = start + 0.5 * (low + high) * direction
        inside = high - low < 1e-11 * size or _holds(edges, middle, 1e-11 * size)
        current = current + high - low if inside else 0.0
        best = max(best, current)
    return best


def _holds(edges: np.ndarray, point: np.ndarray, tolerance: float) -> bool:
    """Say whether the closed polygon holds a point: near an edge, or an odd number of edges to the east."""
    one, two = edges[:, 0] - point, edges[:, 1] - point
    step = two - one
    share = np.clip(-np.sum(one * step, axis=1) / np.sum(step * step, axis=1), 0.0, 1.0)
    if np.hypot(*(one + share[:, None] * step).T).min() <= tolerance:
        return True
    over = (one[:, 1] > 0.0) != (two[:, 1] > 0.0)
    east = one[over, 0] - one[over, 1] * step[over, 0] / step[over, 1]
    return int(np.count_nonzero(east > 0.0)) % 2 == 1


def squared_longest_run_exact(polygon: shapely.Polygon) -> Fraction:
    """Give the squared length of the longest run of a polygon with integer coordinates, without any rounding."""
    rings = [[(int(x), int(y)) for x, y in ring] for ring in rings_of(polygon)]
    edges = [(ring[k], ring[(k + 1) % len(ring)]) for ring in rings for k in range(len(ring))]
    vertices = {vertex for ring in rings for vertex in ring}
    return max(_exact_on_line(edges, a, b) for a, b in combinations(sorted(vertices), 2))


def _exact_on_line(edges: list, a: tuple[int, int], b: tuple[int, int]) -> Fraction:
    dx, dy = b[0] - a[0], b[1] - a[1]
    cuts: set[Fraction] = set()
    for p, q in edges:
        s = dx * (p[1] - a[1]) - dy * (p[0] - a[0])
        t = dx * (q[1] - a[1]) - dy * (q[0] - a[0])
        if s == 0:
            cuts.add(Fraction(dx * (p[0] - a[0]) + dy * (p[1] - a[1]), dx * dx + dy * dy))
        elif s * t < 0:
            x = p[0] + Fraction(s, s - t) * (q[0] - p[0])
            y = p[1] + Fraction(s, s - t) * (q[1] - p[1])
            cuts.add((dx * (x - a[0]) + dy * (y - a[1])) / (dx * dx + dy * dy))
    best = current = Fraction(0)
    ordered = sorted(cuts)
    for low, high in pairwise(ordered):
        middle = (low + high) / 2
        current = (
            current + high - low
            if _holds_exactly(edges, a[0] + middle * dx, a[1] + middle * dy)
            else Fraction(0)
        )
        best = max(best, current)
    return best * best * (dx * dx + dy * dy)


def _holds_exactly(edges: list, x: Fraction, y: Fraction) -> bool:
    odd = False
    for (px, py), (qx, qy) in edges:
        turn = (qx - px) * (y - py) - (qy - py) * (x - px)
        if turn == 0 and min(px, qx) <= x <= max(px, qx) and min(py, qy) <= y <= max(py, qy):
            return True
        if (py > y) != (qy > y) and px + Fraction(y - py) * (qx - px) / (qy - py) > x:
            odd = not odd
    return odd
