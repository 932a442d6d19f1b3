"""The wind triangle against published examples, closed forms and vector algebra; its forms against each other."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo.base.errors import BadArgument, NotFlyable
from geo.base.wind import blow_of, displacement_s, seconds_over, speed_on_track, speed_towards, wind_of
from geo.flight.routing.route_kernels import ground_speed_ms
from geo.flight.wind import ground_speed

# Published examples: (track, TAS, wind from, wind, ground speed as the formula gives it, tolerance of the digits of the
# inputs, ground speed as printed, its last digit). The sources of each row are named beside it.
TRIANGLES = [
    (180, 100, 180, 20, 80.0, 1e-9, 80, 1.0),  # pilot training page
    (270, 120, 180, 30, 116.190, 0.0006, 116, 1.0),  # same page: ~116
    (45, 110, 90, 25, 90.893, 0.0006, 91, 1.0),  # same page: ~91
    (360, 80, 180, 15, 95.0, 1e-9, 95, 1.0),  # same page: 95
    (0, 90, 270, 10, 89.443, 0.0006, 89.4, 0.1),  # flight-computer manual: 89.4
    (90, 120, 45, 40, 88.335, 0.0006, 88, 1.0),  # FAA PHAK, navigation chapter: 88
    (90, 18, 30, 12, 8.697, 0.0006, 8.7, 0.1),  # calculator documentation
    # US War Department, Mathematics for Air Crew Trainees (1940s), answer p. 73: course 304, ground speed 153.
    (303.69, 150, 45, 30, 152.97, 0.005, 153, 1.0),
    # US wartime computer manual, exercise 16: 154/34 by slide computer, exact 154.1/33.1; ground speed 146.
    (94, 165, 154.1, 33.1, 146.0, 0.1, 146, 1.0),
    # Training text: heading 045, 75, wind 135/20 gives track 030.07 exactly.
    (30.07, 75, 135, 20, 77.62, 0.005, 77.6, 0.1),
]


@pytest.mark.parametrize(
    ("track", "tas", "source", "wind", "ground", "tolerance", "book", "digit"), TRIANGLES
)
def test_published_triangles(track, tas, source, wind, ground, tolerance, book, digit):
    found = ground_speed(track, tas, source, wind)
    assert found == pytest.approx(ground, abs=tolerance)
    assert abs(found - book) < digit


angles = st.floats(0, 360)
speeds = st.floats(20, 90)


def vector(degrees, length=1.0):
    return length * np.array([math.sin(math.radians(degrees)), math.cos(math.radians(degrees))])


@given(angles, speeds, angles, st.floats(0, 0.95))
def test_ground_vector_less_wind_vector_is_the_airspeed(track, tas, source, share):
    """Vector algebra: what is flown over the ground is air vector plus wind vector."""
    over_ground = vector(track, ground_speed(track, tas, source, share * tas))
    assert np.hypot(*(over_ground + vector(source, share * tas))) == pytest.approx(tas, rel=1e-9)


def test_all_forms_of_the_triangle_agree_and_the_compiled_one_in_every_digit():
    """By angles, by parts, over a displacement, and compiled: winds below and above the airspeed."""
    rng = np.random.default_rng(5)
    tracks, sources = rng.uniform(0.0, 360.0, (2, 4000))
    tas, wind = rng.uniform(20.0, 90.0, 4000), rng.uniform(0.0, 120.0, 4000)
    by_angles = speed_on_track(tracks, tas, sources, wind)
    unit = np.sin(np.radians(tracks)), np.cos(np.radians(tracks))
    blow = blow_of(sources, wind)
    by_parts = speed_towards(*unit, tas, *blow)
    held = np.isfinite(by_angles)
    assert 1000 < held.sum() < 4000
    np.testing.assert_array_equal(held, np.isfinite(by_parts))
    np.testing.assert_allclose(by_parts[held], by_angles[held], atol=1e-6)
    compiled = np.array([ground_speed_ms(*row) for row in zip(*unit, tas, *blow, strict=True)])
    np.testing.assert_array_equal(compiled, np.where(by_parts > 0.0, by_parts, -1.0))
    weak = np.flatnonzero(wind < 0.95 * tas)
    for n in weak[:200].tolist():
        blown = float(blow[0][n]), float(blow[1][n])
        taken = displacement_s(np.array(3e3 * unit[0][n]), np.array(3e3 * unit[1][n]), float(tas[n]), blown)
        assert float(taken) == pytest.approx(float(seconds_over(3e3, by_angles[n : n + 1])[0]), rel=1e-9)


def test_a_wind_and_its_blow_are_each_others_inverse():
    # From 090 it blows west, from 180 north: by definition.
    assert blow_of(90.0, 10.0) == pytest.approx((-10.0, 0.0), abs=1e-12)
    assert blow_of(180.0, 10.0) == pytest.approx((0.0, 10.0), abs=1e-12)
    sources = np.arange(0.0, 360.0, 7.0)
    back, speed = wind_of(*blow_of(sources, np.full(sources.shape, 12.0)))
    np.testing.assert_allclose(back, sources, atol=1e-9)
    np.testing.assert_allclose(speed, 12.0)


@given(angles, speeds, angles, st.floats(0.01, 0.95))
def test_wind_lengthens_there_and_back_at_equal_airspeed(track, tas, source, share):
    wind = share * tas
    both = 1 / ground_speed(track, tas, source, wind) + 1 / ground_speed(track + 180, tas, source, wind)
    assert both > 2 / tas
    along = 1 / ground_speed(source, tas, source, wind) + 1 / ground_speed(source + 180, tas, source, wind)
    # Closed form along the wind: (2 d / V) / (1 - (w/V)^2).
    assert along == pytest.approx(2 / tas / (1 - share**2), rel=1e-9)


def test_tail_wind_on_the_slower_leg_can_shorten_a_round_trip():
    # Closed form: d/(Vs + w) + d/(Vf - w) < d/Vs + d/Vf for a small wind when Vf > Vs.
    slow, fast, wind = 50.0, 55.0, 1.0
    with_wind = 1 / ground_speed(90, slow, 270, wind) + 1 / ground_speed(270, fast, 270, wind)
    assert with_wind == pytest.approx(1 / (slow + wind) + 1 / (fast - wind), rel=1e-12)
    assert with_wind < 1 / slow + 1 / fast


def test_arrays_equal_scalars_and_broadcast():
    tracks, winds = np.array([10.0, 123.0, 300.0]), np.array([[0.0], [12.0]])
    table = ground_speed(tracks, 52.0, 301.0, winds)
    assert table.shape == (2, 3)
    for i, wind in enumerate((0.0, 12.0)):
        for j, track in enumerate(tracks):
            assert table[i, j] == ground_speed(track, 52.0, 301.0, wind)


def test_unflyable_is_refused_and_named():
    with pytest.raises(
        NotFlyable, match=r"track 90\.0 deg .* 20\.0 m/s true airspeed .* 25\.0 m/s from 90\.0 deg"
    ):
        ground_speed(90, 20, 90, 25)
    with pytest.raises(NotFlyable, match="wind"):
        ground_speed(90, 20, 180, 20.001)  # pure cross wind above the airspeed
    with pytest.raises(NotFlyable, match=r"track 0\.0 deg"):
        ground_speed(np.array([180.0, 0.0]), 20, 0, 20)


def test_times_are_infinite_where_unflyable():
    times = seconds_over(1000.0, speed_on_track(np.array([180.0, 0.0]), 20.0, 0.0, 20.0))
    assert times[0] == pytest.approx(1000 / 40)
    assert math.isinf(times[1])


@pytest.mark.parametrize(
    "arguments",
    [
        (math.nan, 50, 0, 5),
        (0, math.nan, 0, 5),
        (0, 50, math.inf, 5),
        (0, 50, 0, math.nan),
        (0, 0, 0, 5),
        (0, -50, 0, 5),
        (0, 50, 0, -5),
        (0, 50, 18000, 5),
        (np.array([0.0, math.nan]), 50, 0, 5),
    ],
)
def test_bad_numbers_are_refused(arguments):
    with pytest.raises(BadArgument, match="Fix"):
        ground_speed(*arguments)
