"""Twilight against published almanac values; last fills and glare by hand."""

import math
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from example_candidates import assessment, candidate, table_profile

from geo.base.errors import BadArgument
from geo.ranking.extras.daylight import civil_dusk, daylight, glare, sun
from geo.ranking.rank import rank


# The Astronomical Almanac's definitions: the sun's declination is the obliquity, 23.44 deg, at the June solstice, so at
# local apparent noon its elevation is 90 - |latitude - 23.44|; 0 at the equinoxes.
@pytest.mark.parametrize(
    ("latitude", "when", "elevation"),
    [
        (51.5, datetime(2025, 6, 21, 12, 2, tzinfo=UTC), 90 - (51.5 - 23.44)),
        (-33.9, datetime(2025, 12, 21, 11, 58, tzinfo=UTC), 90 - (33.9 - 23.44)),
        (0.0, datetime(2025, 3, 20, 12, 7, 26, tzinfo=UTC), 90.0),
    ],
)
def test_noon_heights(latitude, when, elevation):
    assert sun(0.0, latitude, when)[0] == pytest.approx(elevation, abs=0.1)


def test_the_worked_example_of_a_solar_position_paper():
    """Reda and Andreas, NREL/TP-560-34302, appendix: 17 October 2003, 12:30:30 at UTC-7, 105.1786 W, 39.742476 N:
    zenith 50.11162 deg (refracted, 0.016 less than true), azimuth 194.34024 deg (from memory of the report)."""
    when = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7)))
    elevation, azimuth = sun(-105.1786, 39.742476, when)
    assert 90.0 - elevation == pytest.approx(50.11162 + 0.016, abs=0.02)
    assert azimuth == pytest.approx(194.34024, abs=0.02)


# End of civil twilight in the tables of the US Naval Observatory and national almanac offices, from memory of the
# printed minute: London 21 Jun 2023 22:09 BST and 21 Dec 2023 16:33 GMT, Sydney 21 Dec 2023 20:35 AEDT.
@pytest.mark.parametrize(
    ("longitude", "latitude", "day", "published"),
    [
        (-0.1276, 51.5072, date(2023, 6, 21), datetime(2023, 6, 21, 21, 9, tzinfo=UTC)),
        (-0.1276, 51.5072, date(2023, 12, 21), datetime(2023, 12, 21, 16, 33, tzinfo=UTC)),
        (151.2093, -33.8688, date(2023, 12, 21), datetime(2023, 12, 21, 9, 35, tzinfo=UTC)),
    ],
)
def test_dusk_of_published_tables(longitude, latitude, day, published):
    dusk, _ = civil_dusk(longitude, latitude, day)
    assert abs(dusk - published) <= timedelta(minutes=2)


def test_dusk_on_the_equator_at_equinox_by_hand():
    """The hour angle of elevation -6 deg at latitude 0, declination 0 is 96 deg: 6 h 24 min after apparent noon, which
    is 12:07:26 by mean time on 20 March (equation of time -7.4 min)."""
    for longitude in (0.0, 90.0, -128.0, 179.9, -179.9):
        dusk, _ = civil_dusk(longitude, 0.0, date(2025, 3, 20))
        by_hand = datetime(2025, 3, 20, 18, 31, 26, tzinfo=UTC) - timedelta(hours=longitude / 15.0)
        assert abs(dusk - by_hand) <= timedelta(seconds=40), longitude


# Meeus, Astronomical Algorithms, chapter 15: cos H = (sin h - sin(lat) sin(decl)) / (cos(lat) cos(decl)), h = -6 deg.
# The declination is 23.44 deg at the solstices; the equation of time in the almanac's table (from memory of the printed
# values): -1 min 50 s on 21 June, +1 min 50 s on 21 December. At 65 deg the December hour angle is 48.68 deg, 3:14:44.
SOLSTICES = [(date(2025, 6, 21), 23.44, -110.0), (date(2025, 12, 21), -23.44, 110.0)]


@pytest.mark.parametrize(("day", "declination_deg", "equation_s"), SOLSTICES)
@pytest.mark.parametrize(
    "latitude", [-70.0, -66.0, -60.0, 60.0, 63.0, 65.0, 66.5, 68.0, 70.0, 72.0, 73.0, 80.0]
)
@pytest.mark.parametrize("longitude", [-179.0, -128.0, 0.0, 25.0, 179.0])
def test_dusk_at_the_solstices_by_hand(day, declination_deg, equation_s, latitude, longitude):
    dusk, reason = civil_dusk(longitude, latitude, day)
    lat, decl = math.radians(latitude), math.radians(declination_deg)
    cosine = (math.sin(math.radians(-6.0)) - math.sin(lat) * math.sin(decl)) / (
        math.cos(lat) * math.cos(decl)
    )
    if abs(cosine) > 1.0:
        assert dusk is None and ("no daylight" in reason) == (cosine > 1.0)
        assert ("all night" in reason) == (cosine < -1.0)
        return
    after_noon_s = math.degrees(math.acos(cosine)) * 240.0 - equation_s
    by_hand = datetime(day.year, day.month, day.day, 12, tzinfo=UTC) + timedelta(seconds=after_noon_s)
    by_hand -= timedelta(hours=longitude / 15.0)
    # At 60 deg in June the sun only just sinks so far: 0.01 deg of declination are 25 s there.
    assert abs(dusk - by_hand) <= timedelta(seconds=75)


def test_no_dusk_is_said():
    assert civil_dusk(20.0, 70.0, date(2025, 6, 21))[0] is None
    assert "all night" in civil_dusk(20.0, 70.0, date(2025, 6, 21))[1]
    assert "no daylight" in civil_dusk(20.0, 80.0, date(2025, 12, 21))[1]
    with pytest.raises(BadArgument, match="not on the Earth"):
        civil_dusk(20.0, 91.0, date(2025, 12, 21))


@pytest.mark.parametrize(
    ("heading", "elevation", "azimuth", "dazzled"),
    [
        (270.0, 10.0, 260.0, True),
        (350.0, 5.0, 15.0, True),  # across north
        (270.0, 10.0, 239.0, False),
        (90.0, 10.0, 270.0, False),  # from behind
        (270.0, 25.0, 270.0, False),  # high
        (270.0, -2.0, 270.0, False),  # set
    ],
)
def test_glare(heading, elevation, azimuth, dazzled):
    assert bool(glare(heading, elevation, azimuth)) == dazzled


def test_last_fill_and_loads_left_by_hand():
    """10 km: fill 45, manoeuvre 30, loaded 200, drop 10, round trip 525 s (the planning table): a load takes 285 s."""
    sources, _ = rank([candidate(assessment(), 10_000.0)], table_profile())
    dusk, _ = civil_dusk(-128.0, -47.0, date(2026, 1, 31))
    asked = dusk - timedelta(seconds=285.0 + 2 * 525.0)
    (one,) = daylight(sources, -128.0, -47.0, date(2026, 1, 31), asked).sources
    assert one.last_fill_start == dusk - timedelta(seconds=45)
    assert one.last_load_start == dusk - timedelta(seconds=285)
    assert one.loads_left == 3
    later = daylight(sources, -128.0, -47.0, date(2026, 1, 31), asked + timedelta(seconds=1)).sources[0]
    assert later.loads_left == 2
    night = daylight(sources, -128.0, -47.0, date(2026, 1, 31), dusk).sources[0]
    assert night.loads_left == 0
    small, _ = rank([candidate(assessment(loads_available=2.5), 10_000.0)], table_profile())
    assert daylight(small, -128.0, -47.0, date(2026, 1, 31), asked).sources[0].loads_left == 2
    before_dawn = daylight(sources, -128.0, -47.0, date(2026, 1, 31), dusk - timedelta(hours=18)).sources[0]
    assert before_dawn.loads_left == 0


def test_without_a_time_nothing_of_it_is_said():
    sources, _ = rank([candidate(assessment(), 10_000.0)], table_profile())
    answer = daylight(sources, -128.0, -47.0, date(2026, 1, 31))
    assert (answer.asked_at, answer.sun_elevation_deg) == (None, None)
    assert answer.sources[0].loads_left is None and answer.sources[0].glare == ""
    with pytest.raises(BadArgument, match="zone"):
        daylight(sources, -128.0, -47.0, date(2026, 1, 31), datetime(2026, 1, 31, 15))
