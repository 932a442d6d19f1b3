"""Canopy heights as input: what must be declared, that no tree top and no gap is lost, and what counts as unknown."""

import numpy as np
import pytest
import shapely
from ingest_files import HEAD, LAKE, TERRAIN, WATER, plain_dem, write_dem, write_region

from geo.base.geodesy import to_plane
from geo.base.units import METRE_PER_FOOT
from geo.ingest.load_region import check_region, load_region

CANOPY = '[canopy]\nfile = "trees.tif"\nvertical_unit = "metre"\n'
TOML = HEAD + WATER + TERRAIN + CANOPY
EAST, NORTH, CELL = -30.1, -39.95, 0.001


def written(folder, values, toml=TOML, **more):
    """Write a region whose canopy has these values, nodata -1, and give its folder."""
    write_region(folder, toml, shapes=(LAKE,))
    write_dem(folder / "dem.tif", plain_dem(), nodata=-9999)
    write_dem(folder / "trees.tif", values.astype("float32"), nodata=-1, **more)
    return folder


def bare(rows=150, columns=200):
    return np.zeros((rows, columns))


def test_the_highest_tree_is_kept_and_lies_where_it_should(tmp_path, worker):
    # One tree of 31 m in a plain: a mean of neighbouring cells would lower it.
    trees = bare()
    trees[40, 70] = 31.0
    region = load_region(written(tmp_path, trees), worker=worker)
    east, north = to_plane(region.frame.crs_wkt, EAST + 70.5 * CELL, NORTH - 40.5 * CELL)
    assert region.canopy.nearest(np.array([east]), np.array([north]))[0] == 31.0
    assert np.nanmax(region.canopy.values) == 31.0
    # It is nowhere but in the cells that meet its own of 111 m by 85 m.
    assert (region.canopy.values == 31.0).sum() <= 9
    covered = region.covered_terrain.nearest(np.array([east]), np.array([north]))[0]
    assert covered >= region.terrain.nearest(np.array([east]), np.array([north]))[0] + 31.0 - 1e-3
    assert region.inputs["trees.tif"] and region.canopy_error_m is None


def test_a_gap_stays_unknown_and_is_told_of(tmp_path, worker):
    trees = bare()
    trees[40:42, 70:72] = -1.0
    region = load_region(written(tmp_path, trees), worker=worker)
    east, north = to_plane(region.frame.crs_wkt, EAST + 71.0 * CELL, NORTH - 41.0 * CELL)
    place = np.array([east]), np.array([north])
    assert np.isnan(region.canopy.nearest(*place)[0]) and np.isnan(region.covered_terrain.nearest(*place)[0])
    # Legs pass over the tallest trees there can be: 120 m (from memory, no source).
    assert region.flown_terrain.nearest(*place)[0] == pytest.approx(region.terrain.nearest(*place)[0] + 120.0)
    near = bare()
    near[45, 85] = -1.0  # 500 m north of the lake
    (tmp_path / "near").mkdir()
    faults, _ = check_region(written(tmp_path / "near", near), worker=worker)
    (told,) = [fault for fault in faults if "canopy height is not known" in fault.rule]
    assert told.severity == "caution" and not told.blocks


def test_unknown_over_open_water_is_no_tree(tmp_path, worker):
    # Rows and columns of the lake, 0.02 by 0.01 degrees from 30.02 W, 40.00 S.
    trees = bare()
    trees[50:60, 80:100] = -1.0
    region = load_region(written(tmp_path, trees), worker=worker)
    lake = region.bodies[0].polygon.buffer(-250.0)
    rows, columns = region.canopy.values.shape
    x = region.canopy.west_m + (np.arange(columns) + 0.5) * region.canopy.cell_east_m
    y = region.canopy.north_m - (np.arange(rows) + 0.5) * region.canopy.cell_north_m
    inside = shapely.contains_xy(lake, *np.meshgrid(x, y))
    assert inside.sum() > 20 and (region.canopy.values[inside] == 0.0).all()
    assert np.isnan(region.canopy.values).any()  # its shore stays unknown


def test_feet_are_metres(tmp_path, worker):
    toml = TOML.replace(CANOPY, CANOPY.replace('"metre"', '"foot"'))
    region = load_region(written(tmp_path, bare() + 100.0, toml), worker=worker)
    assert np.nanmax(region.canopy.values) == pytest.approx(100.0 * METRE_PER_FOOT, rel=1e-6)


@pytest.mark.parametrize(
    ("value", "change", "rule"),
    [
        (10.0, ('vertical_unit = "metre"\n', ""), "vertical unit is not declared"),
        (-3.0, ("", ""), "lie outside 0 to 120 m"),
        (400.0, ("", ""), "lie outside 0 to 120 m"),  # elevations, or feet
    ],
)
def test_what_canopy_must_be(tmp_path, worker, value, change, rule):
    canopy = CANOPY.replace(*change) if change[0] else CANOPY
    faults, _ = check_region(written(tmp_path, bare() + value, TOML.replace(CANOPY, canopy)), worker=worker)
    (fault,) = [one for one in faults if one.blocks]
    assert fault.severity == "ask" and rule in fault.rule and fault.cure


def test_error_adds_to_the_terrains(tmp_path, worker):
    # Unstated: 10 m each (from memory, no source); stated: their sum.
    region = load_region(written(tmp_path, bare()), worker=worker)
    assert region.counted_terrain_error_m == 20.0
    toml = HEAD + WATER + TERRAIN + "error_m = 2.0\n" + CANOPY + "error_m = 3.0\n"
    (tmp_path / "stated").mkdir()
    assert (
        load_region(written(tmp_path / "stated", bare(), toml), worker=worker).counted_terrain_error_m == 5.0
    )


def test_without_terrain_it_is_not_used_and_that_is_said(tmp_path, worker):
    region = load_region(written(tmp_path, bare(), HEAD + WATER + CANOPY), worker=worker)
    assert region.covered_terrain is None and region.flown_terrain is None
    assert any("stand on no terrain" in fault.rule for fault in region.cautions)


def test_settings_of_the_survey_are_read(tmp_path, worker):
    numbers = "[survey]\napproach_slope = 0.2\nuseful_cap_m = 800.0\nleast_useful_m = 250.0\nmost_runs = 12\n"
    region = load_region(written(tmp_path, bare(), TOML + numbers), worker=worker)
    assert region.survey_settings == {
        "approach_slope": 0.2,
        "useful_cap_m": 800.0,
        "least_useful_m": 250.0,
        "most_runs": 12,
    }
