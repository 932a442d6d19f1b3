"""The leg rule for climb and descent against closed forms and a step-by-step simulation."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo.flight.legs.climb import Course, altitudes_m, climbing, descending

VY, VC, C, D = 40.0, 50.0, 4.0, 5.0
L = 20000.0
KNOTS = np.array([0.0, L])
NOTHING = np.array([0.0]), np.array([-np.inf])


def course(distance, required, z0, z1, vy=VY, vc=VC, c=C, d=D):
    needs = np.asarray(distance, float), np.asarray(required, float)
    return Course(*needs, z0, z1, c, vy, d, KNOTS, KNOTS / vy, KNOTS / vc)


def climb(*given, **change):
    flown = climbing(course(*given, **change))
    return 0.0 if flown is None else flown.extra_s


def descend(*given, **change):
    sunk = descending(course(*given, **change))
    return 0.0 if sunk is None else sunk.extra_s


def test_no_terrain_ahead():
    # Closed form: (dz / c) (1 - Vy / Vc).
    assert climb(*NOTHING, 100.0, 500.0) == pytest.approx(400 / C * (1 - VY / VC), rel=1e-12)
    assert climb(*NOTHING, 500.0, 100.0) == 0.0
    assert climb(*NOTHING, 100.0, 100.0) == 0.0


def test_climb_that_ends_exactly_at_the_end_or_beyond():
    # Climbing all the route: L / Vy; then circling over the end: dz / c.
    assert climb(*NOTHING, 0.0, L / VY * C) == pytest.approx(L / VY - L / VC)
    assert climb(*NOTHING, 0.0, 4000.0) == pytest.approx(4000 / C - L / VC)


def test_wall_that_is_reached_too_early():
    # A wall of 1,000 m at 2 km: pass it at 1,000 / c = 250 s (not at 50 s), then cruise 18 km.
    extra = climb([0.0, 2000.0, 2100.0], [-np.inf, 1000.0, -np.inf], 0.0, 0.0)
    assert extra == pytest.approx(250 + 18000 / VC - L / VC, rel=1e-12)


def test_wall_far_away_costs_only_the_slower_climb():
    extra = climb([0.0, 15000.0, 15100.0], [-np.inf, 1000.0, -np.inf], 0.0, 0.0)
    assert extra == pytest.approx(250 * (1 - VY / VC), rel=1e-12)


def test_two_walls_wait_at_the_first_and_climb_on_to_the_second():
    # First wall 400 m at 1 km: passed at 100 s; second 800 m at 12 km: 200 s are reached on the route, at
    # 1 km + 100 s x 40 m/s = 5 km; from there cruise.
    extra = climb([0.0, 1000.0, 1100.0, 12000.0], [-np.inf, 400.0, -np.inf, 800.0], 0.0, 0.0)
    assert extra == pytest.approx(200 + 15000 / VC - L / VC, rel=1e-12)


def test_descent_is_seen_from_the_end():
    # 1,000 m wall until 3 km before the end: 1,000 / d = 200 s needed, 60 s available.
    assert descend([17000.0], [1000.0], 0.0, 0.0) == pytest.approx(200 - 60)
    assert descend([2000.0], [1000.0], 0.0, 0.0) == 0.0
    # A start 3,000 m above the end: 600 s needed, 400 s available.
    assert descend(*NOTHING, 3000.0, 0.0) == pytest.approx(600 - 400)


def simulate(distance, required, z0, z1, step_s=0.02):
    """Independent: move the aircraft in small time steps by the rule in words."""
    top = max(np.max(required), z1)
    gates = sorted((s, h) for s, h in zip([*distance, L], [*required, z1], strict=True))
    s, z, t, ahead = 0.0, z0, 0.0, 0
    while s < L or (ahead < len(gates) and z < gates[ahead][1]):
        speed = VY if z < top else VC
        goal = s + speed * step_s
        while ahead < len(gates) and gates[ahead][0] <= goal and z >= gates[ahead][1]:
            ahead += 1
        if ahead < len(gates):
            goal = min(goal, gates[ahead][0])
        s, t = min(goal, L), t + step_s
        z = min(z + C * step_s, max(top, z0))
    return t


@pytest.mark.parametrize("seed", range(12))
def test_against_simulation(seed):
    rng = np.random.default_rng(seed)
    distance = np.concatenate(([0.0], np.sort(rng.uniform(0, L, 12))))
    required = rng.uniform(-500, 1800, 13) * rng.random(13) ** 2
    z0, z1 = rng.uniform(0, 600, 2)
    expected = simulate(distance, required, z0, z1)
    assert L / VC + climb(distance, required, z0, z1) == pytest.approx(expected, abs=0.3)


walls = st.lists(st.tuples(st.floats(0, L), st.floats(-100, 2500)), min_size=1, max_size=8)


@given(walls, st.integers(0, 7), st.floats(0, 1500), st.floats(0, 1000), st.floats(0, 1000))
def test_a_higher_ridge_never_shortens_the_leg(points, which, more, z0, z1):
    points = sorted(points)
    distance = [0.0, *(p[0] for p in points)]
    low = np.array([-np.inf, *(p[1] for p in points)])
    high = low.copy()
    high[1 + which % len(points)] += more
    assert climb(distance, high, z0, z1) >= climb(distance, low, z0, z1) - 1e-9
    assert descend(distance, high, z0, z1) >= descend(distance, low, z0, z1) - 1e-9


@given(walls, st.floats(0, 1000), st.floats(0, 1000))
def test_never_faster_than_its_bounds(points, z0, z1):
    points = sorted(points)
    distance = np.array([0.0, *(p[0] for p in points)])
    required = np.array([-np.inf, *(p[1] for p in points)])
    total = L / VC + climb(distance, required, z0, z1)
    # Bounds by the rule's own terms: no quicker than cruise, nor than each release plus the cruise from there.
    assert total >= L / VC - 1e-9
    assert total >= np.max((required - z0) / C + (L - distance) / VC) - 1e-6


def test_the_wait_is_told_so_that_it_can_be_redone():
    # 600 m needed from 2 km on, 1,000 m from 15 km on: 150 s to climb, 2,000 / 40 = 50 s to fly there, so 100 s of
    # circling; the rest of the climb, 100 s, covers 4,000 m more. Worked by hand.
    flown = climbing(course([0.0, 2000.0, 15000.0], [0.0, 600.0, 1000.0], 0.0, 0.0))
    assert (flown.wait_at_m, flown.wait_height_m) == (2000.0, 600.0)
    assert (flown.duration_s, flown.waited_s, flown.flown_s) == pytest.approx((250.0, 100.0, 150.0))
    assert (flown.covered_m, flown.cruise_s) == pytest.approx((6000.0, 120.0))
    assert climbing(course([0.0, 15000.0], [0.0, 1000.0], 0.0, 0.0)).wait_at_m is None
    sunk = descending(course([0.0, 17000.0], [0.0, 1000.0], 0.0, 100.0))
    assert (sunk.at_m, sunk.from_m, sunk.to_m, sunk.sink_s, sunk.cruise_s) == (
        17000.0,
        1000.0,
        100.0,
        180.0,
        60.0,
    )


def test_the_altitudes_flown_are_those_of_the_rule():
    # As above: 600 m on leaving 2 km, 4 m/s from there at 40 m/s, 1,000 m from 6 km on; down at 5 m/s from 10 km before
    # the end. Worked by hand.
    flown = course([0.0, 2000.0, 9000.0], [0.0, 600.0, 1000.0], 0.0, 0.0)
    places = [1000.0, 2000.0, 4000.0, 6000.0, 9000.0, 12000.0, 20000.0]
    heights = [100.0, 600.0, 800.0, 1000.0, 1000.0, 800.0, 0.0]
    assert altitudes_m(flown, np.array(places)) == pytest.approx(heights)


@given(walls, st.floats(0, 1000), st.floats(0, 1000))
def test_the_altitudes_flown_are_enough_everywhere(points, z0, z1):
    points = sorted(points)
    distance = np.array([0.0, *(p[0] for p in points)])
    required = np.array([-np.inf, *(p[1] for p in points)])
    assert np.all(altitudes_m(course(distance, required, z0, z1), distance) >= required - 1e-6)
