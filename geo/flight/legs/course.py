"""A track flown in the day's air: ground speeds, heights needed, climb and descent; in a wind that changes by height
also the altitude at which each piece meets it.

The wind decides how far the climb reaches over the ground, and the climb decides in which wind each place is passed.
Both are worked out in turn until neither changes (each turn carries the answer further along the climb).
"""

from dataclasses import dataclass

import numpy as np

from geo.base.errors import NotFlyable
from geo.flight.legs.climb import Course, altitudes_m
from geo.flight.legs.corridor import Corridor
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.heights import Needs, needs_of
from geo.flight.legs.speeds import Speeds, changing_speeds, uniform_speeds
from geo.flight.legs.track import Track, place_words

MOST_TURNS = 30
SETTLED_M = 0.1


@dataclass(frozen=True, eq=False)
class Flight:
    """A leg worked out: cruise speeds, heights needed, the course, and why it cannot climb (empty if it can)."""

    cruise: Speeds
    needs: Needs
    course: Course
    why_not: str


@dataclass(frozen=True, eq=False)
class Sight:
    """Where the integration nodes of a track lie (k, 3): plane positions and the ground below, NaN unknown [m]."""

    east_m: np.ndarray
    north_m: np.ndarray
    ground_m: np.ndarray


def _sight(track: Track, prepared: Corridor, above_ground: bool) -> Sight:
    """Look up the ground only where the wind depends on it; a gap near an end takes the nearest known of the leg."""
    east, north = track.positions(track.node_distance_m)
    if not above_ground:
        return Sight(east, north, np.full(east.shape, np.nan))
    if prepared.ground is None:
        raise NotFlyable(
            "a wind by height above the ground needs the ground, and no terrain is given. "
            "Fix: give the terrain, or the winds by height above sea level"
        )
    ground = prepared.ground.nearest(east, north)
    known = np.isfinite(ground)
    if known.any() and not known.all():
        ground = np.interp(track.node_distance_m, track.node_distance_m[known], ground[known])
    return Sight(east, north, ground)


def _speeds(
    track: Track, tas_ms: float, state: FlightState, blow: tuple[np.ndarray, np.ndarray] | None, crs_wkt: str
) -> Speeds:
    if blow is None:
        return uniform_speeds(track, tas_ms, state.wind_from_true_deg, state.wind_ms)
    return changing_speeds(track, tas_ms, blow, crs_wkt)


def _one_turn(
    track: Track,
    prepared: Corridor,
    state: FlightState,
    ends_m: tuple[float, float],
    crs_wkt: str,
    blow: tuple[np.ndarray, np.ndarray] | None,
) -> Flight:
    cruise, why_not = _speeds(track, state.tas_ms, state, blow, crs_wkt), ""
    cruising = climbing = track.elapsed_s(cruise.ground_ms)
    fastest = 0.0
    try:
        climb_ms = _speeds(track, state.climb_speed_ms, state, blow, crs_wkt).ground_ms
        climbing, fastest = track.elapsed_s(climb_ms), float(climb_ms.max())
    except NotFlyable as error:
        why_not = str(error)
    rise = max(state.exempt_m, fastest * state.clearing_s(ends_m[0]))
    fall = max(state.exempt_m, state.clearance_m * float(cruise.ground_ms.max()) / state.descent_ms)
    needs = needs_of(track, prepared, state, rise, fall)
    course = Course(
        needs.distance_m,
        needs.required_m,
        *ends_m,
        state.climb_ms,
        state.climb_speed_ms,
        state.descent_ms,
        track.piece_end_m,
        climbing,
        cruising,
    )
    return Flight(cruise, needs, course, why_not)


def fly_track(
    track: Track, prepared: Corridor, state: FlightState, ends_m: tuple[float, float], crs_wkt: str
) -> Flight:
    """Fly a track between two altitudes [m].

    Raises: NotFlyable where the wind is unknown or too strong (with the place), or terrain is unknown; BadArgument.
    """
    winds = state.winds
    if winds is None:
        return _one_turn(track, prepared, state, ends_m, crs_wkt, None)
    sight = _sight(track, prepared, winds.above_ground)
    altitude = np.full(sight.east_m.shape, max(ends_m) + state.clearance_m)
    for _ in range(MOST_TURNS if winds.by_height else 1):
        blow = winds.blow_ms(sight.east_m, sight.north_m, altitude, sight.ground_m)
        flight = _one_turn(track, prepared, state, ends_m, crs_wkt, blow)
        before, altitude = altitude, altitudes_m(flight.course, track.node_distance_m)
        if not winds.by_height or float(np.abs(altitude - before).max()) < SETTLED_M:
            return flight
    middle = track.position(0.5 * track.length_m)
    raise NotFlyable(
        f"the wind changes so much with height that no steady flight was found in {MOST_TURNS} turns; the leg's middle "
        f"is at {place_words(crs_wkt, middle)}. Fix: give fewer or smoother rows of the wind profile"
    )
