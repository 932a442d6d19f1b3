"""Depth contours and depth areas from files: signs, units, grades, shores, and every fault by file and row."""

import json

import numpy as np
import pytest
import shapely
from ingest_files import HEAD, LAKE, POND, WATER, frame_of, write_region
from shapely import LineString, box

from geo.base.units import METRE_PER_FATHOM, METRE_PER_FOOT
from geo.ingest.load_region import check_region, load_region

WEST, SOUTH = -30.02, -40.01  # the lake: 0.02 by 0.01 degrees
CONTOURS = (
    HEAD
    + WATER
    + '[water.columns]\nid = "ref"\n[depth_contours]\nfile = "c.gpkg"\nunit = "metre"\npositive = "down"\n'
    'survey_order = "1a"\n[depth_contours.columns]\ndepth = "d"\n'
)
AREAS = (
    HEAD
    + WATER
    + '[water.columns]\nid = "ref"\n[depth_areas]\nfile = "a.gpkg"\nunit = "metre"\npositive = "down"\n'
    '[depth_areas.columns]\nleast_depth = "from_m"\ngreatest_depth = "to_m"\nzone = "q"\ndate = "day"\n'
)


def line(south=0.002, north=None, west=0.002, east=0.018):
    """A line inside the lake [degrees from its south-west corner]."""
    return LineString(
        [(WEST + west, SOUTH + south), (WEST + east, SOUTH + (south if north is None else north))]
    )


def read_lines(folder, worker, shapes, depths, toml=CONTOURS, **more):
    write_region(folder, toml, ref=["lake", "pond"])
    frame_of(shapes, d=depths, **more).to_file(folder / "c.gpkg")
    faults, summary = check_region(folder, worker=worker)
    region = load_region(folder, worker=worker) if summary["usable"] else None
    return (None if region is None or region.chart is None else region.chart.contours), faults, summary


def read_areas(folder, worker, shapes, least, greatest, zones=None, days=None, toml=AREAS):
    write_region(folder, toml, ref=["lake", "pond"])
    many = len(shapes)
    frame_of(
        shapes, from_m=least, to_m=greatest, q=zones or ["B"] * many, day=days or ["2020-05-06"] * many
    ).to_file(folder / "a.gpkg")
    faults, summary = check_region(folder, worker=worker)
    region = load_region(folder, worker=worker) if summary["usable"] else None
    return (None if region is None or region.chart is None else region.chart.areas), faults, summary


def test_contours_are_read_with_grade_day_and_origin(tmp_path, worker):
    toml = CONTOURS + 'date = "day"\nuncertainty = "u"\n'
    found, faults, summary = read_lines(
        tmp_path, worker, [line(), line(0.004)], [5.0, 10.0], toml, day=["2021-03-04", None], u=[None, 0.98]
    )
    assert faults == ()
    assert [(one.body_id, one.depth_m, one.origin) for one in found] == [
        ("lake", 5.0, "c.gpkg row 1"),
        ("lake", 10.0, "c.gpkg row 2"),
    ]
    # IHO S-44 Edition 6, Table 1, order 1a at 5 m: 0.504 m at 95 %, 1.96 sigma; a stated 0.98 m is 0.5 m.
    assert [one.sd_m for one in found] == pytest.approx([0.504 / 1.96, 0.5], abs=3e-4)
    assert [str(one.surveyed_on) for one in found] == ["2021-03-04", "None"]
    assert summary["files"]["c.gpkg (c)"] == {"rows": 2, "stored": 2, "repaired": 0, "quarantined": 0}
    # 0.016 degrees of longitude at 40.008 S on WGS 84 are 1,366 m (pyproj.Geod).
    assert found[0].line.length == pytest.approx(1366.0, abs=1.0)


@pytest.mark.parametrize(
    ("unit", "metres"), [("metre", 1.0), ("foot", METRE_PER_FOOT), ("fathom", METRE_PER_FATHOM)]
)
def test_units_and_signs(tmp_path, worker, unit, metres):
    toml = CONTOURS.replace('"metre"', f'"{unit}"').replace('"down"', '"up"')
    found, _, _ = read_lines(tmp_path, worker, [line()], [-3.0], toml)
    assert found[0].depth_m == pytest.approx(3.0 * metres)
    toml = AREAS.replace('"metre"', f'"{unit}"').replace('"down"', '"up"')
    found, _, _ = read_areas(tmp_path, worker, [LAKE], [-3.0], [-6.0], toml=toml)
    assert (found[0].least_m, found[0].greatest_m) == pytest.approx((3.0 * metres, 6.0 * metres))


@pytest.mark.parametrize(
    ("toml", "missing", "field"),
    [
        (CONTOURS, 'unit = "metre"\n', "depth_contours.unit"),
        (CONTOURS, 'positive = "down"\n', "depth_contours.positive"),
        (CONTOURS, 'survey_order = "1a"\n', "depth_contours.survey_order"),
        (CONTOURS, 'depth = "d"\n', "depth_contours.columns.depth"),
        (AREAS, 'unit = "metre"\n', "depth_areas.unit"),
        (AREAS, 'positive = "down"\n', "depth_areas.positive"),
        (AREAS, 'zone = "q"\n', "depth_areas.catzoc"),
        (AREAS, 'least_depth = "from_m"\n', "depth_areas.columns.least_depth"),
    ],
)
def test_what_charts_must_declare(tmp_path, worker, toml, missing, field):
    asked = toml.replace(missing, "")
    if toml is CONTOURS:
        found, (fault,), _ = read_lines(tmp_path, worker, [line()], [5.0], asked)
    else:
        found, (fault,), _ = read_areas(tmp_path, worker, [LAKE], [5.0], [10.0], toml=asked)
    assert found is None and (fault.severity, fault.field) == ("ask", field) and fault.cure


def test_wrong_signs_of_contours(tmp_path, worker):
    lines = [line(0.001 + 0.0002 * k) for k in range(30)]
    found, (fault,), _ = read_lines(tmp_path, worker, lines, [-2.0] * 15 + [2.0] * 15)
    assert found is None and fault.severity == "ask" and "15 of 30" in fault.rule
    found, (fault,), _ = read_lines(tmp_path, worker, lines, [-2.0] + [2.0] * 29)
    assert len(found) == 29 and (fault.severity, fault.feature, fault.value) == (
        "quarantine",
        "row 1",
        "-2.00 m",
    )
    found, (fault,), _ = read_lines(tmp_path, worker, lines[:1], [-2.0])
    assert found is None and fault.severity == "ask"


def test_a_contour_over_the_shore_is_cut_or_set_aside(tmp_path, worker):
    # 0.0001 degrees of longitude at 40 S are 8.5 m, 0.002 degrees 171 m (pyproj.Geod).
    near, far = line(0.003, west=-0.0001), line(0.005, west=-0.002)
    found, faults, _ = read_lines(tmp_path, worker, [near, far, line(0.007)], [4.0, 8.0, 8.0])
    assert [one.origin for one in found] == ["c.gpkg row 1", "c.gpkg row 3"]
    said = {fault.feature: fault for fault in faults}
    assert said["row 1"].severity == "caution" and "by up to 8.5 m" in said["row 1"].rule
    assert said["row 2"].severity == "quarantine" and "crosses the shore of lake" in said["row 2"].rule
    assert "171 m outside" in said["row 2"].rule and said["row 2"].value == "8.00 m"
    assert shapely.get_coordinates(found[0].line)[:, 0].min() > -1e5 and found[0].line.length < 1550.0


def test_a_contour_through_two_waters_is_cut_to_each(tmp_path, worker):
    write_region(tmp_path, CONTOURS, [LAKE, box(-30.0, -40.01, -29.99, -40.0)], ref=["lake", "pond"])
    frame_of([line(0.004, east=0.025)], d=[3.0]).to_file(tmp_path / "c.gpkg")
    chart = load_region(tmp_path, worker=worker).chart
    assert [one.body_id for one in chart.contours] == ["lake", "pond"]
    assert len(chart.of("lake").contours) == 1 and chart.of("nowhere") is None


def test_rows_of_contours_that_cannot_be_used(tmp_path, worker):
    shapes = [line(), line(0.003), LineString([(-30.5, -40.0), (-30.4, -40.0)]),
              box(WEST, SOUTH, WEST + 0.001, SOUTH + 0.001), line(0.004), None]  # fmt: skip
    found, faults, summary = read_lines(tmp_path, worker, shapes, [5.0, None, 5.0, 5.0, 12_000.0, 5.0])
    said = {fault.feature: fault for fault in faults if fault.severity == "quarantine"}
    assert [one.origin for one in found] == ["c.gpkg row 1"]
    assert "no depth" in said["row 2"].rule and "no depth" in said["row 5"].rule
    assert "in no water" in said["row 3"].rule and "m away" in said["row 3"].cure
    assert "a line is needed, not Polygon" in said["row 4"].rule
    assert "missing" in said["row 6"].rule
    assert summary["files"]["c.gpkg (c)"]["quarantined"] == 5


def test_contours_of_different_depth_that_cross(tmp_path, worker):
    crossing = line(0.008, 0.001)
    found, (fault,), _ = read_lines(tmp_path, worker, [line(0.004), crossing], [3.0, 6.0])
    assert [one.depth_m for one in found] == [3.0]
    assert "cross at E" in fault.rule and "row 1" in fault.cure and fault.feature == "row 2"
    found, faults, _ = read_lines(tmp_path, worker, [line(0.004), crossing], [3.0, 3.0])
    assert len(found) == 2 and faults == ()


def test_an_absurd_contour_is_set_aside(tmp_path, worker):
    lines = [line(0.002 + 0.001 * k) for k in range(4)]
    found, (fault,), _ = read_lines(tmp_path, worker, lines, [2.0, 4.0, 6.0, 60.0])
    assert [one.depth_m for one in found] == [2.0, 4.0, 6.0]
    assert fault.feature == "row 4" and "far below the others of lake" in fault.rule


def test_areas_are_read_for_each_water_they_touch(tmp_path, worker):
    sheet = box(-30.05, -40.06, -29.9, -39.9)
    found, faults, summary = read_areas(tmp_path, worker, [sheet, LAKE], [5, -1.5], [10.0, 6.0], ["A1", "5"])
    assert faults == ()
    assert [(one.body_id, one.least_m, one.greatest_m, one.zone) for one in found] == [
        ("lake", 5.0, 10.0, "A1"),
        ("pond", 5.0, 10.0, "A1"),
        ("lake", -1.5, 6.0, "D"),
    ]
    assert str(found[0].surveyed_on) == "2020-05-06" and found[2].origin == "a.gpkg row 2"
    assert summary["files"]["a.gpkg (a)"]["stored"] == 2


# IHO S-57 Edition 3.1, attribute CATZOC: 1 A1, 2 A2, 3 B, 4 C, 5 D, 6 U.
@pytest.mark.parametrize(
    ("word", "zone"), [("1", "A1"), ("2", "A2"), ("3", "B"), ("4", "C"), ("5", "D"), ("6", "U"), ("a2", "A2")]
)
def test_zones_are_understood(tmp_path, worker, word, zone):
    (found,), faults, _ = read_areas(tmp_path, worker, [LAKE], [5.0], [10.0], [word])
    assert found.zone == zone and faults == ()


def test_zones_of_the_users_own_words(tmp_path, worker):
    toml = AREAS + '[depth_areas.zones]\n"good" = "A2"\n'
    (found,), _, _ = read_areas(tmp_path, worker, [LAKE], [5.0], [10.0], ["good"], toml=toml)
    assert found.zone == "A2"


@pytest.mark.parametrize("word", ["7", "E", "excellent", "", None])
def test_a_zone_that_is_not_known_counts_as_not_assessed(tmp_path, worker, word):
    (found,), (fault,), _ = read_areas(tmp_path, worker, [LAKE], [5.0], [10.0], [word])
    assert found.zone == "U"
    assert fault.severity == "caution" and "counts as U" in fault.rule and fault.feature == "row 1"


def test_areas_that_cannot_be_used(tmp_path, worker):
    shapes = [LAKE, LAKE, LAKE, box(-30.5, -40.1, -30.4, -40.0)]
    found, faults, _ = read_areas(tmp_path, worker, shapes, [5.0, 9.0, 5.0, 5.0], [10.0, 4.0, np.nan, 10.0])
    assert [one.origin for one in found] == ["a.gpkg row 1"]
    said = {fault.feature: fault for fault in faults}
    assert (
        "9.00 m, is more than the greatest, 4.00 m" in said["row 2"].rule and "exchange" in said["row 2"].cure
    )
    assert "lacks one of its two depths" in said["row 3"].rule
    assert "touches no water" in said["row 4"].rule and "lake" in said["row 4"].cure
    assert {fault.severity for fault in faults} == {"quarantine"}


def test_areas_of_the_wrong_sign_are_asked_about(tmp_path, worker):
    found, (fault,), _ = read_areas(tmp_path, worker, [LAKE, POND], [-10.0, -5.0], [-5.0, -2.0])
    assert found is None and (fault.severity, fault.field) == ("ask", "depth_areas.positive")


def test_overlapping_areas_that_contradict_are_told(tmp_path, worker):
    half = box(WEST, SOUTH, WEST + 0.01, SOUTH + 0.01)
    found, (fault,), _ = read_areas(tmp_path, worker, [LAKE, half], [5.0, 0.0], [10.0, 2.0])
    assert len(found) == 2 and fault.severity == "caution"
    assert (
        "overlap by" in fault.rule and fault.feature == "row 1 and row 2" and "shallower counts" in fault.rule
    )
    _, faults, _ = read_areas(tmp_path, worker, [LAKE, half], [5.0, 2.0], [10.0, 6.0])
    assert faults == ()


def test_a_bow_tie_area_is_repaired_or_set_aside(tmp_path, worker):
    tie = shapely.Polygon(
        [(WEST, SOUTH), (WEST + 0.02, SOUTH + 0.01), (WEST + 0.02, SOUTH), (WEST, SOUTH + 0.01)]
    )
    found, faults, _ = read_areas(tmp_path, worker, [tie, LAKE], [5.0, 2.0], [10.0, 4.0])
    assert [one.origin for one in found] == ["a.gpkg row 2"]
    assert faults[0].feature == "row 1" and "crosses itself" in faults[0].rule


def test_the_chart_is_part_of_the_fingerprint(tmp_path, worker):
    read_lines(tmp_path, worker, [line()], [5.0])
    first = load_region(tmp_path, worker=worker).fingerprint
    # Only the contours are written anew.
    frame_of([line()], d=[5.5]).to_file(tmp_path / "c.gpkg")
    assert load_region(tmp_path, worker=worker).fingerprint != first


def test_geojson_and_geopackage_agree(tmp_path, worker):
    one, _, _ = read_lines(tmp_path, worker, [line()], [5.0])
    feature = {
        "type": "Feature",
        "properties": {"d": 5.0},
        "geometry": json.loads(shapely.to_geojson(line())),
    }
    (tmp_path / "c.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    (tmp_path / "region.toml").write_text(CONTOURS.replace("c.gpkg", "c.geojson"))
    two = load_region(tmp_path, worker=worker).chart.contours
    assert shapely.equals_exact(one[0].line, two[0].line, 1e-3)


def test_charts_are_checked_though_the_water_cannot_be_read(tmp_path, worker):
    read_areas(tmp_path, worker, [LAKE], [9.0], [4.0])
    (tmp_path / "water.gpkg").unlink()
    faults, summary = check_region(tmp_path, worker=worker)
    assert not summary["usable"] and any("is more than the greatest" in fault.rule for fault in faults)
