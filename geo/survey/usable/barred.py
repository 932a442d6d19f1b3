"""Where on a line a lift-off is barred by what rises ahead: a union of open intervals.

A thing of height h at x along the run is under the departure surface of a lift-off at b when x - b >= h / slope; it is
beside it when it lies further aside than half the width + divergence x (x - b). So every thing bars one open interval
of lift-off points, x - h / slope < b < x - (aside - half) / divergence, and a usable piece ends where no interval holds
its end. A touch-down is the lift-off of the opposite direction.
"""

from dataclasses import dataclass

import numpy as np

from geo.survey.usable.skyline import Risings

# An end keeps this much from the edge of a barred interval, far below any accuracy, so that rounding bars nothing.
EDGE_M = 1e-3


@dataclass(frozen=True, eq=False)
class Barred:
    """Open intervals (low_m[i], high_m[i]) of a line, sorted and apart, in which an end may not lie."""

    low_m: np.ndarray
    high_m: np.ndarray

    def holds(self, at_m: np.ndarray | float) -> np.ndarray:
        """Say of positions (n,) [m] whether they are barred."""
        at = np.searchsorted(self.low_m, at_m, side="left") - 1
        if self.low_m.size == 0:
            return np.zeros(np.shape(at_m), bool)
        return (at >= 0) & (np.asarray(at_m) < self.high_m[np.maximum(at, 0)])

    def last_free(self, at_m: np.ndarray | float) -> np.ndarray:
        """Give the last free place at or before each position [m]."""
        return self._free(at_m, self.low_m)

    def first_free(self, at_m: np.ndarray | float) -> np.ndarray:
        """Give the first free place at or after each position [m]."""
        return self._free(at_m, self.high_m)

    def _free(self, at_m: np.ndarray | float, edge_m: np.ndarray) -> np.ndarray:
        """Give the positions, those in an interval moved to its edge."""
        if self.low_m.size == 0:
            return np.asarray(at_m, float)
        at = np.maximum(np.searchsorted(self.low_m, at_m, side="left") - 1, 0)
        return np.where(self.holds(at_m), edge_m[at], at_m)

    def reversed(self, length_m: float) -> "Barred":
        """Give the same intervals seen from the other end of a line of length_m [m]."""
        return Barred((length_m - self.high_m)[::-1], (length_m - self.low_m)[::-1])


def barred(low_m: np.ndarray, high_m: np.ndarray) -> Barred:
    """Give the union of open intervals, each wider by EDGE_M on both sides; empty ones (high <= low) drop out."""
    real = high_m > low_m
    order = np.argsort(low_m[real], kind="stable")
    low, high = low_m[real][order] - EDGE_M, np.maximum.accumulate(high_m[real][order] + EDGE_M)
    if low.size == 0:
        return Barred(low, high)
    opens = np.concatenate(([True], low[1:] > high[:-1]))
    closes = np.concatenate((opens[1:], [True]))
    return Barred(low[opens], high[closes])


def lift_off_barred(
    things: Risings, half_width_m: float, slope: float, divergence: float, look_m: float, *, sure: bool
) -> Barred:
    """Give where a lift-off in the line's direction is barred; sure: also by what is unknown.

    Notes: exact for points; for a thing with extent, of which near, far and least aside are known, it is the union of
    the intervals of all points that it could have, so never too little. Beyond look_m nothing is looked at.
    """
    unknown = np.isnan(things.rise_m)
    reach = np.where(unknown, look_m, np.minimum(np.nan_to_num(things.rise_m) / slope, look_m))
    beyond_side = np.maximum(things.aside_m - half_width_m, 0.0)
    if divergence > 0.0:
        high = things.far_m - beyond_side / divergence
    else:
        high = np.where(beyond_side > 0.0, -np.inf, things.far_m)
    kept = np.isfinite(high) & (sure | ~unknown)
    return barred((things.near_m - reach)[kept], high[kept])
