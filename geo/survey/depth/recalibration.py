"""What surveyed bodies taught about the field's own figures: a correction of its sigma, and of joint probabilities.

A field learned from few soundings, or from soundings in one corner, is too sure; one with many is a little too wide in
the middle. How much was learned on bodies whose bed is known everywhere and is shipped as data beside this module,
with its provenance. Everything that the correction depends on is a pure number, so it does not know a body's size.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

import numpy as np
from scipy.special import expit, logit

from geo.records.survey import DEPTH_PROBABILITIES
from geo.survey.depth.unsounded import UnsoundedRule

FILE = "recalibration.json"
# Correction of sigma: exp(sum of weight x term). Soundings counted against so many:
ORDINARY_COUNT = 60.0
# Shares of the body's greatest shore distance, and of the correlation length, over which terms die away.
SHORE_SHARE = 0.15
NEAR_SHARE = 0.5
LEAST_EVENNESS, MOST_CLUMPED = 0.05, 2.5
MOST_WIDENING = 4.0  # as a power of e: terms far outside what was learned must not run away
TERMS = ("constant", "few", "many", "clumped", "shore", "far", "few x near", "clumped x far")
POINT_PROBABILITIES = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 0.99)
# Shares of draws beyond this tell no more: how rare a rare case is depends on the tails of the law that was assumed.
# Chosen among 1/800, 0.005, 0.01, 0.02 and 0.04 on the bodies that the file was learned on.
LEAST_SHARE = 0.01


@dataclass(frozen=True, eq=False)
class CorrectionTerms:
    """What the correction at k points depends on: number of soundings, their evenness, shore and gap shares (k,)."""

    count: int
    evenness: float
    shore_share: np.ndarray
    gap_share: np.ndarray

    def terms(self) -> np.ndarray:
        """Give the terms of the correction, (k, len(TERMS))."""
        few = max(np.log(ORDINARY_COUNT / self.count), 0.0)
        many = max(np.log(self.count / ORDINARY_COUNT), 0.0)
        clumped = self.clumped()
        far, near = np.log1p(self.gap_share), np.exp(-self.gap_share / NEAR_SHARE)
        common = np.outer(np.ones(len(far)), (1.0, few, many, clumped))
        return np.column_stack((common, self.shore_term(), far, few * near, clumped * far))

    def clumped(self) -> float:
        """Give how clumped the soundings are: 0 where they are strewn at random or more evenly."""
        return float(np.clip(-np.log(max(self.evenness, LEAST_EVENNESS)), 0.0, MOST_CLUMPED))

    def shore_term(self) -> np.ndarray:
        """Give exp(-share / SHORE_SHARE): 1 at the shore."""
        return np.exp(-self.shore_share / SHORE_SHARE)


@dataclass(frozen=True)
class PointCorrection:
    """Correction of the field's sigma at single points, and how many corrected sigmas an interval takes."""

    weights: tuple[float, ...]
    shore_shift: float
    interval_sigmas: tuple[float, ...]

    def widening(self, around: CorrectionTerms) -> np.ndarray:
        """Give the factors on sigma, (k,)."""
        power = around.terms() @ np.array(self.weights)
        return np.exp(np.clip(power, -MOST_WIDENING, MOST_WIDENING))

    def shift(self, around: CorrectionTerms) -> np.ndarray:
        """Give how many corrected sigmas the depth lies below the field's mean, (k,): banks are concave."""
        return self.shore_shift * around.shore_term()


@dataclass(frozen=True)
class AreaCorrection:
    """Joint probability corrected: logit P = constant + few x (few) + joint x logit Pj + point x logit Pp.

    Pj is the share of draws that are deep enough everywhere, Pp the share at the worst single point. The weights of
    both are not negative, so the corrected probability never rises with the depth wanted or with the width.
    References: Platt 1999, in Advances in Large Margin Classifiers, 61-74 (logistic recalibration).
    """

    constant: float
    few: float
    joint: float
    point: float

    def probability(self, joint: np.ndarray, point: np.ndarray, count: int | np.ndarray) -> np.ndarray:
        """Give corrected probabilities from raw shares of draws (k,) and the number of soundings."""
        few = np.maximum(np.log(ORDINARY_COUNT / np.asarray(count, float)), 0.0)
        return expit(
            self.constant + self.few * few + self.joint * safe_logit(joint) + self.point * safe_logit(point)
        )

    def quantiles(self, least_m: np.ndarray, worst_m: np.ndarray, count: int, reach_m: float) -> np.ndarray:
        """Give the corrected quantiles of the least depth at DEPTH_PROBABILITIES, not clipped at 0.

        Parameters: least_m, sorted draws of the least depth [m]; worst_m, for each rank the least over all points of
        that point's draw of this rank [m]; number of soundings; reach_m, how far beyond the draws the table may end.
        """
        depth = np.sort(np.concatenate((least_m, worst_m)))
        # Steps, not lines between draws: lines through different draws could cross, and a wider strip seem deeper.
        joint, point = (
            1.0 - (np.searchsorted(drawn, depth, side="right") - 0.5) / len(drawn)
            for drawn in (least_m, worst_m)
        )
        below = np.maximum.accumulate(1.0 - self.probability(joint, point, count))
        wanted = np.array(DEPTH_PROBABILITIES)
        at = np.minimum(np.searchsorted(below, wanted, side="left"), len(depth) - 1)
        under = np.maximum(1.0 - wanted / below[0], 0.0)
        over = np.maximum((wanted - below[-1]) / (1.0 - below[-1]), 0.0)
        return depth[at] + reach_m * (over - under)


@dataclass(frozen=True)
class Recalibration:
    """Both corrections, the rule for waters that nobody sounded (None: not learned), and where they come from."""

    point: PointCorrection
    area: AreaCorrection
    provenance: Mapping[str, Any]
    unsounded: UnsoundedRule | None = None


@lru_cache(maxsize=1)
def shipped_recalibration() -> Recalibration:
    """Give the correction that is shipped with the package."""
    text = files("geo.survey.depth").joinpath(FILE).read_text(encoding="utf-8")
    return read_recalibration(text)


def read_recalibration(text: str) -> Recalibration:
    """Give a correction from its JSON text; KeyError or TypeError where the text is not one."""
    data = json.loads(text)
    point = data["point"]
    weights = tuple(float(point["weights"][term]) for term in TERMS)
    sigmas = tuple(float(point["interval_sigmas"][f"{p}"]) for p in POINT_PROBABILITIES)
    return Recalibration(
        PointCorrection(weights, float(point["shore_shift"]), sigmas),
        AreaCorrection(**{name: float(value) for name, value in data["area"].items()}),
        data["provenance"],
        UnsoundedRule(**{name: float(value) for name, value in data["unsounded"].items()}),
    )


def safe_logit(share: np.ndarray) -> np.ndarray:
    """Give the logit of shares of draws, held within LEAST_SHARE of 0 and 1."""
    return logit(np.clip(share, LEAST_SHARE, 1.0 - LEAST_SHARE))
