"""Levels and closures of the day, by CSV and HTTP: they count for the next question.

Only a water with another level is surveyed anew.
"""

import json
import shutil
from contextlib import contextmanager

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import func, select
from typer.testing import CliRunner

from geo.survey import region as survey_region
from services.app import create_app
from services.cli import main as cli
from services.core import workspace
from services.settings import Settings
from services.store.engine import reading
from services.store.tables import closure, level, water_body
from tests.services.tiny_region import LAKES, write_tiny_region

QUESTION = {"fire": "F1", "wind": "300/18kt", "oat": "24C", "qnh": "1009", "day": "2026-01-31"}
READ = "2026-01-31T06:00Z"


@pytest.fixture(scope="module")
def tiny(tmp_path_factory):
    return write_tiny_region(tmp_path_factory.mktemp("region") / "tiny")


@pytest.fixture(scope="module")
def surveyed(tiny, tmp_path_factory):
    """A store in which the region is surveyed, to be copied by each test."""
    folder = tmp_path_factory.mktemp("surveyed")
    create_app(Settings(region=tiny, data_dir=folder)).state.workspace.store.close()
    return folder


@contextmanager
def service(region, surveyed, folder):
    """A service on a store of its own, in which the region is surveyed."""
    shutil.copytree(surveyed, folder)
    app = create_app(Settings(region=region, data_dir=folder))
    with TestClient(app, client=("127.0.0.1", 50000)) as client:
        yield client
    app.state.workspace.store.close()


@pytest.fixture
def client(tiny, surveyed, tmp_path):
    with service(tiny, surveyed, tmp_path / "store") as client:
        yield client


@pytest.fixture(scope="module")
def empty(tiny, surveyed, tmp_path_factory):
    """One service for all that is refused: each test sees that it still holds no level and no closure."""
    with service(tiny, surveyed, tmp_path_factory.mktemp("empty") / "store") as client:
        yield client


@pytest.fixture
def surveys(monkeypatch):
    """The ids of the bodies that are surveyed anew, in order."""
    found = []
    whole = survey_region.survey_body
    monkeypatch.setattr(
        survey_region, "survey_body", lambda body, *rest: found.append(body.body_id) or whole(body, *rest)
    )
    return found


def ranked(client):
    answer = client.post("/rankings", json=QUESTION)
    assert answer.status_code == 201, answer.text
    return (
        {one["body_id"]: one for one in answer.json()["sources"]},
        {one["body_id"]: one for one in answer.json()["excluded"]},
    )


def test_a_closure_counts_at_once_and_needs_no_survey(client, surveys):
    assert set(ranked(client)[0]) == set(LAKES)
    row = {"id": "C1", "kind": "no filling", "reason": "blue-green algae", "body": "L1", "from": "2026-01-30"}
    assert client.post("/closures", json={"closures": [row]}).status_code == 200
    sources, excluded = ranked(client)
    assert set(sources) == {"L2"} and "blue-green algae" in excluded["L1"]["reason"]
    assert client.delete("/closures/C1").status_code == 204
    assert set(ranked(client)[0]) == set(LAKES)
    assert surveys == []
    assert client.delete("/closures/C1").status_code == 404


def test_a_closure_counts_on_its_days_only(client):
    row = {"id": "C1", "kind": "no filling", "reason": "x", "body": "L1", "to": "2026-01-30"}
    client.post("/closures", json={"closures": [row]})
    assert set(ranked(client)[0]) == set(LAKES)


def test_a_closed_circle_and_a_drawn_outline(client):
    west, south, east, north = LAKES["L1"]
    rows = [
        {"id": "circle", "kind": "no filling", "reason": "divers", "longitude": str((west + east) / 2),
         "latitude": str((south + north) / 2), "radius": "900m"},
        {"id": "drawn", "kind": "no filling", "reason": "regatta",
         "outline": json.dumps({"type": "Polygon", "coordinates": [
             [[-127.99, -47.02], [-127.95, -47.02], [-127.95, -47.0], [-127.99, -47.0], [-127.99, -47.02]]]})},
    ]  # fmt: skip
    assert client.post("/closures", json={"closures": rows}).status_code == 200
    sources, excluded = ranked(client)
    assert sources == {} and "divers" in excluded["L1"]["reason"] and "regatta" in excluded["L2"]["reason"]
    instead = client.post("/closures", params={"instead": True}, json={"closures": rows[:1]})
    assert [one["id"] for one in instead.json()] == ["circle"]
    with reading(client.app.state.workspace.store.engine) as connection:
        assert connection.scalar(select(func.count()).select_from(closure)) == 3  # nothing is deleted


def test_a_level_surveys_its_own_water_only(client, surveys):
    """Deep water 6 m; 4 m down the hover point is 4 m shallower, the other lake's survey is the same as before."""
    before = {one: client.get(f"/water-bodies/{one}").json() for one in LAKES}
    body = {"levels": [{"body": "Lake L1", "level": "96.0", "read_at": READ}]}
    kept = client.post("/levels", json=body)
    assert kept.status_code == 200, kept.text
    assert kept.json()[0] | {"origin": ""} == {
        "body_id": "L1", "name": "Lake L1", "level_m": 96.0, "read_at": "2026-01-31T06:00:00.000Z", "until": None,
        "counts": True, "origin": "",
    }  # fmt: skip
    assert surveys == ["L1"]
    after = {one: client.get(f"/water-bodies/{one}").json() for one in LAKES}
    assert after["L2"] == before["L2"]
    assert after["L1"]["level_change_m"]["value"] == -4.0
    assert "level read 2026-01-31 06:00Z" in after["L1"]["level_change_m"]["origin"]
    with reading(client.app.state.workspace.store.engine) as connection:
        shown = dict(connection.execute(select(water_body.c.body_id, water_body.c.elevation_m)).all())
    assert shown == {"L1": 96.0, "L2": 100.0}
    ranked(client)
    assert surveys == ["L1"]
    # The same level again, and back to the files: both are known already.
    client.post("/levels", json=body)
    assert client.delete("/levels/L1").status_code == 204
    assert client.get("/water-bodies/L1").json() == before["L1"]
    assert surveys == ["L1"]


def test_a_level_in_feet_by_csv(client):
    table = f"body,level,read_at,until\nL1,325ft,{READ},\n".encode()
    kept = client.post("/levels/csv", content=table, headers={"content-type": "text/csv"})
    # 1 ft is 0.3048 m exactly (international foot, 1959).
    assert kept.json()[0]["level_m"] == pytest.approx(325 * 0.3048)
    assert client.get("/levels").json() == kept.json()


def test_a_level_that_has_run_out_is_unknown_and_not_that_of_the_files(client):
    body = {"levels": [{"body": "L1", "level": "96", "read_at": READ, "until": "2026-01-31T12:00Z"}]}
    kept = client.post("/levels", json=body)
    assert kept.json()[0]["counts"] is False
    found = client.get("/water-bodies/L1").json()
    assert found["level_change_m"]["value"] is None and "unknown" in found["level_change_m"]["origin"]
    assert found["surface_elevation_m"]["value"] == 96.0


def test_a_level_runs_out_while_the_service_runs(client, monkeypatch):
    from datetime import datetime

    def clock(text):
        monkeypatch.setattr(workspace, "now", lambda: datetime.fromisoformat(text))

    clock("2026-01-31T10:00+00:00")
    body = {"levels": [{"body": "L1", "level": "96", "read_at": READ, "until": "2026-01-31T12:00Z"}]}
    client.post("/levels", json=body)
    assert client.get("/water-bodies/L1").json()["level_change_m"]["value"] == -4.0
    clock("2026-01-31T12:00+00:00")
    assert client.get("/water-bodies/L1").json()["level_change_m"]["value"] is None


@pytest.mark.parametrize(
    ("row", "word"),
    [
        ({"body": "L9"}, "no water body"),
        ({"level": "96 fathoms"}, "level"),
        ({"level": "315"}, "above the level of its outline"),  # feet sent as metres
        ({"level": "nan"}, "level"),
        ({"read_at": "2026-01-31T06:00"}, "zone"),
        ({"read_at": "yesterday"}, "zone"),
        ({"read_at": "2026-02-30T06:00Z"}, "no moment"),
        ({"read_at": "2190-01-31T06:00Z"}, "future"),
        ({"until": "2026-01-30T06:00Z"}, "ends before"),
        ({"depth": "3"}, "depth"),
    ],
)
def test_a_bad_level_is_named_and_none_is_taken(empty, row, word):
    good = {"body": "L2", "level": "99", "read_at": READ}
    answer = empty.post("/levels", json={"levels": [good, good | {"body": "L1"} | row]})
    assert answer.status_code == 422 and word in answer.text, answer.text
    assert empty.get("/levels").json() == []


@pytest.mark.parametrize(
    ("row", "word"),
    [
        ({"body": "L9"}, "no water body"),
        ({"kind": "closed"}, "no filling"),
        ({"from": "1.2.2026"}, "YYYY-MM-DD"),
        ({"from": "2026-02-02", "to": "2026-02-01"}, "ends before"),
        ({"reason": ""}, "reason"),
        ({"body": ""}, "place"),
        ({"longitude": "-128"}, "place"),
        ({"body": "", "longitude": "-47.0", "latitude": "-128", "radius": "1m"}, "longitude"),
        ({"body": "", "longitude": "-128", "latitude": "-47.0", "radius": "500"}, "unit"),
        ({"body": "", "longitude": "-128", "latitude": "-47.0", "radius": "500000m"}, "100 km"),
        ({"body": "", "outline": "POLYGON((0 0))"}, "GeoJSON"),
        ({"body": "", "outline": '{"type":"Point","coordinates":[0,0]}'}, "km from the middle"),
        ({"body": "", "outline": '{"type":"Polygon","coordinates":[[[0,0],[1,1]]]}'}, "fewer than 4"),
    ],
)
def test_a_bad_closure_is_named_and_none_is_taken(empty, row, word):
    good = {"id": "C1", "kind": "no filling", "reason": "x", "body": "L2"}
    answer = empty.post("/closures", json={"closures": [good, good | {"id": "C2", "body": "L1"} | row]})
    assert answer.status_code == 422 and word in answer.text, answer.text
    assert "fire" not in answer.json()["detail"]
    assert empty.get("/closures").json() == []


@pytest.mark.parametrize(
    ("table", "word"),
    [
        (b"", "no rows"),
        (b"body,level\n", "no rows"),
        (b"body,level,read_at\nL1,96\n", "fields"),
        (b'body,level,read_at\nL1,"96,2026-01-31T06:00Z\nL2,99,2026-01-31T06:00Z\n', "line"),
        (b"body,level,when\nL1,96,2026-01-31T06:00Z\n", "when"),
        (b"body,body,level\nL1,L1,96\n", "twice"),
        (b"\x00\x01PK", "CSV"),
        (b"body,level,read_at\nL1,96,2026-01-31T06:00Z\nLake L1,97,2026-01-31T06:00Z\n", "same water"),
        (b"body,level,read_at\nL1,96,2026-01-31T06:00Z\nL9,97,2026-01-31T06:00Z\nL8,97,\n", "line 4"),
    ],
)
def test_a_bad_table_is_refused_as_a_whole(empty, table, word):
    answer = empty.post("/levels/csv", content=table, headers={"content-type": "text/csv"})
    assert answer.status_code == 422 and word in answer.text, answer.text
    assert answer.json()["errors"][0]["cure"]
    with reading(empty.app.state.workspace.store.engine) as connection:
        assert connection.scalar(select(func.count()).select_from(level)) == 0


def test_the_same_by_command_line(tiny, surveyed, tmp_path, monkeypatch):
    shutil.copytree(surveyed, tmp_path / "store")
    monkeypatch.setenv("FETCHWATER_DATA_DIR", str(tmp_path / "store"))
    (tmp_path / "levels.csv").write_text(f"body;level;read_at\nL1;96;{READ}\n")
    (tmp_path / "closures.csv").write_text("id,kind,reason,body\nC1,no filling,algae,L2\n")

    def run(*words):
        done = CliRunner().invoke(cli.app, [str(one) for one in words])
        return done.exit_code, done.output

    assert run("levels", tiny, tmp_path / "levels.csv", "--by", "dora") == (
        0,
        "Lake L1: 96.00 m, read 2026-01-31T06:00:00.000Z (levels.csv line 2)\n",
    )
    assert run("closures", tiny, tmp_path / "closures.csv") == (
        0,
        "C1 C1: no filling, algae, now to further notice\n",
    )
    code, text = run(
        "rank", tiny, "--fire", "F1", "--wind", "300/18kt", "--oat", "24C", "--qnh", "1009", "--json"
    )
    assert code == 0 and "algae" in text and "level read 2026-01-31 06:00Z" in text
    assert run("levels", tiny, "--withdraw", "L1") == (0, "none\n")
    assert run("closures", tiny, "--withdraw", "C9")[0] == 2
    assert run("levels", tiny, tmp_path / "none.csv")[0] == 2
    assert run("due", tiny, "--before", "2026-11-01") == (0, "none\n")


def test_each_fault_of_a_table_names_line_field_value_rule_and_cure(empty):
    """All rows at once, whatever is wrong with each."""
    levels = f"body,level,read_at,until\nL1,abc,{READ},\nL9,101,{READ},\nL1,101,2026-01-31,\n,101,{READ},\n"
    closures = (
        "id,kind,reason,from,to,body,longitude,latitude,radius\n"
        "A,no swimming,x,,,L1,,,\nB,no filling,x,31.1.2026,,L1,,,\nC,no filling,x,,,,-128,-47,5\n"
    )
    for path, table, wanted in (
        ("/levels/csv", levels, [("2", "level", "abc"), ("3", "body", "L9"), ("4", "read_at", "2026-01-31"),
                                 ("5", "body", None)]),
        ("/closures/csv", closures, [("2", "kind", "no swimming"), ("3", "from", "31.1.2026"), ("4", "radius", "5")]),
    ):  # fmt: skip
        answer = empty.post(path, content=table.encode(), headers={"content-type": "text/csv"})
        assert answer.status_code == 422
        faults = answer.json()["errors"]
        said = [(one["feature"].removeprefix("line "), one["field"], one.get("value")) for one in faults]
        assert said == wanted
        # The fix speaks of the cell, not of how another command is written.
        assert all(one["rule"] and one["cure"] and "=" not in one["cure"] for one in faults), faults


def test_before_the_first_survey_the_day_is_kept_and_counts_when_it_has_been_made(tiny, tmp_path):
    with TestClient(
        create_app(Settings(region=tiny, data_dir=tmp_path, survey_at_start=False)),
        client=("127.0.0.1", 50000),
    ) as client:
        assert client.post("/rankings", json=QUESTION).status_code == 503
        kept = client.post("/levels", json={"levels": [{"body": "L1", "level": "99.8", "read_at": READ}]})
        assert kept.status_code == 200 and kept.json()[0]["level_m"] == 99.8
        row = {"id": "C1", "kind": "no filling", "reason": "regatta", "body": "L2"}
        assert client.post("/closures", json={"closures": [row]}).status_code == 200
    with TestClient(
        create_app(Settings(region=tiny, data_dir=tmp_path)), client=("127.0.0.1", 50000)
    ) as client:
        sources, excluded = ranked(client)
        assert set(sources) == {"L1"} and "regatta" in excluded["L2"]["reason"]
        assert client.get("/water-bodies/L1").json()["level_change_m"]["value"] == pytest.approx(-0.2)


def test_a_fleet_takes_the_levels_and_winds_of_a_ranking(client):
    """With both lakes drained below the hover depth nothing is left to fill at; a head wind aloft lengthens trips."""
    question = QUESTION | {"aircraft": "heavy_tank_helicopter*2"}
    plain = client.post("/fleets", json=question)
    assert plain.status_code == 200, plain.text
    rate = plain.json()["litres_per_hour"]
    low = client.post("/fleets", json=question | {"levels": ["L1=94.5", "L2=94.5"]})
    assert low.status_code == 200 and low.json()["litres_per_hour"] == 0.0 < rate
    aloft = client.post("/fleets", json=question | {"wind_profile": "ground:100m=300/45kt"})
    assert aloft.status_code == 200 and aloft.json()["litres_per_hour"] != rate
    assert client.post("/fleets", json=question | {"levels": ["L9=94.5"]}).status_code == 422


@pytest.mark.parametrize("command", ["fleet", "export"])
def test_fleet_and_export_take_the_levels_and_winds_of_a_ranking(
    command, tiny, surveyed, tmp_path, monkeypatch
):
    shutil.copytree(surveyed, tmp_path / "store")
    monkeypatch.setenv("FETCHWATER_DATA_DIR", str(tmp_path / "store"))
    words = [
        command,
        str(tiny),
        "--fire",
        "F1",
        "--wind",
        "300/18kt",
        "--oat",
        "24C",
        "--qnh",
        "1009",
        "--json",
    ]
    words += ["--aircraft", "heavy_tank_helicopter"]
    words += ["--out", str(tmp_path / "out"), "--formats", "geojson"] if command == "export" else []

    def told(*more: str) -> str:
        done = CliRunner().invoke(cli.app, [*words, *more])
        assert done.exit_code == 0, done.output
        if command == "fleet":
            return done.stdout
        return (tmp_path / "out" / "ranked.geojson").read_text()

    plain = told()
    assert told("--level", "L1=96") != plain
    assert told("--wind-profile", "ground:100m=300/45kt") != plain
    assert told() == plain
    refused = CliRunner().invoke(cli.app, [*words, "--wind-profile", "power:9"])
    assert refused.exit_code != 0
