"""What a bent run may not touch: tests of straight pieces, rays and arcs against the edges of a shore.

Shore edges come as four arrays (ax, ay, bx, by) about a local origin [m]. Touching counts as hitting.
"""

import numpy as np
from numba import njit

Edges = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]


@njit(cache=True)
def hits_shore(shore: Edges, px: float, py: float, qx: float, qy: float) -> bool:
    """Say whether the segment p-q touches any shore edge."""
    ax, ay, bx, by = shore
    west, east = min(px, qx), max(px, qx)
    south, north = min(py, qy), max(py, qy)
    dx, dy = qx - px, qy - py
    for k in range(ax.size):
        if max(ax[k], bx[k]) < west or min(ax[k], bx[k]) > east:
            continue
        if max(ay[k], by[k]) < south or min(ay[k], by[k]) > north:
            continue
        a = dx * (ay[k] - py) - dy * (ax[k] - px)
        b = dx * (by[k] - py) - dy * (bx[k] - px)
        if (a > 0.0 and b > 0.0) or (a < 0.0 and b < 0.0):
            continue
        ex, ey = bx[k] - ax[k], by[k] - ay[k]
        c = ex * (py - ay[k]) - ey * (px - ax[k])
        d = ex * (qy - ay[k]) - ey * (qx - ax[k])
        if (c > 0.0 and d > 0.0) or (c < 0.0 and d < 0.0):
            continue
        return True
    return False


@njit(cache=True)
def arc_hits_shore(
    shore: Edges,
    cx: float,
    cy: float,
    mx: float,
    my: float,
    radius: float,
    reach: float,
) -> bool:
    """Say whether an arc touches any shore edge.

    c: centre; m: unit vector from the centre to the arc's middle; reach: cosine of half its angle.
    """
    ax, ay, bx, by = shore
    for k in range(ax.size):
        if max(ax[k], bx[k]) < cx - radius or min(ax[k], bx[k]) > cx + radius:
            continue
        if max(ay[k], by[k]) < cy - radius or min(ay[k], by[k]) > cy + radius:
            continue
        ux, uy = ax[k] - cx, ay[k] - cy
        ex, ey = bx[k] - ax[k], by[k] - ay[k]
        square = ex * ex + ey * ey
        half = ux * ex + uy * ey
        root = half * half - square * (ux * ux + uy * uy - radius * radius)
        if root < 0.0 or square == 0.0:
            continue
        root = np.sqrt(root)
        for t in ((-half - root) / square, (-half + root) / square):
            # The slack makes a contact at a corner between two edges count for one of them at least.
            along = (ux + t * ex) * mx + (uy + t * ey) * my
            if -1e-12 <= t <= 1.0 + 1e-12 and along >= radius * reach - 1e-9:
                return True
    return False


@njit(cache=True)
def free_ray(shore: Edges, px: float, py: float, dx: float, dy: float) -> float:
    """Give how far the ray from p along the unit vector d goes before the shore (inf when it meets none) [m]."""
    ax, ay, bx, by = shore
    free = np.inf
    for k in range(ax.size):
        a = dx * (ay[k] - py) - dy * (ax[k] - px)
        b = dx * (by[k] - py) - dy * (bx[k] - px)
        if (a > 0.0 and b > 0.0) or (a < 0.0 and b < 0.0) or a == b:
            continue
        u = a / (a - b)
        t = dx * (ax[k] + u * (bx[k] - ax[k]) - px) + dy * (ay[k] + u * (by[k] - ay[k]) - py)
        if 0.0 <= t < free:
            free = t
    return free


@njit(cache=True)
def in_water(shore: Edges, px: float, py: float) -> bool:
    """Say whether a point lies in the water: an odd number of shore edges east of it."""
    ax, ay, bx, by = shore
    inside = False
    for k in range(ax.size):
        if (ay[k] > py) != (by[k] > py) and px < ax[k] + (py - ay[k]) / (by[k] - ay[k]) * (bx[k] - ax[k]):
            inside = not inside
    return inside


@njit(cache=True)
def clearance(shore: Edges, px: float, py: float) -> float:
    """Give the distance from a point to the nearest shore edge [m]."""
    ax, ay, bx, by = shore
    least = np.inf
    for k in range(ax.size):
        ex, ey = bx[k] - ax[k], by[k] - ay[k]
        square = ex * ex + ey * ey
        t = 0.0
        if square > 0.0:
            t = min(1.0, max(0.0, ((px - ax[k]) * ex + (py - ay[k]) * ey) / square))
        least = min(least, (ax[k] + t * ex - px) ** 2 + (ay[k] + t * ey - py) ** 2)
    return np.sqrt(least)
