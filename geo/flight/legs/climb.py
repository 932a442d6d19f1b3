"""What climbing and descending add to a leg's cruise time. Pure arithmetic on arrays; knows no maps.

The leg rule: leave at once at the climb speed, level while the aircraft speeds up, then climb until the greatest height
that the leg needs is reached, cruise from there; wait (climbing in circles) only where the ground ahead is not cleared
in time. A point that needs height H cannot be passed before level_s + (H - z0) / c at a constant rate c, or before the
day's clock allows it. The descent is its mirror image, seen from the end, at cruise speed, or as slow as the climb
speed where that saves the circle. The sum of both delays can always be flown; it is exact when the place that rules the
climb comes before the place that rules the descent. Where on the way the wait is spent changes no time, if it is before
the first place that is reached too low (behind the last that is left too high): see `circles`.
"""

from dataclasses import dataclass

import numpy as np

from geo.flight.legs.climb_rate import Climb, climb_height, climb_seconds
from geo.flight.routing.rule_kernels import LEAST_CIRCLED_S
from geo.records.flight import Climbing, Descending


@dataclass(frozen=True)
class Waits:
    """Where along a leg the time is spent that its climb (descent) lacks [m]; None: where it is lacking, and on the way
    down by flying slower."""

    up_at_m: float | None = None
    down_at_m: float | None = None


@dataclass(frozen=True, eq=False)
class Course:
    """One leg in numbers.

    distance_m (n,) rising [m], first 0, and required_m (n,) the height needed there [m], -inf where none; altitudes of
    both ends [m]; climb a rate [m/s] or a `ClimbClock`, flown at climb_speed_ms; descent_ms a rate. knots_m (k,) are
    distances at which climbing_s and cruising_s (k,) give the time from the start at climb and at cruise speed [s];
    both are linear between knots. level_s: the climb begins so long after the start [s].
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
    level_s: float = 0.0

    @property
    def top_m(self) -> float:
        """The greatest height of the leg [m]."""
        return max(float(np.max(self.required_m)), self.start_altitude_m, self.end_altitude_m)

    def at(self, distance_m: np.ndarray | float, times_s: np.ndarray) -> np.ndarray:
        """Give climbing_s or cruising_s at a distance."""
        return np.interp(distance_m, self.knots_m, times_s)

    def to_go_s(self, distance_m: np.ndarray | float, times_s: np.ndarray) -> np.ndarray:
        """Give the time from a distance to the end, by climbing_s or cruising_s."""
        return times_s[-1] - self.at(distance_m, times_s)


def _delays(course: Course) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Give entry distances (n + 1,), their release times, times at climb speed, and the waiting due up to each [s]."""
    entry = np.append(course.distance_m, course.knots_m[-1])
    needed = np.append(course.required_m, course.end_altitude_m)
    climb_s = climb_seconds(course.climb, course.start_altitude_m, needed)
    release = np.where(needed > course.start_altitude_m, course.level_s + climb_s, -np.inf)
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
    ruling: tuple[float | None, float | None] = (None, None)
    if place is not None:
        ruling = float(entry[place]), float(needed[place])
    return Climbing(*climb, *path, *ruling, course.level_s)


def reached_too_low_m(course: Course) -> float | None:
    """Give the first place [m] that the climb reaches so much too low that circles are due before it; None for none."""
    entry, _, _, delay = _delays(course)
    early = delay > LEAST_CIRCLED_S
    return float(entry[np.argmax(early)]) if early.any() else None


def left_too_high_m(course: Course) -> float | None:
    """Give the last place [m] that the descent leaves so much too high that circles are due behind it; None for none,
    or where flying at the climb speed is slow enough."""
    left, _, needed, to_go = _sinking(course)
    slowest = np.maximum(to_go, course.to_go_s(left, course.climbing_s))
    if not np.any(needed - slowest > LEAST_CIRCLED_S):
        return None
    return float(np.max(left[needed - to_go > LEAST_CIRCLED_S]))


def _sinking(course: Course) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Give the places of the leg, the start included, their heights, the time to sink from there to the end and the
    cruise to it (n + 1,)."""
    left = np.append(course.distance_m, 0.0)
    height = np.append(course.required_m, course.start_altitude_m)
    needed = (height - course.end_altitude_m) / course.descent_ms
    return left, height, needed, course.to_go_s(left, course.cruising_s)


def descending(course: Course) -> Descending | None:
    """Give how the descent is flown and what it costs: waiting until the height is lost. None where nothing is sunk.

    Notes: of all places above the end, the start included, the one rules where (H_k - z_end)/d - (cruise time from k to
    the end) is greatest.
    """
    left, height, needed, to_go = _sinking(course)
    if not np.any(needed > 0.0):
        return None
    rules = int(np.argmax(np.where(needed > 0.0, needed - to_go, -np.inf)))
    from_m, at_m, needed_s, to_go_s = (float(each[rules]) for each in (height, left, needed, to_go))
    return Descending(from_m, course.end_altitude_m, at_m, course.descent_ms, needed_s, to_go_s)


def altitudes_m(course: Course, distance_m: np.ndarray, waits: Waits | None = None) -> np.ndarray:
    """Give the altitudes flown [m] at distances along the route: up by the climb, at the top, down to the end.

    Notes: at a place where the aircraft circles up it is the altitude on leaving, where it circles down on arriving.
    """
    waits = waits or Waits()
    up = climbed_m(course, distance_m, waits.up_at_m)
    return np.minimum(np.minimum(up, sunk_m(course, distance_m, waits.down_at_m)), course.top_m)


def climbed_m(course: Course, distance_m: np.ndarray, waits_at_m: float | None) -> np.ndarray:
    """Give the altitudes [m] that the climb reaches at distances, the wait spent at one place, or where it is due."""
    entry, _, _, delay = _delays(course)
    due = delay[np.maximum(np.searchsorted(entry, distance_m, side="right") - 1, 0)]
    if waits_at_m is not None:
        due = np.where(distance_m >= waits_at_m, delay[-1], 0.0)
    since = course.at(distance_m, course.climbing_s) + due - course.level_s
    return climb_height(course.climb, course.start_altitude_m, np.maximum(since, 0.0))


def sunk_m(course: Course, distance_m: np.ndarray, waits_at_m: float | None) -> np.ndarray:
    """Give the altitudes [m] from which the descent ends in time, the wait spent at one place, or flown slower."""
    order = np.argsort(course.distance_m, kind="stable")
    places = course.distance_m[order]
    release = (course.required_m[order] - course.end_altitude_m) / course.descent_ms
    to_go = course.to_go_s(distance_m, course.cruising_s)
    # Seen from the end: the waiting due behind each place.
    waits = np.maximum(release - course.to_go_s(places, course.cruising_s), 0.0)
    waits = np.maximum.accumulate(waits[::-1])[::-1]
    start_s = (course.start_altitude_m - course.end_altitude_m) / course.descent_ms - course.cruising_s[-1]
    most = max(float(waits[0]) if len(waits) else 0.0, start_s, 0.0)
    due = np.append(waits, 0.0)[np.searchsorted(places, distance_m, side="left")]
    if waits_at_m is not None:
        due = np.where(distance_m <= waits_at_m, most, 0.0)
    else:
        slower = np.maximum(course.to_go_s(distance_m, course.climbing_s) - to_go, 0.0)
        due = np.maximum(due, np.minimum(slower, most))
    return course.end_altitude_m + course.descent_ms * (to_go + due)
