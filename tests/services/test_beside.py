"""What is asked beside the order: options, JSON, HTTP. The numbers are tested where they are made."""

import json
from datetime import UTC, date, datetime, timedelta

import pytest
from fastapi.testclient import TestClient

from geo.base.errors import BadArgument
from services.app import create_app
from services.core import quantities
from services.settings import Settings
from tests.services.commands import commands_on
from tests.services.conftest import DEMO
from tests.services.test_cli import WEATHER, fire  # noqa: F401

DAY = date(2026, 1, 31)


@pytest.fixture(scope="module")
def run(workspace, data_dir):
    return commands_on(data_dir)


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("15:30Z", datetime(2026, 1, 31, 15, 30, tzinfo=UTC)),
        ("1530z", datetime(2026, 1, 31, 15, 30, tzinfo=UTC)),
        ("15:30+10:00", datetime(2026, 1, 31, 5, 30, tzinfo=UTC)),
        ("17:30-08:30", datetime(2026, 2, 1, 2, 0, tzinfo=UTC)),
    ],
)
def test_clock_times(text, utc):
    assert quantities.clock_time(text, DAY) == utc
    assert quantities.clock_time(text, DAY).astimezone(UTC) - utc == timedelta()


@pytest.mark.parametrize("text", ["15:30", "25:00Z", "15:60Z", "noon", "15:30+25:00", "15:30 AEST"])
def test_a_time_without_a_sure_zone_is_refused(text):
    with pytest.raises(BadArgument, match="Fix"):
        quantities.clock_time(text, DAY)
    with pytest.raises(BadArgument, match="day"):
        quantities.clock_time("15:30Z", None)


def test_fleets_are_read_in_order():
    assert quantities.fleet("heavy*2, light") == ("heavy", "heavy", "light")
    for bad in ("", "heavy*0", "heavy*51", "heavy,,light", "*2", "heavy*40,light*11"):
        with pytest.raises(BadArgument, match="Fix"):
            quantities.fleet(bad)


def test_a_line_needs_both_its_sides():
    assert quantities.asked_line(None, None, None, None) is None
    for bad in (
        ("400m", None, 4.0, None),
        (None, None, 4.0, None),
        ("400m", "18m", None, None),
        ("400", "18m", 4.0, None),
    ):
        with pytest.raises(BadArgument, match="Fix"):
            quantities.asked_line(*bad)


def test_rank_answers_beside_the_order(run, fire, tmp_path):  # noqa: F811
    beside = (
        "--line",
        "400m",
        "--width",
        "18m",
        "--fuel-model",
        "10",
        "--day",
        "2026-01-31",
        "--time",
        "02:00Z",
    )
    done = run(
        "rank",
        DEMO,
        "--fire",
        fire,
        *WEATHER,
        "--top",
        2,
        *beside,
        "--perimeter",
        "--out",
        tmp_path,
        "--json",
    )
    assert done.exit_code == 0, done.stderr
    answer = json.loads(done.stdout)
    assert len(answer["sources"]) == len(answer["line"]["sources"]) == len(answer["daylight"]["sources"]) == 2
    assert answer["line"]["wanted"]["level"] == 4.0 and len(answer["certainty"]["sources"]) > 2
    assert answer["supply"] and (tmp_path / "supply.geojson").is_file()
    shown = run(
        "rank", DEMO, "--fire", fire, *WEATHER, "--top", 2, *beside, "--perimeter", "--target", "edge"
    )
    for words in (
        "What the line takes",
        "How sure is the order",
        "Daylight",
        "Supply of the fire's edge",
        "uniform",
    ):
        assert words in shown.stdout, shown.stderr


def test_fleet_command(run, fire):  # noqa: F811
    fleet = ("--aircraft", "heavy_tank_helicopter*2,light_bucket_helicopter")
    done = run("fleet", DEMO, "--fire", fire, *WEATHER, *fleet, "--json")
    assert done.exit_code == 0, done.stderr
    assert len(json.loads(done.stdout)["members"]) == 3
    shown = run("fleet", DEMO, "--fire", fire, *WEATHER, *fleet, "--slots", 1)
    assert "together" in shown.stdout
    refused = run("rank", DEMO, "--fire", fire, *WEATHER, "--time", "15:30Z")
    assert refused.exit_code == 2 and "--day" in refused.stderr


def test_the_same_over_http(workspace, data_dir):
    question = {"fire": workspace.region.fires[0].fire_id, "wind": "300/18kt", "oat": "34C", "qnh": "1009"}
    with TestClient(create_app(Settings(region=DEMO, data_dir=data_dir))) as client:
        beside = {
            "line": "400m",
            "width": "18m",
            "coverage": 4,
            "day": "2026-01-31",
            "time": "02:00Z",
            "top": 1,
        }
        made = client.post("/rankings", json=question | beside | {"target": "edge"})
        assert made.status_code == 201, made.text
        kept = client.get(made.headers["location"]).json()
        assert kept["answer"]["line"]["litres"] == made.json()["line"]["litres"]
        assert kept["question"]["asked"]["target"]["kind"] == "edge"
        sent = client.post("/fleets", json=question | {"aircraft": "heavy_tank_helicopter*2"})
        assert sent.status_code == 200 and len(sent.json()["members"]) == 2
        # A path is a word like any other here: nothing is opened.
        for bad in ({"target": "/etc/hostname"}, {"line": "400m"}, {"time": "02:00Z"}):
            assert client.post("/rankings", json=question | bad).status_code == 422
