"""The command line as a stranger uses it: whole processes and real exit codes, one of each kind."""

import json
import math
import os
import subprocess
import sys

import pytest

from tests.services.commands import commands_on
from tests.services.conftest import DEMO

WEATHER = ("--wind", "300/18kt", "--oat", "34C", "--qnh", "1009")


@pytest.fixture(scope="module")
def run(workspace, data_dir):
    """Run the command in this process on the store that already holds the survey."""
    return commands_on(data_dir)


@pytest.fixture(scope="module")
def process(workspace, data_dir):
    """Run the command in a process of its own on that store."""

    def call(*words):
        environment = os.environ | {"FETCHWATER_DATA_DIR": str(data_dir), "COLUMNS": "150"}
        command = [sys.executable, "-m", "services", *map(str, words)]
        return subprocess.run(
            command, capture_output=True, text=True, env=environment, timeout=240, check=False
        )

    return call


@pytest.fixture(scope="module")
def fire(workspace):
    return workspace.region.fires[0].fire_id


def test_help_loads_no_geo_stack():
    """`--help` must answer at once: the heavy libraries are imported inside the commands."""
    heavy = ("numpy", "geopandas", "shapely", "numba")
    code = f"import sys, services.cli.main; print([m for m in {heavy} if m in sys.modules])"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


def test_rank_json_adds_up_by_hand(run, fire):
    """The printed parts of each source sum to its round trip, and its rates follow from it (reference: plain sums)."""
    done = run("rank", DEMO, "--fire", fire, *WEATHER, "--top", 5, "--json")
    assert done.exit_code == 0, done.stderr
    answer = json.loads(done.stdout)
    assert answer["sources"]
    for source in answer["sources"]:
        cycle, fuel = source["cycle"], source["fuel"]
        for leg in (cycle["loaded_leg"], cycle["empty_leg"]):
            flown = sum(s["distance_m"] / s["ground_speed_ms"] for s in leg["segments"])
            assert leg["time_s"] == pytest.approx(
                flown + leg["climb_extra_s"] + leg["descent_extra_s"] + leg["turns_s"], abs=1e-3
            )
        parts = cycle["fill_s"] + cycle["manoeuvre_source_s"] + cycle["loaded_leg"]["time_s"]
        parts += cycle["drop_s"] + cycle["manoeuvre_fire_s"] + cycle["empty_leg"]["time_s"]
        assert cycle["round_trip_s"] == pytest.approx(parts, abs=1e-3)
        assert cycle["litres_per_hour"] == pytest.approx(3600 * cycle["litres"] / parts, rel=1e-6)
        left = fuel["endurance_s"] - fuel["reserve_s"] - fuel["transit_to_s"] - fuel["transit_from_s"]
        held = source["assessment"]["loads_available"]
        most = math.inf if held is None else math.floor(held)  # no more loads than the water holds
        # Later loads are larger and take longer to fill: no more of them than of the first.
        assert 0 < fuel["loads"] == len(fuel["table"]) <= min(int(left // cycle["round_trip_s"]), most)
        criteria = source["assessment"]["criteria"]
        weighted = sum(c["weight"] * c["score"] for c in criteria) / sum(c["weight"] for c in criteria)
        assert source["assessment"]["score"] == pytest.approx(weighted, abs=1e-3)
    rates = [s["fuel"]["sustained_litres_per_hour"] for s in answer["sources"]]
    assert rates == sorted(rates, reverse=True)
    assert answer["excluded"] and all(item["reason"] for item in answer["excluded"])


def test_every_command_has_json(run, fire, tmp_path):
    for words in (
        ("check", DEMO, "--json"),
        ("survey", DEMO, "--json"),
        ("export", DEMO, "--fire", fire, *WEATHER, "--formats", "csv,gpx", "--out", tmp_path, "--json"),
    ):
        done = run(*words)
        assert done.exit_code == 0, done.stderr
        json.loads(done.stdout)
    assert sorted(path.suffix for path in tmp_path.iterdir()) == [".csv", ".csv", ".gpx"]


def test_tables_name_the_reason_for_every_position(process, fire):
    done = process("rank", DEMO, "--fire", fire, *WEATHER)
    assert done.returncode == 0, done.stderr
    for words in ("Why this rank", "Working for number 1", "Not ranked", "pilot in command"):
        assert words in done.stdout


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("rank", DEMO, "--fire", "nothing", *WEATHER), 2, "nothing"),
        (("rank", DEMO, "--fire", "F", "--wind", "18kt", "--oat", "34C", "--qnh", "1009"), 2, "wind"),
        (("check", DEMO / "absent"), 2, "absent"),
        (("survey", DEMO, "--plot", "no such water"), 2, "no such water"),
    ],
)
def test_errors_are_one_message_and_an_exit_code(run, words, code, said):
    done = run(*words)
    assert done.exit_code == code
    answer = done.stdout + done.stderr  # `check` reports faults as its product, on stdout
    assert said in answer and "Fix" in answer and "Traceback" not in answer


def test_a_process_ends_with_that_message_and_code(process):
    done = process("rank", DEMO, "--fire", "nothing", *WEATHER)
    assert done.returncode == 2 and done.stdout == ""
    assert "nothing" in done.stderr and "Fix" in done.stderr and "Traceback" not in done.stderr


def test_an_unknown_setting_is_refused():
    environment = os.environ | {"FETCHWATER_DATADIR": "/nowhere"}
    command = [sys.executable, "-m", "services", "survey", str(DEMO)]
    done = subprocess.run(command, capture_output=True, text=True, env=environment, check=False)
    assert done.returncode == 2 and "FETCHWATER_DATADIR" in done.stderr
