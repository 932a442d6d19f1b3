"""What learns the depth rule's figures, from bodies whose bed is known; the product only applies them.

`python tests/survey/depth_study.py` makes the bodies, learns with these functions and writes the shipped file.
"""

import json
from dataclasses import asdict

import numpy as np
from scipy.optimize import minimize

from geo.survey.depth.recalibration import (
    MOST_WIDENING,
    ORDINARY_COUNT,
    POINT_PROBABILITIES,
    TERMS,
    AreaCorrection,
    PointCorrection,
    Recalibration,
    safe_logit,
)
from geo.survey.depth.unsounded import UnsoundedRule

# Degrees of freedom of the residuals' law while learning: heavy tails keep single bodies from ruling.
LEARNING_FREEDOM = 5.0


def learned_points(
    terms: np.ndarray, shore_term: np.ndarray, error_m: np.ndarray, sd_m: np.ndarray, noise_m: np.ndarray
) -> PointCorrection:
    """Learn the correction at points from held-out soundings.

    Parameters: terms (k, len(TERMS)); shore terms, measured minus predicted, the field's sigma, the instrument's (k,).

    Notes: the weights maximise the likelihood of errors with a Student law of LEARNING_FREEDOM degrees; then sigma is
    scaled so that the central 90 % holds 0.885 and interval_sigmas are the measured quantiles of the errors.
    """

    def cost(values: np.ndarray) -> float:
        widened = np.exp(np.clip(terms @ values[:-1], -MOST_WIDENING, MOST_WIDENING)) * sd_m
        sigma = np.hypot(widened, noise_m)
        score = (error_m + values[-1] * shore_term * widened) / sigma
        law = np.log1p(score**2 / LEARNING_FREEDOM)
        return float(np.mean(np.log(sigma) + 0.5 * (LEARNING_FREEDOM + 1.0) * law))

    values = minimize(cost, np.zeros(terms.shape[1] + 1), method="BFGS", options={"maxiter": 80}).x
    for _ in range(6):
        widened = np.exp(np.clip(terms @ values[:-1], -MOST_WIDENING, MOST_WIDENING)) * sd_m
        score = np.abs(error_m + values[-1] * shore_term * widened) / np.hypot(widened, noise_m)
        step = np.quantile(score, 0.885) / 1.644854
        values[0] += np.log(step)
        values[-1] /= step
    weights = tuple(float(w) for w in values[:-1])
    return PointCorrection(
        weights, float(values[-1]), tuple(np.quantile(score, POINT_PROBABILITIES).tolist())
    )


def learned_areas(
    joint: np.ndarray, point: np.ndarray, count: np.ndarray, held: np.ndarray
) -> AreaCorrection:
    """Learn the correction of joint probabilities: raw shares (k,), numbers of soundings, and whether it held.

    Notes: both shares get one common weight. Left free, the bodies learned on would give all of it to the worst single
    point; but their beds have no features smaller than a cell, and a real bed's joint probability is the lower one.
    """
    few = np.maximum(np.log(ORDINARY_COUNT / count), 0.0)
    both = 0.5 * (safe_logit(joint) + safe_logit(point))
    columns = np.column_stack((np.ones(len(few)), few, both))
    sign = np.where(held, 1.0, -1.0)

    def cost(values: np.ndarray) -> float:
        return float(np.mean(np.logaddexp(0.0, -sign * (columns @ values))))

    bounds = [(None, None), (None, None), (0.0, None)]
    constant, of_few, weight = minimize(cost, np.array([0.0, 0.0, 1.0]), method="L-BFGS-B", bounds=bounds).x
    return AreaCorrection(float(constant), float(of_few), 0.5 * float(weight), 0.5 * float(weight))


def learned_rule(size_m: np.ndarray, greatest_m: np.ndarray) -> UnsoundedRule:
    """Learn the rule from bodies (k,): slope x distance [m] and true greatest depth [m]."""
    exponent, constant = np.polyfit(np.log(size_m), np.log(greatest_m), 1)
    rest = np.log(greatest_m) - constant - exponent * np.log(size_m)
    low, high = np.quantile(rest, (0.05, 0.95))
    return UnsoundedRule(float(constant), float(exponent), float(low), float(high))


def written_recalibration(recalibration: Recalibration) -> str:
    """Give the JSON text of a correction."""
    point, area = recalibration.point, recalibration.area
    data = {
        "provenance": dict(recalibration.provenance),
        "point": {
            "weights": {t: round(w, 4) for t, w in zip(TERMS, point.weights, strict=True)},
            "shore_shift": round(point.shore_shift, 4),
            "interval_sigmas": {
                f"{p}": round(s, 4) for p, s in zip(POINT_PROBABILITIES, point.interval_sigmas, strict=True)
            },
        },
        "area": {name: round(getattr(area, name), 4) for name in ("constant", "few", "joint", "point")},
        "unsounded": {name: round(value, 4) for name, value in asdict(recalibration.unsounded).items()},
    }
    return json.dumps(data, indent=2) + "\n"
