"""A flown leg seen from the side: ground, heights due and altitudes along its route. For pictures alone."""

import numpy as np

from geo.flight.legs.climb import altitudes_m, climbing
from geo.flight.legs.course import Task, fly
from geo.records.flight import LegSide

PLACES = 400
STEP_BACK_M = 0.01


def side_of(task: Task) -> LegSide:
    """Give the side view of a leg. Raises: NotFlyable, BadArgument as `geo.flight.legs.leg.leg`."""
    track, surface, course = task.track, task.surface, fly(task).course
    # Just before and on each place where the needs change, so that circling is drawn upright.
    changes = np.concatenate((course.distance_m, np.maximum(course.distance_m - STEP_BACK_M, 0.0)))
    distance = np.unique(np.concatenate((np.linspace(0.0, track.length_m, PLACES), changes)))
    east, north = track.positions(distance)
    ground = np.full(len(distance), np.nan)
    if surface.ground is not None:
        ground = surface.ground.bilinear(east, north)
    order = np.argsort(course.distance_m, kind="stable")
    needed = np.interp(distance, course.distance_m[order], course.required_m[order])
    altitude = altitudes_m(course, distance)
    upright = np.array([0.0, *distance, track.length_m])
    up = climbing(course)
    return LegSide(
        upright,
        np.concatenate((ground[:1], ground, ground[-1:])),
        np.concatenate((needed[:1], needed, needed[-1:])),
        np.array([task.start.altitude_m, *altitude, task.end.altitude_m]),
        None if up is None else up.covered_m,
    )
