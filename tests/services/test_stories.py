"""The three stories of STORIES.md, run as they stand there: their own commands, in a temporary folder, on the demo
region.

Changed are only the port, to one that is free, and where the store lies. What comes out is held against the demo region
and against what the stories promise, by readers that are not this program's own wherever there are some.
"""

import csv
import io
import json
import os
import re
import signal
import sqlite3
import subprocess
import sys
import zipfile
from contextlib import closing, suppress
from pathlib import Path

import pyogrio
import pytest

from tests.made_once import demo_store
from tests.needs import needs
from tests.services.conftest import DEMO
from tests.services.postgis import free_port

STORIES = Path(__file__).resolve().parents[2] / "STORIES.md"
# The level of Pellin Reservoir's outline and depths: TWL_CHART_FT of the region's file.
PELLIN_OUTLINE_M = 64.0
pytestmark = [
    pytest.mark.early,
    needs("curl", "ogr2ogr", "Pango"),
    pytest.mark.timeout(2000),
]


def commands(title: str) -> str:
    """The code blocks below a heading of STORIES.md."""
    text = STORIES.read_text(encoding="utf-8")
    section = text.partition(f"\n### {title}\n")[2]
    assert section, f"STORIES.md tells no story {title!r}"
    return "\n".join(re.findall(r"^```\n(.*?)^```$", re.split(r"\n#{2,3} ", section)[0], re.S | re.M))


def tell(title: str, folder: Path) -> str:
    """Run a story; give what it printed. Whatever it leaves running is ended."""
    script = commands(title).replace("8000", str(free_port()))
    environment = {
        name: value for name, value in os.environ.items() if not name.upper().startswith("FETCHWATER_")
    } | {
        "FETCHWATER_DATA_DIR": str(folder / "store"),
        "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}",
        "COLUMNS": "150",
    }
    with (folder / "said.txt").open("w+") as said:
        shell = subprocess.Popen(
            ["bash", "-euo", "pipefail", "-c", script],
            cwd=folder,
            env=environment,
            stdout=said,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
        try:
            code = shell.wait(1800)
        finally:
            with suppress(ProcessLookupError):
                os.killpg(shell.pid, signal.SIGKILL)
        said.seek(0)
        words = said.read()
    assert code == 0, words[-4000:]
    return words


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    made = tmp_path_factory.mktemp("stories")
    # What the survey finds is tested elsewhere: the store knows it already.
    demo_store(tmp_path_factory).rename(made / "store")
    (made / "demo_region").symlink_to(DEMO)
    return made


@pytest.fixture(scope="module")
def planner(folder) -> str:
    return tell("A planner, before the season", folder)


@pytest.fixture(scope="module")
def officer(planner, folder) -> str:
    return tell("A duty officer, during a fire", folder)


@pytest.fixture(scope="module")
def analyst(officer, folder) -> str:
    return tell("A GIS analyst, between fires", folder)


def read(folder: Path, name: str) -> dict:
    return json.loads((folder / name).read_text())


def reasons(answer: dict) -> dict[str, str]:
    return {one["body_id"]: one["reason"] for one in answer["excluded"]}


def rows_of(file: Path, question: str) -> list[tuple]:
    with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True)) as connection:
        return connection.execute(question).fetchall()


def test_the_planner_takes_the_list_in_whole_and_sees_what_runs_out(planner):
    for said in ("3 to create, 0 to change, 0 to refuse", "1 to change"):
        assert said in planner, said
    due = [line for line in planner.splitlines() if re.match(r"\d{4}-\d\d-\d\d ", line)]
    assert due == sorted(due)
    assert [line for line in due if "Elder gate" in line] == ["2026-09-15 inspection: Elder gate (ED1)"]
    assert [line for line in due if "North ramp" in line] == ["2026-10-20 permission: North ramp (NR1)"]
    assert not any("Pellin wall" in line for line in due)


def test_the_planners_changes_are_kept_and_saved(planner, folder):
    """Read back by plain SQL from the backup: the list's rows, and one change of one row."""
    saved = folder / "before_season.gpkg"
    with (folder / "ramps.csv").open() as stream:
        listed = {row["ID"]: row for row in csv.DictReader(stream)}
    kept = rows_of(saved, "SELECT site_id, name, most_litres, permission_to, updated_by FROM site")
    assert len(kept) == len(listed) == 3
    for site_id, name, most_litres, permission_to, who in kept:
        row = listed[site_id]
        assert (name, permission_to or "", who) == (row["NAME"], row["LEAVE_TO"], "K. Ilves")
        assert most_litres == (float(row["MOST"]) if row["MOST"] else None)
    changes = "SELECT site_id, revision, action FROM site_change ORDER BY site_id, revision"
    assert rows_of(saved, changes) == [
        ("ED1", 1, "create"),
        ("NR1", 1, "create"),
        ("NR1", 2, "update"),
        ("PR1", 1, "create"),
    ]
    (sheet,) = (folder / "out" / "sheets").glob("*.pdf")
    assert sheet.read_bytes().startswith(b"%PDF-")


def test_the_officers_level_closure_and_sites_count_at_once(officer, folder):
    """Closed: the lake; vetoed by the planner: the dam; limited by the planner: the reservoir's load."""
    answer, after = read(folder, "answer.json"), read(folder, "after.json")
    ranked = {one["body_id"]: one for one in answer["sources"]}
    assert "W01" not in ranked and "boats take people across" in reasons(answer)["W01"]
    assert after["sources"][0]["body_id"] == "W01", "the closure is gone, the lake is the best again"
    for told in (answer, after):
        assert "D05" not in {one["body_id"] for one in told["sources"]}
        assert "Elder gate" in reasons(told)["D05"]
    assert ranked["W04"]["cycle"]["litres"] == 6000.0
    # 191 ft x 0.3048 m (international foot); the reading's origin stands in the criterion.
    levels = [one for one in ranked["W04"]["assessment"]["criteria"] if one["name"] == "level"]
    assert levels[0]["measured"] == pytest.approx(191 * 0.3048 - PELLIN_OUTLINE_M, abs=0.005)
    assert "level read" in levels[0]["reason"]


def test_the_officers_answer_can_be_looked_up_and_taken_along(officer, folder):
    answer, kept = read(folder, "answer.json"), read(folder, "kept.json")
    assert kept["ranking_id"] == answer["ranking_id"]
    # The lake is closed: what is reached first is another, and the lake is said to lie nearer.
    nearest = read(folder, "nearest.json")
    assert "W01" not in {one["body_id"] for one in nearest["sources"]} and nearest["sources"]
    assert "W01" in {one["body_id"] for one in nearest["left_out"]}
    with zipfile.ZipFile(folder / "fellside.zip") as package:
        assert package.testzip() is None
        names = package.namelist()
        assert {Path(name).suffix for name in names} >= {".pdf", ".gpx", ".kmz", ".gpkg", ".geojson", ".html"}
        (kmz,) = (name for name in names if name.endswith(".kmz"))
        assert zipfile.ZipFile(io.BytesIO(package.read(kmz))).testzip() is None


def test_the_analyst_reads_every_water_live(analyst, folder):
    """GDAL's own copy of the layer, against the region's file; and the filter, against the same attributes."""
    mine = pyogrio.read_dataframe(folder / "mine.gpkg", layer="water_bodies")
    file = pyogrio.read_dataframe(DEMO / "waters.gpkg")
    assert sorted(mine["body_id"]) == sorted(file["REF"])
    wanted = mine[(mine["longest_run_m"] > 800) & mine["kind"].isin(["lake", "reservoir"])]
    wanted = wanted.cx[-128.2:-128.0, -47.1:-46.9]
    found = [one["properties"]["body_id"] for one in read(folder, "long.geojson")["features"]]
    assert 0 < len(found) < len(mine) and sorted(found) == sorted(wanted["body_id"])


def test_the_second_of_two_editors_is_told_and_nothing_is_lost(analyst, folder):
    assert (folder / "codes.txt").read_text().split() == ["204", "412"]
    told = read(folder, "told.json")
    assert told["present"]["note"] == "gate locked" and told["yours"]["note"] == "gate open"
    sites = pyogrio.read_dataframe(folder / "sites.gpkg", layer="sites").set_index("site_id")
    assert sorted(sites.index) == ["ED1", "NR1", "PR1"]
    assert sites.loc["ED1", "note"] == "gate locked"
    assert pyogrio.read_info(folder / "sites.gpkg", layer="sites")["crs"] == "EPSG:4326"


def test_the_analysts_files_hold_the_same_ranking(analyst, folder):
    out = folder / "out" / "gis"
    file = pyogrio.read_dataframe(out / "water_sources.gpkg", layer="ranked").set_index("body_id")
    # FlatGeobuf may change the order of its rows.
    flat = pyogrio.read_dataframe(out / "ranked.fgb").set_index("body_id").loc[file.index]
    sources = "waters.gpkg", "fill_stations.geojson"
    assert len(file) == sum(len(pyogrio.read_dataframe(DEMO / name)) for name in sources)
    assert file["rank"].dropna().to_dict() == flat["rank"].dropna().to_dict() != {}
    assert file.loc["D05", "verdict"] == "not usable" and file["rank"].isna()["D05"]
    assert (out / "ranked.parquet").read_bytes()[:4] == b"PAR1"
