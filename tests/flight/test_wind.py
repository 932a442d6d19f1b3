"""The wind triangle against published worked examples, closed forms and vector algebra."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo.base.errors import BadArgument, NotFlyable
from geo.flight.wind import forward, ground_speed, leg_time, wind_from_flight, wind_triangle

# Published examples: (track, TAS, wind from, wind, printed correction, heading, ground speed,
# tolerance of the printed digits). "Exact" digits are the formula's; the sources of each row are named beside it.
TRIANGLES = [
    (180, 100, 180, 20, 0.0, 180.0, 80.0, 1e-9),  # pilot training page
    (270, 120, 180, 30, -14.478, 255.522, 116.190, 0.0006),  # same page: 14.5 L, 255.5, ~116
    (45, 110, 90, 25, 9.248, 54.248, 90.893, 0.0006),  # same page: 9.3 R, 054, ~91
    (360, 80, 180, 15, 0.0, 0.0, 95.0, 1e-9),  # same page: 95
    (0, 90, 270, 10, -6.379, 353.621, 89.443, 0.0006),  # flight-computer manual: -6, 354, 89.4
    (90, 120, 45, 40, -13.633, 76.367, 88.335, 0.0006),  # FAA PHAK, navigation chapter: 14 L, 076, 88
    (90, 18, 30, 12, -35.264, 54.736, 8.697, 0.0006),  # calculator documentation: -35.26, 054.74
]


@pytest.mark.parametrize(
    ("track", "tas", "source", "wind", "correction", "heading", "ground", "tolerance"), TRIANGLES
)
def test_published_triangles(track, tas, source, wind, correction, heading, ground, tolerance):
    answer = wind_triangle(track, tas, source, wind)
    assert answer.correction_deg == pytest.approx(correction, abs=tolerance)
    assert (answer.heading_deg - heading + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=tolerance)
    assert answer.ground_speed_ms == pytest.approx(ground, abs=tolerance)
    assert ground_speed(track, tas, source, wind) == answer.ground_speed_ms


@pytest.mark.parametrize(
    ("row", "book"),
    [
        (1, (14.5, 255.5, 116)),
        (2, (9.3, 54, 91)),
        (4, (6, 354, 89.4)),
        (5, (14, 76, 88)),
        (6, (35.26, 54.74, 8.7)),
    ],
)
def test_books_own_rounded_answers(row, book):
    track, tas, source, wind = TRIANGLES[row][:4]
    answer = wind_triangle(track, tas, source, wind)
    # The page prints 9.3 R for 9.248: it rounds by slide rule, so one unit of its last digit is allowed.
    digits = [0.1 if x != round(x) else 1.0 for x in book]
    assert abs(abs(answer.correction_deg) - book[0]) < max(digits[0], 0.01)
    assert abs(answer.heading_deg - book[1]) < digits[1]
    assert abs(answer.ground_speed_ms - book[2]) < digits[2]


def test_forward_of_air_crew_mathematics():
    # US War Department, Mathematics for Air Crew Trainees (1940s), answer p. 73: course 304, ground speed 153.
    drift = forward(315, 150, 45, 30)
    assert (round(drift.track_deg), round(drift.ground_speed_ms)) == (304, 153)
    assert drift.track_deg == pytest.approx(303.69, abs=0.005)
    assert drift.ground_speed_ms == pytest.approx(152.97, abs=0.005)


def test_find_the_wind():
    # US wartime computer manual, exercise 16: 154/34 by slide computer; exact 154.1 / 33.1.
    wind = wind_from_flight(track_deg=94, ground_speed_ms=146, heading_deg=104, tas_ms=165)
    assert wind.from_deg == pytest.approx(154.1, abs=0.05)
    assert wind.speed_ms == pytest.approx(33.1, abs=0.05)
    assert wind.speed_ms == pytest.approx(34, abs=1.0)


def test_forward_of_training_text():
    # Training text: heading 045, 75, wind 135/20 -> about 15 deg left of the heading; exact 030.07, 77.62.
    drift = forward(45, 75, 135, 20)
    assert drift.track_deg == pytest.approx(30.07, abs=0.005)
    assert drift.ground_speed_ms == pytest.approx(77.62, abs=0.005)
    assert abs((45 - drift.track_deg) - 15) < 0.5


angles = st.floats(0, 360)
speeds = st.floats(20, 90)


@given(angles, speeds, angles, st.floats(0, 0.95))
def test_heading_flown_forward_gives_the_track_back(track, tas, source, share):
    triangle = wind_triangle(track, tas, source, share * tas)
    drift = forward(triangle.heading_deg, tas, source, share * tas)
    assert (drift.track_deg - track + 180) % 360 - 180 == pytest.approx(0, abs=1e-6)
    assert drift.ground_speed_ms == pytest.approx(triangle.ground_speed_ms, rel=1e-9)


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
    with pytest.raises(NotFlyable, match="no way"):
        forward(0, 20, 0, 20)


def test_leg_time_is_infinite_where_unflyable():
    times = leg_time(1000.0, np.array([180.0, 0.0]), 20, 0, 20)
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
