"""All faults at once and each once: faults of region.toml beside those of the files, many of one kind, ids."""

import copy
import tomllib
from pathlib import Path

import numpy as np
import pytest
import shapely
from ingest_files import (
    HEAD,
    LAKE,
    POND,
    SOUNDINGS,
    TERRAIN,
    WATER,
    frame_of,
    plain_dem,
    write_dem,
    write_region,
)

import geo
from geo.base.errors import BadInput
from geo.ingest.checks.report import LABELS_PER_RULE, LISTED_PER_RULE, Report
from geo.ingest.layers.records import shape_id
from geo.ingest.load_region import check_region, load_region
from geo.ingest.settings_file import settings_from

IDS = '[water.columns]\nid = "ref"\n'
FIRES = '[fires]\nfile = "missing.kml"\n'
WORDS = '[obstacles]\nfile = "o.gpkg"\n[obstacles.columns]\nid = "nope"\n'


def everything_wrong(folder, toml):
    """A region whose soundings, terrain, obstacles and fires have a fault each, whatever region.toml says."""
    write_region(folder, toml + TERRAIN + SOUNDINGS + WORDS + FIRES, ref=["a", "b"])
    (folder / "s.csv").write_text('lon,lat,depth\n-30.01,-40.005,"5\n')
    frame_of([shapely.Point(-30.01, -40.02)], ref=["x"]).to_file(folder / "o.gpkg")
    heights = plain_dem()
    heights[:10, :10] = -9999
    write_dem(folder / "dem.tif", heights)
    return folder


FILES = {"s.csv", "o.gpkg", "dem.tif", "missing.kml"}


@pytest.mark.parametrize(
    ("toml", "field"),
    [
        (HEAD + WATER + "dpeth = 3\n" + IDS, "water.dpeth"),
        (HEAD + WATER + '[water.columns]\nidd = "ref"\n', "water.columns.idd"),
        (
            HEAD + WATER + 'vertical_unit = "furlong"\n' + IDS + 'current_level = "ref"\n',
            "water.vertical_unit",
        ),
        (HEAD + '[water]\nlayer = "water"\n', "water.file"),
        (HEAD + "water = 5\n", "water"),
        (HEAD, "water"),
        ('vertical_datum = "Test datum"\n' + WATER, "name"),
        ('name = "Test"\n' + WATER, "vertical_datum"),
        ('metric_crs = "UTM"\n' + HEAD + WATER, "metric_crs"),
        ("colour = 1\n" + HEAD + WATER, "colour"),
        (HEAD + WATER + '[base]\nname = "Strip"\nlongitude = 200.0\nlatitude = 0.0\n', "base.longitude"),
        (HEAD + WATER + "[survey]\nheading_step_deg = 0\n", "survey.heading_step_deg"),
    ],
)
def test_faults_of_the_description_hide_none_of_the_files(tmp_path, worker, toml, field):
    faults, summary = check_region(everything_wrong(tmp_path, toml), worker=worker)
    told = [(fault.file, fault.field) for fault in faults if fault.blocks]
    assert not summary["usable"] and {file for file, _ in told} == FILES | {"region.toml"}
    assert [name for file, name in told if file == "region.toml"] == [field]
    # One fault each: what follows from a wrong key (a unit that is not declared) is not told again.
    assert len(told) == len(FILES) + 1, [fault.sentence() for fault in faults]
    with pytest.raises(BadInput):
        load_region(tmp_path, worker=worker)


def places_in(data, place=()):
    """Every key of a nested dict, as the way to it."""
    for key, value in data.items():
        yield (*place, key)
        if isinstance(value, dict):
            yield from places_in(value, (*place, key))


@pytest.mark.parametrize("wrong", [5, "x", [], {}, True, {"x": 5}, [{"x": 5}], ""], ids=repr)
def test_no_wrong_value_anywhere_ends_the_reading(tmp_path, wrong):
    """Each key of a whole description in turn is given a wrong value: refused or used, and never an exception."""
    whole = tomllib.loads((Path(geo.__file__).parents[1] / "demo_region" / "region.toml").read_text())
    count = 0
    for place in places_in(whole):
        data = copy.deepcopy(whole)
        inner = data
        for key in place[:-1]:
            inner = inner[key]
        inner[place[-1]] = wrong
        report = Report()
        settings = settings_from(data, report)
        count += 1
        assert report.blocked == bool(report.all_faults())
        kept = [
            name
            for name in whole
            if name not in (place[0], "vertical_datum") and isinstance(whole[name], dict)
        ]
        assert all(getattr(settings, name) is not None for name in kept), place
    assert count > 60


def test_faults_of_two_sections_and_a_sound_water(tmp_path, worker):
    toml = HEAD + WATER + IDS + TERRAIN.replace('"metre"', '"yard"') + SOUNDINGS.replace("s.csv", "none.csv")
    write_region(tmp_path, toml, ref=["a", "a"])
    write_dem(tmp_path / "dem.tif", plain_dem(), nodata=-9999)
    faults = check_region(tmp_path, worker=worker)[0]
    assert [(fault.file, fault.field) for fault in faults] == [
        ("region.toml", "terrain.vertical_unit"), ("water.gpkg", None), ("none.csv", None),
    ]  # fmt: skip


def test_the_other_files_are_looked_through_without_water(tmp_path, worker):
    """No water, so nothing tells where the region is: the terrain's heights and the soundings' signs are judged."""
    write_region(tmp_path, HEAD + WATER.replace("water.gpkg", "none.gpkg") + TERRAIN + SOUNDINGS)
    write_dem(tmp_path / "dem.tif", 100 * plain_dem(low=200.0), nodata=-9999)
    (tmp_path / "s.csv").write_text("lon,lat,depth\n-30.01,-40.005,-5\n-30.01,-40.004,-6\n")
    told = {fault.file: fault.rule for fault in check_region(tmp_path, worker=worker)[0]}
    assert set(told) == {"none.gpkg", "dem.tif", "s.csv"}
    assert "lie outside -500 to 9000" in told["dem.tif"] and "above the water" in told["s.csv"]


def test_sites_and_depths_are_not_blamed_for_missing_water(tmp_path, worker):
    more = '[sites]\nfile = "t.gpkg"\n[depth_raster]\nfile = "dem.tif"\nvertical_unit = "metre"\npositive = "up"\n'
    toml = (
        HEAD + WATER.replace("water.gpkg", "none.gpkg") + TERRAIN + SOUNDINGS + more + 'survey_order = "2"\n'
    )
    write_region(tmp_path, toml)
    write_dem(tmp_path / "dem.tif", plain_dem(), nodata=-9999)
    (tmp_path / "s.csv").write_text("lon,lat,depth\n-30.01,-40.005,5\n")
    frame_of([shapely.Point(-30.01, -40.005)]).to_file(tmp_path / "t.gpkg")
    faults, summary = check_region(tmp_path, worker=worker)
    assert [fault.file for fault in faults] == ["none.gpkg"] and not summary["usable"]
    assert summary["files"]["s.csv"]["rows"] == 1


@pytest.mark.parametrize(("count", "told"), [(LISTED_PER_RULE, LISTED_PER_RULE), (LISTED_PER_RULE + 1, 1)])
def test_many_rows_of_one_kind_are_one_fault(tmp_path, worker, count, told):
    lines = [shapely.LineString([(-30.2, -40.2), (-30.1, -40.2 + 0.001 * k)]) for k in range(count)]
    faults, summary = check_region(write_region(tmp_path, shapes=[LAKE, *lines]), worker=worker)
    assert summary["usable"] and len(faults) == told
    assert summary["files"]["water.gpkg (water)"] == {
        "rows": count + 1, "stored": 1, "repaired": 0, "quarantined": count,
    }  # fmt: skip
    if told == 1:
        (fault,) = faults
        assert (fault.severity, fault.value) == ("quarantine", None) and "21 times: a polygon" in fault.rule
        assert fault.feature == "row 2, row 3, row 4, row 5, row 6 and 16 more"


def test_rules_that_differ_in_a_number_are_one_kind(tmp_path, worker):
    """Two depths at one place, 30 times, each pair 1 to 30 m apart: the rule names another number each time."""
    rows = [f"{-30.018 + 0.0005 * k:.4f},-40.005,{d}" for k in range(30) for d in (1, 2 + k)]
    write_region(tmp_path, HEAD + WATER + SOUNDINGS)
    (tmp_path / "s.csv").write_text("\n".join(["lon,lat,depth", *rows]) + "\n")
    faults, summary = check_region(tmp_path, worker=worker)
    quarantined = [fault for fault in faults if fault.severity == "quarantine"]
    assert len(quarantined) == 1 and "times: two depths at one place" in quarantined[0].rule
    counts = summary["files"]["s.csv"]
    assert counts["rows"] == counts["stored"] + counts["quarantined"] == 60
    assert quarantined[0].rule.startswith(f"{counts['quarantined']} times")


def test_other_files_severities_and_fields_are_other_kinds():
    report = Report()
    for k in range(LISTED_PER_RULE + 5):
        report.about("a.gpkg").add("quarantine", f"rule {k}", "cure", feature=f"row {k}")
        report.about("b.gpkg").add("refuse", f"rule {k}", "cure", feature=f"row {k}")
    report.about("a.gpkg").add("caution", "rule 1", "cure", feature="row 1")
    told = [(fault.severity, fault.file, fault.feature) for fault in report.all_faults()]
    more = ", ".join(f"row {k}" for k in range(LABELS_PER_RULE)) + " and 20 more"
    assert told == [
        ("refuse", "b.gpkg", more),
        ("quarantine", "a.gpkg", more),
        ("caution", "a.gpkg", "row 1"),
    ]
    assert report.blocked


def test_a_row_without_id_is_told_and_keeps_its_id(tmp_path, worker):
    """The id made from the shape does not depend on the rows beside it."""
    far = shapely.box(-30.1, -40.1, -30.09, -40.09)
    write_region(tmp_path, HEAD + WATER + IDS, [LAKE, POND, far], ref=["a", None, " "])
    region = load_region(tmp_path, worker=worker)
    assert {body.body_id for body in region.bodies} == {"a", shape_id(POND, "w"), shape_id(far, "w")}
    assert [(fault.severity, fault.feature, fault.field) for fault in region.cautions] == [
        ("caution", "row 2", "ref"), ("caution", "row 3", "ref"),
    ]  # fmt: skip
    assert shape_id(POND, "w") in region.cautions[0].cure
    (tmp_path / "region.toml").write_text(HEAD + WATER)
    assert (
        load_region(tmp_path, worker=worker).cautions == ()
    )  # no column of ids is mapped: nothing is missing


@pytest.mark.parametrize(
    ("count", "words"), [(2, "twice, in rows 1 and 2"), (4, "4 times, in rows 1, 2, 3 and 4")]
)
def test_one_message_for_an_id_that_stands_several_times(tmp_path, worker, count, words):
    pairs = [
        shapely.MultiPolygon(
            [shapely.box(x, -40.0, x + 0.01, -39.99), shapely.box(x, -40.1, x + 0.02, -40.09)]
        )
        for x in -30.0 + 0.05 * np.arange(count)
    ]
    write_region(tmp_path, HEAD + WATER + IDS, pairs, ref=["same"] * count)
    (fault,) = check_region(tmp_path, worker=worker)[0]
    assert (fault.severity, fault.value) == ("refuse", "same") and words in fault.rule


def test_a_part_that_bears_another_rows_id_is_refused(tmp_path, worker):
    pair = shapely.MultiPolygon([LAKE, POND])
    other = shapely.box(-30.1, -40.1, -30.09, -40.09)
    write_region(tmp_path, HEAD + WATER + IDS, [pair, other], ref=["x", "x/2"])
    (fault,) = check_region(tmp_path, worker=worker)[0]
    assert (fault.severity, fault.value) == ("refuse", "x/2") and "id of a part" in fault.rule
