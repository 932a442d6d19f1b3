"""One leg: exact wind-triangle time on the ellipsoid, with climb and descent charged as a whole, never per cell."""

import math

import numpy as np
import shapely

from geo.base.errors import BadArgument, NotFlyable
from geo.flight.legs.circles import circling_of, turns_s
from geo.flight.legs.climb import climbing, descending
from geo.flight.legs.corridor import Corridor
from geo.flight.legs.course import Flight, Task, fly, task_of
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.leg_parts import parts_of, path_of
from geo.flight.legs.no_fly_routes import Airspace
from geo.records.flight import Climbing, Descending, Endpoint, Leg

CLIMB_SHARE_CAUTION = 0.25


def _highest_what(task: Task, flight: Flight) -> str:
    """Say what sets the height of the leg and where."""
    needs = flight.needs
    index = needs.greatest
    if index is None:
        return "terrain unknown"
    where = task.track.words_at(float(needs.distance_m[index]))
    if needs.ruling[index] >= 0:
        top = needs.spans[needs.ruling[index]].top
        return f"{top.what}, top {top.top_m:.0f} m, near {where}"
    return f"terrain, {needs.required_m[index]:.0f} m with the clearance due there, near {where}"


def _check_ceiling(task: Task, flight: Flight, what: str) -> None:
    needs, state = flight.needs, task.state
    index = needs.greatest
    if index is not None and needs.required_m[index] > state.ceiling_m:
        raise NotFlyable(
            f"the leg needs {needs.required_m[index]:.0f} m above sea level ({what}; clearance "
            f"{state.clearance_m:.0f} m), the ceiling is {state.ceiling_m:.0f} m. Fix: another source or a detour"
        )
    for name, end, at in (("start", task.start, 0.0), ("end", task.end, task.track.length_m)):
        if end.altitude_m > state.ceiling_m:
            raise NotFlyable(
                f"the leg's {name} lies at {end.altitude_m:.0f} m ({task.track.words_at(at)}), above the "
                f"ceiling of {state.ceiling_m:.0f} m. Fix: another source, or another aircraft"
            )


def _corners(start: Endpoint, end: Endpoint, route: shapely.LineString | None) -> np.ndarray:
    ends = np.array([start.xy, end.xy])
    if route is None:
        return ends
    corners = shapely.get_coordinates(route)[:, :2]
    gap = np.hypot(*(corners[[0, -1]] - ends).T).max()
    if not gap <= 0.01:
        raise BadArgument(
            f"the route's ends lie {gap:.2f} m from the leg's ends. Fix: give a route from start to end"
        )
    return corners


def slow_climb_cautions(up_s: float, time_s: float) -> tuple[str, ...]:
    """Give the hint that belongs to a leg of which climbing takes a great share; none otherwise."""
    if up_s <= CLIMB_SHARE_CAUTION * time_s:
        return ()
    return (f"climbing costs {up_s:.0f} s of {time_s:.0f} s: a route round the high ground may be quicker",)


def leg(
    start: Endpoint,
    end: Endpoint,
    state: FlightState,
    surface: Corridor,
    crs_wkt: str,
    route: shapely.LineString | None = None,
    airspace: Airspace | None = None,
) -> Leg:
    """Fly one leg from start to end and give its time with everything needed to redo it.

    Parameters: state, the aircraft in the day's air. surface, terrain and obstacles prepared for the state's corridor
    half-width. crs_wkt, of the plane in which the ends lie. route, plane line from start to end flown instead of the
    straight line. airspace, no-fly areas that no circle may meet; the route is not checked against them.
    Returns: Leg with time_s = sum of segment times + climb_extra_s + descent_extra_s + turns_s.
    Raises: NotFlyable, wind too strong for a track or unknown on it, or terrain, obstacle, start or end above the
    ceiling (place named). BadArgument, a surface of another half-width, or a route that does not join start and end.

    Notes: Straight pieces are geodesics; the wind triangle is integrated along their turning track. En route the
    clearance holds above the highest terrain and the obstacle tops within half_width_m of the track. The leg leaves its
    start by a departure part: there it climbs as fast as it can (after speeding up, from a fill), and all that stands
    in the width of the surface must lie below the flight by the terrain's error: end_half_width_m, widening by one in
    ten up to half_width_m, as far as the climb takes to gain the clearance. The approach part at the end is its mirror
    image, as far as the descent takes to lose the clearance. Where the climb does not reach a height in time, or the
    descent does not lose it, circles are flown where they have room (see `circles`), else the leg is refused. Climb and
    descent: see `climb`; winds that change by height or place: see `course`. A leg over unknown terrain is refused;
    with no terrain at all nothing is cleared, and that is said. An obstacle of unknown height bars the parts at the
    ends; en route it is named in a caution and not cleared: routes are led round it before.
    """
    if surface.half_width_m != state.half_width_m:
        raise BadArgument(
            f"the corridor was prepared for a half-width of {surface.half_width_m} m, the leg asks for "
            f"{state.half_width_m} m. Fix: prepare the corridor for the leg"
        )
    corners = _corners(start, end, route)
    task = task_of(corners, start, end, state, surface, crs_wkt, airspace)
    if len(task.track.corners_m) == 1:
        return _standing(task, corners)
    return _flown(task, shapely.LineString(corners), detour=route is not None)


def _flown(task: Task, route: shapely.LineString, *, detour: bool) -> Leg:
    flight = fly(task)
    needs, course, state = flight.needs, flight.course, task.state
    what = _highest_what(task, flight)
    _check_ceiling(task, flight, what)
    # What is printed for the crew keeps the whole clearance over all that stands in the corridor, ends included.
    safe = None
    if math.isfinite(needs.highest_m):
        safe = max(needs.highest_m + state.clearance_m, task.start.altitude_m, task.end.altitude_m)
    climb_m = course.top_m - task.start.altitude_m
    if climb_m > 0.0 and flight.why_not:
        raise NotFlyable(
            f"the leg must climb {climb_m:.0f} m and cannot at the climb speed: {flight.why_not}"
        )
    up, down, waits = climbing(course), descending(course), flight.waits
    up_s, down_s = 0.0 if up is None else up.extra_s, 0.0 if down is None else down.extra_s
    turning_s = turns_s(course, flight.room)
    time_s = float(course.cruising_s[-1]) + up_s + down_s + turning_s
    return Leg(
        time_s=time_s,
        distance_m=task.track.length_m,
        segments=flight.cruise.segments(task.track, state.tas_ms),
        climb_m=climb_m,
        climb_extra_s=up_s,
        descent_extra_s=down_s,
        turns_s=turning_s,
        safe_altitude_m=safe,
        highest_what=what,
        route=route,
        detour=detour,
        cautions=needs.cautions + _hints(task, course.top_m, up_s, time_s),
        climb=up,
        descent=down,
        path_m=path_of(course, waits),
        parts=parts_of(course, needs, flight.room, waits),
        circling=circling_of(course, flight.room, waits, 0.0 if up is None else up.waited_s, down_s),
    )


def _hints(task: Task, top_m: float, up_s: float, time_s: float) -> tuple[str, ...]:
    """Give the hint at another route, where the leg climbs higher than its own two ends ask on any route."""
    ends_m = max(
        task.start.altitude_m - task.start.above_ground_m, task.end.altitude_m - task.end.above_ground_m
    )
    unavoidable_m = max(ends_m + task.state.clearance_m, task.start.altitude_m, task.end.altitude_m)
    return slow_climb_cautions(up_s, time_s) if top_m > unavoidable_m + 1.0 else ()


def _standing(task: Task, corners: np.ndarray) -> Leg:
    """The leg between two altitudes over one place."""
    state, first_m, last_m = task.state, task.start.altitude_m, task.end.altitude_m
    if max(first_m, last_m) > state.ceiling_m:
        raise NotFlyable(f"the place lies above the ceiling of {state.ceiling_m:.0f} m. Fix: another source")
    climbs = last_m > first_m
    up_s = float(state.climb_s(first_m, last_m)) if climbs else 0.0
    down_s = 0.0 if climbs else (first_m - last_m) / state.descent_ms
    up = None
    if climbs:
        up = Climbing(first_m, last_m, up_s, state.climb_speed_ms, 0.0, 0.0, 0.0, up_s, 0.0, last_m)
    down = None if climbs else Descending(first_m, last_m, 0.0, state.descent_ms, down_s, 0.0)
    what, climb_m = "start and end are one place", max(last_m - first_m, 0.0)
    line = shapely.LineString(corners)
    path = (0.0, first_m), (0.0, last_m)
    return Leg(
        up_s + down_s, 0.0, (), climb_m, up_s, down_s, None, what, line, False, climb=up, descent=down, path_m=path
    )  # fmt: skip
