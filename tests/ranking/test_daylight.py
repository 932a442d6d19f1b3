"""Twilight against published almanac values; last fills and glare by hand."""

import math
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from example_candidates import assessment, candidate, flat_leg, table_profile

from geo.base.errors import BadArgument
from geo.ranking.extras.daylight import RULES, DayAsked, civil_dusk, daylight, end_of_day, glare, sun
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


# Sunset in the same tables, from memory of the printed minute: London 21:21 BST, 15:53 GMT and, at the equinox, 18:13
# GMT; Sydney 20:05 AEDT.
@pytest.mark.parametrize(
    ("longitude", "latitude", "day", "published"),
    [
        (-0.1276, 51.5072, date(2023, 6, 21), datetime(2023, 6, 21, 20, 21, tzinfo=UTC)),
        (-0.1276, 51.5072, date(2023, 12, 21), datetime(2023, 12, 21, 15, 53, tzinfo=UTC)),
        (-0.1276, 51.5072, date(2023, 3, 20), datetime(2023, 3, 20, 18, 13, tzinfo=UTC)),
        (151.2093, -33.8688, date(2023, 12, 21), datetime(2023, 12, 21, 9, 5, tzinfo=UTC)),
    ],
)
def test_sunset_of_published_tables(longitude, latitude, day, published):
    sunset, reason = end_of_day(longitude, latitude, day, "sunset")
    assert abs(sunset - published) <= timedelta(minutes=2) and "hills" in reason
    later, _ = end_of_day(longitude, latitude, day, "sunset+30min")
    assert later - sunset == timedelta(minutes=30)
    assert sunset < civil_dusk(longitude, latitude, day)[0]


def test_midnight_sun_and_polar_night_of_the_tables():
    """Tromso, 69.65 N 18.96 E: the sun does not set from 20 May to 22 July nor rise from 27 November to 15 January
    (almanac, from memory); some days inside and outside."""
    tromso = 18.96, 69.65
    assert "never sets" in end_of_day(*tromso, date(2025, 6, 1), "sunset")[1]
    assert "does not rise" in end_of_day(*tromso, date(2025, 12, 10), "sunset")[1]
    assert end_of_day(*tromso, date(2025, 12, 10), "sunset+30min")[0] is None
    assert end_of_day(*tromso, date(2025, 12, 10), "civil dusk")[0] is not None
    for day in (date(2025, 5, 10), date(2025, 8, 1), date(2025, 11, 20), date(2026, 1, 22)):
        assert end_of_day(*tromso, day, "sunset")[0] is not None


def test_dusk_on_the_equator_at_equinox_by_hand():
    """The hour angle of elevation -6 deg at latitude 0, declination 0 is 96 deg: 6 h 24 min after apparent noon, which
    is 12:07:26 by mean time on 20 March (equation of time -7.4 min)."""
    for longitude in (0.0, 90.0, -128.0, 179.9, -179.9):
        dusk, _ = civil_dusk(longitude, 0.0, date(2025, 3, 20))
        by_hand = datetime(2025, 3, 20, 18, 31, 26, tzinfo=UTC) - timedelta(hours=longitude / 15.0)
        assert abs(dusk - by_hand) <= timedelta(seconds=40), longitude


# Meeus, Astronomical Algorithms, chapter 15: cos H = (sin h - sin(lat) sin(decl)) / (cos(lat) cos(decl)), h = -6 deg or
# -0.833. The declination is 23.44 deg at the solstices; the equation of time in the almanac's table (from memory of
# the printed values): -1 min 50 s on 21 June, +1 min 50 s on 21 December. At 65 deg and -6 deg the December hour angle
# is 48.68 deg, 3:14:44.
SOLSTICES = [(date(2025, 6, 21), 23.44, -110.0), (date(2025, 12, 21), -23.44, 110.0)]


@pytest.mark.parametrize(("day", "declination_deg", "equation_s"), SOLSTICES)
@pytest.mark.parametrize(
    "latitude", [-70.0, -66.0, -60.0, 60.0, 63.0, 65.0, 66.5, 68.0, 70.0, 72.0, 73.0, 80.0]
)
@pytest.mark.parametrize("longitude", [-179.0, -128.0, 0.0, 25.0, 179.0])
@pytest.mark.parametrize("rule", ["civil dusk", "sunset"])
def test_the_end_at_the_solstices_by_hand(day, declination_deg, equation_s, latitude, longitude, rule):
    dusk, reason = end_of_day(longitude, latitude, day, rule)
    lat, decl = math.radians(latitude), math.radians(declination_deg)
    cosine = (math.sin(math.radians(RULES[rule].sun_deg)) - math.sin(lat) * math.sin(decl)) / (
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


DAY, PLACE = date(2026, 1, 31), (-128.0, -47.0)


def test_glare_says_the_heading_true_and_magnetic():
    assert "270°T: glare" in glare(270.0, 10.0, 260.0)
    assert "heading 270°T 282°M:" in glare(270.0, 10.0, 260.0, -12.0)  # west is best: 12 degrees west adds


def based(home_s=300.0, **changes):
    """A source 10 km off, with a base as many seconds from it and from the drop: fill 45, manoeuvre 30, loaded 200,
    manoeuvre at the fire 60, drop 10, empty 180, round trip 525 s (the planning table)."""
    legs = {"transit_to": flat_leg(50.0 * home_s, 50.0), "transit_from": flat_leg(50.0 * home_s, 50.0)}
    return rank([candidate(assessment(**changes), 10_000.0, **legs)], table_profile())[0]


def told_at(sources, at, rule="sunset", **changes):
    (one,) = daylight(sources, *PLACE, DayAsked(DAY, at, rule, **changes)).sources
    return one


@pytest.mark.parametrize("rule", list(RULES))
def test_the_last_load_is_dropped_and_the_aircraft_on_the_ground(rule):
    """A load takes 45 + 30 + 200 + 60 + 10 = 345 s, and 300 s more to the ground."""
    end, _ = end_of_day(*PLACE, DAY, rule)
    asked = end - timedelta(seconds=645.0 + 2 * 525.0)
    one = told_at(based(), asked, rule)
    assert one.last_load_start == one.last_fill_start == end - timedelta(seconds=645)
    assert one.home_s == 300.0 and one.loads_left == 3
    assert told_at(based(), asked + timedelta(seconds=1), rule).loads_left == 2
    assert told_at(based(), end, rule).loads_left == 0
    assert told_at(based(loads_available=2.5), asked, rule).loads_left == 2
    assert told_at(based(), end - timedelta(hours=18), rule).loads_left == 0  # before dawn
    # An hour later the rule of another place might still allow it; never this one.
    assert told_at(based(), end + timedelta(hours=1), rule).loads_left == 0


def test_the_earliest_rule_counts_where_none_is_named():
    asked = DayAsked(DAY)
    answer = daylight(based(), *PLACE, asked)
    assert answer.rule == "sunset" and "earliest" in answer.rule_origin
    ends = [end_of_day(*PLACE, DAY, rule)[0] for rule in RULES]
    assert answer.end == min(ends) and answer.dusk == ends[2]


def flown_one_by_one(source, spare_s):
    """A plain simulation of a shift: fill, out, drop, back; after each tank of fuel home, refuel, out again."""
    clock_s, fuel_s, landed = 0.0, source.fuel.loads, 0
    while True:
        dropped_s = clock_s + 345.0
        if dropped_s + source.fuel.transit_from_s > spare_s:
            return landed
        landed, fuel_s = landed + 1, fuel_s - 1
        if fuel_s == 0:
            at_base_s = dropped_s + source.fuel.transit_from_s + source.fuel.refuel_turn_s
            clock_s, fuel_s = at_base_s + source.fuel.transit_to_s, source.fuel.loads
        else:
            clock_s = dropped_s + 180.0


@pytest.mark.parametrize("hours", [0.1, 0.18, 1.0, 2.0, 2.3, 3.0, 5.7, 11.0])
@pytest.mark.parametrize("home_s", [60.0, 600.0, 1500.0])
def test_loads_left_are_those_of_a_shift_flown_one_by_one(hours, home_s):
    sources = based(home_s)
    end, _ = end_of_day(*PLACE, DAY, "sunset")
    spare_s = 3600.0 * hours
    by_hand = flown_one_by_one(sources[0], spare_s)
    assert told_at(sources, end - timedelta(seconds=spare_s)).loads_left == by_hand
    assert (hours < 2.0) or by_hand > 0


def test_no_source_gains_by_a_longer_way_home_less_light_or_a_forgotten_base():
    end, _ = end_of_day(*PLACE, DAY, "sunset")
    at = end - timedelta(hours=5)
    counts = [told_at(based(home_s), at).loads_left for home_s in (0.0, 100.0, 900.0, 1800.0, 2400.0)]
    assert counts == sorted(counts, reverse=True) and counts[0] > counts[-1]
    counts = [told_at(based(), at + timedelta(minutes=10 * i)).loads_left for i in range(30)]
    assert counts == sorted(counts, reverse=True)
    forgotten, _ = rank([candidate(assessment(), 10_000.0)], table_profile())
    one = told_at(forgotten, at)
    assert one.last_load_start is None and one.loads_left is None and "[base]" in one.note


def test_the_sooner_end_of_fire_and_base_counts():
    """15 degrees of longitude are one hour of the sun."""
    alone = daylight(based(), *PLACE, DayAsked(DAY)).end
    east = daylight(based(), *PLACE, DayAsked(DAY, base_deg=(-113.0, -47.0)))
    assert alone - east.end == pytest.approx(timedelta(hours=1), abs=timedelta(seconds=60))
    assert "base" in east.reason
    assert daylight(based(), *PLACE, DayAsked(DAY, base_deg=(-143.0, -47.0))).end == alone


def test_a_bright_night_ends_the_day_before():
    """Where the sun sets at 23:45, the day of "sunset + 30 min" ends at 00:15: at 00:05 ten minutes of it are left."""
    place, day, rule = (0.0, 65.7), date(2025, 6, 18), "sunset+30min"
    end, _ = end_of_day(*place, day, rule)
    at = end - timedelta(minutes=10)
    assert at.date() > day  # UTC is local mean time at 0 E
    answer = daylight(based(60.0), *place, DayAsked(at.date(), at, rule))
    assert answer.end == end and answer.sources[0].loads_left == 1
    assert daylight(based(60.0), *place, DayAsked(at.date(), at, "sunset")).end > end


def test_polar_night_leaves_no_load_and_midnight_sun_no_end():
    noon = datetime(2025, 12, 21, 12, tzinfo=UTC)
    dark = daylight(based(), 0.0, 75.0, DayAsked(noon.date(), noon))
    assert dark.end is None and "no daylight" in dark.reason and dark.sources[0].loads_left == 0
    light = daylight(based(), 0.0, 75.0, DayAsked(date(2025, 6, 21), noon.replace(month=6)))
    assert light.end is None and "never sets" in light.reason and light.sources[0].loads_left is None
    assert light.sources[0].note == ""


def test_without_a_time_nothing_of_it_is_said():
    answer = daylight(based(), *PLACE, DayAsked(DAY))
    assert (answer.asked_at, answer.sun_elevation_deg) == (None, None)
    assert answer.sources[0].loads_left is None and answer.sources[0].glare == ""
    with pytest.raises(BadArgument, match="zone"):
        daylight(based(), *PLACE, DayAsked(DAY, datetime(2026, 1, 31, 15)))
