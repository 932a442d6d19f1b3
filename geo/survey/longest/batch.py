"""Longest run and run rose of many bodies in one call, without a Python object per body.

For surveys of whole registers of dams. The search is the one of `runs`; what is saved is the work around it.
"""

from dataclasses import dataclass

import numpy as np
from numba import njit

from geo.base.errors import BadArgument
from geo.survey.longest.frame import load_shore, origin_of
from geo.survey.longest.headings import heading_fan
from geo.survey.longest.limits import no_limits
from geo.survey.longest.room import make_room
from geo.survey.longest.search import (
    SECTORS,
    SEED_HALVINGS,
    UNLIMITED,
    search_all,
    search_headings,
    seed_headings,
)


@dataclass(frozen=True, eq=False)
class RunBatch:
    """Runs of n bodies and h headings.

    lengths_m (n,), upper_bounds_m (n,), lines_m (n, 4): longest run of each body, its bound, and its ends as
    easting, northing, easting, northing. rose_lengths_m (n, h), rose_lines_m (n, h, 4): the same for each heading,
    ends in the heading's direction. Lengths are 0.0, and ends NaN, where a body has no run.
    """

    lengths_m: np.ndarray
    upper_bounds_m: np.ndarray
    lines_m: np.ndarray
    headings_deg: np.ndarray
    rose_lengths_m: np.ndarray
    rose_lines_m: np.ndarray


def survey_runs_batch(
    coordinates: np.ndarray,
    ring_offsets: np.ndarray,
    body_offsets: np.ndarray,
    headings_deg: np.ndarray,
    corridor_width_m: float = 0.0,
) -> RunBatch:
    """Give longest run and run rose of many single-part polygons given as flat arrays.

    Parameters: coordinates (m, 2), easting and northing [m] of all vertices, rings closed; ring_offsets (r + 1,),
    row of each ring's first vertex; body_offsets (n + 1,), number of each body's first ring, which is its shell;
    headings_deg (h,) [deg clockwise from grid north]; corridor_width_m [m]. These are the arrays that
    `shapely.to_ragged_array` gives for an array of Polygons.
    Returns: RunBatch.
    Raises: BadArgument for offsets that do not fit, open rings, coordinates or headings that are no finite numbers.

    Notes: as `longest_run` and `run_rose`. The polygons must be valid (`shapely.is_valid`): that is not checked here.
    """
    points = np.ascontiguousarray(coordinates, float)
    rings, bodies = np.asarray(ring_offsets, np.int64), np.asarray(body_offsets, np.int64)
    _check_arrays(points, rings, bodies, corridor_width_m)
    directions, line_of, sense = heading_fan(headings_deg)
    count = len(bodies) - 1
    best, bounds = np.zeros((count, 5)), np.zeros(count)
    roses = np.zeros((count, len(directions), 5))
    origins = np.zeros((count, 2))
    _search_bodies(points, rings, bodies, directions, 0.5 * corridor_width_m, best, bounds, roses, origins)
    by_heading = roses[:, line_of]
    return RunBatch(
        best[:, 0],
        bounds,
        _ends(best, origins, np.ones(())),
        np.asarray(headings_deg, float),
        by_heading[..., 0],
        _ends(by_heading, origins[:, None], sense * _along(by_heading, directions[line_of])),
    )


def _check_arrays(points: np.ndarray, rings: np.ndarray, bodies: np.ndarray, corridor_width_m: float) -> None:
    if not (corridor_width_m >= 0.0 and np.isfinite(corridor_width_m)):
        raise BadArgument(
            f"corridor_width_m is {corridor_width_m}: it must be a finite width of 0 m or more."
        )
    fits = (
        points.ndim == 2
        and points.shape[1] == 2
        and (
            len(bodies) > 0
            and bodies[0] == 0
            and bodies[-1] == len(rings) - 1
            and (np.diff(bodies) > 0).all()
        )
        and (rings[0] == 0 and rings[-1] == len(points) and (np.diff(rings) > 3).all())
    )
    if not fits:
        raise BadArgument(
            "The arrays do not fit together: coordinates must be (m, 2), ring_offsets must rise from 0 to m by at "
            "least 4, and body_offsets from 0 to the number of rings by at least 1; pass what to_ragged_array gives."
        )
    broken = np.flatnonzero(~np.isfinite(points).all(axis=1))
    if broken.size > 0:
        raise BadArgument(
            f"Row {int(broken[0])} of the coordinates holds no finite numbers; correct that vertex."
        )
    opened = np.flatnonzero((points[rings[:-1]] != points[rings[1:] - 1]).any(axis=1))
    if opened.size > 0:
        raise BadArgument(f"Ring {int(opened[0])} is open: its last vertex must repeat its first; close it.")


def _along(runs: np.ndarray, directions: np.ndarray) -> np.ndarray:
    """Give 1.0 where runs (n, h, 5) point along their directions (h, 2), else -1.0."""
    ahead = np.sum((runs[..., 3:5] - runs[..., 1:3]) * directions, axis=-1)
    return np.where(ahead < 0.0, -1.0, 1.0)


def _ends(runs: np.ndarray, origins: np.ndarray, sense: np.ndarray) -> np.ndarray:
    """Give the ends of runs as (..., 4) in the bodies' coordinates, turned round where sense is negative."""
    start, end = runs[..., 1:3] + origins, runs[..., 3:5] + origins
    ahead = (sense > 0.0)[..., None]
    lines = np.concatenate([np.where(ahead, start, end), np.where(ahead, end, start)], axis=-1)
    return np.where((runs[..., 0] > 0.0)[..., None], lines, np.nan)


@njit(cache=True, nogil=True)
def _search_bodies(
    points: np.ndarray,
    rings: np.ndarray,
    bodies: np.ndarray,
    directions: np.ndarray,
    radius: float,
    best: np.ndarray,
    bounds: np.ndarray,
    roses: np.ndarray,
    origins: np.ndarray,
) -> None:
    """Fill best (n, 5), bounds (n,), roses (n, h, 5) and origins (n, 2)."""
    limits = no_limits()
    most = 0
    for k in range(bodies.size - 1):
        most = max(most, rings[bodies[k + 1]] - rings[bodies[k]])
    room = make_room(most)
    for k in range(bodies.size - 1):
        offsets = rings[bodies[k] : bodies[k + 1] + 1]
        origins[k] = origin_of(points[offsets[0] : offsets[-1]])
        shore = load_shore(points, offsets, origins[k])
        search_headings(shore, room, directions, radius, roses[k], limits)
        for h in range(directions.shape[0]):
            if roses[k, h, 0] > best[k, 0]:
                best[k] = roses[k, h]
        if directions.shape[0] < seed_headings(shore):
            search_all(shore, room, True, seed_headings(shore), radius, SEED_HALVINGS, best[k], limits)
        left_over = search_all(shore, room, False, SECTORS, radius, UNLIMITED, best[k], limits)
        bounds[k] = max(best[k, 0], left_over)
