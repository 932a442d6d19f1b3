"""The rule by which a sounding is far too deep to be believed. Shallow ones are never outliers: they may be shoals."""

import numpy as np
import shapely
from scipy.spatial import cKDTree

# A sounding is kept out when it is deeper than FACTOR times the second deepest of its up to COMPARED nearest soundings
# that lie at least half as far from the shore as it does, and by more than LEAST_EXCESS_M. The second deepest, so that
# two false ones side by side do not hide each other; half the shore distance, so that a deep middle is not held against
# shallow banks (a cone passes). Our choice, no source: of 30,805 true soundings of 60 flooded valleys, 10 to 150 to a
# body, it kept out 4, all of bodies with 15 or fewer.
FACTOR = 2.5
LEAST_EXCESS_M = 2.0
COMPARED, LEAST_COMPARED, LOOKED_AT = 8, 3, 24
ROUNDS = 3


def deep_outliers(
    easting_m: np.ndarray, northing_m: np.ndarray, depth_m: np.ndarray, shore_m: np.ndarray
) -> np.ndarray:
    """Give which soundings of one body stand so far below those round them that they are kept out, (n,) bool.

    Parameters: positions (n,) [m], depths (n,) [m, positive down], distances to the shore (n,) [m]; all finite.

    Notes: up to ROUNDS passes, because an outlier may hide another. With fewer than LEAST_COMPARED soundings to compare
    nothing is kept out.
    """
    out = np.zeros(len(depth_m), bool)
    for _ in range(ROUNDS):
        left = np.flatnonzero(~out)
        if len(left) <= LEAST_COMPARED or np.ptp(depth_m[left]) <= LEAST_EXCESS_M:
            break
        found = _far_below(easting_m[left], northing_m[left], depth_m[left], shore_m[left])
        if not found.any():
            break
        out[left[found]] = True
    return out


def _far_below(x: np.ndarray, y: np.ndarray, depth_m: np.ndarray, shore_m: np.ndarray) -> np.ndarray:
    tree = cKDTree(np.column_stack((x, y)))
    # Only what stands well above the least of all can stand well above its neighbours.
    ask = np.flatnonzero(depth_m > max(FACTOR * float(depth_m.min()), float(depth_m.min()) + LEAST_EXCESS_M))
    found = np.zeros(len(depth_m), bool)
    if len(ask) == 0:
        return found
    near = tree.query(np.column_stack((x[ask], y[ask])), k=min(LOOKED_AT + 1, len(x)))[1]
    alike = (shore_m[near] >= 0.5 * shore_m[ask, None]) & (near != ask[:, None])
    counted = alike & (np.cumsum(alike, axis=1) <= COMPARED)
    depths = np.sort(np.where(counted, depth_m[near], -np.inf), axis=1)
    second = depths[:, -2]
    enough = counted.sum(axis=1) >= LEAST_COMPARED
    found[ask] = enough & (depth_m[ask] > FACTOR * second) & (depth_m[ask] > second + LEAST_EXCESS_M)
    return found


def shore_distances_m(polygon: shapely.Polygon, easting_m: np.ndarray, northing_m: np.ndarray) -> np.ndarray:
    """Give the distance of points (n,) to the outline of a water, islands included [m]."""
    pieces = [
        np.stack((xy[:-1], xy[1:]), axis=1)
        for ring in (polygon.exterior, *polygon.interiors)
        for xy in (shapely.get_coordinates(ring),)
    ]
    tree = shapely.STRtree(np.asarray(shapely.linestrings(np.concatenate(pieces))))
    points = np.asarray(shapely.points(easting_m, northing_m))
    index, distance = tree.query_nearest(points, return_distance=True, all_matches=False)
    result = np.empty(len(points))
    result[index[0]] = distance
    return result
