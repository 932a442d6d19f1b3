"""Obstacles, closures, sites, base and fires: what is unknown stays unknown, and nothing dangerous is lost."""

import json
import math
from dataclasses import replace
from datetime import time

import pytest
import shapely
from ingest_files import HEAD, POND, WATER, comb, frame_of, write_region
from pyproj import Geod

from geo.base.errors import BadInput
from geo.ingest.layers.drawn import MOST_POSITIONS
from geo.ingest.layers.fires import fire_from_geojson, fire_of_region, read_fire
from geo.ingest.load_region import check_region, load_region
from geo.records.region import Fire

OBSTACLES = (
    '[obstacles]\nfile = "o.gpkg"\nvertical_unit = "foot"\n[obstacles.columns]\nid = "ref"\nkind = "kind"\n'
    'height_above_ground = "agl"\ntop_elevation = "top"\n'
)
CLOSURES = (
    '[closures]\nfile = "c.gpkg"\n[closures.columns]\nid = "ref"\nkind = "kind"\nreason = "why"\nfrom = "start"\n'
    'to = "end"\n[closures.kinds]\n"no water" = "no filling"\n'
)
SITES = '[sites]\nfile = "t.gpkg"\n[sites.columns]\nid = "ref"\nstatus = "state"\n[sites.statuses]\n"shut" = "closed"\n'
FIRES = '[fires]\nfile = "f.geojson"\n[fires.columns]\nid = "ref"\nname = "name"\n'
BLAZE = shapely.box(-30.2, -40.2, -30.19, -40.19)


def test_obstacles(tmp_path, worker):
    wire = shapely.LineString([(-30.02, -40.0), (-30.0, -40.0)])
    shapes = [shapely.Point(-30.01, -40.02), wire, BLAZE]
    columns = {
        "ref": ["m", "w", "t"],
        "kind": ["mast", "wire", None],
        "agl": [100.0, None, None],
        "top": [None, 900.0, None],
    }
    write_region(tmp_path, HEAD + WATER + OBSTACLES)
    frame_of(shapes, **columns).to_file(tmp_path / "o.gpkg")
    region = load_region(tmp_path, worker=worker)
    found = {one.obstacle_id: one for one in region.obstacles}
    assert region.obstacles_listed and list(found) == ["m", "t", "w"]
    assert (found["m"].height_above_ground_m, found["m"].top_elevation_m) == (pytest.approx(30.48), None)
    assert (found["w"].height_above_ground_m, found["w"].top_elevation_m) == (None, pytest.approx(274.32))
    assert found["w"].shape.geom_type == "LineString"
    assert (found["t"].height_above_ground_m, found["t"].top_elevation_m, found["t"].kind) == (
        None,
        None,
        "unknown",
    )
    (caution,) = region.cautions
    assert caution.feature == "row 3 (t)" and "worst case" in caution.rule


def test_an_obstacle_that_cannot_be_read_blocks(tmp_path, worker):
    write_region(tmp_path, HEAD + WATER + OBSTACLES.replace('vertical_unit = "foot"\n', ""))
    shapes = [shapely.Point(-30.01, -40.02), None]
    frame_of(shapes, ref=["a", "b"], kind=["x", "x"], agl=[1.0, 1.0], top=[None, None]).to_file(
        tmp_path / "o.gpkg"
    )
    faults, summary = check_region(tmp_path, worker=worker)
    assert not summary["usable"]
    assert [fault.severity for fault in faults] == ["ask", "refuse"]
    assert "unit" in faults[0].rule and faults[1].feature == "row 2"


def test_no_obstacle_file_means_not_listed(tmp_path, worker):
    region = load_region(write_region(tmp_path), worker=worker)
    assert region.obstacles == () and not region.obstacles_listed
    assert (region.terrain, region.soundings, region.depth_grid, region.base) == (None, None, None, None)
    assert (region.fires, region.sites, region.closures) == ((), (), ())


def test_closures(tmp_path, worker):
    write_region(tmp_path, HEAD + WATER + CLOSURES)
    columns = {
        "ref": ["a", "b"], "kind": ["no water", "no flying"], "why": ["drinking water", None],
        "start": ["2025-12-01", None], "end": ["2026-02-28", "soon"],
    }  # fmt: skip
    frame_of([BLAZE, POND], **columns).to_file(tmp_path / "c.gpkg")
    region = load_region(tmp_path, worker=worker)
    a, b = region.closures
    assert (a.kind, a.reason, str(a.valid_from), str(a.valid_to)) == (
        "no filling",
        "drinking water",
        "2025-12-01",
        "2026-02-28",
    )
    assert (b.kind, b.valid_from, b.valid_to) == ("no flying", None, None)
    assert [fault.value for fault in region.cautions] == ["soon"]
    columns["kind"] = ["no water", "closed"]
    frame_of([BLAZE, POND], **columns).to_file(tmp_path / "c.gpkg")
    blocking = [fault for fault in check_region(tmp_path, worker=worker)[0] if fault.blocks]
    assert [(fault.severity, fault.feature, fault.value) for fault in blocking] == [
        ("ask", "row 2 (b)", "closed")
    ]


def test_sites_find_their_water(tmp_path, worker):
    write_region(tmp_path, HEAD + WATER + '[water.columns]\nid = "ref"\n' + SITES, ref=["lake", "pond"])
    # 0.0003 degrees north of the lake's shore is 33 m, 0.001 degrees is 111 m.
    shapes = [shapely.Point(-30.01, -40.005), shapely.Point(-30.01, -39.9997), shapely.Point(-30.01, -39.999)]
    frame_of(shapes, ref=["a", "b", "c"], state=["open", "shut", "perhaps"]).to_file(tmp_path / "t.gpkg")
    region = load_region(tmp_path, worker=worker)
    assert [(site.body_id, site.status) for site in region.sites] == [
        ("lake", "open"),
        ("lake", "closed"),
        (None, "unknown"),
    ]
    assert {fault.feature for fault in region.cautions} == {"row 3 (c)"}


def test_base_and_survey_settings(tmp_path, worker):
    toml = (
        HEAD
        + WATER
        + '[base]\nname = "Strip"\nlongitude = -30.5\nlatitude = -40.2\n[survey]\ncorridor_width_m = 80\n'
    )
    region = load_region(write_region(tmp_path, toml), worker=worker)
    frame = region.frame
    true_m = Geod(ellps="WGS84").inv(frame.centre_longitude_deg, frame.centre_latitude_deg, -30.5, -40.2)[2]
    # Distances from the centre of an azimuthal equidistant plane are those on the ellipsoid.
    assert shapely.distance(region.base.point, shapely.Point(0, 0)) == pytest.approx(true_m, rel=1e-9)
    assert region.survey_settings == {"corridor_width_m": 80}


def test_further_bases_and_trucks(tmp_path, worker):
    truck = '[[bases]]\nname = "Truck"\nlongitude = -30.4\nlatitude = -40.1\nfuel_left_l = 3000\n'
    hours = 'fuel_flow_l_min = 300\nopen_from_utc = "06:00"\nopen_until_utc = "20:30"\n'
    region = load_region(write_region(tmp_path, HEAD + WATER + truck + hours), worker=worker)
    (base,) = region.bases
    assert region.base is None and region.refuel_places == (base,)
    assert (base.name, base.fuel_left_l, base.fuel_flow_l_min) == ("Truck", 3000.0, 300.0)
    assert (base.open_from_utc, base.open_until_utc) == (time(6), time(20, 30))


@pytest.mark.parametrize(
    ("wrong", "field", "said"),
    [
        ("flow = 3\n", "bases.0.flow", "unknown"),
        ('open_from_utc = "25:00"\nopen_until_utc = "08:00"\n', "bases.0.open_from_utc", "pattern"),
        ('open_from_utc = "08:00"\n', "base", "one of its two hours"),
        ("fuel_left_l = -1\n", "bases.0.fuel_left_l", "greater than or equal to 0"),
    ],
)
def test_a_wrong_key_of_a_further_base_is_named(tmp_path, worker, wrong, field, said):
    truck = '[[bases]]\nname = "Truck"\nlongitude = -30.4\nlatitude = -40.1\n' + wrong
    faults, _ = check_region(write_region(tmp_path, HEAD + WATER + truck), worker=worker)
    assert any(one.field == field and said in one.rule and one.blocks for one in faults), [
        one.sentence() for one in faults
    ]


def test_a_layer_far_from_the_water_is_told(tmp_path, worker):
    write_region(tmp_path, HEAD + WATER + FIRES)
    swapped = shapely.transform(BLAZE, lambda xy: xy[:, ::-1])
    frame_of([swapped], ref=["f"], name=["x"]).to_file(tmp_path / "f.geojson")
    faults, summary = check_region(tmp_path, worker=worker)
    assert summary["usable"] and ["may be swapped" in fault.cure for fault in faults] == [True]


@pytest.fixture
def region(tmp_path, worker):
    folder = tmp_path / "region"
    folder.mkdir()
    write_region(folder, HEAD + WATER + FIRES)
    frame_of([BLAZE], ref=["F1"], name=["Ridge"]).to_file(folder / "f.geojson")
    return load_region(folder, worker=worker)


def test_fires_by_id_name_and_file_are_the_same(region, tmp_path, worker):
    frame_of([BLAZE]).to_file(tmp_path / "Ridge2.kml", driver="KML")
    known = read_fire("F1", region)
    assert read_fire("Ridge", region) == known
    other = read_fire(tmp_path / "Ridge2.kml", region, worker)
    assert shapely.hausdorff_distance(known.area, other.area) < 1e-3 and other.name == "Ridge2"
    sent = fire_from_geojson(json.loads(frame_of([BLAZE]).to_json()), region, worker)
    assert sent.fire_id == other.fire_id and shapely.hausdorff_distance(sent.area, known.area) < 1e-3


def test_a_fire_that_is_not_there(region, tmp_path, worker):
    with pytest.raises(BadInput, match="F1") as caught:
        read_fire("F2", region, worker)
    assert len(caught.value.faults) == 1
    (tmp_path / "bad.geojson").write_text("<html></html>")
    with pytest.raises(BadInput, match="web page"):
        read_fire(tmp_path / "bad.geojson", region, worker)


NO_NAMES = [
    ("a\0b", "NUL"), ("\0", "NUL"), ("\ud800", "half a character"), ("x\udfffy", "half a character"),
    ("x" * 4097, "4097 characters"), ("/tmp/" + "y" * 5000 + ".kml", "5009 characters"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "rule"), NO_NAMES, ids=range(len(NO_NAMES)))
@pytest.mark.parametrize("find", [read_fire, fire_of_region])
def test_texts_that_name_nothing(region, find, text, rule):
    with pytest.raises(BadInput) as caught:
        find(text, region)
    (fault,) = caught.value.faults
    assert rule in fault.rule and fault.severity == "refuse" and len(fault.value) <= 80
    json.dumps(vars(fault), ensure_ascii=False).encode()  # what is shown can be sent


@pytest.mark.parametrize("text", ["x" * 4096, "y" * 300, "a/" * 2000, "", ".", "\u202e\n", "F1/../F1"])
@pytest.mark.parametrize("find", [read_fire, fire_of_region])
def test_texts_that_could_be_names_and_are_none(region, find, text):
    with pytest.raises(BadInput, match=r"F1 \(Ridge\)"):
        find(text, region)


def test_a_fire_of_the_region_needs_no_file_system(region, tmp_path, monkeypatch):
    frame_of([BLAZE]).to_file(tmp_path / "Ridge2.kml", driver="KML")

    def touched(*arguments, **more):
        raise AssertionError("the file system was touched")

    with monkeypatch.context() as patch:
        for name in ("is_file", "exists", "stat", "resolve", "open"):
            patch.setattr(f"pathlib.Path.{name}", touched)
        patch.setattr("os.stat", touched)
        assert fire_of_region("F1", region) == fire_of_region("Ridge", region) == region.fires[0]
        with pytest.raises(BadInput, match=r"F1 \(Ridge\)"):
            fire_of_region(str(tmp_path / "Ridge2.kml"), region)
    with pytest.raises(BadInput, match="must be text"):
        fire_of_region(7, region)


def test_two_fires_of_one_name_are_asked_about(region):
    one, other = Fire("F1", "Ridge", BLAZE), Fire("Ridge", "Valley", BLAZE)
    third = Fire("F3", "Valley", BLAZE)
    twins = replace(region, fires=(one, other, third))
    assert fire_of_region("Ridge", twins) is other  # an id goes before a name
    for find in (read_fire, fire_of_region):
        with pytest.raises(BadInput, match="Ridge, F3"):
            find("Valley", twins)


def test_a_loop_of_links_is_no_file(region, tmp_path):
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    with pytest.raises(BadInput, match="F1"):
        read_fire(tmp_path / "loop", region)


def polygon(*positions):
    return {"type": "Polygon", "coordinates": [[list(one) for one in positions]]}


RING = [(-30.2, -40.2), (-30.1, -40.2), (-30.1, -40.1), (-30.2, -40.1), (-30.2, -40.2)]


@pytest.mark.parametrize(
    ("body", "rule"),
    [
        ({}, "a polygon or a point is needed"),
        ([], "a polygon or a point is needed"),
        ({"type": "LineString", "coordinates": [[1, 2], [3, 4]]}, "a polygon or a point is needed"),
        ({"type": "Polygon", "coordinates": []}, "no outline"),
        ({"type": "FeatureCollection", "features": []}, "no polygon"),
        (
            {"type": "FeatureCollection", "features": [{"type": "FeatureCollection", "features": []}]},
            "a polygon or a point is needed",
        ),
        (polygon(*RING[:3]), "fewer than 4"),
        (polygon(*RING[:2], (math.nan, 1.0), RING[0]), "not longitude, latitude"),
        (polygon(*RING[:2], (10**400, 1.0), RING[0]), "not longitude, latitude"),
        (polygon(*RING[:2], (500000.0, 5500000.0), RING[0]), "not longitude, latitude"),
        (polygon(*RING[:2], ("a", 1.0), RING[0]), "not two numbers"),
        (polygon(*RING[:2], (True, 1.0), RING[0]), "not two numbers"),
        (polygon(*RING[:2], (None, 1.0), RING[0]), "not two numbers"),
        (polygon(*[RING[k % 4] for k in range(MOST_POSITIONS + 1)]), "more than 20000"),
        (polygon(*[one[::-1] for one in RING]), "km from the middle"),
        (polygon((-30.2, -40.2), (-30.1, -40.2), (-30.2, -40.2), (-30.2, -40.2)), "repair"),
        (polygon(*shapely.get_coordinates(comb(600))), "too tangled"),
    ],
)
def test_requests_that_are_no_fire(region, worker, body, rule):
    with pytest.raises(BadInput, match=rule) as caught:
        fire_from_geojson(body, region, worker)
    assert len(caught.value.faults) == 1 and caught.value.faults[0].cure


def test_a_crossing_fire_is_repaired(region, worker):
    crossing = polygon((-30.2, -40.2), (-30.19, -40.19), (-30.19, -40.2), (-30.2, -40.19), (-30.2, -40.2))
    fire = fire_from_geojson(
        {"type": "Feature", "id": 7, "geometry": crossing, "properties": {"name": "X"}}, region, worker
    )
    # Two of the four triangles of a rectangle: half its area.
    rectangle = fire_from_geojson(polygon(*shapely.get_coordinates(BLAZE)), region, worker)
    assert fire.area.area == pytest.approx(rectangle.area.area / 2, rel=1e-4)
    assert (fire.fire_id, fire.name) == ("7", "X") and fire.area.is_valid
