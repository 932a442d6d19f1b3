"""A flown leg seen from the side: ground, heights due and altitudes along its way. For pictures alone."""

import numpy as np
import shapely

from geo.flight.legs.climb import altitudes_m, climbing
from geo.flight.legs.corridor import Corridor
from geo.flight.legs.course import fly_track
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.track import LONGEST_PIECE_IN_WINDS_M, LONGEST_PIECE_M, track_of
from geo.records.flight import Leg, LegSide

PLACES = 400
STEP_BACK_M = 0.01


def side_of(
    flown: Leg, prepared: Corridor, state: FlightState, ends_m: tuple[float, float], crs_wkt: str
) -> LegSide:
    """Give the side view of a leg that was flown over a prepared corridor in a state between two altitudes [m].

    Raises: as `geo.flight.legs.leg.leg`.
    """
    longest_m = LONGEST_PIECE_M if state.winds is None else LONGEST_PIECE_IN_WINDS_M
    track = track_of(shapely.get_coordinates(flown.route), crs_wkt, longest_m)
    course = fly_track(track, prepared, state, ends_m, crs_wkt).course
    # Just before and on each place where the needs change, so that circling is drawn upright.
    changes = np.concatenate((course.distance_m, np.maximum(course.distance_m - STEP_BACK_M, 0.0)))
    distance = np.unique(np.concatenate((np.linspace(0.0, track.length_m, PLACES), changes)))
    east, north = track.positions(distance)
    ground = (
        np.full(len(distance), np.nan) if prepared.ground is None else prepared.ground.bilinear(east, north)
    )
    order = np.argsort(course.distance_m, kind="stable")
    needed = np.interp(distance, course.distance_m[order], course.required_m[order])
    altitude = altitudes_m(course, distance)
    upright = np.array([0.0, *distance, track.length_m])
    up = climbing(course)
    return LegSide(
        upright,
        np.concatenate((ground[:1], ground, ground[-1:])),
        np.concatenate((needed[:1], needed, needed[-1:])),
        np.array([ends_m[0], *altitude, ends_m[1]]),
        None if up is None else up.covered_m,
    )
