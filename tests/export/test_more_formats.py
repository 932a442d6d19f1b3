"""FlatGeobuf, GeoParquet, Shapefile, KMZ; validators of others for every format; QGIS draws the GeoPackage's styles."""

import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from functools import cache
from pathlib import Path

import export_samples as samples
import fastkml
import geopandas
import numpy as np
import pandas as pd
import pyarrow.parquet
import pyogrio
import pytest
import shapely
from lxml import etree

from geo.base.file_limits import short_names
from geo.export.drawing.palette import MARKS
from geo.export.formats.flatgeobuf import write_flatgeobuf
from geo.export.formats.folder import all_layers, export_ranking
from geo.export.formats.geoparquet import write_geoparquet
from geo.export.formats.map_style import layer_styles
from geo.export.formats.shapefile import limits_text, write_shapefile
from geo.export.layers.ranked_layer import ranked_frame
from geo.export.layers.site_layer import write_sites
from geo.export.layers.supply_layer import supply_frame
from geo.records.columns import Column
from geo.records.extras import Extras, Stretch
from geo.records.file_formats import FORMATS, SHAPEFILE_LIMITS
from tests.needs import QGIS_PYTHON, needs

LAYERS = ("ranked", "runs", "legs", "water")
TOLERANCE_DEG = 1e-6


@pytest.fixture(scope="module")
def folder(tmp_path_factory, region, survey, ranking):
    target = tmp_path_factory.mktemp("more")
    export_ranking(target, region, survey, ranking, formats=[one for one in FORMATS if one != "png"])
    return target


@pytest.fixture(scope="module")
def layers(region, survey, ranking):
    return all_layers(region, survey, ranking)


def same_cells(ours, theirs, column):
    a, b = ours[column], theirs[column]
    assert list(a.isna()) == list(b.isna()), column
    if not pd.api.types.is_numeric_dtype(a.dtype):
        assert a.dropna().tolist() == b.dropna().tolist(), column
    else:
        assert np.array_equal(a.dropna().astype(float), b.dropna().astype(float)), column


def same_places(ours, theirs):
    assert list(ours.geometry.isna()) == list(theirs.geometry.isna())
    for a, b in zip(ours.geometry, theirs.geometry, strict=True):
        assert a is None or shapely.hausdorff_distance(a, b) < TOLERANCE_DEG


def unsorted(frame, key):
    """FlatGeobuf may keep rows in the order of its index."""
    return frame.sort_values(key, kind="stable").reset_index(drop=True)


@pytest.mark.parametrize("name", LAYERS)
@pytest.mark.parametrize("ending", ["fgb", "parquet"])
def test_read_back_the_same(folder, layers, name, ending):
    """Every row and cell, unknown ones and rows without a place too, by GDAL's and by Arrow's reader."""
    file = folder / f"{name}.{ending}"
    back = geopandas.read_parquet(file) if ending == "parquet" else pyogrio.read_dataframe(file)
    assert back.crs.to_epsg() == 4326
    ours, key = layers[name], list(layers[name].columns[:4])
    columns = [column for column in ours.columns if column != "geometry"]
    assert [column for column in back.columns if column not in ("geometry", "bbox")] == columns
    assert len(back) == len(ours)
    ours, back = unsorted(ours, key), unsorted(back, key)
    for column in columns:
        same_cells(ours, back, column)
    same_places(ours, back)


def geoparquet_faults(file):
    """The failing rules of GeoParquet 1.1.0 by the geoparquet-validator package, which works without a network."""
    program = shutil.which("geoparquet-validator", path=str(Path(sys.executable).parent))
    done = subprocess.run([program, "check", str(file)], capture_output=True, text=True, check=False)
    assert "rules: GeoParquet 1.1.0" in done.stdout and "PASS  /conf/core/wkb" in done.stdout
    faults = "\n".join(line for line in done.stdout.splitlines() if "FAIL" in line)
    assert (done.returncode == 0) == (faults == ""), done.stdout
    return faults


@pytest.mark.parametrize("name", LAYERS)
def test_geoparquet_validator(folder, name):
    assert geoparquet_faults(folder / f"{name}.parquet") == ""
    head = json.loads(pyarrow.parquet.read_schema(folder / f"{name}.parquet").metadata[b"geo"])
    assert "covering" in head["columns"]["geometry"]


def test_rows_without_a_place_are_kept(tmp_path, region, ranking):
    """Three of nine rows have no place: FlatGeobuf then has no index, GeoParquet no box for them; both stay valid."""
    frame = ranked_frame(ranking, region.frame)
    assert frame.geometry.isna().sum() == 3
    write_flatgeobuf(tmp_path / "a.fgb", "ranked", frame)
    write_geoparquet(tmp_path / "a.parquet", frame)
    same_places(frame, pyogrio.read_dataframe(tmp_path / "a.fgb"))
    same_places(frame, geopandas.read_parquet(tmp_path / "a.parquet"))
    assert not pyogrio.read_info(tmp_path / "a.fgb")["capabilities"]["fast_spatial_filter"]
    assert geoparquet_faults(tmp_path / "a.parquet") == ""
    # The validator does find the covering that the library would write for such rows.
    frame.to_parquet(tmp_path / "b.parquet", schema_version="1.1.0", write_covering_bbox=True)
    assert "bbox-column-repetition" in geoparquet_faults(tmp_path / "b.parquet")


def test_geoparquet_keeps_types_where_nothing_is_known(folder):
    schema = pyarrow.parquet.read_schema(folder / "ranked.parquet")
    assert str(schema.field("name").type) in ("string", "large_string")
    assert str(schema.field("rank").type) == "int64" and str(schema.field("litres").type) == "double"
    assert not [field.name for field in schema if str(field.type) == "null"]


def test_flatgeobuf_index(folder, layers):
    """FlatGeobuf specification: index_node_size in the header is 0 without an index. GDAL says whether it has one."""
    for name in LAYERS:
        info = pyogrio.read_info(folder / f"{name}.fgb")
        assert bool(info["capabilities"]["fast_spatial_filter"]) == (not layers[name].geometry.isna().any())


def test_geopackage_by_the_gdal_projects_validator(folder, tmp_path):
    """OGC 12-128r17: validate_gpkg of the gdal-utils package, on a copy and in a process of its own."""
    copy = shutil.copy(folder / "water_sources.gpkg", tmp_path)
    words = [sys.executable, "-m", "osgeo_utils.samples.validate_gpkg", str(copy)]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    # It must be able to find a fault.
    break_it = (
        "import sqlite3,sys; c=sqlite3.connect(sys.argv[1]); "
        "c.execute(\"update gpkg_contents set data_type='attribute' where table_name='question'\"); c.commit()"
    )
    subprocess.run([sys.executable, "-c", break_it, str(copy)], check=True)
    broken = subprocess.run(words, capture_output=True, text=True, check=False)
    assert broken.returncode != 0


@pytest.fixture(scope="module")
def gpx_schema():
    return etree.RelaxNG(etree.parse(str(Path(__file__).with_name("gpx11.rng"))))


def test_gpx_by_the_published_schema(folder, gpx_schema):
    """GPX 1.1 (topografix.com/GPX/1/1/gpx.xsd), restated in RELAX NG in gpx11.rng: no package carries the original."""
    tree = etree.parse(str(folder / "water_sources.gpx"))
    assert gpx_schema.validate(tree), gpx_schema.error_log
    text = (folder / "water_sources.gpx").read_text(encoding="utf-8")
    for fault in (
        re.sub(r'lat="[^"]*"', 'lat="91"', text, count=1),
        re.sub(r'lon="[^"]*"', 'lon="180"', text, count=1),
        re.sub(r"(<name>[^<]*</name>)\s*(<desc>[^<]*</desc>)", r"\2\1", text),
        text.replace('version="1.1"', 'version="1.0"'),
        re.sub(r' creator="[^"]*"', "", text),
    ):
        assert fault != text
        assert not gpx_schema.validate(etree.fromstring(fault.encode()))


def test_kmz_is_one_valid_doc_kml(folder):
    """OGC 07-147r2 annex C: a zip whose root document is doc.kml; the KML 2.2 schema as shipped by fastkml."""
    with zipfile.ZipFile(folder / "water_sources.kmz") as archive:
        assert archive.namelist() == ["doc.kml"] and archive.testzip() is None
        inside = archive.read("doc.kml")
    assert inside == (folder / "water_sources.kml").read_bytes()
    schema = etree.XMLSchema(etree.parse(str(Path(fastkml.__file__).parent / "schema" / "ogckml22.xsd")))
    schema.assertValid(etree.fromstring(inside))
    assert b"<href>" not in inside and b"NetworkLink" not in inside
    layers = [name for name, _ in pyogrio.list_layers(folder / "water_sources.kmz")]
    assert layers == ["Ranked sources", "Runs", "Legs", "Left out"]


@pytest.mark.parametrize("name", LAYERS)
def test_shapefile_reads_back_but_for_what_is_listed(folder, layers, name):
    back = pyogrio.read_dataframe(folder / f"{name}.shp.zip")
    ours = layers[name]
    columns = [column for column in ours.columns if column != "geometry"]
    names = short_names(columns)
    assert back.crs.to_epsg() == 4326 and list(back.columns) == [*names.values(), "geometry"]
    listed = set(
        re.findall(rf"^{name}: row (\d+), (\w+):", (folder / SHAPEFILE_LIMITS).read_text("utf-8"), re.M)
    )
    for column in columns:
        a, b = ours[column], back[names[column]]
        if pd.api.types.is_numeric_dtype(a.dtype):
            assert list(a.isna()) == list(b.isna()), column
            assert np.allclose(a.dropna().astype(float), b.dropna().astype(float), rtol=1e-12, atol=1e-12)
            continue
        for row, (mine, theirs) in enumerate(zip(a, b, strict=True), 1):
            if (str(row), column) in listed:
                assert theirs.endswith("...") and mine.startswith(theirs[:-3]) and len(mine) > len(theirs)
            else:
                # The format has no unknown text: empty and unknown are one.
                assert (mine or None) == (theirs if isinstance(theirs, str) and theirs else None), column
    same_places(ours, back)


def test_shapefile_says_what_it_cut(tmp_path, region, ranking):
    """dBASE: 10 letters to a name, 254 bytes to a text, counted in UTF-8; a cut never splits a letter."""
    frame = ranked_frame(ranking, region.frame)
    frame["reason"] = ["Ō" * 200, "x" * 254, *[None] * (len(frame) - 2)]
    cut = write_shapefile(tmp_path / "ranked.shp.zip", "ranked", frame)
    assert cut.shortened == ((1, "reason", 400),)
    back = pyogrio.read_dataframe(tmp_path / "ranked.shp.zip")["reason"]
    assert back[0] == "Ō" * 125 + "..." and back[1] == "x" * 254
    text = limits_text([cut])
    assert "1 texts cut" in text.split("\n\n")[0] and "ranked: row 1, reason: 400 bytes" in text
    # A regression value: how names are shortened is our own choice.
    assert ("manoeuvre_source_s", "man_sour_s") in cut.renamed
    assert cut.placeless == 3 and "3 rows without a place" in text
    assert [one.name for one in tmp_path.iterdir()] == ["ranked.shp.zip"]


def test_short_names_differ_and_fit():
    names = [
        "a" * 30,
        "a" * 31,
        "A" * 12,
        "manoeuvre_source_s",
        "manoeuvre_fire_s",
        "x_y_z_u_v_w_a_b_c",
        "id",
    ]
    short = short_names(names)
    assert list(short) == names and all(0 < len(one) <= 10 for one in short.values())
    assert len({one.lower() for one in short.values()}) == len(names)


def test_the_supply_layer_goes_along(tmp_path, region, survey, ranking):
    line = shapely.LineString([(0, 0), (500, 0)])
    stretch = Stretch(1, line, 500.0, 3, None, None, None, None, None, None, None, "nothing reaches it")
    written = export_ranking(
        tmp_path,
        region,
        survey,
        ranking,
        formats=["fgb", "parquet", "shp"],
        further=Extras(supply=(stretch,)),
    )
    assert {"supply.fgb", "supply.parquet", "supply.shp.zip", SHAPEFILE_LIMITS} <= {
        path.name for path in written
    }
    assert (
        len(pyogrio.read_dataframe(tmp_path / "supply.shp.zip"))
        == len(supply_frame([stretch], region.frame))
        == 1
    )


def test_one_format_that_fails_changes_no_file(tmp_path, region, survey, ranking, monkeypatch):
    """All or nothing: the last format cannot be written, so the earlier ones are not put in place either."""
    (tmp_path / "water.fgb").write_bytes(b"old")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("geo.export.formats.folder.write_kml", full)
    with pytest.raises(OSError, match="No space"):
        export_ranking(tmp_path, region, survey, ranking, formats=["gpkg", "fgb", "parquet", "shp", "kmz"])
    assert {one.name: one.read_bytes() for one in tmp_path.iterdir()} == {"water.fgb": b"old"}


@cache
def by_qgis(file, tmp_path, *layers):
    """What QGIS itself, in a process of the system's Python, makes of the layers of a file; the last lies lowest."""
    script = Path(__file__).with_name("qgis_styles.py")
    done = subprocess.run(
        [str(QGIS_PYTHON), str(script), str(file), str(tmp_path / "map.png"), *layers],
        capture_output=True, text=True, check=False, env={"PATH": os.defpath, "HOME": str(tmp_path)},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


@needs("QGIS")
def test_qgis_applies_the_styles_on_opening(folder, layers, tmp_path):
    """QGIS itself, without a screen: each layer opens with the renderer, colours and labels that the file carries."""
    order = ["ranked", "hover_points", "runs", "legs", "survey_runs", "water"]
    found = by_qgis(shutil.copy(folder / "water_sources.gpkg", tmp_path), tmp_path, *order)
    colours = {mark.label: mark.colour.lower() for mark in MARKS}
    for name in order:
        assert found[name]["valid"] and found[name]["crs"] == "EPSG:4326"
        assert found[name]["count"] == len(layers[name])
        style = etree.fromstring(layer_styles()[name])
        assert found[name]["renderer"] == style.find("renderer-v2").get("type")
        assert found[name]["labels"] == (style.find("labeling") is not None)
    assert found["water"]["attribute"] == "state" and found["water"]["colours"] == colours
    assert found["ranked"]["colours"].items() <= colours.items() and found["water"]["label"] == '"name"'
    shown = set(layers["ranked"]["state"])
    assert {colours[state] for state in shown} <= set(found["drawn"])
    assert samples.NASTY in set(layers["water"]["name"])


@needs("QGIS")
def test_qgis_draws_sites_by_their_status(tmp_path):
    """A closed site must not look like an open one, nor one of which nothing is known."""
    words = ("open", "closed", "seasonal", "unknown")
    columns = [Column(name, "text", "", name) for name in ("name", "status")]
    rows = [
        {
            "name": word,
            "status": word,
            "longitude_deg": -128.0 + 0.01 * n,
            "latitude_deg": -47.0 + 0.01 * (n % 2),
        }
        for n, word in enumerate(words)
    ]
    assert write_sites(tmp_path / "sites.gpkg", rows, columns) == []
    found = by_qgis(tmp_path / "sites.gpkg", tmp_path, "sites")
    colours = found["sites"]["colours"]
    assert found["sites"]["attribute"] == "status" and found["sites"]["label"] == '"name"'
    assert set(colours) == set(words) and found["sites"]["count"] == 4
    assert colours["open"] not in [colours[word] for word in words[1:]]
    assert {colours["open"], colours["closed"], colours["unknown"]} <= set(found["drawn"])
