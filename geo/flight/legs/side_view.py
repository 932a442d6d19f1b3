"""A flown leg seen from the side: ground, heights due and altitudes along its route. For pictures alone."""

import numpy as np

from geo.flight.legs.circles import circling_of
from geo.flight.legs.climb import altitudes_m, climbing, descending
from geo.flight.legs.course import Task, fly
from geo.records.flight import LegSide

PLACES = 400
STEP_BACK_M = 0.01


def side_of(task: Task) -> LegSide:
    """Give the side view of a leg. Raises: NotFlyable, BadArgument as `geo.flight.legs.leg.leg`."""
    flight = fly(task)
    track, surface, course = task.track, task.surface, flight.course
    # Just before and on each place where the needs change, so that circling is drawn upright.
    turns = [at for at in (flight.waits.up_at_m, flight.waits.down_at_m) if at is not None]
    steps = np.concatenate((course.distance_m, turns))
    ahead = np.minimum(steps + STEP_BACK_M, track.length_m)
    changes = np.concatenate((steps, np.maximum(steps - STEP_BACK_M, 0.0), ahead))
    distance = np.unique(np.concatenate((np.linspace(0.0, track.length_m, PLACES), changes)))
    east, north = track.positions(distance)
    ground = np.full(len(distance), np.nan)
    if surface.ground is not None:
        ground = surface.ground.bilinear(east, north)
    order = np.argsort(course.distance_m, kind="stable")
    needed = np.interp(distance, course.distance_m[order], course.required_m[order])
    altitude = altitudes_m(course, distance, flight.waits)
    upright = np.array([0.0, *distance, track.length_m])
    up, down = climbing(course), descending(course)
    waited = 0.0 if up is None else up.waited_s, 0.0 if down is None else down.extra_s
    circles = circling_of(course, flight.room, flight.waits, *waited)
    return LegSide(
        upright,
        np.concatenate((ground[:1], ground, ground[-1:])),
        np.concatenate((needed[:1], needed, needed[-1:])),
        np.array([task.start.altitude_m, *altitude, task.end.altitude_m]),
        None if up is None else up.covered_m,
        tuple((one.at_m, min(one.from_m, one.to_m), max(one.from_m, one.to_m), one.turns) for one in circles),
    )
