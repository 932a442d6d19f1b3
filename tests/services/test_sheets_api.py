"""Sheets over HTTP and on the command line: figures of the kept answer, the notice where the data changed, one page."""

import builtins
import io
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from fastapi.testclient import TestClient
from pypdf import PdfReader
from pyproj import CRS
from sqlalchemy import text
from typer.testing import CliRunner

from geo.base.positions import degrees_minutes, duration_text
from geo.records.day import ClosedArea
from services.app import create_app
from services.cli.main import app as cli
from services.errors import STATUS_TABLE
from services.settings import Settings
from services.store import day
from services.store.engine import writing
from tests.needs import needs
from tests.services.tiny_region import write_tiny_region

QUESTION = {
    "fire": "F1",
    "wind": "300/18kt",
    "oat": "25C",
    "qnh": "1013",
    "aircraft": "light_bucket_helicopter",
}
TYPED = [
    "--fire",
    "F1",
    "--wind",
    "300/18kt",
    "--oat",
    "25C",
    "--qnh",
    "1013",
    "--aircraft",
    QUESTION["aircraft"],
]


def read(pdf: bytes) -> str:
    reader = PdfReader(io.BytesIO(pdf))
    assert len(reader.pages) == 1
    return re.sub(r"\s+", " ", reader.pages[0].extract_text())


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("sheets")


@pytest.fixture(scope="module")
def client(folder):
    region = folder / "region"
    if not region.exists():
        write_tiny_region(region)
    with TestClient(create_app(Settings(region=region, data_dir=folder / "store"))) as found:
        yield found


@needs("Pango")
def test_the_sheet_of_a_kept_ranking_prints_the_figures_of_the_api(client):
    answer = client.post("/rankings", json=QUESTION).json()
    assert answer["sources"]
    found = client.get(f"/rankings/{answer['ranking_id']}/sheet.pdf")
    assert found.status_code == 200 and found.headers["content-type"] == "application/pdf"
    words = read(found.content)
    for source in answer["sources"][:10]:
        longitude, latitude = source["fill_point"]["coordinates"]
        assert source["name"] in words
        assert degrees_minutes(longitude, latitude) in words
        assert duration_text(source["cycle"]["round_trip_s"]) in words
        assert f"{source['cycle']['litres_per_hour']:,.0f} L" in words
        assert f"{source['cycle']['litres']:,.0f} L" in words
    assert answer["ranking_id"] in words and "DATA CHANGED" not in words


@needs("Pango")
def test_the_sheet_keeps_to_what_was_answered_when_the_data_changed(client):
    answer = client.post("/rankings", json=QUESTION).json()
    address = f"/rankings/{answer['ranking_id']}/sheet.pdf"
    workspace = client.app.state.workspace
    area = ClosedArea("X1", "Algae", "no filling", "algae", shapely.box(-128.1, -47.1, -128.09, -47.09))
    day.put_closures(workspace.store.engine, workspace.region.name, [area], "anna")
    words = read(client.get(address).content)
    assert "THE DATA CHANGED SINCE" in words
    for source in answer["sources"]:
        assert duration_text(source["cycle"]["round_trip_s"]) in words


@needs("Pango")
def test_another_plane_leaves_the_background_out_and_keeps_the_figures(client):
    """The region's plane is another: shapes of the kept answer must not be drawn over those of another plane."""
    answer = client.post("/rankings", json=QUESTION).json()
    workspace = client.app.state.workspace
    moved = CRS.from_proj4("+proj=aeqd +lat_0=-40 +lon_0=-120 +ellps=WGS84").to_wkt()
    frame = replace(workspace.region.frame, crs_wkt=moved)
    client.app.state.workspace = replace(workspace, region=replace(workspace.region, frame=frame))
    words = read(client.get(f"/rankings/{answer['ranking_id']}/sheet.pdf").content)
    first = answer["sources"][0]
    assert degrees_minutes(*first["fill_point"]["coordinates"]) in words


def test_a_ranking_without_records_asks_for_a_new_question(client):
    answer = client.post("/rankings", json=QUESTION).json()
    with writing(client.app.state.workspace.store.engine) as connection:
        connection.execute(text("DELETE FROM kept_answer"))
    found = client.get(f"/rankings/{answer['ranking_id']}/sheet.pdf")
    assert found.status_code == 404 and "ask the question again" in found.json()["detail"]
    assert client.get("/rankings/none/sheet.pdf").status_code == 404


@needs("Pango")
@pytest.mark.parametrize("query", ["paper=Letter&units=us", "units=si&day=2026-01-31", ""])
def test_the_sheet_of_a_water(client, query):
    body = client.get("/water-bodies/L1").json()
    words = read(client.get(f"/water-bodies/L1/sheet.pdf?{query}").content)
    assert body["name"] in words and "the pilot in command decides" in words
    longitude, latitude = body["hover_point"]["point"]["coordinates"]
    assert degrees_minutes(longitude, latitude) in words


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/water-bodies/none/sheet.pdf", 404),
        ("/water-bodies/L1/sheet.pdf?paper=A5", 400),
        ("/water-bodies/L1/sheet.pdf?units=furlongs", 400),
        ("/water-bodies/L1/sheet.pdf?day=31.1.2026", 422),
        ("/water-bodies/L1/sheet.pdf?pages=2", 400),
    ],
)
def test_what_cannot_be_asked_of_a_sheet(client, address, status):
    found = client.get(address)
    assert found.status_code == status and found.headers["content-type"] == "application/problem+json"


@pytest.fixture
def tiny(tmp_path, monkeypatch) -> Path:
    monkeypatch.setenv("FETCHWATER_DATA_DIR", str(tmp_path / "store"))
    return write_tiny_region(tmp_path / "region")


@needs("Pango")
def test_sheet_command_writes_all_or_nothing(tiny, tmp_path):
    run = CliRunner().invoke
    out = tmp_path / "out"
    given = ["sheet", str(tiny), "--water", "all", "--paper", "letter", "--out", str(out), *TYPED, "--json"]
    made = run(cli, given)
    assert made.exit_code == 0, made.output
    files = [Path(one).name for one in json.loads(made.stdout)["files"]]
    assert "ranking.pdf" in files and "water_L1.pdf" in files
    assert sorted(files) == sorted(one.name for one in out.iterdir())
    refused = run(cli, ["sheet", str(tiny), "--water", "nowhere", "--out", str(tmp_path / "none")])
    assert refused.exit_code == 2 and "'nowhere'" in refused.stderr and not (tmp_path / "none").exists()


@pytest.mark.parametrize(
    ("given", "word"),
    [
        ([], "--water"),
        (["--water", "all", "--paper", "A5"], "A4 or Letter"),
        (["--water", "all", "--units", "cubits"], "trade, si, us"),
        (["--fire", "F1"], "--wind, --oat, --qnh"),
    ],
)
def test_sheet_command_refuses_what_it_cannot_do(tiny, tmp_path, given, word):
    refused = CliRunner().invoke(cli, ["sheet", str(tiny), "--out", str(tmp_path / "none"), *given])
    assert refused.exit_code == 2 and word in refused.stderr and not (tmp_path / "none").exists()


def test_a_missing_library_is_named_in_the_answer_and_has_its_own_exit_code(
    client, tiny, tmp_path, monkeypatch
):
    """The fault is the machine's: a 5xx that says which package brings it, and an exit code that nothing else has."""
    codes = [code for _, code, *_ in STATUS_TABLE]
    real = builtins.__import__

    def without(name, *rest):
        if name.startswith("weasyprint"):
            raise OSError("cannot load library 'libpango-1.0-0'")
        return real(name, *rest)

    monkeypatch.setattr(builtins, "__import__", without)
    found = client.get("/water-bodies/L1/sheet.pdf")
    assert found.status_code == 503 and found.headers["content-type"] == "application/problem+json"
    assert found.json()["title"] == "A library of the system is missing"
    assert "apt install libpango" in found.json()["detail"]
    done = CliRunner().invoke(cli, ["sheet", str(tiny), "--water", "L1", "--out", str(tmp_path / "none")])
    assert done.exit_code == 8 and codes.count(8) == 1
    assert "apt install libpango" in done.stderr and not (tmp_path / "none").exists()
