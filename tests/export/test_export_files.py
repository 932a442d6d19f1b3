"""Every file format read back by somebody else's reader, and by a validator where one exists."""

import csv
import io
import json
import os
import struct
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import export_samples as samples
import fastkml
import geojson_validator
import gpxpy
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from lxml import etree

from geo.base.errors import BadArgument
from geo.export.formats.csv_table import guarded, write_csv
from geo.export.formats.folder import FILE_LAYERS, all_layers, export_ranking
from geo.export.formats.geojson import feature_collection, write_geojson
from geo.export.formats.gpx import write_gpx
from geo.export.formats.kml import kml_colour, write_kml
from geo.export.formats.map_style import layer_styles
from geo.export.formats.xml_text import xml_text
from geo.export.layers.ranked_layer import legs_frame, ranked_frame
from geo.records.columns import LAYERS
from geo.records.document import geometry_object
from geo.records.file_formats import FORMATS, USUAL_FORMATS, formats_of
from geo.records.geographic_shapes import geographic

KML = {"k": "http://www.opengis.net/kml/2.2"}
GPX = {"g": "http://www.topografix.com/GPX/1/1"}
TOLERANCE_DEG = 1e-6
DATA_FORMATS = tuple(name for name in FORMATS if name != "png")


@pytest.fixture(scope="module")
def folder(tmp_path_factory, region, survey, ranking):
    target = tmp_path_factory.mktemp("export")
    export_ranking(target, region, survey, ranking, formats=DATA_FORMATS)
    return target


@pytest.fixture(scope="module")
def layers(region, survey, ranking):
    return all_layers(region, survey, ranking)


def test_all_files_are_there_and_nothing_else(folder):
    each = [
        f"{layer}.{ending}" for layer in FILE_LAYERS for ending in ("geojson", "fgb", "parquet", "shp.zip")
    ]
    whole = [f"water_sources.{ending}" for ending in ("csv", "gpkg", "gpx", "kml", "kmz")]
    assert sorted(path.name for path in folder.iterdir()) == sorted(
        [*each, *whole, "columns.csv", "shapefile_limits.txt"]
    )


def test_only_the_formats_asked_for(tmp_path, region, survey, ranking):
    written = export_ranking(tmp_path, region, survey, ranking, formats=formats_of("GPX, kml"))
    assert [path.name for path in written] == ["water_sources.gpx", "water_sources.kml"]
    assert len(list(tmp_path.iterdir())) == 2
    assert formats_of(None) == USUAL_FORMATS and set(USUAL_FORMATS) < set(FORMATS)
    for text in ("", "gpkg,dwg"):
        with pytest.raises(BadArgument, match="choose from"):
            formats_of(text)


def test_geopackage_reads_back_the_same(folder, layers):
    file = folder / "water_sources.gpkg"
    assert sorted(name for name, _ in pyogrio.list_layers(file)) == sorted([*LAYERS, "layer_styles"])
    for name, layer in layers.items():
        back = pyogrio.read_dataframe(file, layer=name)
        assert len(back) == len(layer), name
        if name == "question":
            continue
        ours, theirs = layer.geometry.to_numpy(), back.geometry.to_numpy()
        both = [(a, b) for a, b in zip(ours, theirs, strict=True) if a is not None]
        assert all(shapely.hausdorff_distance(a, b) < TOLERANCE_DEG for a, b in both)
        for column in LAYERS[name]:
            a, b = layer[column.name], back[column.name]
            assert list(a.isna()) == list(b.isna()), (name, column.name)
            if column.kind == "text":
                assert a.dropna().tolist() == b.dropna().tolist()
            else:
                assert np.allclose(a.dropna().astype(float), b.dropna().astype(float), rtol=0, atol=0)


def test_geopackage_keeps_types_and_names(folder):
    info = pyogrio.read_info(folder / "water_sources.gpkg", layer="ranked")
    fields = dict(zip(info["fields"], info["dtypes"], strict=True))
    assert fields["litres"] == "float64" and fields["rank"].startswith("int") and fields["name"] == "object"
    names = pyogrio.read_dataframe(folder / "water_sources.gpkg", layer="ranked")["name"].tolist()
    assert samples.NASTY in names and samples.FORMULA in names


def test_geopackage_header(folder):
    """OGC 12-128r17 requirement 2: application_id "GPKG", user_version 10300 for version 1.3 (by the SQLite header)."""
    header = (folder / "water_sources.gpkg").read_bytes()[:100]
    assert header[:16] == b"SQLite format 3\0"
    assert struct.unpack(">I", header[68:72])[0] == 0x47504B47
    assert struct.unpack(">I", header[60:64])[0] == 10300


QUERIES = """
import json, sqlite3, sys
c = sqlite3.connect(sys.argv[1])
q = lambda s: c.execute(s).fetchall()
print(json.dumps({
  "check": q("pragma integrity_check"), "keys": q("pragma foreign_key_check"),
  "contents": q("select table_name, data_type, srs_id from gpkg_contents"),
  "srs": q("select srs_id, organization from gpkg_spatial_ref_sys"),
  "geometry": q("select table_name, geometry_type_name, srs_id from gpkg_geometry_columns"),
  "index": q("select table_name from gpkg_extensions where extension_name = 'gpkg_rtree_index'"),
  "styles": q("select f_table_name, f_geometry_column, useAsDefault, styleQML from layer_styles"),
  "views": q("select name from sqlite_master where type = 'view'"),
}))
"""


def test_geopackage_tables(folder, tmp_path):
    """Basic requirements, read by another process from a copy: this process's SQLite libraries must not meet."""
    copy = tmp_path / "copy.gpkg"
    copy.write_bytes((folder / "water_sources.gpkg").read_bytes())
    run = subprocess.run(
        [sys.executable, "-c", QUERIES, str(copy)], capture_output=True, text=True, check=True
    )
    found = json.loads(run.stdout)
    assert found["check"] == [["ok"]] and found["keys"] == [] and found["views"] == []
    kinds = {name: kind for name, kind, _ in found["contents"]}
    assert (
        kinds["ranked"] == "features"
        and kinds["layer_styles"] == "attributes"
        and kinds["question"] == "attributes"
    )
    # Requirement 11: the undefined systems -1 and 0 and WGS 84 must be listed.
    assert {row[0] for row in found["srs"]} >= {-1, 0, 4326}
    assert {name: (kind, srs) for name, kind, srs in found["geometry"]} == {
        "ranked": ("POINT", 4326),
        "hover_points": ("POINT", 4326),
        "hover_sectors": ("POINT", 4326),
        "runs": ("MULTILINESTRING", 4326),
        "legs": ("MULTILINESTRING", 4326),
        "survey_runs": ("MULTILINESTRING", 4326),
        "supply": ("MULTILINESTRING", 4326),
        "water": ("MULTIPOLYGON", 4326),
    }
    assert len(found["index"]) == 8
    assert sorted(row[0] for row in found["styles"]) == sorted(set(layer_styles()) & set(LAYERS))
    assert all(column == "geom" and default == 1 for _, column, default, _ in found["styles"])


def test_styles_are_xml_that_names_real_columns_and_states(layers):
    for name, style in layer_styles().items():
        if name not in layers:
            continue
        root = etree.fromstring(style)
        renderer = root.find("renderer-v2")
        symbols = {symbol.get("name") for symbol in renderer.iter("symbol")}
        assert {category.get("symbol") for category in renderer.iter("category")} <= symbols
        column = renderer.get("attr")
        if column is not None:
            values = {category.get("value") for category in renderer.iter("category")}
            assert set(layers[name][column].dropna()) <= values


@pytest.mark.parametrize("name", ["ranked", "runs", "legs", "water"])
def test_geojson_passes_the_validator(folder, layers, name):
    file = folder / f"{name}.geojson"
    document = json.loads(file.read_text(encoding="utf-8"))
    assert "crs" not in document
    assert geojson_validator.validate_structure(document, check_crs=True) == {}
    result = geojson_validator.validate_geometries(document)
    # "holes" only says that a lake has an island.
    assert result["invalid"] == {} and set(result["problematic"]) <= {"holes"}
    assert len(document["features"]) == len(layers[name])
    for feature, shape in zip(document["features"], layers[name].geometry, strict=True):
        assert list(feature["properties"]) == [column.name for column in LAYERS[name]]
        back = shapely.from_geojson(json.dumps(feature["geometry"]))
        assert shapely.hausdorff_distance(back, shape) < TOLERANCE_DEG


def test_geojson_rings_follow_the_right_hand_rule(folder):
    """RFC 7946 section 3.1.6: outer rings counter-clockwise, holes clockwise."""
    features = json.loads((folder / "water.geojson").read_text(encoding="utf-8"))["features"]
    holes = 0
    for feature in features:
        shape = shapely.from_geojson(json.dumps(feature["geometry"]))
        for polygon in shapely.get_parts(shape):
            assert polygon.exterior.is_ccw
            assert not any(ring.is_ccw for ring in polygon.interiors)
            holes += len(polygon.interiors)
    assert holes == 1


def test_geojson_numbers_are_plain(folder):
    text = (folder / "ranked.geojson").read_text(encoding="utf-8")
    assert "NaN" not in text and "Infinity" not in text
    first = json.loads(text)["features"][0]
    assert first["properties"]["rank"] == 1 and isinstance(first["properties"]["rank"], int)
    last = json.loads(text)["features"][-1]
    assert last["properties"]["rank"] is None and last["properties"]["litres"] is None
    assert all(len(repr(c).split(".")[1]) <= 6 for c in first["geometry"]["coordinates"])


def test_geojson_over_the_antimeridian(tmp_path):
    """RFC 7946 section 3.1.9: no piece may span the meridian.

    The validator's own check of this takes +180 for -180 and calls the example of RFC 7946 itself wrong; not used.
    """
    region = samples.region(samples.frame_at(179.97, -44.35))
    ranking = samples.ranking(region)
    for name, layer in all_layers(region, samples.survey(region), ranking).items():
        if name in ("water", "legs", "ranked"):
            document = json.loads(
                write_geojson(tmp_path / f"{name}.geojson", layer).read_text(encoding="utf-8")
            )
            assert geojson_validator.validate_geometries(document)["invalid"] == {}
            for feature in document["features"]:
                for part in shapely.get_parts(shapely.from_geojson(json.dumps(feature["geometry"]))):
                    assert part.bounds[2] - part.bounds[0] < 1
    assert any(shape.geom_type == "MultiLineString" for shape in legs_frame(ranking, region.frame).geometry)


def test_a_neck_that_rounding_would_close_stays_valid():
    neck = shapely.Polygon([(0, 0), (1, 0), (1, 1), (0.5, 2.1e-7), (0, 1)])
    back = shapely.from_geojson(json.dumps(geometry_object(neck)))
    assert back.is_valid and back.area == pytest.approx(neck.area, rel=1e-5)
    assert geometry_object(None) is None


def test_kml_is_valid_against_the_ogc_schema(folder):
    """OGC KML 2.2 schema (ogckml22.xsd) as shipped by the fastkml package."""
    schema = etree.XMLSchema(etree.parse(str(Path(fastkml.__file__).parent / "schema" / "ogckml22.xsd")))
    schema.assertValid(etree.parse(str(folder / "water_sources.kml")))


def test_kml_reads_back_the_same(folder, layers):
    root = etree.parse(str(folder / "water_sources.kml")).getroot()
    folders = {f.findtext("k:name", namespaces=KML): f for f in root.iterfind(".//k:Folder", KML)}
    assert {name: len(f.findall("k:Placemark", KML)) for name, f in folders.items()} == {
        "Ranked sources": 5,
        "Runs": 2,
        "Legs": 10,
        "Left out": 4,
    }
    points = folders["Ranked sources"].findall("k:Placemark/k:Point/k:coordinates", KML)
    for element, shape in zip(points, layers["ranked"].geometry, strict=False):
        longitude, latitude = map(float, element.text.split(","))
        assert (longitude, latitude) == pytest.approx((shape.x, shape.y), abs=TOLERANCE_DEG)
    lines = folders["Legs"].findall("k:Placemark/k:LineString/k:coordinates", KML)
    assert len(lines) == 10
    styles = {f"#{style.get('id')}" for style in root.iterfind(".//k:Style", KML)}
    assert {url.text for url in root.iterfind(".//k:styleUrl", KML)} <= styles


def test_kml_by_fastkml(folder):
    """A third-party reader finds the same folders and names."""
    document = fastkml.KML.parse(folder / "water_sources.kml").features[0]
    ranked = document.features[0]
    assert ranked.name == "Ranked sources"
    assert ranked.features[4].name == f"5 {samples.NASTY} (ram intake)"


def test_kml_shows_names_and_never_runs_them(tmp_path, region, ranking):
    """Balloons render HTML: after the XML layer is undone, text of the user's must still be escaped."""
    markup = "<script>alert(1)</script> & <b>"
    first = replace(ranking.sources[0], reason=markup, cautions=(markup,))
    left_out = replace(ranking.excluded[0], reason=markup)
    hostile = replace(ranking, fire_name=markup, sources=(first,), excluded=(left_out,))
    root = etree.parse(str(write_kml(tmp_path / "a.kml", hostile, region.frame))).getroot()
    texts = [element.text for element in root.iterfind(".//k:description", KML)]
    assert sum("&lt;script&gt;" in text for text in texts) == 3
    assert all(text.replace("<br/>", "").count("<") == 0 for text in texts)
    # A name is plain text in KML: escaped once, as XML asks.
    assert root.findtext(".//k:name", namespaces=KML) == f"Water sources for {markup}"
    assert not root.findall(".//k:href", KML)


def test_kml_colours_are_alpha_blue_green_red():
    """OGC 07-147r2 section 16.7.1 (colorType): aabbggrr."""
    assert kml_colour("#0072B2") == "ffb27200"


def test_control_characters_do_not_break_xml(tmp_path, region, ranking):
    assert xml_text("a\x00b\x1fc\ud800\tñ") == "a\ufffdb\ufffdc\ufffd\tñ"
    nasty = replace(ranking, fire_name="Fire\x0b\x00")
    assert etree.parse(str(write_kml(tmp_path / "a.kml", nasty, region.frame))).getroot() is not None


def test_gpx_reads_back_the_same(folder, layers, ranking, region):
    document = gpxpy.parse((folder / "water_sources.gpx").read_text(encoding="utf-8"))
    assert document.version == "1.1"
    assert len(document.waypoints) == 5 and len(document.routes) == 7
    for waypoint, row in zip(document.waypoints, layers["ranked"].itertuples(), strict=False):
        assert waypoint.name == f"{row.rank:02d} {row.name}"
        assert (waypoint.longitude, waypoint.latitude) == pytest.approx(
            (row.geometry.x, row.geometry.y), abs=TOLERANCE_DEG
        )
        assert waypoint.elevation == 150.0
    loaded = document.routes[0]
    start = geographic(ranking.sources[0].fill_point, region.frame)
    assert (loaded.points[0].longitude, loaded.points[0].latitude) == pytest.approx(
        (start.x, start.y), abs=1e-6
    )


def test_gpx_keeps_the_schemas_order(folder):
    """GPX 1.1 schema: root wpt*, rte*, trk*; a point's children in the order of wptType."""
    root = etree.parse(str(folder / "water_sources.gpx")).getroot()
    assert root.get("version") == "1.1" and root.get("creator")
    names = [etree.QName(child).localname for child in root]
    order = ["metadata", "wpt", "rte", "trk", "extensions"]
    assert names == sorted(names, key=order.index)
    inside = ["ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type"]
    for point in root.iterfind("g:wpt", GPX):
        children = [etree.QName(child).localname for child in point]
        assert children == sorted(children, key=inside.index)
        assert -90 <= float(point.get("lat")) <= 90 and -180 <= float(point.get("lon")) < 180


def test_gpx_on_the_antimeridian(tmp_path, ranking):
    """GPX 1.1 schema, longitudeType: 180 itself is not allowed, -180 is. The centre of this frame is the meridian."""
    frame = samples.frame_at(180.0, -44.0)
    source = replace(ranking.sources[0], fill_point=shapely.Point(0, 0), run_line=None)
    file = write_gpx(tmp_path / "a.gpx", replace(ranking, sources=(source,)), frame)
    assert gpxpy.parse(file.read_text(encoding="utf-8")).waypoints[0].longitude == -180.0


def test_gpx_does_not_invent_a_height(tmp_path, region, ranking):
    source = ranking.sources[0]
    bare = replace(source, conditions=replace(source.conditions, elevation_m=None))
    file = write_gpx(tmp_path / "a.gpx", replace(ranking, sources=(bare,)), region.frame)
    assert gpxpy.parse(file.read_text(encoding="utf-8")).waypoints[0].elevation is None


def test_csv_reads_back_the_same(folder, layers):
    back = pd.read_csv(folder / "water_sources.csv")
    ranked = layers["ranked"]
    assert list(back.columns) == [column.name for column in LAYERS["ranked"]]
    assert len(back) == 9
    assert np.allclose(back["longitude_deg"], ranked["longitude_deg"], atol=TOLERANCE_DEG, rtol=0)
    assert np.allclose(back["round_trip_s"][:5], ranked["round_trip_s"][:5], atol=1e-6, rtol=0)
    assert back["litres"].isna().tolist() == ranked["litres"].isna().tolist()
    assert (folder / "water_sources.csv").read_bytes().startswith(b"\xef\xbb\xbf")


def test_csv_text_is_never_a_formula(folder):
    """OWASP, "CSV Injection": cells must not begin with = + - @ tab or carriage return."""
    rows = list(csv.reader(io.StringIO((folder / "water_sources.csv").read_text(encoding="utf-8-sig"))))
    names = [row[2] for row in rows[1:]]
    assert f"'{samples.FORMULA}" in names and samples.NASTY in names
    for row in rows:
        for cell in row:
            if cell.startswith(("=", "+", "@", "\t", "\r")):
                raise AssertionError(cell)
            if cell.startswith("-"):
                float(cell)
    risky = ["=1+1", "+1", "-1+1", "@SUM(A1)", "\tx", "\rx", "  =1", "＝1"]
    assert [guarded(text) for text in risky] == [f"'{text}" for text in risky]
    assert guarded(-3.5) == -3.5 and guarded(None) == "" and guarded("Lake - north") == "Lake - north"


def test_csv_of_a_name_with_commas_quotes_and_lines(tmp_path):
    name = 'a, "b"\nc; d'
    write_csv(tmp_path / "a.csv", pd.DataFrame({"name": [name]}))
    text = (tmp_path / "a.csv").read_bytes().decode("utf-8-sig")
    assert list(csv.reader(io.StringIO(text, newline="")))[1] == [name]


def test_column_list_names_every_column(folder):
    rows = list(csv.DictReader(io.StringIO((folder / "columns.csv").read_text(encoding="utf-8-sig"))))
    assert [(r["layer"], r["column"], r["unit"]) for r in rows] == [
        (layer, c.name, c.unit) for layer, columns in LAYERS.items() for c in columns
    ]


def test_same_ranking_same_bytes(tmp_path, region, survey, ranking, folder):
    """All but the GeoPackage, whose standard asks for the time of the last change, and Shapefiles, for its day."""
    export_ranking(tmp_path, region, survey, ranking, formats=DATA_FORMATS)
    for path in folder.iterdir():
        if path.suffix not in (".gpkg", ".zip"):
            assert path.read_bytes() == (tmp_path / path.name).read_bytes(), path.name


def test_rows_without_a_place_are_written(tmp_path, region, ranking):
    frame = ranked_frame(ranking, region.frame)
    features = feature_collection(frame)["features"]
    assert [feature["geometry"] is None for feature in features] == [False] * 6 + [True] * 3
    document = json.loads(write_geojson(tmp_path / "a.geojson", frame).read_text(encoding="utf-8"))
    assert geojson_validator.validate_structure(document, check_crs=True) == {}
    assert os.listdir(tmp_path) == ["a.geojson"]
