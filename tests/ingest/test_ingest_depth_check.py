"""Soundings against the depth raster, and rasters of bed elevations: another unit or datum is never silent."""

import numpy as np
import pytest
from ingest_files import HEAD, SOUNDINGS, WATER, write_dem, write_region

from geo.base.units import METRE_PER_FATHOM, METRE_PER_FOOT
from geo.ingest.load_region import check_region, load_region

RASTER = '[depth_raster]\nfile = "d.tif"\nvertical_unit = "metre"\npositive = "down"\nsurvey_order = "1a"\n'
TOML = HEAD + WATER + '[water.columns]\nid = "ref"\n' + SOUNDINGS + RASTER
BED = (
    HEAD + WATER + 'vertical_unit = "metre"\n[water.columns]\nid = "ref"\ndepth_level = "full"\n'
    + RASTER.replace('"down"', '"up"') + 'reference = "vertical datum"\n'
)  # fmt: skip


def faults_of(folder, worker, sounded_m, raster_m, toml=TOML):
    """Twenty soundings of one depth in the lake, and a raster of one depth."""
    write_region(folder, toml, ref=["lake", "pond"])
    rows = [f"{-30.018 + 0.0008 * k:.5f},-40.005,{sounded_m}" for k in range(20)]
    (folder / "s.csv").write_text("\n".join(["lon,lat,depth", *rows]) + "\n")
    write_dem(folder / "d.tif", np.full((150, 200), raster_m, "float32"), nodata=-9999)
    return check_region(folder, worker=worker)


@pytest.mark.parametrize(
    ("factor", "word"),
    [(METRE_PER_FOOT, "feet"), (1 / METRE_PER_FOOT, "feet"),
     (METRE_PER_FATHOM, "fathoms"), (1 / METRE_PER_FATHOM, "fathoms")],
)  # fmt: skip
def test_another_unit_is_asked_about(tmp_path, worker, factor, word):
    (fault,), summary = faults_of(tmp_path, worker, 10.0, 10.0 * factor)
    assert (fault.severity, fault.feature) == ("ask", "lake") and not summary["usable"]
    assert word in fault.rule and "s.csv line 2" in fault.rule and "20 places" in fault.rule


def test_another_datum_is_told_with_its_step(tmp_path, worker):
    (fault,), summary = faults_of(tmp_path, worker, 10.0, 14.0)
    assert fault.severity == "caution" and summary["usable"]
    assert "4.0 m deeper than the soundings" in fault.rule and "vertical datum" in fault.cure
    (fault,), _ = faults_of(tmp_path, worker, 10.0, 6.0)
    assert "4.0 m shallower" in fault.rule


def test_depths_that_agree_within_their_errors_are_not_told(tmp_path, worker):
    # S-44 order 1a at 11 m: 0.52 m at 95 %; twice that is 1.04 m.
    assert faults_of(tmp_path, worker, 10.0, 11.0)[0] == ()


def bed_region(folder, worker, values, full, toml=BED):
    write_region(folder, toml, ref=["lake", "pond"], full=full)
    write_dem(folder / "d.tif", values, nodata=-9999)
    faults, summary = check_region(folder, worker=worker)
    return (load_region(folder, worker=worker) if summary["usable"] else None), faults


def test_bed_elevations_become_depths_below_each_level(tmp_path, worker):
    region, faults = bed_region(tmp_path, worker, np.full((150, 200), 190.0, "float32"), [200.0, 193.5])
    assert faults == ()
    for body, depth_m in zip(region.bodies, (10.0, 3.5), strict=True):
        point = body.polygon.representative_point()
        assert region.depth_grid.grid.nearest(np.array([point.x]), np.array([point.y]))[0] == pytest.approx(
            depth_m
        )
    # Two cells round the outline count as well: a strip along the shore touches them.
    lake = region.bodies[0].polygon
    east, north = lake.bounds[2] + 100.0, lake.centroid.y
    grid = region.depth_grid.grid
    assert grid.nearest(np.array([east, east + 200.0]), np.array([north, north])) == pytest.approx(
        [10.0, np.nan], nan_ok=True
    )


def test_a_bed_without_a_level_stays_unknown_and_is_told(tmp_path, worker):
    region, (fault,) = bed_region(tmp_path, worker, np.full((150, 200), 190.0, "float32"), [200.0, None])
    assert fault.severity == "caution" and "pond" in fault.rule and "depth_level" in fault.cure
    point = region.bodies[1].polygon.representative_point()
    assert np.isnan(region.depth_grid.grid.nearest(np.array([point.x]), np.array([point.y]))[0])
    region, (fault,) = bed_region(tmp_path, worker, np.full((150, 200), 190.0, "float32"), [None, None])
    assert region.depth_grid is None and "2 bodies" in fault.rule


def test_bed_elevations_taken_for_depths_are_asked_about(tmp_path, worker):
    toml = BED.replace('reference = "vertical datum"\n', "")
    region, (fault,) = bed_region(
        tmp_path, worker, np.full((150, 200), 190.0, "float32"), [200.0, 193.5], toml
    )
    assert region is None and fault.severity == "ask" and 'reference = "vertical datum"' in fault.cure


STATED = (
    HEAD + WATER + 'vertical_unit = "metre"\n[water.columns]\nid = "ref"\nstated_depth = "sd"\n' + SOUNDINGS
)  # fmt: skip


@pytest.mark.parametrize(
    ("sounded_m", "told", "feet"),
    [(9.0, False, False), (12.0, False, False), (9.0 / METRE_PER_FOOT, True, True), (19.0, True, False)],
)
def test_soundings_deeper_than_the_depth_stated_are_told(tmp_path, worker, sounded_m, told, feet):
    """Nine metres stated without an error: a quarter of it is one sigma, so up to 13.4 m may be right."""
    write_region(tmp_path, STATED, ref=["lake", "pond"], sd=[9.0, None])
    rows = [f"{-30.018 + 0.0008 * k:.5f},-40.005,{sounded_m}" for k in range(20)]
    (tmp_path / "s.csv").write_text("\n".join(["lon,lat,depth", *rows]) + "\n")
    faults, summary = check_region(tmp_path, worker=worker)
    assert summary["usable"] and len(faults) == told
    if told:
        assert faults[0].severity == "caution" and "greatest depth stated, 9.0 m" in faults[0].rule
        assert ("read as feet it would fit" in faults[0].rule) == feet and "s.csv line 2" in faults[0].rule
