"""Positions, bearings and the magnetic model against published values."""

import re
import threading
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo.base.errors import BadArgument
from geo.base.geodesy import geodesic
from geo.base.positions import (
    NOT_VALID,
    _variation_deg,
    bearing_text,
    decimal_year,
    degrees_minutes,
    duration_text,
    feet,
    knots,
    magnetic_bearing_deg,
    magnetic_variation_deg,
    nautical_miles,
)

# NOAA NCEI / BGS, World Magnetic Model 2025, test values of the report's table ("WMM2025_TEST_VALUES.txt", 12 rows):
# year, height [km], latitude, longitude, declination [deg]. Printed to 0.01 deg. Taken from two independent public
# copies that agree; the package that computes the model ships the coefficients but not this table.
WMM2025_TABLE = [
    (2025.0, 0.0, 80.0, 0.0, 1.28),
    (2025.0, 0.0, 0.0, 120.0, -0.16),
    (2025.0, 0.0, -80.0, -120.0, 68.78),
    (2025.0, 100.0, 80.0, 0.0, 0.85),
    (2025.0, 100.0, 0.0, 120.0, -0.15),
    (2025.0, 100.0, -80.0, -120.0, 68.21),
    (2027.5, 0.0, 80.0, 0.0, 2.59),
    (2027.5, 0.0, 0.0, 120.0, -0.24),
    (2027.5, 0.0, -80.0, -120.0, 68.49),
    (2027.5, 100.0, 80.0, 0.0, 2.16),
    (2027.5, 100.0, 0.0, 120.0, -0.23),
    (2027.5, 100.0, -80.0, -120.0, 67.93),
]
# The same publisher's longer file ("WMM2025_TestValues.txt"): rows quoted in a third public copy.
WMM2025_ROWS = [
    (2025.0, 65.0, 43.0, 93.0, 0.50),
    (2025.0, 51.0, -33.0, 109.0, -5.49),
    (2025.0, 18.0, 0.0, 21.0, 1.29),
    (2025.5, 50.0, -70.0, -133.0, 57.21),
    (2027.0, 67.0, -47.0, -32.0, -13.52),
]


@pytest.mark.parametrize(
    ("year", "height_km", "latitude", "longitude", "declination"), WMM2025_TABLE + WMM2025_ROWS
)
def test_variation_is_the_published_one(year, height_km, latitude, longitude, declination):
    assert _variation_deg(longitude, latitude, year, height_km) == pytest.approx(declination, abs=0.0051)


def test_variation_by_date_and_height():
    """The same table through the public door: 1 January 2025 is 2025.0, heights are metres."""
    assert magnetic_variation_deg(-120.0, -80.0, date(2025, 1, 1), 100_000.0) == pytest.approx(
        68.21, abs=0.0051
    )
    # 2 July 2027 begins 0.0014 of a year before 2027.5: 0.0007 deg here by the table's own slope.
    assert magnetic_variation_deg(0.0, 80.0, date(2027, 7, 2)) == pytest.approx(2.59, abs=0.0065)


@pytest.mark.parametrize("day", [date(2024, 12, 31), date(2030, 1, 1), date(1999, 6, 1)])
def test_no_variation_outside_the_models_years(day):
    """Validity 2025.0 to 2030.0: WMM2025 report."""
    with pytest.raises(BadArgument, match=NOT_VALID):
        magnetic_variation_deg(170.0, -44.0, day)


def test_model_is_valid_on_its_first_and_last_day():
    for day in (date(2025, 1, 1), date(2029, 12, 31)):
        assert isinstance(magnetic_variation_deg(170.0, -44.0, day), float)


def test_no_variation_without_a_day_and_near_the_magnetic_pole():
    with pytest.raises(BadArgument, match="no date given"):
        magnetic_variation_deg(170.0, -44.0, None)
    # WMM2025 report: the north dip pole is near 85.8 N, 139.3 E in 2025; H is nearly 0 there.
    with pytest.raises(BadArgument, match="compass is not reliable"):
        magnetic_variation_deg(139.3, 85.8, date(2025, 6, 1))


def test_threads_do_not_spoil_each_other():
    """The library's model keeps its work arrays on the object; two places at once must give both right values."""
    day, wrong = date(2025, 1, 1), []

    def work(longitude, latitude, expected):
        for _ in range(60):
            value = magnetic_variation_deg(longitude, latitude, day)
            if abs(value - expected) > 0.0051:
                wrong.append(value)

    places = [(0.0, 80.0, 1.28), (120.0, 0.0, -0.16), (-120.0, -80.0, 68.78)]
    threads = [threading.Thread(target=work, args=place) for place in places]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []


def test_magnetic_is_true_less_east_variation():
    """Common practice ("variation east, magnetic least")."""
    assert magnetic_bearing_deg(100.0, 20.0) == 80.0
    assert magnetic_bearing_deg(10.0, 20.0) == 350.0
    assert magnetic_bearing_deg(350.0, -20.0) == 10.0


@pytest.mark.parametrize(
    ("longitude", "latitude", "text"),
    [
        # 21.345' / 60 = 0.35575 deg, by hand.
        (172 + 12.001 / 60, -(44 + 21.345 / 60), "44°21.345'S 172°12.001'E"),
        (0.0, 0.0, "00°00.000'N 000°00.000'E"),
        (-1e-9, -1e-9, "00°00.000'N 000°00.000'E"),
        (-0.5, 0.5, "00°30.000'N 000°30.000'W"),
        (180.0, -90.0, "90°00.000'S 180°00.000'E"),
        (-180.0, 90.0, "90°00.000'N 180°00.000'W"),
        (179.99999999, 10.0, "10°00.000'N 180°00.000'E"),
        (-179.99999999, 10.0, "10°00.000'N 180°00.000'W"),
        # 59.9996 minutes: never printed as 60.000.
        (9 + 59.9996 / 60, 44 + 59.9996 / 60, "45°00.000'N 010°00.000'E"),
        (9 + 59.9994 / 60, -(44 + 59.9994 / 60), "44°59.999'S 009°59.999'E"),
        (5 + 9.9996 / 60, 5 + 9.05 / 60, "05°09.050'N 005°10.000'E"),
    ],
)
def test_degrees_and_decimal_minutes(longitude, latitude, text):
    """Worked by hand."""
    assert degrees_minutes(longitude, latitude) == text


def test_decimals_of_a_minute():
    assert degrees_minutes(9.999, 45.0, 0) == "45°00'N 010°00'E"
    assert degrees_minutes(9.5, 45.0, 1) == "45°00.0'N 009°30.0'E"
    with pytest.raises(BadArgument, match="0 to 6"):
        degrees_minutes(9.5, 45.0, 7)


@given(st.floats(-180, 180), st.floats(-90, 90))
def test_reading_it_back_gives_the_place(longitude, latitude):
    """Half of the last decimal is 0.0005 minutes = 8.4e-6 deg."""
    text = degrees_minutes(longitude, latitude)
    match = re.fullmatch(r"(\d\d)°(\d\d\.\d{3})'([NS]) (\d{3})°(\d\d\.\d{3})'([EW])", text)
    assert match is not None
    assert float(match[2]) < 60 and float(match[5]) < 60
    back_latitude = (int(match[1]) + float(match[2]) / 60) * (-1 if match[3] == "S" else 1)
    back_longitude = (int(match[4]) + float(match[5]) / 60) * (-1 if match[6] == "W" else 1)
    assert back_latitude == pytest.approx(latitude, abs=8.5e-6)
    assert back_longitude == pytest.approx(longitude, abs=8.5e-6)


@pytest.mark.parametrize(
    ("longitude", "latitude"), [(180.1, 0), (0, 90.01), (float("nan"), 0), (0, float("inf"))]
)
def test_no_position_out_of_range(longitude, latitude):
    with pytest.raises(BadArgument, match="must be between"):
        degrees_minutes(longitude, latitude)


def test_units():
    """Exact by definition: nautical mile 1852 m, foot 0.3048 m."""
    assert nautical_miles(1852.0) == 1.0
    assert knots(1852.0 / 3600.0) == pytest.approx(1.0, rel=1e-15)
    assert feet(3048.0) == pytest.approx(10000.0, rel=1e-15)


def test_geodesic_of_the_national_manual_in_nautical_miles():
    """Flinders Peak to Buninyong: 54 972.271 m, 306 deg 52' 05.37" (GDA technical manual)."""
    start = (144 + 25 / 60 + 29.52440 / 3600, -(37 + 57 / 60 + 3.72030 / 3600))
    end = (143 + 55 / 60 + 35.38390 / 3600, -(37 + 39 / 60 + 10.15610 / 3600))
    way = geodesic(*start, *end)
    assert nautical_miles(way.distance_m) == pytest.approx(54972.271 / 1852, abs=0.001 / 1852)
    assert way.start_bearing_deg == pytest.approx(306 + 52 / 60 + 5.37 / 3600, abs=0.01 / 3600)
    assert bearing_text(way.start_bearing_deg) == "307°T"


def test_bearings_have_three_figures_and_north_is_360():
    """Common practice in aviation, no source."""
    assert [bearing_text(b) for b in (0.0, 359.6, 7.2, 360.0, 90.4)] == [
        "360°T",
        "360°T",
        "007°T",
        "360°T",
        "090°T",
    ]
    assert bearing_text(45.0, "M") == "045°M"
    with pytest.raises(BadArgument, match="finite"):
        bearing_text(float("nan"))


def test_decimal_year_knows_leap_years():
    """1 July is day 182 of 2028 (leap, 366 days) and day 181 of 2027 (365)."""
    assert decimal_year(date(2028, 7, 1)) == 2028 + 182 / 366
    assert decimal_year(date(2027, 7, 1)) == 2027 + 181 / 365


def test_durations():
    assert [duration_text(s) for s in (0, 59.6, 425, 3600, 3723.4)] == [
        "0:00",
        "1:00",
        "7:05",
        "1:00:00",
        "1:02:03",
    ]
