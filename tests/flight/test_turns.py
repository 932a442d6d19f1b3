"""Turns sharper than a gentle one take the time of the bank and need the room of its circle.

The rate g tan bank / V and the radius V^2 / (g tan bank) are plain kinematics (FAA-H-8083-25, aerodynamics of turns).
That the first 60 degrees cost nothing, and that sharper turns are flown at half the climb speed, is common practice, no
source.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from geo.base.errors import NotFlyable
from geo.flight.legs.corridor import corridor
from geo.flight.legs.flight_state import rule_of
from geo.flight.legs.room_kernels import sharp_turns
from geo.flight.routing.route_ground import route_ground
from geo.flight.routing.route_kernels import route_seconds
from tests.flight.flying import airspace, at
from tests.flight.test_legs import STATE, fly, level

AIRCRAFT = {"acceleration_ms2": 1.5, "bank_deg": 25.0}
HIGH = {"start_altitude_m": 400.0, "end_altitude_m": 400.0, **AIRCRAFT}
# 20 of 40 m/s, 25 degrees of bank: 9.80665 x 0.466308 / 20 = 0.228646 rad/s. Slowing down to 20 and speeding up again
# at 1.5 m/s^2 takes 26.667 s over 800 m, which 40 m/s fly in 20 s. Circles at 40 m/s: 40^2 / 4.57292 = 349.89 m.
RATE_RAD_S, SLOWING_S, RADIUS_M = 0.228646, 6.6667, 349.89


def takes_s(degrees):
    return SLOWING_S * min(1.0, degrees / 30.0) + math.radians(degrees) / RATE_RAD_S


def turned(degrees, apart_m=None, size=1):
    """A route 4 km north, then on by so many degrees to the right, in so many corners apart_m from one another."""
    place, heading, corners = np.array([0.0, 4000.0]), 0.0, [(0.0, 0.0), (0.0, 4000.0)]
    for number in range(size):
        heading += math.radians(degrees / size)
        length = 4000.0 if number == size - 1 else apart_m
        place = place + length * np.array([math.sin(heading), math.cos(heading)])
        corners.append(tuple(place))
    return shapely.LineString(corners)


def flown(route, terrain=None):
    ends = route.coords[0], route.coords[-1]
    return fly(*ends, **HIGH, terrain=level() if terrain is None else terrain, route=route)


@pytest.mark.parametrize(("degrees", "sharper"), [(30.0, 0.0), (60.0, 0.0), (75.0, 15.0), (150.0, 90.0)])
def test_what_a_turn_has_more_than_60_degrees_takes_its_time(degrees, sharper):
    leg = flown(turned(degrees))
    assert leg.turns_s == pytest.approx(takes_s(sharper), rel=1e-4, abs=1e-6)
    parts = sum(piece.time_s for piece in leg.segments)
    assert leg.time_s == pytest.approx(
        parts + leg.climb_extra_s + leg.descent_extra_s + leg.turns_s, rel=1e-12
    )


def test_a_sharp_turn_cannot_be_hidden_in_corners_close_together():
    # Three times 50 degrees within 200 m are one turn of 150; within 3 x the radius they are three gentle ones.
    assert flown(turned(150.0, 100.0, 3)).turns_s == pytest.approx(takes_s(90.0), rel=1e-4)
    assert flown(turned(150.0, 3.0 * RADIUS_M, 3)).turns_s == 0.0


def test_corners_on_a_straight_way_and_long_bends_are_no_turn():
    # 50 degrees, a corner that turns nothing, 50 degrees: 600 m apart. Then 40 times 5 degrees, 200 m apart: 10 degrees
    # within each radius of way.
    bent = turned(100.0, 600.0, 2)
    corners = np.array(bent.coords)
    cut = np.insert(corners, 2, corners[1:3].mean(axis=0), axis=0)
    assert len(sharp_turns(cut, RADIUS_M)) == 0
    assert len(sharp_turns(np.array(turned(200.0, 200.0, 40).coords), RADIUS_M)) == 0


def test_corners_that_cancel_are_no_turn():
    zigzag = np.array([(0.0, 0.0), (0.0, 4000.0), (50.0, 4050.0), (50.0, 9000.0)])
    assert len(sharp_turns(zigzag, RADIUS_M)) == 0


def test_a_sharp_turn_needs_the_room_of_its_circle():
    # Walls 300 m to either side of the way north, outside the corridor. A circle of 20^2 / 4.57292 = 87 m radius and
    # the corridor beside it reach 355 m.
    narrow = level()
    east = narrow.west_m + (np.arange(narrow.values.shape[1]) + 0.5) * narrow.cell_east_m
    north = narrow.north_m - (np.arange(narrow.values.shape[0]) + 0.5) * narrow.cell_north_m
    walls = (np.abs(east) > 300.0)[None, :] & (np.abs(north - 4000.0) < 1500.0)[:, None]
    narrow.values[walls] = 2000.0
    back = shapely.LineString([(0.0, 0.0), (0.0, 4000.0), (60.0, 0.0)])
    assert flown(back).turns_s > 14.0
    with pytest.raises(NotFlyable, match=r"turns by 179 degrees at longitude.*no room"):
        flown(back, narrow)


def test_the_search_counts_the_same_turns():
    ground = route_ground(corridor(level(), STATE.half_width_m), airspace([]))
    for degrees in (45.0, 100.0, 170.0):
        route = turned(degrees)
        points = np.array(route.coords)
        state = replace(STATE, **AIRCRAFT)
        rule = rule_of(at(points[0], 400.0), at(points[-1], 400.0), state, 0.0, ground.lowest_m)
        seconds = route_seconds(points, ground.open, rule, np.inf)
        assert seconds == pytest.approx(flown(route).time_s, rel=1e-4)
