"""What a least depth cannot exceed, whatever evidence rules: a sounding inside, a contour across, a charted limit."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.special import ndtri

from geo.records.survey import DEPTH_PROBABILITIES, LeastDepth
from geo.survey.depth.evidence import Evidence
from geo.survey.depth.simulation import quantiles

FIVE_PERCENT, HALF = DEPTH_PROBABILITIES.index(0.05), DEPTH_PROBABILITIES.index(0.5)
NORMAL_SCORES = ndtri((np.arange(400) + 0.5) / 400)
EVEN_SHARES = (np.arange(200) + 0.5) / 200


@dataclass(frozen=True)
class Bound:
    """A bound: depth and one sigma [m] at the level of the survey, where it is, and what it is in words."""

    depth_m: float
    sd_m: float
    place: shapely.Point
    note: str


def cautious_m(least: LeastDepth) -> float:
    """Give the depth that holds with 95 % [m]; -inf where nothing is known."""
    return -np.inf if least.quantiles_m is None else least.quantiles_m[FIVE_PERCENT]


def more_cautious(answers: Sequence[LeastDepth], of_what: str) -> LeastDepth | None:
    """Give the more cautious of one or two answers that know a depth, the other as evidence too; None without any."""
    known = sorted((each for each in answers if each.quantiles_m is not None), key=cautious_m)
    if len(known) < 2:
        return known[0] if known else None
    both = f"{known[0].evidence}; also {known[1].evidence}"
    return replace(known[0], evidence=both, reason=f"{known[0].reason}; the more cautious of {of_what}")


def sounding_bound(evidence: Evidence, inside: np.ndarray) -> Bound:
    """Give the bound that the shallowest of some soundings sets; inside are their places in the evidence."""
    k = inside[np.argmin(evidence.depth_m[inside])]
    depth_m = float(evidence.depth_m[k])
    place = shapely.Point(evidence.easting_m[k], evidence.northing_m[k])
    return Bound(depth_m, float(evidence.sd_m[k]), place, f"the sounding of {depth_m:.1f} m inside")


def bounded(result: LeastDepth, bound: Bound, level_m: float) -> LeastDepth:
    """Give a least depth, never deeper than a bound; level_m is today's level minus the survey's [m]."""
    cap = quantiles(bound.depth_m + level_m + bound.sd_m * NORMAL_SCORES)
    before = result.quantiles_m
    if before is None:
        return result
    table = tuple(min(a, b) for a, b in zip(before, cap, strict=True))
    alone = result.bed_quantiles_m if result.bed_quantiles_m is not None else before
    bed = tuple(min(a, b) for a, b in zip(alone, cap, strict=True))
    if table == before and bed == alone:
        return result
    # Said only where it matters: a tail that is cut by a hair is no finding.
    if cap[HALF] < alone[HALF] or cap[FIVE_PERCENT] < alone[FIVE_PERCENT]:
        reason = f"{result.reason}; never deeper than {bound.note}"
        result = replace(result, reason=reason, shallowest=bound.place)
    expected_m = result.expected_least_m
    if expected_m is not None:
        expected_m = min(expected_m, float(np.mean(cap)))
    return replace(result, quantiles_m=table, bed_quantiles_m=bed, expected_least_m=expected_m)
