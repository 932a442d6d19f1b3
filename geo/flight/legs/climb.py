"""What climbing and descending add to a leg's cruise time. Pure arithmetic on arrays; knows no maps.

The leg rule: leave at once at the climb speed, climb until the greatest height that the leg needs is reached, cruise
from there; wait (climbing in circles) only where the ground ahead is not yet cleared. A point that needs height H
cannot be passed before (H - z0) / c at a constant rate c, or before the day's clock allows it. The descent is its
mirror image, seen from the end, at cruise speed. The sum of both delays can always be flown; it is exact when the place
that rules the climb comes before the place that rules the descent.
"""

from dataclasses import dataclass

import numpy as np

from geo.flight.legs.climb_rate import Climb, climb_height, climb_seconds
from geo.records.flight import Climbing, Descending


@dataclass(frozen=True, eq=False)
class Course:
    """One leg in numbers.

    distance_m (n,) rising [m], first 0, and required_m (n,) the height needed there [m], -inf where none; altitudes of
    both ends [m]; climb a rate [m/s] or a `ClimbClock`, flown at climb_speed_ms; descent_ms a rate. knots_m (k,) are
    distances at which climbing_s and cruising_s (k,) give the time from the start at climb and at cruise speed [s];
    both are linear between knots.
    """

    distance_m: np.ndarray
    required_m: np.ndarray
    start_altitude_m: float
    end_altitude_m: float
    climb: Climb
    climb_speed_ms: float
    descent_ms: float
    knots_m: np.ndarray
    climbing_s: np.ndarray
    cruising_s: np.ndarray

    @property
    def top_m(self) -> float:
        """The greatest height of the leg [m]."""
        return max(float(np.max(self.required_m)), self.start_altitude_m, self.end_altitude_m)

    def at(self, distance_m: np.ndarray | float, times_s: np.ndarray) -> np.ndarray:
        """Give climbing_s or cruising_s at a distance."""
        return np.interp(distance_m, self.knots_m, times_s)


def _delays(course: Course) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Give entry distances (n + 1,), their release times, times at climb speed, and the waiting due up to each [s]."""
    entry = np.append(course.distance_m, course.knots_m[-1])
    needed = np.append(course.required_m, course.end_altitude_m)
    release = climb_seconds(course.climb, course.start_altitude_m, needed)
    flown = course.at(entry, course.climbing_s)
    return entry, release, flown, np.maximum.accumulate(np.maximum(release - flown, 0.0))


def climbing(course: Course) -> Climbing | None:
    """Give how the climb is flown and what it costs; None where nothing is climbed.

    Notes: arrival at k is t_k = max(t_(k-1) + tau_k, (H_k - z0)/c); while climbing, that is Y_k plus the running
    maximum of (H_j - z0)/c - Y_j. With nothing ahead the extra time is (dz/c)(1 - Vy/Vc) for ground speeds Vy, Vc.
    """
    entry, release, flown, delay = _delays(course)
    duration = float(np.max(release))
    if duration <= 0.0:
        return None
    # The place that rules is reached at the very end of the climb: rounding must not leave it out.
    last = max(int(np.searchsorted(flown + delay, duration + 1e-9, side="right")) - 1, 0)
    waited = float(delay[last])
    reached = float(np.interp(duration - waited, course.climbing_s, course.knots_m))
    # Rounding must not carry the climb past the next point, where it may have to wait.
    reached = min(reached, float(entry[min(last + 1, len(entry) - 1)]))
    place = int(np.argmax((release - flown)[: last + 1])) if waited > 0.0 else None
    needed = np.append(course.required_m, course.end_altitude_m)
    climb = course.start_altitude_m, course.top_m, duration, course.climb_speed_ms
    path = reached, duration - waited, float(course.at(reached, course.cruising_s)), waited
    ruling = (None, None) if place is None else (float(entry[place]), float(needed[place]))
    return Climbing(*climb, *path, *ruling)


def descending(course: Course) -> Descending:
    """Give how the descent is flown and what it costs: waiting until the height is lost.

    Notes: of all places, the start included, the one rules where (H_k - z_end)/d - (cruise time from k to the end) is
    greatest.
    """
    left = np.append(course.distance_m, 0.0)
    height = np.append(course.required_m, course.start_altitude_m)
    needed = (height - course.end_altitude_m) / course.descent_ms
    to_go = course.cruising_s[-1] - course.at(left, course.cruising_s)
    rules = int(np.argmax(needed - to_go))
    from_m, at_m, needed_s, to_go_s = (float(each[rules]) for each in (height, left, needed, to_go))
    return Descending(from_m, course.end_altitude_m, at_m, course.descent_ms, needed_s, to_go_s)


def altitudes_m(course: Course, distance_m: np.ndarray) -> np.ndarray:
    """Give the altitudes flown [m] at distances along the route: up by the climb, at the top, down to the end.

    Notes: at a place where the aircraft circles it is the altitude on leaving.
    """
    entry, _, _, delay = _delays(course)
    before = np.searchsorted(entry, distance_m, side="right") - 1
    since = course.at(distance_m, course.climbing_s) + delay[np.maximum(before, 0)]
    up = climb_height(course.climb, course.start_altitude_m, since)
    release = (course.required_m - course.end_altitude_m) / course.descent_ms
    to_go = course.cruising_s[-1] - course.at(course.distance_m, course.cruising_s)
    # Seen from the end: the waiting due behind each place.
    waits = np.maximum.accumulate(np.maximum(release - to_go, 0.0)[::-1])[::-1]
    behind = np.append(waits, 0.0)[np.searchsorted(course.distance_m, distance_m, side="left")]
    left = course.cruising_s[-1] - course.at(distance_m, course.cruising_s) + behind
    down = course.end_altitude_m + course.descent_ms * left
    return np.minimum(np.minimum(up, down), course.top_m)
