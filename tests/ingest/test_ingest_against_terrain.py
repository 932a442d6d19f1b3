"""Levels, base and holes held against the terrain. Expected figures are worked by hand from planes and box sizes."""

import numpy as np
import pytest
import shapely
from ingest_files import HEAD, LAKE, POND, TERRAIN, WATER, frame_of, write_dem, write_region

from geo.base.geodesy import to_plane
from geo.base.grid import Grid
from geo.base.units import METRE_PER_FOOT
from geo.ingest.checks.level_check import shore_of
from geo.ingest.checks.terrain_holes import find_holes
from geo.ingest.load_region import check_region, load_region
from geo.records.region import WaterBody

LEVELS = '[water.columns]\nid = "ref"\ncurrent_level = "now"\ndepth_level = "chart"\n'
TOML = HEAD + WATER + 'vertical_unit = "metre"\n' + LEVELS + TERRAIN
LAKES = [shapely.box(-30.08 + k, -40.03, -30.07 + k, -40.02) for k in (0.0, 0.02, 0.04, 0.06)]
NAMES = ["a", "b", "c", "d"]


def level_region(folder, levels, toml=TOML, height=300.0, **profile):
    write_region(folder, toml, LAKES[: len(levels)], ref=NAMES[: len(levels)], now=levels, chart=levels)
    write_dem(folder / "dem.tif", np.full((150, 200), height, "float32"), **({"nodata": -9999} | profile))
    return folder


def test_tolerance_percentile_and_median_of_a_shore():
    # Columns 0, 1, 2 ... of 10 m cells hold 0, 10, 20 ...: the four corners of the box lie on 20, 20, 80, 80.
    grid = Grid(np.tile(10.0 * np.arange(20.0), (20, 1)), 0.0, 200.0, 10.0, 20.0)
    body = WaterBody("w", "w", "lake", shapely.Polygon([(25, 25), (25, 75), (85, 75), (85, 25)]), "x")
    shore = shore_of(body, grid, 6.0)
    # A ring repeats its first vertex: heights 20, 20, 20, 80, 80 sorted: median 20, 10th percentile 20, 90th 80.
    assert (shore.median_m, shore.low_m, shore.high_m) == (20.0, 20.0, 80.0)
    assert shore.tolerance_m == pytest.approx(10.0 + 6.0 + 0.25 * 20.0)
    assert shore.fits(80.0 + 21.0) and not shore.fits(80.0 + 21.01)
    assert shore.fits(20.0 - 84.0) and not shore.fits(20.0 - 84.01)
    assert shore_of(body, grid, None).tolerance_m == pytest.approx(15.0)
    nowhere = WaterBody("w", "w", "lake", shapely.box(900, 900, 950, 950), "x")
    assert shore_of(nowhere, grid, None) is None


@pytest.mark.parametrize(
    ("true_unit_m", "words"), [(METRE_PER_FOOT, "times 0.3048"), (1.0 / METRE_PER_FOOT, "times 3.2808")]
)
def test_a_file_in_the_wrong_unit_is_asked_about(tmp_path, worker, true_unit_m, words):
    """Water at 300 m whose levels stand in the file as other numbers: 984 where they are feet, 91 the other way."""
    folder = level_region(tmp_path, [300.0 / true_unit_m] * 4)
    faults, summary = check_region(folder, worker=worker)
    assert not summary["usable"]
    (fault,) = faults
    assert (fault.severity, fault.file, fault.field) == ("ask", "water.gpkg", "water.vertical_unit")
    assert "4 of 4 bodies" in fault.rule and "are the levels in feet?" in fault.rule
    assert words in fault.rule and "4 of 4 would fit" in fault.rule


def test_levels_that_fit_no_factor_say_so(tmp_path, worker):
    (fault,) = check_region(level_region(tmp_path, [2000.0] * 3), worker=worker)[0]
    assert fault.severity == "ask" and "neither 0.3048 nor 3.2808" in fault.rule


def test_one_level_that_cannot_be_becomes_unknown(tmp_path, worker):
    region = load_region(level_region(tmp_path, [300.0, 290.0, 984.25, None]), worker=worker)
    levels = {body.body_id: (body.surface_elevation_m, body.level_change_m) for body in region.bodies}
    assert levels == {"a": (300.0, 0.0), "b": (290.0, 0.0), "c": (None, None), "d": (None, None)}
    (caution,) = region.cautions
    assert (caution.severity, caution.feature, caution.value) == ("caution", "c", "984.25 m")
    assert "984.2 m" in caution.rule and "300.0 m" in caution.rule and "times 0.3048" in caution.rule
    assert "unit" in caution.cure


def test_two_of_two_are_too_few_to_doubt_the_file(tmp_path, worker):
    region = load_region(level_region(tmp_path, [984.25, 984.25]), worker=worker)
    assert [body.surface_elevation_m for body in region.bodies] == [None, None]
    assert [fault.severity for fault in region.cautions] == ["caution", "caution"]


def test_a_reservoir_drawn_down_keeps_its_level(tmp_path, worker):
    # Cells of 0.001 degrees are 111 m: tolerance 10 + 27.8, and 4 times that below is 151 m.
    region = load_region(level_region(tmp_path, [200.0, 160.0, 140.0]), worker=worker)
    assert [body.surface_elevation_m for body in region.bodies] == [200.0, 160.0, None]


BASE = '[base]\nname = "Strip"\nlongitude = {}\nlatitude = {}\n'


@pytest.mark.parametrize(
    ("longitude", "latitude", "words"),
    [
        (-40.02, -30.05, "km from the nearest water; the limit is 200 km"),
        (-30.05, -38.0, "km from the nearest water; the limit is 200 km"),
        (-30.5, -40.02, "outside the terrain"),
        (149.98, 40.0, "from the nearest water"),
    ],
)
def test_a_base_that_cannot_be_there_is_asked_about(tmp_path, worker, longitude, latitude, words):
    folder = level_region(tmp_path, [300.0], TOML + BASE.format(longitude, latitude))
    blocking = [fault for fault in check_region(folder, worker=worker)[0] if fault.blocks]
    assert [(fault.severity, fault.file, fault.field) for fault in blocking] == [
        ("ask", "region.toml", "base")
    ]
    assert words in blocking[0].rule and "swapped" in blocking[0].cure and "Strip" in blocking[0].rule


def test_a_base_of_a_users_own_plane_that_does_not_reach_it(tmp_path, worker):
    toml = 'metric_crs = "EPSG:32726"\n' + HEAD + WATER + BASE.format(63.0, 0.0)
    blocking = [
        fault for fault in check_region(write_region(tmp_path, toml), worker=worker)[0] if fault.blocks
    ]
    # 90 degrees from the central meridian (27 W) on the equator the transverse Mercator projection has no value.
    assert [(fault.severity, fault.field) for fault in blocking] == [("ask", "base")]
    assert "has no place" in blocking[0].rule


def test_share_and_place_of_holes():
    # 100 x 100 cells of 10 x 20 m, all known but 4 x 5 cells and 1; of the area's 50 x 40 cells 21 are unknown.
    values = np.zeros((100, 100))
    values[30:34, 60:65] = np.nan
    values[40, 40] = np.nan
    values[5, 5] = np.nan  # outside the area
    grid = Grid(values, 1000.0, 5000.0, 10.0, 20.0)
    area = shapely.box(1000 + 300, 5000 - 20 * 60, 1000 + 800, 5000 - 20 * 20)
    holes = find_holes(grid, area)
    assert holes.share == pytest.approx(21 / 2000)
    assert holes.largest_m2 == pytest.approx(20 * 200.0)
    assert 1600 <= holes.easting_m <= 1650 and 5000 - 34 * 20 <= holes.northing_m <= 5000 - 30 * 20


def test_what_lies_beyond_the_raster_is_unknown():
    grid = Grid(np.zeros((10, 10)), 0.0, 100.0, 10.0, 10.0)
    holes = find_holes(grid, shapely.box(50, 0, 150, 100))
    assert holes.share == pytest.approx(0.5) and holes.largest_m2 == pytest.approx(5000.0)
    assert 100 < holes.easting_m < 150
    away = find_holes(grid, shapely.box(500, 500, 600, 600))
    assert away.share == 1.0 and away.largest_m2 == pytest.approx(10_000.0)


def test_cells_of_a_slanted_area_against_a_test_of_each_centre():
    random = np.random.default_rng(3)
    values = np.where(random.random((60, 80)) < 0.2, np.nan, 1.0)
    grid = Grid(values, -300.0, 700.0, 10.0, 15.0)
    for _ in range(20):
        area = shapely.convex_hull(shapely.MultiPoint(random.uniform([-280, -150], [480, 680], (5, 2))))
        column, row = np.meshgrid(np.arange(80), np.arange(60))
        inside = shapely.contains_xy(area, -300 + 10 * (column + 0.5), 700 - 15 * (row + 0.5))
        assert find_holes(grid, area).share == pytest.approx(np.isnan(values)[inside].mean())


def test_holes_between_water_and_fire_are_told(tmp_path, worker):
    fires = '[fires]\nfile = "f.geojson"\n'
    write_region(tmp_path, HEAD + WATER + TERRAIN + fires, [LAKE, POND])
    frame_of([shapely.box(-30.08, -40.06, -30.07, -40.05)]).to_file(tmp_path / "f.geojson")
    heights = np.full((150, 200), 300.0, "float32")
    heights[70:80, 80:90] = -9999  # longitude -30.02 to -30.01, latitude -40.03 to -40.02, between the three
    heights[:5, :5] = -9999
    write_dem(tmp_path / "dem.tif", heights, nodata=-9999)
    faults, summary = check_region(tmp_path, worker=worker)
    holes = summary["terrain_holes"]
    (caution,) = faults
    assert (caution.severity, caution.file) == ("caution", "dem.tif")
    assert "Legs cannot be cleared there" in caution.rule
    assert -30.02 <= holes["largest_hole_longitude"] <= -30.01
    assert -40.03 <= holes["largest_hole_latitude"] <= -40.02
    # 100 cells of 85.4 x 111.0 m (WGS 84 at 40 S); bilinear resampling loses up to a ring of cells around the hole.
    assert 0.99 * 0.948 <= holes["largest_hole_km2"] <= 1.44 * 0.948
    region = load_region(tmp_path, worker=worker)
    shapes = [*(body.polygon for body in region.bodies), *(fire.area for fire in region.fires)]
    hull = shapely.convex_hull(shapely.GeometryCollection(shapes))
    assert holes["share"] == pytest.approx(holes["largest_hole_km2"] * 1e6 / hull.area, rel=0.02)
    east, north = to_plane(
        region.frame.crs_wkt,
        np.array([holes["largest_hole_longitude"]]),
        np.array([holes["largest_hole_latitude"]]),
    )
    assert np.isnan(region.terrain.nearest(east, north)).all()


def test_a_whole_terrain_has_no_holes(tmp_path, worker):
    faults, summary = check_region(level_region(tmp_path, [300.0]), worker=worker)
    assert faults == () and summary["terrain_holes"]["share"] == 0.0


def test_a_base_in_a_hole_is_told(tmp_path, worker):
    folder = level_region(tmp_path, [300.0], TOML + BASE.format(-30.05, -40.05))
    heights = np.full((150, 200), 300.0, "float32")
    heights[95:105, 45:55] = -9999
    write_dem(folder / "dem.tif", heights, nodata=-9999)
    faults, summary = check_region(folder, worker=worker)
    assert summary["usable"]
    assert [fault.file for fault in faults] == [
        "region.toml",
        "dem.tif",
    ] and "terrain has no height" in faults[0].rule
