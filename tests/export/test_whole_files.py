"""Nothing half written: whatever fails, the old file is there, whole, and nothing is left beside it."""

import os

import geopandas
import pyogrio
import pytest

from geo.base.whole_file import private_folder, whole_file
from geo.export.formats import csv_table, geojson, geopackage, gpx, kml
from geo.export.formats import folder as folder_module
from geo.export.formats.folder import all_layers, export_ranking
from geo.records.file_formats import FORMATS

OLD = b"the old file"
DATA_FORMATS = tuple(name for name in FORMATS if name != "png")


def test_a_file_appears_whole(tmp_path):
    target = tmp_path / "deep" / "a.txt"
    with whole_file(target) as private:
        private.write_text("half")
        assert not target.exists() and private.parent.parent == target.parent
        private.write_text("whole")
    assert target.read_text() == "whole"
    assert os.listdir(target.parent) == ["a.txt"]


def test_a_failure_leaves_the_old_file(tmp_path):
    target = tmp_path / "a.txt"
    target.write_bytes(OLD)
    with pytest.raises(RuntimeError), whole_file(target) as private:
        private.write_text("half")
        (private.parent / "a.txt-journal").write_text("side file")
        raise RuntimeError
    assert target.read_bytes() == OLD and os.listdir(tmp_path) == ["a.txt"]


def test_a_failure_of_the_swap_leaves_the_old_file(tmp_path, monkeypatch):
    target = tmp_path / "a.txt"
    target.write_bytes(OLD)

    def refuse(*_):
        raise OSError("no room")

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(OSError, match="no room"), whole_file(target) as private:
        private.write_text("new")
    assert target.read_bytes() == OLD and os.listdir(tmp_path) == ["a.txt"]


def test_file_is_on_disk_before_it_takes_the_name(tmp_path, monkeypatch):
    """The order that makes the swap safe: flush the file, rename, flush the folder."""
    steps = []
    flush, swap = os.fsync, os.replace
    monkeypatch.setattr(os, "fsync", lambda fd: (steps.append("flush"), flush(fd))[1])
    monkeypatch.setattr(os, "replace", lambda a, b: (steps.append("swap"), swap(a, b))[1])
    with whole_file(tmp_path / "a.txt") as private:
        private.write_text("x")
    assert steps == ["flush", "swap", "flush"]


def test_new_file_has_the_usual_rights(tmp_path):
    plain = tmp_path / "plain"
    plain.write_text("x")
    with whole_file(tmp_path / "a.txt") as private:
        private.write_text("x")
    assert (tmp_path / "a.txt").stat().st_mode == plain.stat().st_mode


def _raise_half_way(original, after):
    calls = {"n": 0}

    def writer(*args, **kwargs):
        calls["n"] += 1
        if calls["n"] > after:
            raise OSError("disk full")
        return original(*args, **kwargs)

    return writer


def test_geopackage_that_fails_between_layers(tmp_path, monkeypatch, region, survey, ranking):
    target = tmp_path / "a.gpkg"
    target.write_bytes(OLD)
    monkeypatch.setattr(pyogrio, "write_dataframe", _raise_half_way(pyogrio.write_dataframe, 2))
    with pytest.raises(OSError, match="disk full"):
        geopackage.write_geopackage(target, all_layers(region, survey, ranking))
    assert target.read_bytes() == OLD and os.listdir(tmp_path) == ["a.gpkg"]


def test_a_new_geopackage_replaces_an_old_one_whole(tmp_path, region, survey, ranking):
    target = tmp_path / "a.gpkg"
    layers = all_layers(region, survey, ranking)
    geopackage.write_geopackage(target, layers)
    geopackage.write_geopackage(target, {"runs": layers["runs"]})
    assert [name for name, _ in pyogrio.list_layers(target)] == ["runs", "layer_styles"]


@pytest.mark.parametrize("kind", ["geojson", "csv", "kml", "gpx"])
def test_text_formats_that_fail_while_writing(tmp_path, monkeypatch, kind, region, survey, ranking):
    """The writer breaks after its first bytes are out."""
    target = tmp_path / f"a.{kind}"
    target.write_bytes(OLD)
    layer: geopandas.GeoDataFrame = all_layers(region, survey, ranking)["ranked"]

    def broken(private, *args, **kwargs):
        with open(private, "wb") as file:
            file.write(b"half")
        raise OSError("disk full")

    if kind == "kml":
        monkeypatch.setattr(kml, "write_tree", broken)
    else:
        monkeypatch.setattr("pathlib.Path.write_text", broken)
        monkeypatch.setattr(csv_table.csv, "writer", lambda file: broken(file.name))
    write = {
        "geojson": lambda: geojson.write_geojson(target, layer),
        "csv": lambda: csv_table.write_csv(target, layer),
        "kml": lambda: kml.write_kml(target, ranking, region.frame),
        "gpx": lambda: gpx.write_gpx(target, ranking, region.frame),
    }
    with pytest.raises(OSError, match="disk full"):
        write[kind]()
    assert target.read_bytes() == OLD and os.listdir(tmp_path) == [f"a.{kind}"]


@pytest.mark.parametrize(
    "failing", ["write_geopackage", "write_geojson", "write_kml", "write_gpx", "write_column_list"]
)
def test_one_format_that_fails_changes_no_file(tmp_path, monkeypatch, failing, region, survey, ranking):
    export_ranking(tmp_path, region, survey, ranking, formats=DATA_FORMATS)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}

    def broken(*_):
        raise OSError("disk full")

    monkeypatch.setattr(folder_module, failing, broken)
    with pytest.raises(OSError, match="disk full"):
        export_ranking(tmp_path, region, survey, ranking, formats=DATA_FORMATS)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_private_folder_goes_away(tmp_path):
    with private_folder(tmp_path) as private:
        (private / "x").write_text("x")
    assert os.listdir(tmp_path) == []
