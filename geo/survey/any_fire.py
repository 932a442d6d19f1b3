"""Places that serve fires on any side of a water: chosen so that for no fire the best of them is much further away.

The survey knows neither the fire nor the aircraft. So it takes fires all round the water, near it, where a wrong side
costs most, and the round trip of one plain helicopter.
"""

from collections.abc import Callable

import numpy as np
import shapely

# Sample fires lie this far off the shore [m], one for each so many metres of the line round the water, within limits.
FIRES_OFF_M = 1500.0
FIRE_SPACING_M = 500.0
FEWEST_FIRES, MOST_FIRES = 24, 96
# The plain helicopter: fixed time of a round trip [s], seconds per metre loaded and empty (common practice: 180 and
# 200 km/h, a minute to fill, 10 s to drop, a minute and a half of manoeuvres; no source). Only ratios matter here.
FIXED_S, OUT_S_M, BACK_S_M = 160.0, 1.0 / 50.0, 1.0 / 55.6


def fires_round(water: shapely.Polygon) -> np.ndarray:
    """Give sample fires (n, 2) [m] on all sides of a water, evenly along a line round it."""
    ring = water.simplify(0.05 * FIRES_OFF_M).buffer(FIRES_OFF_M, quad_segs=8).exterior
    count = int(np.clip(ring.length / FIRE_SPACING_M, FEWEST_FIRES, MOST_FIRES))
    return shapely.get_coordinates(ring.interpolate(np.arange(count) / count, normalized=True))


def trip_s(touch_down: np.ndarray, lift_off: np.ndarray, fires: np.ndarray) -> np.ndarray:
    """Give the round trip [s] of fills (n, 2), (n, 2) [m] for fires (m, 2) as (n, m), in the quicker direction."""
    a, b = (np.hypot(*(end[:, None, :] - fires).transpose(2, 0, 1)) for end in (touch_down, lift_off))
    return FIXED_S + np.minimum(a * BACK_S_M + b * OUT_S_M, b * BACK_S_M + a * OUT_S_M)


def serving(
    trips_s: np.ndarray,
    most: int,
    enough: float,
    good: Callable[[int], bool] = lambda _: True,
    already_s: np.ndarray | None = None,
    among: np.ndarray | None = None,
) -> list[int]:
    """Choose candidates that serve all fires, each the one that shortens the round trips most.

    Parameters: trips_s (candidates, fires) [s]; at most so many are chosen, fewer where every fire's best trip is
    within the share `enough` of the best candidate's; good is asked of each one chosen, and what is not good serves
    nobody; already_s (fires,): round trips that can be had without any of them; among: the numbers of the candidates to
    choose from, all without.
    Returns: the numbers of those that are good, in the order of their use.
    """
    chosen: list[int] = []
    left = np.full(len(trips_s), among is None)
    if among is not None:
        left[among] = True
    now_s = np.full(trips_s.shape[1], np.inf) if already_s is None else already_s.copy()
    asked = 0
    while left.any() and len(chosen) < most and asked < 2 * most:
        best_s = np.minimum(trips_s[left].min(axis=0), now_s)
        if np.all(now_s <= (1.0 + enough) * best_s):
            break
        # A fire that nothing serves yet counts as one that is served very badly.
        gain = np.clip(np.minimum(now_s, 4.0 * best_s) - trips_s, 0.0, None) / best_s
        total = np.where(left, gain.sum(axis=1), -1.0)
        at = int(total.argmax())
        left[at] = False
        asked += 1
        if good(at):
            chosen.append(at)
            now_s = np.minimum(now_s, trips_s[at])
    return chosen
