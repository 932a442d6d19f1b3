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

from geo.survey.depth.likelihood import correlations, leave_one_out, most_likely, separations

# A rounded sounding is never known better than this [m]; keeps the algebra sound where no error is stated.
LEAST_INSTRUMENT_SD_M = 0.01
# The field never varies less than this share of its mean: a perfect fit of a few soundings proves no flat bed.
LEAST_VARIATION = 0.05
# Nor more than this: few soundings on one slope would be drawn on down to any depth (our choice, no source).
MOST_VARIATION = 0.4
# Hyperparameters are learned from at most so many soundings (cost grows with the cube).
LEARNING_SOUNDINGS = 64
# Of these, so many stand out as shallowest against their neighbours: a shoal must be able to roughen the field.
LEARNING_SHOALS = 8
SHOAL_NEIGHBOURS = 5
# Learned besides the mean: shore scale, correlation length, variance.
LEARNED = 3
SHORE_SCALES = 9
# Far from shore, where nobody sounded, the shore factor is at most so many times that of the farthest sounding.
MOST_BEYOND = 1.25
# One sigma of the field's mean before it is asked, as a share of it (our choice, no source).
MEAN_SHARE = 0.5
# Steepest bank that is tried: walls of dams and quays [m].
STEEPEST_SCALE_M = 0.5
CORRELATION_LENGTHS = 6
# Points that are predicted at a time: their correlations with the soundings stay in the cache.
BLOCK = 256


def matern(distance: np.ndarray, length_m: float | np.ndarray) -> np.ndarray:
    """Give the Matern 3/2 correlation (1 + a) exp(-a), a = sqrt(3) r / length, of distances r [m].

    References: Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, eq. 4.17.
    """
    a = np.sqrt(3.0) * distance / length_m
    return (1.0 + a) * np.exp(-a)


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
        return float(np.asarray(self.tree.query(self.position_m, k=2)[0])[:, 1].mean())

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

    @cached_property
    def layout(self) -> "Layout":
        """Where all of the body's soundings lie, those included that the field is not conditioned on here."""
        whole = self.whole
        return whole if whole is not None else Layout(np.column_stack((self.easting_m, self.northing_m)))

    def conditioned(self, index: np.ndarray) -> "DepthProcess":
        """Give the same field conditioned on a part of the soundings."""
        names = ("easting_m", "northing_m", "depth_m", "noise_m2", "shore_distance_m")
        return replace(self, whole=self.layout, **{name: getattr(self, name)[index] for name in names})

    def factor(self, distance_m: np.ndarray) -> np.ndarray:
        """Give the shore factor of points `distance_m` from the shore."""
        return shore_factor(distance_m, self.shore_scale_m)

    def first_mean(self) -> tuple[float, float]:
        """Give what the mean of A is taken for before the field is asked [m], and its precision [1/m2].

        Notes: the soundings' own, as surely as MEAN_SHARE of it. Without this a few soundings on one slope may give a
        mean far above or below all of them, which shows where nobody sounded.
        """
        f = self.factor(self.shore_distance_m)
        first_m = float((f @ self.depth_m) / (f @ f))
        return first_m, 1.0 / max(MEAN_SHARE * abs(first_m), 0.1) ** 2

    def correlations(
        self, easting_m: np.ndarray, northing_m: np.ndarray, row_factor: np.ndarray, column_factor: np.ndarray
    ) -> np.ndarray:
        """Give the correlations of m points with the soundings, times a factor of each, (m, n)."""
        x, y = self.easting_m, self.northing_m
        return correlations(easting_m, northing_m, x, y, self.length_m, row_factor, column_factor)

    def solved(self) -> "Solution":
        """Factor the covariance of the soundings once, for any number of predictions."""
        f = self.factor(self.shore_distance_m)
        covariance = self.correlations(self.easting_m, self.northing_m, self.sd_m**2 * f, f)
        covariance[np.diag_indices_from(covariance)] += self.noise_m2
        lower = cho_factor(covariance, lower=True, overwrite_a=True, check_finite=False)[0]
        both = cho_solve((lower, True), np.column_stack((self.depth_m, f)), check_finite=False)
        first_m, precision_first = self.first_mean()
        precision = float(f @ both[:, 1]) + precision_first
        mean = (float(f @ both[:, 0]) + first_m * precision_first) / precision
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
        variance = np.full(len(easting_m), self.process.sd_m**2)
        return self.process.correlations(easting_m, northing_m, variance, self.factor)

    def field(self, easting_m: np.ndarray, northing_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Give mean and standard deviation of A [m] at m points, each array (m,)."""
        mean, variance = np.empty(len(easting_m)), np.empty(len(easting_m))
        for start in range(0, len(easting_m), BLOCK):
            block = slice(start, start + BLOCK)
            cross = self._cross(easting_m[block], northing_m[block])
            rest = 1.0 - cross @ self.factor_weights
            mean[block] = self.mean_m + cross @ self.weights
            half = solve_triangular(self.lower, cross.T, lower=True, check_finite=False, overwrite_b=True)
            explained = np.einsum("ij,ij->j", half, half)
            variance[block] = self.process.sd_m**2 - explained + rest**2 * self.mean_m2
        return mean, self.process.scale * np.sqrt(np.maximum(variance, 0.0))

    def joint_field(self, easting_m: np.ndarray, northing_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Give the mean (m,) and the posterior covariance (m, m) [m2] of A at m points."""
        p = self.process
        cross = self._cross(easting_m, northing_m)
        half = solve_triangular(self.lower, cross.T, lower=True, check_finite=False)
        rest = 1.0 - cross @ self.factor_weights
        one = np.ones(len(easting_m))
        prior = correlations(easting_m, northing_m, easting_m, northing_m, p.length_m, p.sd_m**2 * one, one)
        covariance = prior - half.T @ half + self.mean_m2 * np.outer(rest, rest)
        return self.mean_m + cross @ self.weights, p.scale**2 * covariance


def fit_process(
    easting_m: np.ndarray,
    northing_m: np.ndarray,
    depth_m: np.ndarray,
    sd_m: np.ndarray,
    shore_m: np.ndarray,
    greatest_m: float | None = None,
) -> DepthProcess:
    """Learn the field of one body from its soundings.

    Parameters: arrays (n,): position [m], depth [m, positive down], one-sigma instrument error [m], distance to
    shore [m, > 0]; n >= 6. greatest_m: the body's greatest distance to shore [m]; None: no farther than the soundings.
    Returns: the field, conditioned on all of them.

    Notes: shore scale and correlation length are chosen on a grid by restricted likelihood, the variance by its
    fixed point. Leave-one-out residuals then widen the posterior standard deviation (they never narrow it), and
    sqrt((n - 1) / (n - 1 - LEARNED)) widens it for what was learned from the same few soundings.
    What is still too narrow or too wide, and the shore scale's own error, is left to the recalibration, which is
    learned on top of these rules: change them and it must be learned anew.
    References: Patterson and Thompson 1971, Biometrika 58:545-554 (restricted likelihood); Dubrule 1983,
    Mathematical Geology 15:687-699 (leave-one-out without refitting); Zhang 2004, J. American Statistical Association
    99:250-261 (what of a Matern field can be told from one area).
    """
    noise = np.maximum(sd_m, LEAST_INSTRUMENT_SD_M) ** 2
    pick = learning_subset(easting_m, northing_m, depth_m)
    x, y, z, d, v = (a[pick] for a in (easting_m, northing_m, depth_m, shore_m, noise))
    r, nearest, extent = separations(x, y)
    reach_m = float(shore_m.max()) if greatest_m is None else greatest_m
    scales, lengths = _candidates(d, float(np.median(nearest)), max(extent, 1.0), reach_m)
    f = shore_factor(d[None, :], scales[:, None])
    slope = (f @ z) / (f**2).sum(axis=1)
    least = np.maximum(LEAST_VARIATION * slope, LEAST_INSTRUMENT_SD_M) ** 2
    scale, length, variance, loo = most_likely(r, z, v, f, lengths, least)
    chosen_m, most = float(lengths[length]), (MOST_VARIATION * abs(slope[scale])) ** 2
    if variance > max(most, least[scale]):
        # Soundings of a small part hardly tell length and variance apart: their roughness, s^2 / length^3, is kept.
        chosen_m *= float(max(most, least[scale]) / variance) ** (1.0 / 3.0)
        variance = max(most, least[scale])
        loo = leave_one_out(matern(r, chosen_m), f[scale], z, v, float(variance))
    widening = max(loo, 1.0) * np.sqrt((len(z) - 1) / (len(z) - 1 - LEARNED))
    return DepthProcess(
        easting_m, northing_m, depth_m, noise, shore_m,
        float(scales[scale]), chosen_m, float(np.sqrt(variance)), float(widening),
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
    nearest = np.asarray(tree.query(xy[seeds], k=2)[1])[:, 1]
    around = np.asarray(tree.query(xy, k=SHOAL_NEIGHBOURS)[1])[:, 1:]
    shoals = np.argsort(depth_m - depth_m[around].mean(axis=1), kind="stable")[:LEARNING_SHOALS]
    return np.unique(np.concatenate((seeds, nearest, shoals)))


def _candidates(
    shore_m: np.ndarray, spacing_m: float, extent_m: float, greatest_m: float
) -> tuple[np.ndarray, np.ndarray]:
    """Grids of shore scale L and correlation length, from the body's own sizes."""
    far = float(shore_m.max())
    # Nearer to the shore than the soundings go nothing tells how steep the bank is: it is not taken for a wall.
    nearest_shore = float(np.partition(shore_m, 1)[1])
    low, high = max(STEEPEST_SCALE_M, nearest_shore / 3.0), 4.0 * far
    # A bank that still falls where the soundings end would be drawn on and on beyond them: the mean runs off.
    both = np.array([far, greatest_m])
    while high > low and np.divide(*shore_factor(both, high)[::-1]) > MOST_BEYOND:
        high *= 0.9
    scales = _even_ratios(min(low, high), high, SHORE_SCALES)
    lengths = _even_ratios(max(spacing_m, 0.02 * extent_m), 2.0 * extent_m, CORRELATION_LENGTHS)
    return scales, lengths


def _even_ratios(low: float, high: float, count: int) -> np.ndarray:
    return np.exp(np.linspace(np.log(low), np.log(high), count))
