"""A track flown in the day's air: ground speeds, heights needed, climb and descent; in a wind that changes by height
also the altitude at which each piece meets it.

The wind decides how far the climb reaches over the ground, and the climb decides in which wind each place is passed.
Both are computed in turn until neither changes (each turn carries the answer further along the climb).
"""

from dataclasses import dataclass

import numpy as np

from geo.base.errors import NotFlyable
from geo.flight.legs.circles import Room, waits_of
from geo.flight.legs.climb import Course, Waits, altitudes_m
from geo.flight.legs.corridor import Corridor
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.heights import EndParts, Needs, needs_of
from geo.flight.legs.no_fly_routes import Airspace
from geo.flight.legs.speeds import Speeds, changing_speeds, uniform_speeds
from geo.flight.legs.track import LONGEST_PIECE_IN_WINDS_M, LONGEST_PIECE_M, Track, track_of
from geo.flight.winds import Nodes
from geo.records.flight import Endpoint

MOST_TURNS = 30
SETTLED_M = 0.1


@dataclass(frozen=True, eq=False)
class Flight:
    """A flown leg: cruise speeds, heights needed, the course, where it circles, and why it cannot climb (empty if it
    can)."""

    cruise: Speeds
    needs: Needs
    course: Course
    room: Room
    waits: Waits
    why_not: str


def _nodes(task: "Task", above_ground: bool) -> Nodes:
    """Give the integration nodes of a track (k, 3), at first all at the clearance above the higher end.

    The ground is looked up only where the wind depends on it; a gap near an end takes the nearest known of the leg.
    """
    track, grid = task.track, task.surface.ground
    east, north = track.positions(track.node_distance_m)
    top_m = max(task.start.altitude_m, task.end.altitude_m) + task.state.clearance_m
    nodes = Nodes(east, north, np.full(east.shape, top_m), np.full(east.shape, np.nan))
    if not above_ground:
        return nodes
    if grid is None:
        raise NotFlyable(
            "a wind by height above the ground needs the ground, and no terrain is given. "
            "Fix: give the terrain, or the winds by height above sea level"
        )
    ground = grid.nearest(east, north)
    known = np.isfinite(ground)
    if known.any() and not known.all():
        ground = np.interp(track.node_distance_m, track.node_distance_m[known], ground[known])
    return nodes._replace(ground_m=ground)


@dataclass(frozen=True, eq=False)
class Task:
    """A leg to be flown: its track, its two ends, the ground below, the aircraft in the day's air, and the edges of
    no-fly areas that no circle may meet (m, 4)."""

    track: Track
    start: Endpoint
    end: Endpoint
    surface: Corridor
    state: FlightState
    shut_m: np.ndarray

    def speeds(self, tas_ms: float, blow: tuple[np.ndarray, np.ndarray] | None) -> Speeds:
        """Give the speeds along the track in a blow by integration node, or None for the uniform wind."""
        if blow is None:
            return uniform_speeds(self.track, tas_ms, self.state.wind_from_true_deg, self.state.wind_ms)
        return changing_speeds(self.track, tas_ms, blow)


def task_of(
    corners_m: np.ndarray,
    start: Endpoint,
    end: Endpoint,
    state: FlightState,
    surface: Corridor,
    crs_wkt: str,
    airspace: Airspace | None = None,
) -> Task:
    """Give the leg along the corners (n, 2) of a route [m]. Raises: BadArgument for corners that are not finite."""
    longest_m = LONGEST_PIECE_M if state.winds is None else LONGEST_PIECE_IN_WINDS_M
    shut_m = np.empty((0, 4)) if airspace is None else airspace.outline_m
    return Task(track_of(corners_m, crs_wkt, longest_m), start, end, surface, state, shut_m)


def _one_turn(task: Task, blow: tuple[np.ndarray, np.ndarray] | None) -> Flight:
    track, state = task.track, task.state
    cruise, why_not = task.speeds(state.tas_ms, blow), ""
    cruising = climbing = track.elapsed_s(cruise.ground_ms)
    try:
        climbing = track.elapsed_s(task.speeds(state.climb_speed_ms, blow).ground_ms)
    except NotFlyable as error:
        why_not = str(error)
    level_s = state.level_s(task.start)
    parts = _end_parts(task, climbing, cruising)
    needs = needs_of(track, task.surface, state, parts)
    ends_m, speeds = (task.start.altitude_m, task.end.altitude_m), (state.climb_speed_ms, state.descent_ms)
    times = track.piece_end_m, climbing, cruising
    course = Course(needs.distance_m, needs.required_m, *ends_m, state.climb_ms, *speeds, *times, level_s)
    room = Room(track, (task.start, task.end), task.surface, state, task.shut_m, parts)
    return Flight(cruise, needs, course, room, waits_of(course, room), why_not)


def _end_parts(task: Task, climbing_s: np.ndarray, cruising_s: np.ndarray) -> EndParts:
    """Give the parts at the ends: as far as the day's climb takes to gain the clearance above the ground of the start,
    and as the descent takes to lose it to the end."""
    state, track = task.state, task.track
    rise = max(state.clearance_m - task.start.above_ground_m, 0.0)
    up_s = float(state.climb_s(task.start.altitude_m, task.start.altitude_m + rise)) + state.level_s(
        task.start
    )
    down_s = max(state.clearance_m - task.end.above_ground_m, 0.0) / state.descent_ms
    leaving = float(np.interp(up_s, climbing_s, track.piece_end_m))
    coming = float(np.interp(cruising_s[-1] - down_s, cruising_s, track.piece_end_m))
    return EndParts(leaving, coming, track.length_m)


def fly(task: Task) -> Flight:
    """Fly a leg between the altitudes of its ends.

    Raises: NotFlyable where the wind is unknown or too strong (with the place), or terrain is unknown; BadArgument.
    """
    track, winds = task.track, task.state.winds
    if winds is None:
        return _one_turn(task, None)
    nodes = _nodes(task, winds.above_ground)
    for _ in range(MOST_TURNS if winds.by_height else 1):
        flight = _one_turn(task, winds.blow_ms(nodes))
        altitude = altitudes_m(flight.course, track.node_distance_m, flight.waits)
        if not winds.by_height or float(np.abs(altitude - nodes.altitude_m).max()) < SETTLED_M:
            return flight
        nodes = nodes._replace(altitude_m=altitude)
    raise NotFlyable(
        f"the wind changes so much with height that no steady flight was found in {MOST_TURNS} turns; the leg's middle "
        f"is at {track.words_at(0.5 * track.length_m)}. Fix: give fewer or smoother rows of the wind profile"
    )
