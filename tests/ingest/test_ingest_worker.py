"""The process that opens files: killed on time-out, survives crashes, opens only what it may."""

import subprocess
import sys
import threading
from pathlib import Path

import numpy as np
import pytest
import shapely
from ingest_files import LAKE, comb, frame_of, write_region

import geo
from geo.ingest.checks.report import Report
from geo.ingest.files.messages import pack, pack_geometries, unpack, unpack_geometries
from geo.ingest.files.process import Worker, WorkerFailed
from geo.ingest.files.sandbox import ALLOWED_DRIVERS, SKIPPED_DRIVERS, worker_environment
from geo.ingest.files.worker import answer
from geo.ingest.layers.reader import FileReader
from geo.ingest.load_region import check_region, load_region
from geo.ingest.settings import VectorFile

ROOT = Path(geo.__file__).parents[1]


def nested_wkb(depth):
    """A geometry collection inside a geometry collection, `depth` times: a known way to end a process."""
    return (b"\x01\x07\x00\x00\x00" + b"\x01\x00\x00\x00") * depth + b"\x01\x07\x00\x00\x00" + b"\x00" * 4


def test_a_crash_is_told_and_the_next_task_works(worker):
    with pytest.raises(WorkerFailed) as caught:
        worker.call("repair", geometry=nested_wkb(200_000))
    assert caught.value.kind == "crash" and "died" in caught.value.reason
    assert worker.call("repair", geometry=shapely.to_wkb(LAKE))["change"] == 0.0


def test_a_task_without_end_is_stopped(worker):
    with pytest.raises(WorkerFailed) as caught:
        worker.call("repair", limit_s=0.5, geometry=shapely.to_wkb(comb(2000)))
    assert caught.value.kind == "time" and "0.5 s" in caught.value.reason
    assert worker.call("repair", geometry=shapely.to_wkb(LAKE))["change"] == 0.0


def test_an_error_in_a_task_is_a_sentence(worker):
    with pytest.raises(WorkerFailed) as caught:
        worker.call("repair", geometry=b"junk")
    assert caught.value.kind == "error" and "\n" not in caught.value.reason


def test_only_allowed_drivers_are_loaded(tmp_path):
    code = "from geo.ingest.files.sandbox import forbidden_drivers; print(forbidden_drivers())"
    clean = worker_environment(tmp_path)
    done = subprocess.run([sys.executable, "-c", code], env=clean, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
    open_ended = {**clean, "GDAL_SKIP": ""}
    done = subprocess.run(
        [sys.executable, "-c", code], env=open_ended, capture_output=True, text=True, check=True
    )
    assert "'VRT'" in done.stdout and "'HTTP'" in done.stdout and "'GPKG'" not in done.stdout
    assert not set(SKIPPED_DRIVERS.split(",")) & ALLOWED_DRIVERS


def test_a_worker_that_finds_more_drivers_starts_again_without_them(tmp_path, monkeypatch):
    monkeypatch.setattr("geo.ingest.files.sandbox.SKIPPED_DRIVERS", "VRT")
    frame_of([LAKE]).to_file(tmp_path / "w.gpkg")
    with Worker() as one:
        answer = one.call("read vector", path=str(tmp_path / "w.gpkg"), columns=[], expect="polygon")
    assert answer["kind"] == "GeoPackage"


def test_the_callers_environment_stays_outside(monkeypatch, tmp_path):
    monkeypatch.setenv("SECRET_TOKEN", "x")
    assert "SECRET_TOKEN" not in worker_environment(tmp_path)


def test_regions_load_from_several_threads(tmp_path):
    write_region(tmp_path)
    found = []
    threads = [
        threading.Thread(target=lambda: found.append(load_region(tmp_path).fingerprint)) for _ in range(3)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(found) == 3 and len(set(found)) == 1


def test_a_script_without_main_guard_loads_once(tmp_path):
    write_region(tmp_path / "r") if (tmp_path / "r").mkdir() is None else None
    script = tmp_path / "script.py"
    script.write_text(
        f"import sys\nsys.path.insert(0, {str(ROOT)!r})\nfrom geo.ingest.load_region import load_region\n"
        f"print('bodies', len(load_region({str(tmp_path / 'r')!r}).bodies))\n"
    )
    done = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, check=True)
    assert done.stdout == "bodies 2\n" and done.stderr == ""


def test_progress_is_told(tmp_path, worker):
    told = []
    load_region(write_region(tmp_path), told.append, worker)
    assert told == ["reading water.gpkg", "computing the fingerprint"]


def test_messages_come_back_as_they_went():
    message = {
        "a": [1, None, "x"],
        "b": {"c": np.arange(6.0).reshape(2, 3)},
        "d": b"\0\1",
        "e": np.float64(1.5),
    }
    back = unpack(pack(message)[8:])
    assert back["a"] == message["a"] and back["d"] == b"\0\1" and back["e"] == 1.5
    assert back["b"]["c"].tolist() == [[0, 1, 2], [3, 4, 5]]
    wkb = np.array([shapely.to_wkb(LAKE), None, shapely.to_wkb(LAKE)], object)
    assert unpack_geometries(pack_geometries(wkb)) == list(wkb)


def test_messages_never_run_code():
    with pytest.raises(ValueError, match="Object arrays cannot be saved"):
        pack({"a": np.array([print], object)})
    with pytest.raises(ValueError, match="do not add up"):
        unpack(pack({"a": b"12345"})[8:-1])


MISTAKES = [
    NameError("x"),
    TypeError("x"),
    AttributeError("x"),
    KeyError("x"),
    IndexError("x"),
    AssertionError("x"),
]


@pytest.mark.parametrize("error", MISTAKES, ids=lambda one: type(one).__name__)
def test_a_mistake_of_the_program_is_not_put_down_to_the_file(tmp_path, error):
    """The answer of a worker whose task raises, and what a person is told of it."""

    def fail(**arguments):
        raise error

    told = answer({"t": fail}, {"task": "t", "arguments": {}})
    assert set(told) == {"mistake"} and told["mistake"].startswith(f"{type(error).__name__}, ")

    class Mistaken:
        def call(self, task, **arguments):
            raise WorkerFailed("mistake", told["mistake"])

    (tmp_path / "w.gpkg").write_bytes(b"sound")
    reader = FileReader(tmp_path, Mistaken(), Report())
    assert reader.read_layer(VectorFile(file="w.gpkg"), {}, "polygon") is None
    (fault,) = reader.report.all_faults()
    assert (
        fault.severity == "refuse"
        and f"the program failed while reading ({type(error).__name__}" in fault.rule
    )
    assert "report" in fault.cure and "export it again" not in fault.sentence()


def test_errors_of_readers_are_still_the_files():
    for error in (ValueError("bad value"), OSError("cannot read"), LookupError("unknown encoding: x")):

        def fail(error=error, **arguments):
            raise error

        assert str(error) in answer({"t": fail}, {"task": "t", "arguments": {}})["error"]


def test_a_mistake_in_the_real_worker_names_its_line(tmp_path, worker):
    write_region(tmp_path)
    with pytest.raises(WorkerFailed) as caught:
        worker.call("read vector", path=str(tmp_path / "water.gpkg"), columns=3, expect="polygon")
    assert caught.value.kind == "mistake" and caught.value.reason.startswith(
        "TypeError, vector_file.py line "
    )
    assert check_region(tmp_path, worker=worker)[1]["usable"]


def test_a_mistake_while_shapes_are_checked_blocks(tmp_path, worker, monkeypatch):
    write_region(tmp_path)
    real = worker.call

    def call(task, **arguments):
        if task == "find invalid":
            raise WorkerFailed("mistake", "NameError")
        return real(task, **arguments)

    monkeypatch.setattr(worker, "call", call)
    faults, summary = check_region(tmp_path, worker=worker)
    assert not summary["usable"] and "the program failed while reading (NameError)" in faults[0].rule
