"""The greatest depth of a water that nobody sounded, from its shoreline and the slope of the land: a wide range.

It tells what a survey might find, and how large a pump's worth of water there may be. It is no evidence for a run.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.base.grid import Grid
from geo.survey.depth.shore import Shoreline
from geo.survey.ground import window

# The slope is not told from fewer cells than this (our choice, no source).
LEAST_CELLS = 12
# Flat ground still has some slope: rise over run below this is not told from it.
LEAST_SLOPE = 0.005
# Natural lakes: log-linear in slope and distance, 2 094 lakes of a public table of bathymetries left factors of 0.28 to
# 2.9 on the predicted greatest depth (90 %); the range is at least as wide for them. The table itself is not shipped.
NATURAL_FACTORS = (0.28, 2.9)


@dataclass(frozen=True)
class UnsoundedRule:
    """log(greatest) = constant + exponent log(slope x distance); low, high: the 5 % and 95 % points of its errors."""

    constant: float
    exponent: float
    low: float
    high: float


@dataclass(frozen=True)
class GreatestDepth:
    """Range of the greatest depth [m] with its middle: 90 % between low_m and high_m; text says where it is from."""

    low_m: float
    middle_m: float
    high_m: float
    text: str


def land_slope(shore: Shoreline, terrain: Grid, surface_m: float) -> float | None:
    """Give the slope (rise over run) of the land round a water, or None where the terrain tells too little.

    Parameters: the outline; terrain [m]; the water's surface in the terrain's datum [m].

    Notes: the median of (height above water / distance to shore) over the cells as far from the shore as the water is
    from it at most (two cells at least). Land that falls away, as below a dam, counts as it is.
    """
    cell = float(np.hypot(terrain.cell_east_m, terrain.cell_north_m))
    reach = max(shore.greatest_m, 2.0 * cell)
    first, last, left, right = window(terrain, shore.polygon.buffer(reach).bounds)
    heights = terrain.values[first:last, left:right]
    row, column = np.indices(heights.shape)
    x = terrain.west_m + (left + column.ravel() + 0.5) * terrain.cell_east_m
    y = terrain.north_m - (first + row.ravel() + 0.5) * terrain.cell_north_m
    distance = np.asarray(shapely.distance(shore.polygon, shapely.points(x, y)))
    height = heights.ravel() - surface_m
    keep = (distance > 0.5 * cell) & (distance <= reach) & np.isfinite(height)
    if keep.sum() < LEAST_CELLS:
        return None
    return float(np.median(height[keep] / distance[keep]))


def unsounded_size_m(shore: Shoreline, slope: float) -> float:
    """Give what the rule is a power of: slope x greatest shore distance [m]."""
    return max(slope, LEAST_SLOPE) * shore.greatest_m


def _slope_words(slope: float) -> str:
    if slope >= LEAST_SLOPE:
        return f"land rising {slope:.0%} from it" if slope >= 0.01 else f"land rising {slope:.1%} from it"
    kind = "level land" if slope >= -LEAST_SLOPE else f"land that falls away from it by {-slope:.0%}"
    return f"{kind} (counted as rising {LEAST_SLOPE:.1%})"


def greatest_depth(shore: Shoreline, slope: float, rule: UnsoundedRule, natural: bool) -> GreatestDepth:
    """Give the range of a water's greatest depth when nobody sounded it.

    Parameters: the outline; the land's slope (rise over run); the learned rule; natural: True unless the water is known
    to be dammed. Raises: BadArgument for a slope that is not finite.
    """
    if not np.isfinite(slope):
        raise BadArgument(f"slope {slope}: must be finite; leave the range out where the terrain is unknown")
    middle = float(np.exp(rule.constant + rule.exponent * np.log(unsounded_size_m(shore, slope))))
    low, high = float(np.exp(rule.low)), float(np.exp(rule.high))
    if natural:
        low, high = min(low, NATURAL_FACTORS[0]), max(high, NATURAL_FACTORS[1])
    text = (
        f"nobody sounded it: from {shore.greatest_m:.0f} m greatest distance to shore and {_slope_words(slope)} the "
        f"greatest depth lies in {low * middle:.1f} to {high * middle:.1f} m for 90 % of such waters: a wide range, no "
        "evidence for a run"
    )
    return GreatestDepth(low * middle, middle, high * middle, text)
