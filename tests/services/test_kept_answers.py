"""The records of an answer in the store: what is read is what was written, whatever they hold."""

from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest
import shapely
from sqlalchemy import text

from geo.base.grid import Grid
from geo.ingest.layers.aircraft import built_in_profile
from geo.pipeline import answer
from geo.records.conditions import Weather, WindField, WindProfile, WindRow
from geo.records.extras import ExtrasRequest, LineWanted, Target
from geo.records.kept import kept
from services.errors import StoreBroken
from services.store import rankings
from services.store.engine import writing
from services.store.store import embedded_store


@pytest.fixture(scope="module")
def record(workspace):
    region, profile = workspace.region, built_in_profile("heavy_tank_helicopter")
    asked = ExtrasRequest(
        LineWanted(400.0, 18.0, 4.0, "asked"), datetime(2026, 1, 31, 15, 30, tzinfo=UTC), True, Target("edge")
    )
    weather = Weather(300.0, 9.26, 34.0, 1009.0, 0.0, date(2026, 1, 31))
    fire = region.fires[0]
    ranking, further = answer(region, workspace.survey, fire, profile, weather, top=3, asked=asked)
    assert ranking.sources and further.supply and further.daylight and further.line and further.certainty
    return kept(region.frame, fire, ranking, further, 7)


@pytest.fixture
def store(tmp_path):
    found = embedded_store(tmp_path)
    yield found
    found.close()


def test_a_kept_answer_comes_back_as_it_was(store, record):
    ranking_id = rankings.save(store.engine, "key", {}, {}, "region", record)
    assert rankings.find_record(store.engine, ranking_id) == record


def test_wind_by_height_is_kept_and_the_cells_of_a_field_are_not(store, record):
    profile = WindProfile(rows=(WindRow(300.0, 310.0, 12.0),))
    weather = replace(record.ranking.weather, wind_profile=profile)
    aloft = replace(record, ranking=replace(record.ranking, weather=weather))
    assert (
        rankings.find_record(store.engine, rankings.save(store.engine, "key", {}, {}, None, aloft)) == aloft
    )
    cells = Grid(np.ones((3, 3)), 0.0, 0.0, 1.0, 1.0)
    field = WindField("winds.tif", "0" * 64, cells, cells)
    windy = replace(record.ranking, weather=replace(record.ranking.weather, wind_field=field))
    again = kept(record.frame, record.fire, windy, record.further, 7)
    found = rankings.find_record(store.engine, rankings.save(store.engine, "key", {}, {}, None, again))
    assert found == again and found.ranking.weather.wind_field is None


def test_shapes_keep_every_bit(store, record):
    found = rankings.find_record(store.engine, rankings.save(store.engine, "key", {}, {}, None, record))
    for one, other in zip(record.ranking.sources, found.ranking.sources, strict=True):
        assert shapely.to_wkb(one.fill_point) == shapely.to_wkb(other.fill_point)


def test_no_record_an_unreadable_one_and_a_damaged_one(store, record):
    assert rankings.find_record(store.engine, "none") is None
    without = rankings.save(store.engine, "key", {}, {})
    assert rankings.find_record(store.engine, without) is None
    ranking_id = rankings.save(store.engine, "key", {}, {}, None, record)

    def put(held: bytes) -> None:
        with writing(store.engine) as connection:
            connection.execute(text("UPDATE kept_answer SET record = :held"), {"held": held})

    import zlib

    put(zlib.compress(b'{"of": "another program"}'))
    assert rankings.find_record(store.engine, ranking_id) is None
    put(b"not compressed")
    with pytest.raises(StoreBroken, match="restore a backup"):
        rankings.find_record(store.engine, ranking_id)
