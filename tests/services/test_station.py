"""Where the temperature was read: typed, named, the region's own, or refused; never 0 in silence."""

from dataclasses import replace

import numpy as np
import pytest
from made_once import DEMO

from geo import pipeline
from geo.base.errors import BadArgument
from geo.flight.atmosphere import temperature_at_c
from geo.ingest.checks.places import station_of
from geo.ingest.settings import StationPlace
from geo.records.region import Station
from services.core.question import weather_of
from services.core.typed import TypedDay

DAY = {"wind": "300/18kt", "oat": "34C", "qnh": "1009"}
MAST = Station("Orra mast", 212.0, "made for a test")


@pytest.fixture(scope="module")
def region():
    return pipeline.load(DEMO)


def asked(region, **words):
    weather = weather_of(TypedDay(**DAY | words), region)
    return weather.station_elevation_m, weather.station


def test_a_height_or_a_name_may_stand_with_the_temperature(region):
    assert asked(region, oat="34C@210m") == (210.0, "")
    assert asked(region, oat="93F@700ft")[0] == pytest.approx(213.36)  # 1 ft = 0.3048 m exactly
    assert asked(region, station_elevation="0m") == (0.0, "")
    with_mast = replace(region, station=MAST)
    assert asked(with_mast, oat="34C@orra MAST") == (212.0, "Orra mast")
    assert asked(with_mast, station_elevation="Halvenna airstrip")[1] == "Halvenna airstrip"


def test_without_words_the_station_counts_and_else_the_base_on_the_ground(region):
    assert asked(replace(region, station=MAST)) == (212.0, "Orra mast")
    height_m, name = asked(region)
    place = region.base.point
    row, column = region.terrain.cell_of(np.array([place.x]), np.array([place.y]))[:2]
    # The ground within a cell of the base differs from its own cell's by no more than the slope allows.
    assert name == "Halvenna airstrip" and abs(height_m - region.terrain.values[row[0], column[0]]) < 3.0


@pytest.mark.parametrize(
    ("words", "part"),
    [
        ({"oat": "34C@210"}, "with its unit"),
        ({"oat": "34C@"}, "no place follows"),
        ({"oat": "34C@210m", "station_elevation": "5m"}, "also given"),
        ({"station_elevation": "Nowhere"}, "Halvenna airstrip"),
        ({"oat": "@210m"}, "number and a unit"),
    ],
)
def test_what_names_no_known_height_is_refused_with_its_cure(region, words, part):
    with pytest.raises(BadArgument, match="Fix") as refused:
        asked(region, **words)
    assert part in str(refused.value)


def test_a_region_that_names_nothing_is_asked_never_taken_as_0(region):
    hole = replace(region.terrain, values=np.full_like(region.terrain.values, np.nan))
    for bare in (replace(region, base=None), replace(region, terrain=None), replace(region, terrain=hole)):
        with pytest.raises(BadArgument, match=r"34C@210m.*\[station\]"):
            asked(bare)
        assert pipeline.summary(bare)["station"] is None
        assert asked(bare, oat="34C@210m") == (210.0, "")
    assert pipeline.summary(region)["station"]["name"] == "Halvenna airstrip"


def test_the_section_is_read_in_its_unit():
    section = StationPlace(name="Ridge", elevation=1000.0, vertical_unit="foot")
    assert station_of(section).elevation_m == pytest.approx(304.8)
    with pytest.raises(ValueError, match="vertical_unit"):
        StationPlace(name="Ridge", elevation=1000.0)


def test_the_same_reading_higher_up_is_hotter_everywhere():
    """ISO 2533: 6.5 K per km. 35 degC read at 1,500 m is 9.75 K hotter at every water than 35 degC read at 0 m."""
    for water_m in (0.0, 300.0, 1200.0):
        low, high = (float(temperature_at_c(35.0, read_m, water_m)) for read_m in (0.0, 1500.0))
        assert high - low == pytest.approx(9.75)
