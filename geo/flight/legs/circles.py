"""Where a leg circles: height is gained, or lost, where a circle has room beside the way, and nowhere else."""

import math
from dataclasses import dataclass

import numpy as np
import shapely

from geo.base.errors import NotFlyable
from geo.flight.legs.climb import Course, Waits, climbed_m, left_too_high_m, reached_too_low_m, sunk_m
from geo.flight.legs.corridor import Corridor
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.heights import EndParts
from geo.flight.legs.room_kernels import GENTLE_TURN, circle_side, sharp_turn_s, sharp_turns
from geo.flight.legs.track import Track
from geo.flight.routing.rule_kernels import CIRCLES_EVERY_M, LEAST_CIRCLED_S, MOST_CIRCLES
from geo.records.flight import Circling, Endpoint


@dataclass(frozen=True, eq=False)
class Room:
    """What decides where a leg may circle: its track, its ends, what stands beside it, the aircraft, the edges of
    no-fly areas (m, 4), and its parts."""

    track: Track
    ends: tuple[Endpoint, Endpoint]
    surface: Corridor
    state: FlightState
    shut_m: np.ndarray
    parts: EndParts

    def side(self, at_m: float, lowest_m: float, radius_m: float | None = None) -> int:
        """Give on which side of a place a circle no lower than an altitude has room: 1 right, -1 left, 0 neither.

        Notes: nothing within its radius and the corridor's half-width may stand nearer below it than the clearance, or
        than the terrain's error where the leg is still in a part at an end. Never over a drop.
        """
        surface, radius = self.surface, self.state.circle_radius_m if radius_m is None else radius_m
        if surface.far is None:
            return 1
        plane = self.plane_m
        along = at_m * plane / self.track.length_m
        for end, away in zip(self.ends, (along, plane - along), strict=True):
            if end.above_ground_m > 0.0 and away < radius - 1e-6:
                return 0
        kept = self.state.clearance_m if self.parts.en_route(at_m) else self.state.error_m
        return int(
            circle_side(
                self.track.corners_m, along, lowest_m - kept, surface.far, surface.frame, self.shut_m, radius,
                surface.half_width_m,
            )
        )  # fmt: skip

    @property
    def plane_m(self) -> float:
        """The length of the route in the plane [m]."""
        return float(np.hypot(*np.diff(self.track.corners_m, axis=0).T).sum())

    def places_m(self, from_m: float, to_m: float) -> np.ndarray:
        """Give the places at which circles are tried, between two along the leg, from the first on."""
        scale = self.track.length_m / self.plane_m
        count = min(int(abs(to_m - from_m) / scale / CIRCLES_EVERY_M), MOST_CIRCLES)
        step = math.copysign(CIRCLES_EVERY_M * scale, to_m - from_m)
        return from_m + step * np.arange(count + 1)


def waits_of(course: Course, room: Room) -> Waits:
    """Give where the time is spent that the climb and the descent of a leg lack.

    Raises: NotFlyable where circles are due and none has room, with the place.
    Notes: of the places where a circle has room the highest is taken.
    """
    up_at = down_at = None
    early, late = reached_too_low_m(course), left_too_high_m(course)
    if early is not None:
        places = room.places_m(0.0, early)
        up_at = _first_with_room(room, places[::-1], climbed_before_m(course, places)[::-1])
        if up_at is None:
            raise NotFlyable(_words(room, course, early, "reaches", "too low", "before"))
    if late is not None:
        places = room.places_m(room.track.length_m, late)
        to_go = course.to_go_s(places, course.cruising_s)
        heights = course.end_altitude_m + course.descent_ms * to_go
        down_at = _first_with_room(room, places[::-1], heights[::-1])
        if down_at is None:
            raise NotFlyable(_words(room, course, late, "leaves", "too high", "behind"))
    return Waits(up_at, down_at)


def turns_s(course: Course, room: Room) -> float:
    """Give what the sharp turns of a leg take [s]: flown at half the climb speed, in a circle that must have room
    where the turn ends, no lower than the flight is there without any wait.

    Raises: NotFlyable where one has no room, with the place.
    """
    state, total = room.state, 0.0
    for at_m, beyond in sharp_turns(room.track.corners_m, state.circle_radius_m).tolist():
        place = np.array([at_m * room.track.length_m / room.plane_m])
        sinking_m = course.end_altitude_m + course.descent_ms * course.to_go_s(place, course.cruising_s)
        lowest_m = min(course.top_m, float(climbed_before_m(course, place)[0]), float(sinking_m[0]))
        if not room.side(float(place[0]), lowest_m, state.turn_radius_m):
            raise NotFlyable(
                f"the leg turns by {math.degrees(beyond + GENTLE_TURN):.0f} degrees at "
                f"{room.track.words_at(float(place[0]))}, and a turn of {state.turn_radius_m:.0f} m radius has no "
                "room there. Fix: another source, or another route"
            )
        total += float(sharp_turn_s(beyond, state.turn_slowing_s, state.turn_rad_s))
    return total


def climbed_before_m(course: Course, places_m: np.ndarray) -> np.ndarray:
    """Give the altitudes [m] that the climb reaches without any wait."""
    return climbed_m(course, places_m, math.inf)


def _first_with_room(room: Room, places_m: np.ndarray, heights_m: np.ndarray) -> float | None:
    for at, height in zip(places_m.tolist(), heights_m.tolist(), strict=True):
        if room.side(at, height):
            return at
    return None


def _words(room: Room, course: Course, at_m: float, verb: str, how: str, where: str) -> str:
    needed = course.required_m[np.argmin(np.abs(course.distance_m - at_m))]
    return (
        f"the leg {verb} {room.track.words_at(at_m)} {how}: {float(needed):.0f} m above sea level are needed there, "
        f"and no circle of {room.state.circle_radius_m:.0f} m radius has room {where} it. Fix: another source, another "
        "route, or a lighter load"
    )


def circling_of(course: Course, room: Room, waits: Waits, up_s: float, down_s: float) -> tuple[Circling, ...]:
    """Give the circles of a leg as they are flown: waited up_s on the way up, down_s on the way down [s]."""
    found = []
    turn_s = 2.0 * math.pi * room.state.circle_radius_m / room.state.climb_speed_ms
    for at, seconds, climbs in ((waits.up_at_m, up_s, True), (waits.down_at_m, down_s, False)):
        if at is None or seconds <= LEAST_CIRCLED_S:
            continue
        place = np.array([at])
        if climbs:
            low = float(climbed_before_m(course, place)[0])
            heights = low, float(climbed_m(course, place, at)[0])
        else:
            high = float(sunk_m(course, place, at)[0])
            heights = high, high - course.descent_ms * seconds
        side = room.side(at, min(heights))
        size = _middle(room, at, side), room.state.circle_radius_m, seconds / turn_s
        found.append(Circling(at, *size, *heights, seconds))
    return tuple(found)


def _middle(room: Room, at_m: float, side: int) -> shapely.Point:
    """Give the middle of the circle that touches the way at a place, on its right (1) or left (-1)."""
    corners, distances = room.track.corners_m, room.track.corner_distance_m
    line = min(max(int(np.searchsorted(distances, at_m)) - 1, 0), len(corners) - 2)
    east, north = corners[line + 1] - corners[line]
    length, radius = math.hypot(east, north), room.state.circle_radius_m
    x, y = room.track.position(at_m)
    return shapely.Point(x + side * radius * north / length, y - side * radius * east / length)
