"""The simplest question over HTTP. What a ranking gives is tested where it is made; here the order and the wiring."""

import pytest
from fastapi.testclient import TestClient

from services.app import create_app
from services.core.typed import HOT_DAY
from services.settings import Settings
from tests.services.conftest import DEMO

HERE = {"longitude_deg": -128.0, "latitude_deg": -47.0, "aircraft": "heavy_tank_helicopter"}
WEATHER = {"wind": "300/18kt", "oat": "34C", "qnh": "1009"}


@pytest.fixture(scope="module")
def client(workspace, data_dir):
    with TestClient(create_app(Settings(region=DEMO, data_dir=data_dir))) as client:
        yield client


def test_it_agrees_with_the_ranking_for_a_fire_at_the_same_place(client):
    """The same sources, each with the empty leg of that ranking; the soonest first."""
    found = client.post("/nearest", json=HERE | WEATHER | {"top": 100}).json()
    fire = {"type": "Point", "coordinates": [HERE["longitude_deg"], HERE["latitude_deg"]]}
    ranking = client.post("/rankings", json=WEATHER | {"fire": fire, "aircraft": HERE["aircraft"]}).json()
    legs = {one["body_id"]: one["cycle"]["empty_leg"]["time_s"] for one in ranking["sources"]}
    assert {one["body_id"]: one["time_s"] for one in found["sources"]} == pytest.approx(legs)
    times = [one["time_s"] for one in found["sources"]]
    assert times == sorted(times) and len(times) > 3
    assert found["weather_assumed"] == {"station_elevation": "3 m (Halvenna airstrip)"} and found["cautions"]


def test_a_nearer_water_that_does_not_count_is_named_with_its_reason(client):
    found = client.post("/nearest", json=HERE | {"top": 1}).json()
    assert len(found["sources"]) == 1
    for one in found["left_out"]:
        assert one["reason"] and one["verdict"] != "usable"
        assert one["body_id"] != found["sources"][0]["body_id"]


def test_weather_left_out_is_a_hot_still_day_and_says_so(client):
    assumed = client.post("/nearest", json=HERE).json()
    place = assumed["weather_assumed"].pop("station_elevation")
    given = client.post("/nearest", json=HERE | HOT_DAY | {"station_elevation": "Halvenna airstrip"}).json()
    assert assumed["weather_assumed"] == HOT_DAY and given["weather_assumed"] == {}
    assert place.endswith("(Halvenna airstrip)")
    assert assumed["sources"] == given["sources"]


@pytest.mark.parametrize(
    "change",
    [
        {"longitude_deg": 200.0}, {"latitude_deg": -91.0}, {"aircraft": "none"}, {"top": 0}, {"speed": 1},
        {"wind": "300/18"}, {"longitude_deg": 10.0}, {"day": "soon"}, {"latitude_deg": "47 S"},
    ],
)  # fmt: skip
def test_bad_questions_get_a_problem_document(client, change):
    answer = client.post("/nearest", json=HERE | change)
    assert (answer.status_code, answer.headers["content-type"]) == (422, "application/problem+json"), (
        answer.text
    )
