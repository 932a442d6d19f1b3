"""The random field behind a set of soundings: depth = (saturating function of shore distance) x Gaussian field.

The multiplicative form is zero at the shore by construction. Zero-depth points along the shore with a constant mean
are NOT used: banks are steep, so they pull the mean down and the intervals fail.
There is no free nugget: only the known instrument variance is noise. A fitted white nugget, simulated at every point
of a corridor, would drive the joint probability to nothing; dropped, it would make the answer too sure.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.linalg import cho_factor, cho_solve, solve_triangular
from scipy.spatial import cKDTree

# A rounded sounding is never known better than this [m]; keeps the algebra sound where no error is stated.
LEAST_INSTRUMENT_SD_M = 0.01
# The field never varies less than this share of its mean: a perfect fit of a few soundings proves no flat bed.
LEAST_VARIATION = 0.05
# Hyperparameters are learned from at most so many soundings (cost grows with the cube).
LEARNING_SOUNDINGS = 120
# Of these, so many stand out as shallowest against their neighbours: a shoal must be able to roughen the field.
LEARNING_SHOALS = 10
SHOAL_NEIGHBOURS = 5
# Learned besides the mean: shore scale, correlation length, variance.
LEARNED = 3
SHORE_SCALES = 9
# Steepest bank that is tried: walls of dams and quays [m].
STEEPEST_SCALE_M = 0.5
CORRELATION_LENGTHS = 6


def matern(distance: np.ndarray, length_m: float | np.ndarray) -> np.ndarray:
    """Give the Matern 3/2 correlation (1 + a) exp(-a), a = sqrt(3) r / length, of distances r [m].

    References: Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, eq. 4.17.
    """
    a = np.sqrt(3.0) * distance / length_m
    return (1.0 + a) * np.exp(-a)


def separation_m(
    easting_1: np.ndarray, northing_1: np.ndarray, easting_2: np.ndarray, northing_2: np.ndarray
):
    """Give the distances [m] between all points of two sets, array (n1, n2)."""
    east, north = easting_1[:, None] - easting_2[None, :], northing_1[:, None] - northing_2[None, :]
    return np.sqrt(east * east + north * north)  # numpy's hypot is several times slower


def shore_factor(distance_m: np.ndarray, shore_scale_m: float | np.ndarray) -> np.ndarray:
    """Give f = 1 - exp(-d / L): 0 at the shore, near 1 far from it."""
    return -np.expm1(-distance_m / shore_scale_m)


@dataclass(frozen=True, eq=False)
class Layout:
    """Where soundings lie: position (n, 2) [m]."""

    position_m: np.ndarray

    @cached_property
    def tree(self) -> cKDTree:
        """The positions, ready for nearest-neighbour questions."""
        return cKDTree(self.position_m)

    @cached_property
    def spacing_m(self) -> float:
        """Mean distance from a sounding to its nearest other one [m].

        References: Clark and Evans 1954, Ecology 35:445-453.
        """
        return float(self.tree.query(self.position_m, k=2)[0][:, 1].mean())

    def evenness(self, area_m2: float) -> float:
        """Give the spacing over that of points strewn at random on an area: 1 random, near 0 clumped."""
        return self.spacing_m / (0.5 * float(np.sqrt(area_m2 / len(self.position_m))))


@dataclass(frozen=True, eq=False)
class DepthProcess:
    """A fitted field. Arrays of length n are the soundings that it is conditioned on.

    depth = factor(d) x A; A has mean `mean_m` (estimated, its error kept), standard deviation `sd_m` and Matern 3/2
    correlation of length `length_m`. `scale` is the leave-one-out factor on every posterior standard deviation.
    """

    easting_m: np.ndarray
    northing_m: np.ndarray
    depth_m: np.ndarray
    noise_m2: np.ndarray
    shore_distance_m: np.ndarray
    shore_scale_m: float
    length_m: float
    sd_m: float
    scale: float
    whole: "Layout | None" = None

    @property
    def layout(self) -> "Layout":
        """Where all of the body's soundings lie, those included that the field is not conditioned on here."""
        return self.whole if self.whole is not None else self._layout

    @cached_property
    def _layout(self) -> "Layout":
        return Layout(np.column_stack((self.easting_m, self.northing_m)))

    def conditioned(self, index: np.ndarray) -> "DepthProcess":
        """Give the same field conditioned on a part of the soundings."""
        names = ("easting_m", "northing_m", "depth_m", "noise_m2", "shore_distance_m")
        return replace(self, whole=self.layout, **{name: getattr(self, name)[index] for name in names})

    def factor(self, distance_m: np.ndarray) -> np.ndarray:
        """Give the shore factor of points `distance_m` from the shore."""
        return shore_factor(distance_m, self.shore_scale_m)

    def solved(self) -> "Solution":
        """Factor the covariance of the soundings once, for any number of predictions."""
        f = self.factor(self.shore_distance_m)
        r = separation_m(self.easting_m, self.northing_m, self.easting_m, self.northing_m)
        covariance = self.sd_m**2 * np.outer(f, f) * matern(r, self.length_m)
        covariance[np.diag_indices_from(covariance)] += self.noise_m2
        lower = cho_factor(covariance, lower=True)[0]
        both = cho_solve((lower, True), np.column_stack((self.depth_m, f)))
        precision = float(f @ both[:, 1])
        mean = float(f @ both[:, 0]) / precision
        return Solution(self, f, lower, both[:, 0] - mean * both[:, 1], both[:, 1], mean, 1.0 / precision)


@dataclass(frozen=True, eq=False)
class Solution:
    """A field with its soundings' covariance factored (universal kriging with one unknown mean)."""

    process: DepthProcess
    factor: np.ndarray
    lower: np.ndarray
    weights: np.ndarray
    factor_weights: np.ndarray
    mean_m: float
    mean_m2: float

    def _cross(self, easting_m: np.ndarray, northing_m: np.ndarray) -> np.ndarray:
        p = self.process
        r = separation_m(easting_m, northing_m, p.easting_m, p.northing_m)
        return p.sd_m**2 * matern(r, p.length_m) * self.factor

    def field(self, easting_m: np.ndarray, northing_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Give mean and standard deviation of A [m] at m points, each array (m,)."""
        cross = self._cross(easting_m, northing_m)
        half = solve_triangular(self.lower, cross.T, lower=True, check_finite=False)
        rest = 1.0 - cross @ self.factor_weights
        variance = self.process.sd_m**2 - (half**2).sum(axis=0) + rest**2 * self.mean_m2
        mean = self.mean_m + cross @ self.weights
        return mean, self.process.scale * np.sqrt(np.maximum(variance, 0.0))

    def joint_field(self, easting_m: np.ndarray, northing_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Give the mean (m,) and the posterior covariance (m, m) [m2] of A at m points."""
        p = self.process
        cross = self._cross(easting_m, northing_m)
        half = solve_triangular(self.lower, cross.T, lower=True, check_finite=False)
        rest = 1.0 - cross @ self.factor_weights
        prior = p.sd_m**2 * matern(separation_m(easting_m, northing_m, easting_m, northing_m), p.length_m)
        covariance = prior - half.T @ half + self.mean_m2 * np.outer(rest, rest)
        return self.mean_m + cross @ self.weights, p.scale**2 * covariance


def fit_process(
    easting_m: np.ndarray, northing_m: np.ndarray, depth_m: np.ndarray, sd_m: np.ndarray, shore_m: np.ndarray
) -> DepthProcess:
    """Learn the field of one body from its soundings.

    Parameters: arrays (n,): position [m], depth [m, positive down], one-sigma instrument error [m], distance to
    shore [m, > 0]; n >= 6. Returns: the field, conditioned on all of them.

    Notes: shore scale and correlation length are chosen on a grid by restricted likelihood, the variance by its
    fixed point. Leave-one-out residuals then widen the posterior standard deviation (they never narrow it), and
    sqrt((n - 1) / (n - 1 - LEARNED)) widens it for what was learned from the same few soundings.
    What is still too narrow or too wide, and the shore scale's own error, is left to the recalibration, which is
    learned on top of these rules: change them and it must be learned anew.
    References: Patterson and Thompson 1971, Biometrika 58:545-554 (restricted likelihood); Dubrule 1983,
    Mathematical Geology 15:687-699 (leave-one-out without refitting).
    """
    noise = np.maximum(sd_m, LEAST_INSTRUMENT_SD_M) ** 2
    pick = learning_subset(easting_m, northing_m, depth_m)
    x, y, z, d, v = (a[pick] for a in (easting_m, northing_m, depth_m, shore_m, noise))
    r = separation_m(x, y, x, y)
    scales, lengths = _candidates(r, d)
    f = shore_factor(d[None, :], scales[:, None])
    correlation = matern(r[None, :, :], lengths[:, None, None])
    variance, likelihood = _profile(f, correlation, z, v)
    best = np.unravel_index(np.argmax(likelihood), likelihood.shape)
    loo = _leave_one_out(
        variance[best], np.outer(f[best[0]], f[best[0]]) * correlation[best[1]], v, z, f[best[0]]
    )
    widening = max(loo, 1.0) * np.sqrt((len(z) - 1) / (len(z) - 1 - LEARNED))
    return DepthProcess(
        easting_m, northing_m, depth_m, noise, shore_m,
        float(scales[best[0]]), float(lengths[best[1]]), float(np.sqrt(variance[best])), float(widening),
    )  # fmt: skip


def learning_subset(easting_m: np.ndarray, northing_m: np.ndarray, depth_m: np.ndarray) -> np.ndarray:
    """Give the indices of the soundings to learn from: spread out, each with its nearest neighbour, and the shoals.

    Neighbours are kept because only close pairs tell the field's roughness; shoals because a field learned without
    them would smooth them away (this makes the field rougher than its average: cautious).
    """
    n = len(easting_m)
    if n <= LEARNING_SOUNDINGS:
        return np.arange(n)
    xy = np.column_stack((easting_m, northing_m))
    tree = cKDTree(xy)
    seeds = np.random.default_rng(n).permutation(n)[: (LEARNING_SOUNDINGS - LEARNING_SHOALS) // 2]
    nearest = tree.query(xy[seeds], k=2)[1][:, 1]
    around = tree.query(xy, k=SHOAL_NEIGHBOURS)[1][:, 1:]
    shoals = np.argsort(depth_m - depth_m[around].mean(axis=1), kind="stable")[:LEARNING_SHOALS]
    return np.unique(np.concatenate((seeds, nearest, shoals)))


def _candidates(r: np.ndarray, shore_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Grids of shore scale L and correlation length, from the body's own sizes."""
    far = float(shore_m.max())
    # Nearer to the shore than the soundings go nothing tells how steep the bank is: it is not taken for a wall.
    nearest_shore = float(np.partition(shore_m, 1)[1])
    scales = np.geomspace(max(STEEPEST_SCALE_M, nearest_shore / 3.0), 4.0 * far, SHORE_SCALES)
    nearest = np.median(np.partition(r, 1, axis=1)[:, 1])
    extent = max(float(r.max()), 1.0)
    lengths = np.geomspace(max(nearest, 0.02 * extent), 2.0 * extent, CORRELATION_LENGTHS)
    return scales, lengths


def _profile(
    f: np.ndarray, correlation: np.ndarray, z: np.ndarray, noise: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Variance of A and restricted log likelihood on the grid; each (scales, lengths)."""
    n = len(z)
    shape = (len(f), len(correlation))
    unit = f[:, None, :, None] * f[:, None, None, :] * correlation[None]
    slope = (f @ z) / (f**2).sum(axis=1)
    start = ((z - slope[:, None] * f) ** 2).mean(axis=1) / (f**2).mean(axis=1)
    floor = np.maximum(LEAST_VARIATION * slope, LEAST_INSTRUMENT_SD_M) ** 2
    variance = np.broadcast_to(np.maximum(start, floor)[:, None], shape).copy()
    right = np.stack((np.broadcast_to(z, f.shape), f), axis=-1)[:, None]
    right = np.broadcast_to(right, (*shape, n, 2))
    for _ in range(2):
        quadratic = _quadratic(variance, unit, noise, right)
        variance = np.maximum(variance * quadratic / (n - 1), floor[:, None])
    return variance, _likelihood(variance, unit, noise, right)


def _quadratic(variance: np.ndarray, unit: np.ndarray, noise: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Quadratic form of the generalised least squares residual, without the rest of _solve."""
    solved = np.linalg.solve(_covariance(variance, unit, noise), right)
    products = np.swapaxes(right, -1, -2) @ solved
    return products[..., 0, 0] - products[..., 0, 1] ** 2 / products[..., 1, 1]


def _covariance(variance: np.ndarray, unit: np.ndarray, noise: np.ndarray) -> np.ndarray:
    covariance = variance[..., None, None] * unit
    covariance[..., np.arange(len(noise)), np.arange(len(noise))] += noise
    return covariance


def _likelihood(variance: np.ndarray, unit: np.ndarray, noise: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Restricted log likelihood, up to a constant."""
    covariance = _covariance(variance, unit, noise)
    products = np.swapaxes(right, -1, -2) @ np.linalg.solve(covariance, right)
    quadratic = products[..., 0, 0] - products[..., 0, 1] ** 2 / products[..., 1, 1]
    lower = np.linalg.cholesky(covariance)
    logdet = 2.0 * np.log(np.diagonal(lower, axis1=-2, axis2=-1)).sum(axis=-1) + np.log(products[..., 1, 1])
    return -0.5 * (quadratic + logdet)


def _leave_one_out(
    variance: float, unit: np.ndarray, noise: np.ndarray, depth_m: np.ndarray, factor: np.ndarray
) -> float:
    """Root mean square of each sounding's error, predicted without it, in sigmas."""
    covariance = variance * unit + np.diag(noise)
    inverse = np.linalg.inv(covariance)
    by_factor = inverse @ factor
    precision = float(factor @ by_factor)
    residual = inverse @ depth_m - float(factor @ (inverse @ depth_m)) / precision * by_factor
    diagonal = np.diag(inverse) - by_factor**2 / precision
    return float(np.sqrt(np.mean(residual**2 / diagonal)))
