"""Longest straight runs inside a water polygon, and the longest per heading: the interim plain search."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numba import njit

from geo.errors import BadArgument


@dataclass(frozen=True)
class LongestRun:
    """length_m and line of the run (None where the corridor does not fit), and a bound on anything longer."""

    length_m: float
    line: shapely.LineString | None
    upper_bound_m: float


@dataclass(frozen=True)
class RunRose:
    """Longest run per heading: headings_deg (n,), lengths_m (n,) with 0 where none fits, lines."""

    headings_deg: np.ndarray
    lengths_m: np.ndarray
    lines: tuple[shapely.LineString | None, ...]


@njit(cache=True)
def _chord(ax, ay, bx, by, px, py, dx, dy, tol):
    """Free stretch of the line p + t d around t = 0: (t_back, t_forward), nudged off both sides of touched vertices."""
    ahead, back = np.inf, -np.inf
    for k in range(ax.size):
        sa = dx * (ay[k] - py) - dy * (ax[k] - px)
        sb = dx * (by[k] - py) - dy * (bx[k] - px)
        if (sa > tol and sb < -tol) or (sa < -tol and sb > tol):
            u = sa / (sa - sb)
            t = dx * (ax[k] + u * (bx[k] - ax[k]) - px) + dy * (ay[k] + u * (by[k] - ay[k]) - py)
            if t > 0.0:
                ahead = min(ahead, t)
            else:
                back = max(back, t)
    return back, ahead


@njit(cache=True)
def _best(ax, ay, bx, by, vx, vy, hx, hy, tol):
    """Best chord over offsets to both sides of every vertex for every direction given."""
    best, bp, bq = 0.0, (0.0, 0.0), (0.0, 0.0)
    for i in range(vx.size):
        for j in range(hx.size):
            dx, dy = hx[j], hy[j]
            for side in (-1.0, 1.0):
                px, py = vx[i] - side * dy * 2 * tol, vy[i] + side * dx * 2 * tol
                back, ahead = _chord(ax, ay, bx, by, px, py, dx, dy, tol)
                if ahead - back > best and np.isfinite(ahead - back):
                    if _inside(ax, ay, bx, by, px + 0.5 * (ahead + back) * dx, py + 0.5 * (ahead + back) * dy):
                        best = ahead - back
                        bp = (px + back * dx, py + back * dy)
                        bq = (px + ahead * dx, py + ahead * dy)
    return best, bp, bq


@njit(cache=True)
def _inside(ax, ay, bx, by, x, y):
    inside = False
    for k in range(ax.size):
        if (ay[k] > y) != (by[k] > y) and x < ax[k] + (y - ay[k]) / (by[k] - ay[k]) * (bx[k] - ax[k]):
            inside = not inside
    return inside


@njit(cache=True)
def _longest(ax, ay, bx, by, vx, vy, tol):
    best, bp, bq = 0.0, (0.0, 0.0), (0.0, 0.0)
    hx, hy = np.empty(1), np.empty(1)
    n = vx.size
    for i in range(n):
        for j in range(i + 1, n):
            dx, dy = vx[j] - vx[i], vy[j] - vy[i]
            length = np.hypot(dx, dy)
            if length <= tol:
                continue
            hx[0], hy[0] = dx / length, dy / length
            found, p, q = _best(ax, ay, bx, by, vx[i : i + 1], vy[i : i + 1], hx, hy, tol)
            if found > best:
                best, bp, bq = found, p, q
    return best, bp, bq


def _parts(polygon, corridor_width_m):
    if polygon.is_empty or not polygon.is_valid:
        raise BadArgument("the polygon is empty or not valid. Cure: repair it first")
    eroded = polygon.buffer(-corridor_width_m / 2.0 * (1 + 1e-3), quad_segs=16) if corridor_width_m > 0 else polygon
    eroded = eroded.simplify(max(corridor_width_m, 0.0) / 100.0) if corridor_width_m > 0 else eroded
    return [part for part in shapely.get_parts(eroded) if part.area > 0]


def _edges(part):
    rings = [np.asarray(ring.coords) for ring in (part.exterior, *part.interiors)]
    a = np.concatenate([ring[:-1] for ring in rings])
    b = np.concatenate([ring[1:] for ring in rings])
    origin = a.mean(axis=0)
    a, b = a - origin, b - origin
    return a, b, origin


def longest_run(polygon, corridor_width_m: float = 0.0) -> LongestRun:
    """Give the longest straight run (interim: thinned vertices, lower bound of the true longest)."""
    best = LongestRun(0.0, None, 0.0)
    for part in _parts(polygon, corridor_width_m):
        a, b, origin = _edges(part)
        v = a[:: max(1, len(a) // 150)]
        length, p, q = _longest(*a.T.copy(), *b.T.copy(), *v.T.copy(), 1e-6)
        if length > best.length_m:
            line = shapely.LineString([np.add(p, origin), np.add(q, origin)])
            best = LongestRun(length, line, float(np.hypot(*np.ptp(a, axis=0))))
    return best


def run_rose(polygon, headings_deg: Sequence[float], corridor_width_m: float = 0.0) -> RunRose:
    """Give the longest run per heading."""
    headings = np.asarray(headings_deg, float)
    lengths, lines = np.zeros(len(headings)), [None] * len(headings)
    for part in _parts(polygon, corridor_width_m):
        a, b, origin = _edges(part)
        for k, heading in enumerate(np.radians(headings)):
            h = np.array([[np.sin(heading)], [np.cos(heading)]])
            length, p, q = _best(*a.T.copy(), *b.T.copy(), *a.T.copy(), h[0], h[1], 1e-6)
            if length > lengths[k]:
                lengths[k], lines[k] = length, shapely.LineString([np.add(p, origin), np.add(q, origin)])
    return RunRose(headings, lengths, tuple(lines))
