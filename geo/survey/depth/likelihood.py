"""Compiled arithmetic of the random field: correlations, and its figures chosen by restricted likelihood.

A field's covariance at soundings i and j is s^2 f_i f_j R_ij, and v_i more where i = j: f the shore factor, R the
Matern 3/2 correlation, v the instrument's variance. For every shore scale and correlation length the variance s^2 has
a fixed point: with the ratio v / s^2 held, the restricted likelihood has its greatest value at q / (n - 1), q the
quadratic form of the generalised least squares residual.
"""

import numpy as np
from numba import njit

# Trials of the variance at one shore scale and length, until its logarithm is as near to its fixed point as this: while
# climbing, and at the top. One step may go 1 / SECANT_LEAST times as far as the plain fixed point's.
VARIANCE_TRIALS, CLIMBING_REST, LAST_REST = 6, 0.4, 0.05
SECANT_LEAST = 0.15
LENGTH_POWER = 1.0
FIRST_LENGTH = 2
ROOT_3 = float(np.sqrt(3.0))
# exp(-a) of more than this is nothing.
MOST_DECAY = 64.0


@njit(inline="always")
def _decay(a: float) -> float:
    """exp(-a) for a >= 0 within 1e-13: a series for exp(-a / 1024), squared ten times; several go at once so."""
    t = min(a, MOST_DECAY) / 1024.0
    s = 1.0 + t * (-1.0 + t * (1 / 2 + t * (-1 / 6 + t * (1 / 24 + t * (-1 / 120 + t * (1 / 720))))))
    s *= s
    s *= s
    s *= s
    s *= s
    s *= s
    s *= s
    s *= s
    s *= s
    s *= s
    s *= s
    return s


@njit(cache=True, error_model="numpy")
def correlations(
    easting_1: np.ndarray,
    northing_1: np.ndarray,
    easting_2: np.ndarray,
    northing_2: np.ndarray,
    length_m: float,
    row_factor: np.ndarray,
    column_factor: np.ndarray,
) -> np.ndarray:
    """Give row_factor x column_factor x Matern 3/2 correlation between two sets of points, (n1, n2)."""
    result = np.empty((len(easting_1), len(easting_2)))
    rate = ROOT_3 / length_m
    for i in range(len(easting_1)):
        for j in range(len(easting_2)):
            east, north = easting_1[i] - easting_2[j], northing_1[i] - northing_2[j]
            a = rate * np.sqrt(east * east + north * north)
            result[i, j] = row_factor[i] * column_factor[j] * (1.0 + a) * _decay(a)
    return result


@njit(cache=True, error_model="numpy")
def separations(easting_m: np.ndarray, northing_m: np.ndarray) -> tuple[np.ndarray, np.ndarray, float]:
    """Give the distances between all of n points (n, n), each one's to its nearest other (n,), and the greatest [m]."""
    n = len(easting_m)
    r, nearest, greatest = np.zeros((n, n)), np.full(n, np.inf), 0.0
    for i in range(n):
        for j in range(i):
            east, north = easting_m[i] - easting_m[j], northing_m[i] - northing_m[j]
            apart = np.sqrt(east * east + north * north)
            r[i, j] = r[j, i] = apart
            nearest[i], nearest[j] = min(nearest[i], apart), min(nearest[j], apart)
            greatest = max(greatest, apart)
    return r, nearest, greatest


@njit(cache=True, error_model="numpy")
def _matern_rows(r: np.ndarray, length_m: float) -> np.ndarray:
    """Lower half of the Matern 3/2 correlations at distances r (n, n)."""
    result = np.empty_like(r)
    rate = ROOT_3 / length_m
    for i in range(len(r)):
        for j in range(i):
            a = rate * r[i, j]
            result[i, j] = (1.0 + a) * _decay(a)
        result[i, i] = 1.0
    return result


@njit(cache=True, error_model="numpy", fastmath={"reassoc", "contract"})
def _forward(lower: np.ndarray, right: np.ndarray, first: int) -> None:
    """Solve lower x = right in place; right (n,) is 0 before index `first`."""
    for i in range(first, len(lower)):
        known = 0.0
        for j in range(first, i):
            known += lower[i, j] * right[j]
        right[i] = (right[i] - known) / lower[i, i]


@njit(cache=True, error_model="numpy")
def _factored(
    correlation: np.ndarray, f: np.ndarray, z: np.ndarray, ratio: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Lower factor of f f' R + diag(ratio), and z and f as rows with it taken off, (2, n)."""
    n = len(z)
    unit = np.empty((n, n))
    for i in range(n):
        # The upper half is never read.
        for j in range(i + 1):
            unit[i, j] = f[i] * f[j] * correlation[i, j]
        unit[i, i] += ratio[i]
    lower = np.ascontiguousarray(np.linalg.cholesky(unit))
    rows = np.empty((2, n))
    for i in range(n):
        rows[0, i], rows[1, i] = z[i], f[i]
    _forward(lower, rows[0], 0)
    _forward(lower, rows[1], 0)
    return lower, rows


@njit(cache=True, error_model="numpy")
def _fitted_variance(
    correlation: np.ndarray,
    f: np.ndarray,
    z: np.ndarray,
    noise: np.ndarray,
    start: float,
    least: float,
    rest_log: float,
    to_beat: float,
) -> tuple[float, float]:
    """The variance s^2 and its greatest restricted log likelihood, up to a constant, at one shore scale and length.

    rest_log: the logarithm of the variance may be left so far from its fixed point; from the second trial on a parabola
    through the last two, with its top at the secant's, tells the likelihood there. to_beat: given up at once where
    the likelihood cannot reach this.
    """
    n, variance = len(z), start
    best, before, rest_before, moved = -np.inf, 0.0, 0.0, 0.0
    for trial in range(VARIANCE_TRIALS):
        lower, rows = _factored(correlation, f, z, noise / variance)
        by_factor = (rows[1] ** 2).sum()
        quadratic = (rows[0] ** 2).sum() - (rows[0] * rows[1]).sum() ** 2 / by_factor
        spread = 2.0 * np.log(np.diag(lower)).sum() + np.log(by_factor) + (n - 1) * np.log(variance)
        likelihood = -0.5 * (quadratic / variance + spread)
        rest = np.log(max(quadratic / (n - 1), least) / variance)
        best = likelihood
        if abs(rest) < LAST_REST or likelihood + 0.5 * (n - 1) * rest**2 + 1.0 < to_beat:
            break
        step = rest
        if trial > 0:
            # The fixed point is crept up to where noise rules: the secant goes there at once.
            step /= min(max((rest_before - rest) / moved, SECANT_LEAST), 1.0)
            far, near = (step + moved) ** 2, step**2
            if near < 0.25 * far and likelihood > before:
                best += (likelihood - before) * near / (far - near)
                if abs(step) < rest_log:
                    break
        if trial < VARIANCE_TRIALS - 1:
            moved, rest_before, before = step, rest, likelihood
            variance = max(variance * np.exp(step), least)
    return variance, best


@njit(cache=True, error_model="numpy")
def most_likely(
    r: np.ndarray,
    z: np.ndarray,
    noise: np.ndarray,
    factors: np.ndarray,
    lengths: np.ndarray,
    least: np.ndarray,
) -> tuple[int, int, float, float]:
    """Choose shore scale, correlation length and variance by climbing the restricted likelihood on their grid.

    Parameters: distances between soundings (n, n) [m], their depths (n,) [m], the instrument's variances (n,) [m2],
    shore factors (scales, n), lengths [m], the least variance at each scale [m2]. Returns: index of the scale, index of
    the length, variance [m2], and what leave_one_out gives there.

    Notes: from the scale that a plain least squares fit likes best, one step at a time along either axis or diagonal
    while the likelihood rises.
    """
    rows, columns = len(factors), len(lengths)
    correlation = np.empty((columns, len(z), len(z)))
    there = np.zeros(columns, np.bool_)
    value = np.full((rows, columns), -np.inf)
    variances = np.zeros((rows, columns))
    tried = np.zeros((rows, columns), np.bool_)
    i, start = _first_scale(factors, z, least)
    j = min(FIRST_LENGTH, columns - 1)
    at, climbing = (i, j), True
    first = True
    while climbing:
        climbing = False
        for turn in range(len(_STEPS)):
            # The point itself first, then along the axes, then the diagonals.
            di, dj = _STEPS[turn]
            a, b = at[0] + di, at[1] + dj
            if a < 0 or b < 0 or a >= rows or b >= columns or tried[a, b]:
                continue
            if not there[b]:
                correlation[b], there[b] = _matern_rows(r, lengths[b]), True
            begin = start if first else variances[at] * _rescaled(factors, lengths, at, (a, b))
            first = False
            variances[a, b], value[a, b] = _fitted_variance(
                correlation[b], factors[a], z, noise, max(begin, least[a]), least[a], CLIMBING_REST, value[at]
            )
            tried[a, b] = True
            if value[a, b] > value[at]:
                at, climbing = (a, b), True
                break
    i, j = at
    variance = _fitted_variance(
        correlation[j], factors[i], z, noise, variances[at], least[i], LAST_REST, -np.inf
    )[0]
    return i, j, variance, leave_one_out(correlation[j], factors[i], z, noise, variance)


@njit(cache=True, error_model="numpy")
def _rescaled(factors: np.ndarray, lengths: np.ndarray, old: tuple[int, int], new: tuple[int, int]) -> float:
    """About how the variance changes from one scale and length to another: same spread of depths, same roughness."""
    of_scale = (factors[old[0]] ** 2).sum() / (factors[new[0]] ** 2).sum()
    return of_scale * (lengths[new[1]] / lengths[old[1]]) ** LENGTH_POWER


_STEPS = ((0, 0), (1, 0), (-1, 0), (0, 1), (0, -1), (1, -1), (-1, 1))


@njit(cache=True, error_model="numpy")
def _first_scale(factors: np.ndarray, z: np.ndarray, least: np.ndarray) -> tuple[int, float]:
    """Index of the shore scale of least squares, and the variance of what it leaves, over that of the factor."""
    best, square = 0, np.inf
    for k in range(len(factors)):
        f = factors[k]
        by_factor = (f * f).sum()
        rest = (z * z).sum() - (f * z).sum() ** 2 / by_factor
        if rest < square:
            best, square = k, rest
    by_factor = (factors[best] ** 2).sum()
    return best, max(square / by_factor, least[best])


@njit(cache=True, error_model="numpy")
def leave_one_out(
    correlation: np.ndarray, f: np.ndarray, z: np.ndarray, noise: np.ndarray, variance: float
) -> float:
    """Give the root mean square of each sounding's error, predicted without it, in sigmas.

    Parameters: lower half of the correlations (n, n), shore factors, depths [m] and the instrument's variances [m2]
    (n,), variance [m2].
    References: Dubrule 1983, Mathematical Geology 15:687-699 (leave-one-out without refitting).
    """
    n = len(z)
    lower, rows = _factored(correlation, f, z, noise / variance)
    by_factor = (rows[1] ** 2).sum()
    mean = (rows[0] * rows[1]).sum() / by_factor
    inverse = np.zeros((n, n))
    own, depth, factor = np.zeros(n), np.zeros(n), np.zeros(n)
    for i in range(n):
        for j in range(i):
            for k in range(j + 1):
                inverse[i, k] -= lower[i, j] * inverse[j, k]
        inverse[i, i] = 1.0
        for k in range(i + 1):
            inverse[i, k] /= lower[i, i]
            own[k] += inverse[i, k] ** 2
            depth[k] += inverse[i, k] * rows[0, i]
            factor[k] += inverse[i, k] * rows[1, i]
    errors = (depth - mean * factor) ** 2 / (own - factor**2 / by_factor)
    return np.sqrt(errors.sum() / n / variance)
