"""Where one more sounding would raise the confidence of a run, or of a hover point, most."""

from dataclasses import dataclass

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.survey.depth.corridor import Disc, Strip
from geo.survey.depth.field import DepthField
from geo.survey.depth.process import LEAST_INSTRUMENT_SD_M
from geo.survey.depth.simulation import JITTER

# Candidates lie in the area and beside it, up to this share of the correlation length, on a lattice of about so many.
BESIDE_SHARE = 0.5
CANDIDATES = 300
# Nearer to the shore than this share of the greatest shore distance a sounding tells of the bank only.
LEAST_SHORE_SHARE = 0.05
# Draws within so much of the wanted depth's own error tell where the verdict hangs [shares of all draws].
CRITICAL_SHARE = 0.25
PLANNED_SD_M = 0.25
# A sounding that takes less than this share off one sigma helps nobody: then no place is named (our choice, no source).
NO_GAIN = 0.01


@dataclass(frozen=True, eq=False)
class NextSounding:
    """A place to sound next, and what it would bring.

    point: where [m], None where no single sounding helps (the best one would take less than NO_GAIN off one sigma);
    sd_before_m, sd_after_m: one sigma of the depth at the run's critical points, weighted by how
    often each decides, without and with the sounding [m].
    """

    point: shapely.Point | None
    sd_before_m: float
    sd_after_m: float


def next_sounding(
    field: DepthField,
    line: shapely.LineString | shapely.Point,
    width_m: float,
    required_m: float,
    instrument_sd_m: float = PLANNED_SD_M,
) -> NextSounding | None:
    """Give the place where one more sounding would make the least depth of a run surest.

    Parameters: field: the body's field; line: the run, or the hover point; width_m: the strip's width or circle's
    diameter [m]; required_m: the depth wanted [m]; instrument_sd_m: one sigma of the sounding to come [m].
    Returns: NextSounding, or None without a field: then any sounding in the middle of the run is the next one.
    Raises: BadArgument: a line, width, depth or sigma that cannot be.

    Notes: Criterion: the expected reduction of sum w_i var(depth_i), where w_i is the share of the draws near the
    wanted depth whose least lies at point i. A sounding at c with noise v reduces var_i by cov(i, c)^2 / (var_c + v):
    exact for a Gaussian field, whatever the sounding will read. The field's parameters are kept.
    References: Krause, Singh and Guestrin 2008, J. Machine Learning Research 9:235-284 (placing sensors in Gaussian
    fields).
    """
    if not (
        np.isfinite(required_m) and required_m > 0 and np.isfinite(instrument_sd_m) and instrument_sd_m >= 0
    ):
        raise BadArgument(
            f"required_m {required_m}, instrument_sd_m {instrument_sd_m}: must be > 0, and >= 0"
        )
    area = Disc(line, 0.5 * width_m) if isinstance(line, shapely.Point) else Strip(line, width_m)
    if field.process is None:
        return None
    x, y, weight = _critical(field, area, required_m)
    u, v = _candidates(field, area)
    solution = field.solution_near(area)
    covariance = solution.joint_field(np.concatenate((x, u)), np.concatenate((y, v)))[1]
    factor = field.process.factor(field.shore.distance_m(np.concatenate((x, u)), np.concatenate((y, v))))
    covariance = covariance * np.outer(factor, factor)
    k = len(x)
    own = np.diag(covariance)
    noise = max(instrument_sd_m, LEAST_INSTRUMENT_SD_M) ** 2 + JITTER
    gain = weight @ (covariance[:k, k:] ** 2 / (own[k:] + noise))
    best = int(np.argmax(gain))
    variance = float(weight @ own[:k])
    before = float(np.sqrt(max(variance, 0.0)))
    after = float(np.sqrt(max(variance - float(gain[best]), 0.0)))
    point = shapely.Point(u[best], v[best]) if after < (1.0 - NO_GAIN) * before else None
    return NextSounding(point, before, after)


def _critical(
    field: DepthField, area: Strip | Disc, required_m: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points of an area where the least depth lies in the draws near the wanted depth, with their shares."""
    draws = field.draws(area)
    near = np.argsort(np.abs(draws.least_m - required_m), kind="stable")
    near = near[: max(int(CRITICAL_SHARE * len(near)), 1)]
    share = np.bincount(np.argmin(draws.depth_m[:, near], axis=0), minlength=len(draws.easting_m)) / len(near)
    decides = np.flatnonzero(share > 0.0)
    return draws.easting_m[decides], draws.northing_m[decides], share[decides]


def _candidates(field: DepthField, area: Strip | Disc) -> tuple[np.ndarray, np.ndarray]:
    """Places for a sounding: a lattice over the area and its surroundings, in water that is not just bank."""
    reach = max(BESIDE_SHARE * field.known.length_m, 10.0)
    around = area.area.buffer(reach)
    west, south, east, north = around.bounds
    step = float(np.sqrt(around.area / CANDIDATES))
    xx, yy = np.meshgrid(np.arange(west + 0.5 * step, east, step), np.arange(south + 0.5 * step, north, step))
    middle = shapely.get_coordinates(area.line.centroid)
    x, y = np.append(xx.ravel(), middle[:, 0]), np.append(yy.ravel(), middle[:, 1])
    keep = shapely.contains_xy(around, x, y)
    x, y = x[keep], y[keep]
    deep = field.shore.distance_m(x, y) >= LEAST_SHORE_SHARE * field.shore.greatest_m
    return (x[deep], y[deep]) if deep.any() else (middle[:, 0], middle[:, 1])
