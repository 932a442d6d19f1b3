"""Every bad question of the ranking once from the user's files and words to the answer: refused with the fix, or the
source left out with the reason; never a number.

Common practice, no source: what must be said is this project's own rule (file or value, rule, fix).
"""

import json
import math
import shutil
from dataclasses import replace

import numpy as np
import pytest
import shapely

from geo import pipeline
from geo.base.errors import BadArgument, BadInput
from geo.ingest.layers.aircraft import load_profile
from geo.records.conditions import Weather
from geo.records.region import Fire
from tests.services.commands import commands_on
from tests.services.tiny_region import FIRE, LAKES, write_tiny_region

WEATHER = Weather(300.0, 9.0, 34.0, 1009.0, 0.0)
HEAVY = load_profile("heavy_tank_helicopter")
USUAL = {"--fire": "F1", "--wind": "300/18kt", "--oat": "34C@0m", "--qnh": "1009"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return write_tiny_region(tmp_path_factory.mktemp("bad") / "region")


@pytest.fixture(scope="module")
def region(folder):
    return pipeline.load(folder)


@pytest.fixture(scope="module")
def survey(region):
    return pipeline.survey(region)


@pytest.fixture(scope="module")
def ask(folder, tmp_path_factory):
    """Ask `fetchwater rank --json` with some of the usual words changed."""
    run = commands_on(tmp_path_factory.mktemp("store"))

    def asked(changed):
        words = [word for pair in (USUAL | changed).items() for word in pair]
        return run("rank", folder, *words, "--json")

    return asked


def box(west, south, east, north):
    return {
        "type": "Polygon",
        "coordinates": [[[west, south], [east, south], [east, north], [west, north], [west, south]]],
    }


def test_what_is_typed_wrong_is_refused_with_its_fix(ask):
    for changed, said in (
        ({"--oat": "93@0m"}, "write 34C or 93F"),
        ({"--oat": "93C@0m"}, "if it is Fahrenheit, write F"),
        ({"--oat": "nanC@0m"}, "write 34C or 93F"),
        ({"--qnh": "29.80"}, "looks like inches of mercury without a unit"),
        ({"--qnh": "nan"}, "write 1009 or 1009hPa, or 29.80inHg"),
        ({"--wind": "300/nankt"}, "300/18kt"),
        ({"--wind": "300/130kt"}, "0 to 60 m/s"),
        ({"--oat": "34C", "--station-elevation": "nanm"}, "a height with its unit"),
    ):
        done = ask(changed)
        answer = " ".join((done.stdout + done.stderr).split())
        assert done.exit_code == 2, changed
        assert said in answer and "Fix" in answer and "Traceback" not in answer, changed


def test_a_temperature_without_a_place_is_refused_where_the_region_names_none(folder, tmp_path):
    bare = shutil.copytree(folder, tmp_path / "bare")
    toml = bare / "region.toml"
    before, _, after = toml.read_text().partition("[station]")
    toml.write_text(before + "[" + after.partition("\n[")[2])
    words = [word for pair in (USUAL | {"--oat": "34C"}).items() for word in pair]
    done = commands_on(tmp_path / "store")("rank", bare, *words, "--json")
    answer = " ".join((done.stdout + done.stderr).split())
    assert done.exit_code == 2
    assert "where the temperature was read is not known" in answer and "Fix" in answer


def test_inches_and_fahrenheit_with_their_units_are_the_same_question(ask):
    """29.80 inHg x 33.8639 hPa = 1009.1 hPa; 93.2 degF = 34 degC (definition of both units)."""
    usual = json.loads(ask({"--qnh": "1009.144"}).stdout)
    typed = json.loads(ask({"--qnh": "29.80inHg", "--oat": "93.2F@0m"}).stdout)
    assert [s["body_id"] for s in typed["sources"]] == [s["body_id"] for s in usual["sources"]] != []
    for one, other in zip(typed["sources"], usual["sources"], strict=True):
        assert one["cycle"]["round_trip_s"] == pytest.approx(other["cycle"]["round_trip_s"], rel=1e-6)


def test_a_fire_outside_the_terrain_is_refused_with_its_fix(ask, tmp_path):
    file = tmp_path / "away.geojson"
    file.write_text(json.dumps(box(-126.9, -47.01, -126.89, -47.0)))
    done = ask({"--fire": file})
    answer = " ".join((done.stdout + done.stderr).split())
    assert done.exit_code == 2 and "terrain does not reach" in answer and "Fix" in answer


def test_a_file_with_a_number_that_is_none_is_refused(ask, tmp_path):
    file = tmp_path / "nan.geojson"
    file.write_text(json.dumps(box(FIRE[0], FIRE[1], math.nan, FIRE[3])))
    done = ask({"--fire": file})
    answer = " ".join((done.stdout + done.stderr).split())
    assert done.exit_code == 2 and "nan.geojson" in answer and "Fix" in answer


def test_a_fire_over_the_only_source_and_one_in_a_no_fly_area_leave_none(tmp_path):
    """From files: L2 lies in a no-fly area, L1 under the fire."""
    folder = write_tiny_region(tmp_path / "region")
    west, south, east, north = LAKES["L2"]
    (folder / "shut.geojson").write_text(
        json.dumps(
            {
                "type": "Feature",
                "properties": {"id": "C1", "name": "Heron colony", "sort": "no flying"},
                "geometry": box(west - 0.01, south - 0.01, east + 0.01, north + 0.01),
            }
        )
    )
    toml = folder / "region.toml"
    columns = '[closures.columns]\nid = "id"\nname = "name"\nkind = "sort"\n'
    toml.write_text(toml.read_text() + '[closures]\nfile = "shut.geojson"\n' + columns)
    region = pipeline.load(folder)
    survey = pipeline.survey(region)
    ranking = pipeline.rank(region, survey, region.fires[0], HEAVY, WEATHER)
    assert [one.body_id for one in ranking.sources] == ["L1"]
    assert "Heron colony" in ranking.excluded[0].reason
    west, south, east, north = LAKES["L1"]
    over = pipeline.fire(box(west - 0.02, south - 0.02, east + 0.02, north + 0.02), region)
    ranking = pipeline.rank(region, survey, over, HEAVY, WEATHER)
    assert not ranking.sources
    reasons = {one.body_id: one.reason for one in ranking.excluded}
    assert "inside the fire's outline" in reasons["L1"] and "Heron colony" in reasons["L2"]


@pytest.mark.parametrize("top", [None, 1])
def test_wind_above_the_airspeed_is_said_and_gives_no_number(region, survey, top):
    """With limits that allow any wind at the water, so that only the leg itself forbids it."""
    bold = replace(
        HEAVY,
        ram_intake=None,
        hover_pump=replace(HEAVY.hover_pump, wind_limit_ms=200.0),
    )
    gale = replace(WEATHER, wind_ms=58.0)
    assert bold.cruise_loaded_ms < 58.0
    ranking = pipeline.rank(region, survey, region.fires[0], bold, gale, top=top)
    assert not ranking.sources and len(ranking.excluded) == 2
    for one in ranking.excluded:
        assert "wind" in one.reason and "cannot be" in one.reason, one.reason


@pytest.mark.parametrize("name", ["wind_from_true_deg", "wind_ms", "oat_c", "qnh_hpa", "station_elevation_m"])
@pytest.mark.parametrize("value", [math.nan, math.inf, None])
def test_weather_that_is_no_number_is_refused_by_name(region, survey, name, value):
    for top in (None, 1):
        with pytest.raises(BadArgument, match=rf"{name} is (nan|inf|None).*Fix"):
            pipeline.rank(region, survey, region.fires[0], HEAVY, replace(WEATHER, **{name: value}), top=top)


@pytest.mark.parametrize(("change", "said"), [({"oat_c": 93.0}, "Fahrenheit"), ({"qnh_hpa": 29.8}, "inches")])
def test_weather_in_another_unit_is_refused_with_the_fix(region, survey, change, said):
    with pytest.raises(BadArgument, match=f"{said}.*write the unit|looks like {said}"):
        pipeline.rank(region, survey, region.fires[0], HEAVY, replace(WEATHER, **change))


def test_a_fire_with_a_position_that_is_no_number_is_refused(region):
    for ring in ([[-128.0, -47.0], [math.nan, -47.0]], [[-128.0, -47.0], [None, -47.0]]):
        body = {"type": "Polygon", "coordinates": [[*ring, [-127.99, -46.99], [-128.0, -47.0]]]}
        with pytest.raises(BadInput, match=r"position.*Fix"):
            pipeline.fire(body, region)
    with np.errstate(invalid="ignore"):
        broken = shapely.Polygon([(0.0, 0.0), (math.nan, 900.0), (900.0, 900.0)])
    for area in (broken, shapely.Polygon()):
        with pytest.raises(BadArgument, match=r"outline.*Fix"):
            Fire("F", "by hand", area)
