"""Tide above chart datum, and the day and distance of salinity, from the water layer."""

import pytest
from ingest_files import HEAD, LAKE, POND, WATER, write_region

from geo.ingest.load_region import check_region, load_region

TOML = HEAD + WATER + 'vertical_unit = "metre"\n[water.columns]\nid = "ref"\nkind = "kind"\n'
TIDE = TOML + 'tide_height = "tide"\ncurrent_level = "now"\ndepth_level = "full"\n'
SALT = TOML + 'salinity_class = "salt"\nsalinity_date = "day"\nmouth_distance_m = "mouth"\n'


def bodies(folder, worker, toml, **columns):
    write_region(folder, toml, (LAKE, POND), ref=["one", "two"], **columns)
    faults, _ = check_region(folder, worker=worker)
    return {body.body_id: body for body in load_region(folder, worker=worker).bodies}, faults


def test_tide_above_chart_datum_is_the_level_change(tmp_path, worker):
    # IHO: depth = charted depth + height of the tide.
    found, faults = bodies(
        tmp_path, worker, TIDE, kind=["sea", "estuary"], tide=[1.3, -0.2], now=[None, None], full=[None, None]
    )
    assert faults == ()
    assert [found[name].level_change_m for name in ("one", "two")] == [1.3, -0.2]
    assert (
        "tide above chart datum" in found["one"].level_origin and "column tide" in found["one"].level_origin
    )
    assert found["one"].surface_elevation_m is None


def test_tide_in_feet(tmp_path, worker):
    found, _ = bodies(
        tmp_path, worker, TIDE.replace('"metre"', '"foot"'), kind=["sea", "sea"], tide=[10.0, 0.0],
        now=[None, None], full=[None, None],
    )  # fmt: skip
    assert found["one"].level_change_m == pytest.approx(3.048) and found["two"].level_change_m == 0.0


def test_of_tide_and_gauge_the_lower_counts_and_is_told(tmp_path, worker):
    found, (fault,) = bodies(
        tmp_path, worker, TIDE, kind=["sea", "sea"], tide=[1.3, 2.0], now=[10.8, 12.0], full=[10.0, 10.0]
    )
    assert [found[name].level_change_m for name in ("one", "two")] == pytest.approx([0.8, 2.0])
    assert fault.feature == "row 1 (one)" and "the lower counts" in fault.rule
    assert "now and full" in found["one"].level_origin


@pytest.mark.parametrize(
    ("kind", "tide", "word"), [("lake", 1.0, "has no tide"), ("sea", 31.0, "outside -5 to 20")]
)
def test_tides_that_cannot_be(tmp_path, worker, kind, tide, word):
    found, faults = bodies(
        tmp_path, worker, TIDE, kind=[kind, "sea"], tide=[tide, 0.5], now=[None, None], full=[None, None]
    )
    assert (
        found["one"].level_change_m is None and word in faults[0].rule and faults[0].feature == "row 1 (one)"
    )


def test_salinity_carries_its_day_and_the_distance_from_the_mouth(tmp_path, worker):
    found, (fault,) = bodies(
        tmp_path, worker, SALT, kind=["estuary", "lake"], salt=["brackish", "fresh"], day=["2025-08-09", "9.8.25"],
        mouth=[4200.0, None],
    )  # fmt: skip
    one, two = found["one"].salinity, found["two"].salinity
    assert (one.stated_class, str(one.measured_on), one.mouth_distance_m) == (
        "brackish",
        "2025-08-09",
        4200.0,
    )
    assert (two.measured_on, two.mouth_distance_m) == (None, None)
    assert fault.feature == "row 2 (two)" and fault.field == "day"


def test_a_distance_alone_is_evidence_and_a_negative_one_is_told(tmp_path, worker):
    found, (fault,) = bodies(
        tmp_path,
        worker,
        SALT,
        kind=["estuary", "river"],
        salt=[None, None],
        day=[None, None],
        mouth=[900.0, -3.0],
    )
    assert found["one"].salinity.stated_class is None and found["one"].salinity.mouth_distance_m == 900.0
    assert found["two"].salinity is None and fault.feature == "row 2 (two)"
