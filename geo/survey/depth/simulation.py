"""Least depth over an area from many joint draws of a depth field; the same body always gets the same numbers."""

from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256

import numpy as np
import shapely
from scipy.linalg import cholesky

from geo.records.survey import DEPTH_PROBABILITIES
from geo.survey.depth.corridor import Disc, Strip
from geo.survey.depth.process import DepthProcess, Solution
from geo.survey.depth.recalibration import CorrectionTerms, PointCorrection, Recalibration
from geo.survey.depth.shore import Shoreline

DRAWS = 400
# Stations along a run: a quarter of the correlation length, within these bounds [m].
LEAST_STEP_M, MOST_STEP_M = 10.0, 30.0
# Soundings inside the corridor that are simulated at their own place (the shallowest ones). One just beside it may lie
# in it, for its position is no better known: IHO S-44 Ed. 6 order 1, 5 m (and 5 % of the depth) at 95 %.
OWN_PLACES = 60
POSITION_ERROR_M = 5.0
# A sounding shallower than the field there by more than so many of its sigmas bounds the depth at its place.
SMOOTHED_SIGMAS = 3.0
# More soundings than this are thinned round the corridor, the shallowest of each square kept.
CONDITIONING_SOUNDINGS = 400
# Numerical jitter as a share of the variance: far below any instrument, it only keeps the factorisation sound.
JITTER = 1e-7


@dataclass(frozen=True, eq=False)
class LeastDraws:
    """Joint draws over an area: least_m (draws,) not clipped, where the least lies most often, points' own draws.

    easting_m, northing_m are the points' positions (k,), depth_m their draws (k, draws).
    """

    least_m: np.ndarray
    shallowest: shapely.Point
    depth_m: np.ndarray
    easting_m: np.ndarray
    northing_m: np.ndarray

    def ranked(self) -> tuple[np.ndarray, np.ndarray]:
        """Give the sorted draws of the least, and for each rank the least over the points' draws of that rank."""
        return np.sort(self.least_m), np.sort(self.depth_m, axis=1).min(axis=0)

    def table(self, recalibration: Recalibration | None, process: DepthProcess) -> tuple[float, ...]:
        """Give the quantiles of the least depth, recalibrated where a recalibration is given; never below 0."""
        if recalibration is None:
            return quantiles(self.least_m)
        count, reach = len(process.depth_m), process.sd_m
        found = recalibration.area.quantiles(*self.ranked(), count, reach)
        return tuple(float(q) for q in np.maximum(found, 0.0))


def seed_of(body_id: str) -> int:
    """Give the seed of a body: the first eight bytes of SHA-256 of its id."""
    return int.from_bytes(sha256(body_id.encode()).digest()[:8], "big")


@lru_cache(maxsize=8)
def _normals(seed: int, rows: int) -> np.ndarray:
    # Filled row by row: the numbers of the first k points do not depend on how many follow.
    return np.random.default_rng(seed).standard_normal((rows, DRAWS))


def normals(seed: int, count: int) -> np.ndarray:
    """Give standard normals (count, DRAWS); a smaller count gives the first rows of a larger one."""
    rows = 256
    while rows < count:
        rows *= 2
    return _normals(seed, rows)[:count]


def quantiles(least_m: np.ndarray) -> tuple[float, ...]:
    """Give the tabulated quantiles of draws, never below 0 (dry is dry)."""
    return tuple(float(q) for q in np.maximum(np.quantile(least_m, DEPTH_PROBABILITIES), 0.0))


def simulate_least(
    solution: Solution,
    shore: Shoreline,
    area: Strip | Disc,
    seed: int,
    level_change_m: float,
    correction: PointCorrection | None = None,
) -> LeastDraws:
    """Draw the depth at all points of an area together and keep the least of each draw.

    Parameters: a factored field, the shore, the area, the seed, today's level minus the survey's [m], the correction
    of sigma at single points (None: the field's own). Returns: LeastDraws; depths at today's level, negative where dry.

    Notes: points outside the water have no depth, so the least there is at most 0.
    """
    process = solution.process
    x, y, own = _places(process, area)
    distance = shore.distance_m(x, y)
    depth, mean = _drawn(solution, shore, x, y, distance, seed, correction)
    depth += level_change_m
    _hold_shoals(depth, process.factor(distance) * mean + level_change_m, process, own, seed, level_change_m)
    depth[distance <= 0.0] = min(level_change_m, 0.0)
    where = np.argmin(depth, axis=0)
    likeliest = int(np.argmax(np.bincount(where, minlength=len(x))))
    place = shapely.Point(x[likeliest], y[likeliest])
    return LeastDraws(depth[where, np.arange(DRAWS)], place, depth, x, y)


def _drawn(
    solution: Solution,
    shore: Shoreline,
    x: np.ndarray,
    y: np.ndarray,
    shore_m: np.ndarray,
    seed: int,
    correction: PointCorrection | None,
) -> tuple[np.ndarray, np.ndarray]:
    """Joint draws of the depth at the survey's level, (k, DRAWS), and the mean of A, (k,)."""
    process = solution.process
    mean, covariance = solution.joint_field(x, y)
    covariance[np.diag_indices_from(covariance)] += JITTER * process.sd_m**2 * process.scale**2 + 1e-12
    sd = np.sqrt(np.diag(covariance))
    lower = cholesky(covariance, lower=True, check_finite=False, overwrite_a=True)
    field = lower @ normals(seed, len(x))
    if correction is not None:
        around = correction_terms(process, shore, x, y, shore_m)
        widening = correction.widening(around)
        mean = mean - correction.shift(around) * widening * sd
        field *= widening[:, None]
    field += mean[:, None]
    field *= process.factor(shore_m)[:, None]
    return field, mean


def correction_terms(
    process: DepthProcess,
    shore: Shoreline,
    easting_m: np.ndarray,
    northing_m: np.ndarray,
    shore_m: np.ndarray,
) -> CorrectionTerms:
    """Give what the correction at points (k,) depends on; shore_m is their distance to shore [m]."""
    layout = process.layout
    gap = np.asarray(layout.tree.query(np.column_stack((easting_m, northing_m)))[0])
    evenness, shore_share = layout.evenness(shore.polygon.area), shore_m / shore.greatest_m
    return CorrectionTerms(len(layout.position_m), evenness, shore_share, gap / process.length_m)


def _hold_shoals(
    depth: np.ndarray,
    mean: np.ndarray,
    process: DepthProcess,
    own: np.ndarray,
    seed: int,
    level_change_m: float,
) -> None:
    """Keep draws at a sounding from being deeper than it, where the field would smooth that sounding away."""
    sounding = own[own >= 0]
    sd, measured = np.sqrt(process.noise_m2[sounding]), process.depth_m[sounding] + level_change_m
    rows = np.flatnonzero(own >= 0)
    smoothed = measured < mean[rows] - SMOOTHED_SIGMAS * sd
    bound = measured[:, None] + sd[:, None] * normals(seed ^ 1, 1)
    held = rows[smoothed]
    depth[held] = np.minimum(depth[held], bound[smoothed])


def _places(process: DepthProcess, area: Strip | Disc) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points of the area with the soundings inside it, ordered from the middle outwards; own is -1 or the sounding."""
    x, y, offset = area.points(float(np.clip(0.25 * process.length_m, LEAST_STEP_M, MOST_STEP_M)))
    reach = area.offset_m(process.easting_m, process.northing_m, POSITION_ERROR_M)
    inside = np.flatnonzero(np.isfinite(reach))
    inside = inside[np.argsort(process.depth_m[inside], kind="stable")[:OWN_PLACES]]
    order = np.argsort(np.concatenate((offset, reach[inside])), kind="stable")
    return (
        np.concatenate((x, process.easting_m[inside]))[order],
        np.concatenate((y, process.northing_m[inside]))[order],
        np.concatenate((np.full(len(x), -1), inside))[order],
    )


def local_solution(process: DepthProcess, area: Strip | Disc) -> Solution:
    """Condition a field with very many soundings on those round the area only.

    Notes: soundings within two correlation lengths (at least 100 m) count; they are thinned on squares of doubling
    size until at most CONDITIONING_SOUNDINGS stay, the shallowest of each square kept, so thinning hides no shoal.
    """
    if len(process.depth_m) <= CONDITIONING_SOUNDINGS:
        return process.solved()
    points = shapely.points(process.easting_m, process.northing_m)
    distance = shapely.distance(points, area.area)
    near = np.argsort(distance, kind="stable")
    count = max(int((distance <= max(2.0 * process.length_m, 100.0)).sum()), CONDITIONING_SOUNDINGS // 4)
    index, size = near[:count], 2.0
    while len(index) > CONDITIONING_SOUNDINGS:
        index = _shallowest_per_square(process, index, size)
        size *= 2.0
    return process.conditioned(np.sort(index)).solved()


def _shallowest_per_square(process: DepthProcess, index: np.ndarray, size_m: float) -> np.ndarray:
    column = ((process.easting_m[index] - process.easting_m.min()) // size_m).astype(np.int64)
    row = ((process.northing_m[index] - process.northing_m.min()) // size_m).astype(np.int64)
    square = row * (column.max() + 1) + column
    order = np.lexsort((process.depth_m[index], square))
    return index[order[np.flatnonzero(np.diff(square[order], prepend=-1))]]
