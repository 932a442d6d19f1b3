"""The worst inputs: each must end in one clear error that names file, place, rule and cure, with nothing written.

The cases are those that common readers take in silence, hang on, or follow to other files and hosts.
"""

import json
import socket

import numpy as np
import pytest
import shapely
from ingest_files import (
    HEAD,
    LAKE,
    SOUNDINGS,
    TERRAIN,
    WATER,
    comb,
    frame_of,
    plain_dem,
    snapshot,
    write_dem,
    write_region,
)

from geo.base.errors import BadInput
from geo.ingest.load_region import load_region


def only_fault(folder, worker):
    """Load, expect refusal with exactly one blocking fault, and the folder unchanged."""
    before = snapshot(folder)
    with pytest.raises(BadInput) as caught:
        load_region(folder, worker=worker)
    assert snapshot(folder) == before
    assert len(caught.value.faults) == 1, [fault.sentence() for fault in caught.value.faults]
    fault = caught.value.faults[0]
    assert fault.blocks and fault.rule and fault.cure
    return fault


def geojson_region(folder, text):
    (folder / "region.toml").write_text(HEAD + '[water]\nfile = "w.geojson"\n')
    (folder / "w.geojson").write_text(text)
    return folder


def test_unit_of_levels_missing(tmp_path, worker):
    toml = HEAD + WATER + '[water.columns]\ncurrent_level = "LEVEL"\n'
    fault = only_fault(write_region(tmp_path, toml, LEVEL=[330.0, 340.0]), worker)
    assert (fault.severity, fault.file, fault.field) == ("ask", "water.gpkg", "water.vertical_unit")
    assert "LEVEL" in fault.rule and "foot" in fault.cure


def test_undeclared_nodata(tmp_path, worker):
    write_region(tmp_path, HEAD + WATER + TERRAIN)
    heights = plain_dem()
    heights[:10, :10] = -9999
    write_dem(tmp_path / "dem.tif", heights)
    fault = only_fault(tmp_path, worker)
    assert (fault.severity, fault.file, fault.value) == ("ask", "dem.tif", "-9999")
    assert "100 cells" in fault.rule and "nodata = -9999" in fault.cure


def test_latitude_and_longitude_swapped(tmp_path, worker):
    lake = shapely.box(-120.02, -40.01, -120.0, -40.0)
    swapped = shapely.transform(lake, lambda xy: xy[:, ::-1])
    fault = only_fault(write_region(tmp_path, shapes=[swapped]), worker)
    assert (fault.severity, fault.file) == ("ask", "water.gpkg")
    assert "swapped" in fault.rule and "longitude first" in fault.cure


def test_projected_numbers_under_degrees(tmp_path, worker):
    metres = shapely.box(500000, 5500000, 501000, 5501000)
    fault = only_fault(write_region(tmp_path, shapes=[metres]), worker)
    assert (fault.severity, fault.file) == ("refuse", "water.gpkg")
    assert "degrees" in fault.rule and "500000" in fault.value


def test_csv_with_broken_quote(tmp_path, worker):
    toml = HEAD + WATER + SOUNDINGS
    write_region(tmp_path, toml)
    text = 'note,lon,lat,depth\n"a",-30.01,-40.005,5\n"b,-30.01,-40.004,6\n"c",-30.01,-40.003,7\n'
    (tmp_path / "s.csv").write_text(text)
    fault = only_fault(tmp_path, worker)
    assert (fault.severity, fault.file) == ("refuse", "s.csv")
    assert "line 3" in fault.rule and "quotes" in fault.cure


def test_ascii_grid_with_letters(tmp_path, worker):
    toml = HEAD + WATER + TERRAIN.replace("dem.tif", "dem.asc") + 'crs = "EPSG:4326"\n'
    write_region(tmp_path, toml)
    header = "ncols 4\nnrows 3\nxllcorner -30.1\nyllcorner -40.1\ncellsize 0.05\nNODATA_value -9999\n"
    (tmp_path / "dem.asc").write_text(header + "1 2 3 4\n5 6 abc 8\n9 10 11 12\n")
    fault = only_fault(tmp_path, worker)
    assert (fault.severity, fault.file, fault.value) == ("refuse", "dem.asc", "abc")
    assert "row 2 column 3" in fault.rule


def test_geojson_that_calls_an_address(tmp_path, worker):
    listener = socket.create_server(("127.0.0.1", 0))
    collection = json.loads(frame_of([LAKE]).to_json())
    port = listener.getsockname()[1]
    collection["crs"] = {"type": "link", "properties": {"href": f"http://127.0.0.1:{port}/", "type": "proj4"}}
    fault = only_fault(geojson_region(tmp_path, json.dumps(collection)), worker)
    assert (fault.severity, fault.file, fault.field) == ("refuse", "w.geojson", "crs")
    assert "address" in fault.rule
    listener.setblocking(False)
    with listener, pytest.raises(BlockingIOError):  # nobody called
        listener.accept()


def test_raster_that_refers_to_another_file(tmp_path, worker):
    write_region(tmp_path, HEAD + WATER + TERRAIN)
    write_dem(tmp_path / "other.tif", plain_dem())
    (tmp_path / "dem.tif").write_text(
        '<VRTDataset rasterXSize="200" rasterYSize="150"><VRTRasterBand dataType="Float32" band="1"><SimpleSource>'
        "<SourceFilename>other.tif</SourceFilename></SimpleSource></VRTRasterBand></VRTDataset>"
    )
    fault = only_fault(tmp_path, worker)
    assert (fault.severity, fault.file) == ("refuse", "dem.tif")
    assert "refers to other files" in fault.rule


def test_vector_that_refers_to_another_file(tmp_path, worker):
    layer = '<OGRVRTLayer name="water"><SrcDataSource>/etc/x</SrcDataSource></OGRVRTLayer>'
    text = f"<OGRVRTDataSource>{layer}</OGRVRTDataSource>"
    fault = only_fault(geojson_region(tmp_path, text), worker)
    assert (fault.severity, fault.file) == ("refuse", "w.geojson")
    assert "refers to other files" in fault.rule


def test_shape_too_tangled_to_repair(tmp_path, worker):
    # A closed area must not be lost, so one that cannot be repaired in time blocks the whole region.
    toml = HEAD + WATER + '[closures]\nfile = "c.gpkg"\n[closures.columns]\nid = "ref"\nkind = "kind"\n'
    write_region(tmp_path, toml)
    frame_of([comb(600)], ref=["C1"], kind=["no flying"]).to_file(tmp_path / "c.gpkg")
    fault = only_fault(tmp_path, worker)
    assert (fault.severity, fault.file, fault.feature) == ("refuse", "c.gpkg", "row 1 (C1)")
    assert "too tangled" in fault.rule and "2 s" in fault.rule


def test_nested_geometry_bomb(tmp_path, worker):
    depth = 20_000
    text = '{"type":"GeometryCollection","geometries":[' * depth + "]}" * depth
    fault = only_fault(geojson_region(tmp_path, text), worker)
    assert (fault.severity, fault.file) == ("refuse", "w.geojson")
    assert "nested too deeply" in fault.rule


@pytest.mark.parametrize(
    ("content", "rule"),
    [
        (b"", "empty (0 bytes)"),
        (b"<!DOCTYPE html><html><body>404</body></html>", "web page"),
        (b"version https://git-lfs.github.com/spec/v1\noid sha256:00\nsize 12\n", "git-lfs"),
        (b"SQLite format 3\0" + b"\0" * 100, "damaged"),
        (b"II*\0" + b"\0" * 100, "not a vector layer"),
    ],
)
def test_files_that_are_no_data(tmp_path, content, rule, worker):
    (tmp_path / "region.toml").write_text(HEAD + WATER)
    (tmp_path / "water.gpkg").write_bytes(content)
    fault = only_fault(tmp_path, worker)
    assert (fault.severity, fault.file) == ("refuse", "water.gpkg")
    assert rule in fault.rule and str(tmp_path) not in fault.sentence()


def test_all_faults_are_told_at_once(tmp_path, worker):
    toml = HEAD + WATER + '[water.columns]\nid = "nope"\n' + TERRAIN.replace('"same"', '"Other datum"')
    toml += '[fires]\nfile = "missing.kml"\n'
    write_region(tmp_path, toml)
    frame_of([LAKE, LAKE], ref=["a", "a"]).to_file(tmp_path / "water.gpkg", layer="water")
    write_dem(tmp_path / "dem.tif", np.full((20, 20), -9999.0, "float32"))
    with pytest.raises(BadInput) as caught:
        load_region(tmp_path, worker=worker)
    # The water cannot be read at all, and still the terrain and the fires are looked at.
    assert {fault.file for fault in caught.value.faults} == {"water.gpkg", "missing.kml", "dem.tif"}
    (tmp_path / "region.toml").write_text(toml.replace('"nope"', '"ref"'))
    with pytest.raises(BadInput) as caught:
        load_region(tmp_path, worker=worker)
    assert {fault.file for fault in caught.value.faults} == {"water.gpkg", "missing.kml", "dem.tif"}
    doubled = next(fault for fault in caught.value.faults if fault.file == "water.gpkg")
    assert "rows 1 and 2" in doubled.rule and doubled.value == "a"
