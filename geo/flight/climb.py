"""What climbing and descending add to a leg's cruise time. Pure arithmetic on arrays; knows no maps.

The leg rule: leave at once at the climb speed, climb until the greatest height that the leg needs is reached, cruise
from there; wait (climbing in circles) only where the ground ahead is not yet cleared. A point that needs height H
cannot be passed before (H - z0) / c at a constant rate c, or before the day's clock allows it. The descent is its
mirror image, seen from the end, at cruise speed. The sum of both delays can always be flown; it is exact when the place
that rules the climb comes before the place that rules the descent.
"""

import numpy as np

from geo.flight.climb_rate import Climb, climb_seconds


def climb_extra_s(
    entry_m: np.ndarray,
    required_m: np.ndarray,
    start_altitude_m: float,
    end_altitude_m: float,
    climb: Climb,
    knots_m: np.ndarray,
    climbing_s: np.ndarray,
    cruising_s: np.ndarray,
) -> float:
    """Give the seconds that the climb adds to the cruise time of the whole leg.

    Parameters: entry_m (n,) rising distances [m], first 0; required_m (n,) height needed from each on [m], -inf where
    none; climb a rate [m/s] or a `ClimbClock`. knots_m (k,) distances at which climbing_s and cruising_s (k,) give the
    time from the start at climb and at cruise speed [s]; both are linear between knots.
    Returns: t_c - C(s_c) [s]: the climb's duration less the cruise time over the ground it covers.
    Notes: arrival at k is t_k = max(t_(k-1) + tau_k, (H_k - z0)/c); while climbing, that is Y_k plus the running
    maximum of (H_j - z0)/c - Y_j. With nothing ahead the result is (dz/c)(1 - Vy/Vc) for ground speeds Vy, Vc.
    """
    entry = np.append(entry_m, knots_m[-1])
    release = climb_seconds(climb, start_altitude_m, np.append(required_m, end_altitude_m))
    duration = float(np.max(release))
    if duration <= 0.0:
        return 0.0
    flown = np.interp(entry, knots_m, climbing_s)
    delay = np.maximum.accumulate(np.maximum(release - flown, 0.0))
    last = int(np.searchsorted(flown + delay, duration, side="right")) - 1
    reached = float(np.interp(duration - delay[max(last, 0)], climbing_s, knots_m))
    # Rounding must not carry the climb past the next point, where it may have to wait.
    reached = min(reached, float(entry[min(last + 1, len(entry) - 1)]))
    return duration - float(np.interp(reached, knots_m, cruising_s))


def descent_extra_s(
    exit_m: np.ndarray,
    required_m: np.ndarray,
    start_altitude_m: float,
    end_altitude_m: float,
    descent_ms: float,
    knots_m: np.ndarray,
    cruising_s: np.ndarray,
) -> float:
    """Give the seconds that the descent adds to the cruise time: waiting until the height is lost.

    Parameters: exit_m (n,) distances [m] up to which required_m (n,) holds [m]; the others as in `climb_extra_s`.
    Returns: the greatest of (H_k - z_end)/d - (cruise time from exit_k to the end), and of the same for the start
    altitude at the start; never below 0.
    """
    left = np.append(exit_m, 0.0)
    needed = (np.append(required_m, start_altitude_m) - end_altitude_m) / descent_ms
    to_go = cruising_s[-1] - np.interp(left, knots_m, cruising_s)
    return max(0.0, float(np.max(needed - to_go)))
