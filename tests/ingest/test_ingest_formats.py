"""The same polygons give the same bodies whatever the format; odd but honest files are accepted, and that is said."""

import json
import warnings
import zipfile

import numpy as np
import pytest
import shapely
from ingest_files import HEAD, LAKE, POND, WATER, frame_of, snapshot, write_region

from geo.ingest.load_region import check_region, load_region
from geo.ingest.settings import VectorFile

ISLAND_LAKE = shapely.Polygon(
    [(-30.1, -40.1), (-30.06, -40.11), (-30.05, -40.08), (-30.09, -40.07)],
    [[(-30.08, -40.09), (-30.075, -40.09), (-30.077, -40.085)]],
)
SHAPES = [LAKE, POND, ISLAND_LAKE]
DRIVERS = {
    "w.gpkg": "GPKG",
    "w.geojson": "GeoJSON",
    "w.shp": "ESRI Shapefile",
    "w.fgb": "FlatGeobuf",
    "w.kml": "KML",
}


def zipped_shapefile(folder, target):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        frame_of(SHAPES, ref=["a", "b", "c"]).to_file(folder / "part.shp")
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("__MACOSX/Deep/._PART.SHP", b"junk")
        for one in sorted(folder.glob("part.*")):
            archive.write(one, f"Deep/Er/{one.name.upper()}")
            one.unlink()


def bodies_of(folder, name, columns, worker):
    folder.mkdir()
    if name.endswith(".zip"):
        zipped_shapefile(folder, folder / name)
    else:
        frame_of(SHAPES, ref=["a", "b", "c"]).to_file(folder / name, driver=DRIVERS[name])
    (folder / "region.toml").write_text(HEAD + f'[water]\nfile = "{name}"\n' + columns)
    return load_region(folder, worker=worker).bodies


@pytest.mark.parametrize("columns", ['[water.columns]\nid = "ref"\n', ""])
def test_six_formats_give_the_same_bodies_to_a_millimetre(tmp_path, columns, worker):
    first = bodies_of(tmp_path / "first", "w.gpkg", columns, worker)
    assert len(first) == 3
    for name in ("w.geojson", "w.shp", "w.zip", "w.fgb", "w.kml"):
        other = bodies_of(tmp_path / name, name, columns, worker)
        assert [body.body_id for body in other] == [body.body_id for body in first]
        for one, two in zip(first, other, strict=True):
            assert shapely.hausdorff_distance(one.polygon, two.polygon) < 1e-3


def test_ids_do_not_depend_on_the_order_of_rows(tmp_path, worker):
    ids = []
    for name, order in (("one", [0, 1, 2]), ("two", [2, 0, 1])):
        (tmp_path / name).mkdir()
        region = load_region(write_region(tmp_path / name, shapes=[SHAPES[k] for k in order]), worker=worker)
        ids.append({body.body_id: round(body.polygon.area, 3) for body in region.bodies})
    assert ids[0] == ids[1] and len(ids[0]) == 3


def test_each_part_is_a_body_of_its_own(tmp_path, worker):
    toml = HEAD + WATER + '[water.columns]\nid = "ref"\nvolume_m3 = "vol"\n'
    both = shapely.MultiPolygon([POND, LAKE])
    write_region(tmp_path, toml, [both, ISLAND_LAKE], ref=["x", "y"], vol=[1e6, 2e6])
    region = load_region(tmp_path, worker=worker)
    sizes = {body.body_id: body.polygon.area for body in region.bodies}
    assert list(sizes) == ["x/1", "x/2", "y"]
    assert sizes["x/1"] > sizes["x/2"]
    assert [body.volume_m3 for body in region.bodies] == [None, None, 2e6]


def test_the_fingerprint_follows_the_bytes(tmp_path, worker):
    write_region(tmp_path)
    before = load_region(tmp_path, worker=worker).fingerprint
    files = snapshot(tmp_path)
    assert load_region(tmp_path, worker=worker).fingerprint == before
    assert snapshot(tmp_path) == files
    (tmp_path / "region.toml").write_text(HEAD + WATER + "# one more word\n")
    assert load_region(tmp_path, worker=worker).fingerprint != before


def test_rows_in_are_stored_repaired_or_quarantined(tmp_path, worker):
    line = shapely.LineString([(-30.2, -40.2), (-30.1, -40.2)])
    bow_tie = shapely.Polygon([(-30.3, -40.3), (-30.2, -40.2), (-30.2, -40.3), (-30.3, -40.2)])
    spike = [(-30.3, -40.3), (-30.35, -40.35), (-30.3, -40.3)]
    doubled = shapely.Polygon([(-30.4, -40.4), (-30.3, -40.4), *spike, (-30.4, -40.3)])
    infinite = shapely.Polygon([(0.0, 0.0), (1.0, np.inf), (1.0, 1.0)])
    shapes = [LAKE, None, line, bow_tie, doubled, infinite, shapely.Polygon(), POND, POND]
    faults, summary = check_region(write_region(tmp_path, shapes=shapes), worker=worker)
    assert summary["usable"] and summary["bodies"] == 3
    assert summary["files"]["water.gpkg (water)"] == {"rows": 9, "stored": 2, "repaired": 1, "quarantined": 6}
    said = {fault.feature: fault for fault in faults}
    assert "missing or empty" in said["row 2"].rule
    assert "polygon is needed, not LineString" in said["row 3"].rule
    assert "crosses itself" in said["row 4"].rule and said["row 4"].severity == "quarantine"
    assert "was repaired" in said["row 5"].rule and said["row 5"].severity == "caution"
    assert "infinite" in said["row 6"].rule
    assert "rows 8 and 9" in said["row 9"].rule


def read(reader, name, columns=(), **section):
    layer = reader.read_layer(VectorFile(file=name, **section), {name: name for name in columns}, "polygon")
    return layer, reader.report.all_faults()


def test_several_layers_are_asked_for(tmp_path, reader):
    for name in ("lakes", "old"):
        frame_of([LAKE]).to_file(tmp_path / "w.gpkg", layer=name)
    layer, (fault,) = read(reader, "w.gpkg")
    assert layer is None and fault.severity == "ask"
    assert "lakes" in fault.cure and "old" in fault.cure
    assert read(reader, "w.gpkg", layer="old")[0].report.layer == "old"


def test_a_missing_column_names_those_there(tmp_path, reader):
    frame_of([LAKE], DEPTH_FT=[3.0]).to_file(tmp_path / "w.gpkg")
    layer, (fault,) = read(reader, "w.gpkg", ["DEPTH"])
    assert layer is None and "DEPTH is not in the layer" in fault.rule and "DEPTH_FT" in fault.cure


@pytest.mark.filterwarnings("ignore:'crs' was not provided")
def test_no_coordinate_system_is_asked_for(tmp_path, reader):
    frame_of([LAKE], crs=None).to_file(tmp_path / "w.gpkg")
    layer, (fault,) = read(reader, "w.gpkg")
    assert layer is None and fault.severity == "ask" and fault.field == "crs"
    assert read(reader, "w.gpkg", crs="EPSG:4326")[0] is not None


@pytest.mark.parametrize(
    "text", ["+proj=longlat +nadgrids=/etc/passwd", "http://127.0.0.1:9/x", "EPSG:999999", "WGS 84"]
)
@pytest.mark.filterwarnings("ignore:'crs' was not provided")
def test_other_ways_to_name_a_coordinate_system_are_refused(tmp_path, reader, text):
    frame_of([LAKE], crs=None).to_file(tmp_path / "w.gpkg")
    layer, (fault,) = read(reader, "w.gpkg", crs=text)
    assert layer is None and fault.severity == "refuse" and "EPSG:n" in fault.cure


def test_a_file_under_another_name_is_read_as_what_it_is(tmp_path, reader):
    frame_of([LAKE]).to_file(tmp_path / "w.gpkg")
    (tmp_path / "w.gpkg").rename(tmp_path / "w.geojson")
    layer, (fault,) = read(reader, "w.geojson")
    assert layer is not None and fault.severity == "caution" and "GeoPackage" in fault.rule


def test_shapefile_without_index_or_encoding(tmp_path, reader):
    frame_of([LAKE, POND], navn=["Blåvann", "Ørn"]).to_file(tmp_path / "w.shp", encoding="ISO-8859-1")
    (tmp_path / "w.cpg").unlink()
    (tmp_path / "w.shx").unlink()
    layer, (fault,) = read(reader, "w.shp", ["navn"])
    assert layer is None and fault.severity == "ask" and fault.field == "encoding"
    layer, faults = read(reader, "w.shp", ["navn"], encoding="ISO-8859-1")
    assert layer.cells["navn"] == ["Blåvann", "Ørn"]
    assert "no .shx" in faults[-1].rule
    assert not (tmp_path / "w.shx").exists()


@pytest.mark.parametrize(
    ("member", "rule"),
    [("../w.shp", "outside it"), ("/w.shp", "outside it"), ("bomb.shp", "unpacks to")],
)
def test_hostile_archives(tmp_path, reader, member, rule):
    with zipfile.ZipFile(tmp_path / "w.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(member, b"\0" * (40_000_000 if "bomb" in member else 10))
    layer, (fault,) = read(reader, "w.zip")
    assert layer is None and rule in fault.rule


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ('{"type":"FeatureCollection","features":[', "breaks off"),
        ('{"type":"FeatureCollection","features":[],}', "line 1 column 43"),
        ('{"type":"Feature"}\n{"type":"Feature"}', "line 2 column 1"),
        ('{"type":"Polygon","type":"Point","coordinates":[]}', "twice"),
        ('{"type":"gdal_streamed_alg","command_line":"x"}', "not GeoJSON"),
        ('{"type":"FeatureCollection","features":[]}', "the layer has no rows"),
    ],
)
def test_broken_geojson(tmp_path, reader, text, rule):
    (tmp_path / "w.geojson").write_text(text)
    layer, (fault,) = read(reader, "w.geojson")
    assert layer is None and fault.blocks and rule in fault.rule


def test_old_crs_member_is_used_and_said(tmp_path, reader):
    collection = json.loads(frame_of([LAKE]).to_crs("EPSG:32726").to_json())
    collection["crs"] = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32726"}}
    (tmp_path / "w.geojson").write_text(json.dumps(collection))
    layer, (fault,) = read(reader, "w.geojson")
    assert fault.severity == "caution" and fault.field == "crs"
    assert shapely.hausdorff_distance(layer.degrees[0], LAKE) < 1e-6


def test_unknown_keys_are_named_with_the_allowed_ones(tmp_path, worker):
    write_region(tmp_path, HEAD.replace('vertical_datum = "Test datum"\n', "") + WATER + "dpeth = 3\n")
    faults, summary = check_region(tmp_path, worker=worker)
    said = {fault.field: fault for fault in faults}
    assert not summary["usable"] and set(said) == {"vertical_datum", "water.dpeth"}
    assert "vertical_unit" in said["water.dpeth"].cure
    assert said["vertical_datum"].severity == "ask"


def test_files_outside_the_folder_are_refused(tmp_path, worker):
    inside = tmp_path / "inside"
    inside.mkdir()
    write_region(inside, HEAD + WATER.replace("water.gpkg", "../water.gpkg"))
    (inside / "water.gpkg").rename(tmp_path / "water.gpkg")
    faults, _ = check_region(inside, worker=worker)
    assert [fault.rule for fault in faults] == ["the file lies outside the region's folder"]


@pytest.mark.parametrize("name", ["w.gpkg", "w.geojson", "w.shp", "w.fgb"])
def test_a_layer_without_rows_says_just_that(tmp_path, reader, name):
    frame_of([LAKE], ref=["a"]).iloc[:0].to_file(
        tmp_path / name, driver=DRIVERS[name], geometry_type="Polygon"
    )
    layer, (fault,) = read(reader, name, ["depth"])
    assert layer is None and fault.rule == "the layer has no rows" and "there are none" not in fault.cure


def test_a_layer_without_columns_does_not_offer_any(tmp_path, reader):
    (tmp_path / "w.geojson").write_text(json.dumps(shapely.geometry.mapping(LAKE)))
    layer, (fault,) = read(reader, "w.geojson", ["depth"])
    assert layer is None and "depth is not in the layer" in fault.rule and "none at all" in fault.cure


@pytest.mark.parametrize("packed", [False, True])
def test_a_shapefile_without_its_table_says_so(tmp_path, reader, packed):
    frame_of([LAKE], ref=["a"]).to_file(tmp_path / "w.shp")
    (tmp_path / "w.dbf").unlink()
    if packed:
        with zipfile.ZipFile(tmp_path / "w.zip", "w") as archive:
            for one in [tmp_path / f"w.{ending}" for ending in ("shp", "shx", "prj")]:
                archive.write(one, one.name)
    name = "w.zip" if packed else "w.shp"
    layer, (fault,) = read(reader, name, ["ref"])
    assert layer is None and fault.severity == "refuse" and ".dbf of the Shapefile is missing" in fault.rule
    assert "ref" in fault.rule and ".dbf" in fault.cure
    layer, faults = read(reader, name)  # shapes alone can be read where no column is mapped
    assert layer is not None and "no .dbf" in faults[-1].rule


ENTITIES = '<?xml version="1.0"?>\n<!DOCTYPE kml [{}<!ENTITY a "&#65;">]>\n'
PLACE = (
    '<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>&a;</name><Polygon><outerBoundaryIs>'
    "<LinearRing><coordinates>-30.02,-40.01 -30,-40.01 -30,-40 -30.02,-40.01</coordinates></LinearRing>"
    "</outerBoundaryIs></Polygon></Placemark></Document></kml>"
)


@pytest.mark.parametrize(
    "text",
    [
        ENTITIES.format("") + PLACE,
        ENTITIES.format(" " * 5000) + PLACE,
        ENTITIES.format(" " * (1 << 20)) + PLACE,
        '<!DOCTYPE kml SYSTEM "http://127.0.0.1:9/x.dtd">' + PLACE.replace("&a;", "a"),
        "<!-- <kml> -->" + " " * ((1 << 20) - 20) + ENTITIES.format("").split("\n", 1)[1] + PLACE,
    ],
)
def test_entities_are_not_allowed(tmp_path, reader, text):
    (tmp_path / "w.kml").write_text(text)
    layer, (fault,) = read(reader, "w.kml")
    assert layer is None and fault.severity == "refuse" and fault.rule.startswith("entities are not allowed")
    (tmp_path / "w.kml").write_text(PLACE.replace("&a;", "a"))
    assert read(reader, "w.kml")[0] is not None
