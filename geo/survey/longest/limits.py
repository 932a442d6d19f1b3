"""What ends a search early, with a bound on what it leaves."""

from typing import NamedTuple

import numpy as np
from numba import njit

ENDLESS = 2**62  # work that no search comes to


class SearchLimits(NamedTuple):
    """What ends a search early, with a bound on what it leaves.

    halt (1,): not 0 to stop now; work (1,): edges that may still be looked at, in bundles that are halved; gap:
    relative, bundles that could be longer than the best run by no more are left. Work, unlike time, ends the same
    search in the same place everywhere.
    """

    halt: np.ndarray
    work: np.ndarray
    gap: float


@njit(cache=True)
def no_limits() -> SearchLimits:
    """Give limits that never end a search."""
    return SearchLimits(np.zeros(1, np.int64), np.full(1, ENDLESS), 0.0)


@njit(cache=True, inline="always")
def is_over(limits: SearchLimits) -> bool:
    """Say whether a search must stop."""
    return limits.halt[0] != 0 or limits.work[0] <= 0
