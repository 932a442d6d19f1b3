"""Which runs of a water are kept to be judged: deep, clear, of useful length, clearly different."""

from itertools import combinations

import numpy as np
import pytest
import shapely
from depth_shapes import SEEN_DRY

from geo.base.geodesy import local_crs
from geo.base.grid import Grid
from geo.records.region import DepthGrid, Obstacle, RegionFrame, StatedDepth, WaterBody
from geo.records.survey import BodySurvey, Run, SurveySettings
from geo.survey.body import RegionEvidence, survey_body
from geo.survey.clearance import surroundings
from geo.survey.ground import GroundHeights, WaterMask
from geo.survey.usable.chord import chord
from geo.survey.usable.chords import WaterPlan
from geo.survey.usable.deep_water import DeepWater
from geo.survey.usable.pieces import pieces_of
from geo.survey.usable.skyline import Skyline

FRAME = RegionFrame(local_crs(147.0, -37.0).to_wkt(), 147.0, -37.0, "mean sea level")
SETTINGS = SurveySettings()


def level_land(polygon: shapely.Polygon, below_m: float = 5.0, cell_m: float = 50.0) -> Grid:
    """Terrain below the water all round, so that nothing limits a run."""
    west, south, east, north = polygon.buffer(4000.0).bounds
    rows, columns = int((north - south) / cell_m) + 1, int((east - west) / cell_m) + 1
    return Grid(np.full((rows, columns), -below_m), west, north, cell_m, cell_m)


def surveyed(
    polygon: shapely.Polygon, depth=None, terrain: Grid | None = None, obstacles=(), **more
) -> BodySurvey:
    body = WaterBody(
        "L1", "Lake", "lake", polygon, "water.gpkg row 1", surface_elevation_m=0.0, level_change_m=0.0, **more
    )
    terrain = level_land(polygon) if terrain is None else terrain
    return survey_body(body, RegionEvidence(FRAME, SETTINGS, terrain, depth_grid=depth, obstacles=obstacles))


def raster(polygon: shapely.Polygon, depth_m, a_m: float = 0.196, cell_m: float = 10.0) -> DepthGrid:
    """A depth raster depth_m(easting, northing) of a bed seen dry, so that nothing unseen stands on it; a 95 %
    uncertainty of 0.196 m is one sigma of 0.1 m."""
    west, south, east, north = polygon.buffer(50.0).bounds
    x = np.arange(west, east, cell_m) + cell_m / 2
    y = north - np.arange(0.0, north - south, cell_m) - cell_m / 2
    ee, nn = np.meshgrid(x, y)
    return DepthGrid(
        Grid(np.broadcast_to(depth_m(ee, nn), ee.shape).astype(float), west, north, cell_m, cell_m),
        a_m,
        0.0,
        "depths.tif",
        search=SEEN_DRY,
    )


def middle(run: Run) -> np.ndarray:
    return shapely.get_coordinates(run.line).mean(axis=0)


def sure_m(run: Run) -> float:
    return run.depth.depth_with_confidence_m(0.95)


LONG = shapely.box(0.0, 0.0, 2400.0, 300.0)


def test_a_shoal_across_the_middle_leaves_a_good_run_on_either_side() -> None:
    shoal = shapely.box(1150.0, 0.0, 1250.0, 300.0)
    found = surveyed(LONG, raster(LONG, lambda e, n: np.where(abs(e - 1200.0) < 50.0, 0.5, 5.0)))
    assert found.longest_run.length_m > 2300.0
    assert sure_m(found.longest_run) == pytest.approx(0.5 - 0.1645, abs=0.01)
    good = [run for run in found.usable_runs if sure_m(run) > 4.0]
    west, east = [r for r in good if middle(r)[0] < 1150.0], [r for r in good if middle(r)[0] > 1250.0]
    for side in (west, east):
        # Each side has 1,150 m of water less 30 m at the shore: runs reach the cap of 1,000 m.
        assert max(run.length_m for run in side) == pytest.approx(1000.0, abs=1.0)
        # From the raster with one common error of 0.1 m sigma: 5 - 1.645 x 0.1 m.
        assert sure_m(side[0]) == pytest.approx(5.0 - 0.1645, abs=0.01)
    assert not any(run.line.intersects(shoal) for run in good)


def test_the_best_deep_run_is_found_and_not_the_deep_part_of_the_longest() -> None:
    # An L: 3,000 m westward arm of 1 m depth, 1,100 m northward arm of 6 m. The longest run lies in the shallow arm.
    lake = shapely.union_all([shapely.box(0, 0, 3000, 250), shapely.box(2750, 0, 3000, 1350)])
    found = surveyed(lake, raster(lake, lambda e, n: np.where(n > 250.0, 6.0, 1.0)))
    best = max((run for run in found.usable_runs if sure_m(run) >= 3.0), key=lambda run: run.length_m)
    # Deep water is 1,100 m long, 30 m of it shore margin, 10 m lie in the raster cell beside the shallow.
    assert best.length_m >= 950.0
    assert shapely.box(2750, 250, 3000, 1350).covers(best.line)


def test_pieces_are_no_longer_than_the_cap_and_keep_the_corridor() -> None:
    sea = shapely.Point(0, 0).buffer(9000.0, quad_segs=16).difference(shapely.Point(2000, 0).buffer(900.0))
    found = surveyed(sea, raster(sea, lambda e, n: np.full_like(e, 20.0), cell_m=100.0))
    assert 12 <= len(found.usable_runs) <= SETTINGS.most_runs
    for run in found.usable_runs:
        assert SETTINGS.least_useful_m <= run.length_m <= SETTINGS.useful_cap_m + 1e-6
        assert sea.contains(run.line)
        assert run.line.distance(sea.boundary) >= 30.0 - 1e-3
        assert run.upper_bound_m >= run.length_m


def test_large_water_offers_runs_in_every_part() -> None:
    sea = shapely.box(0, 0, 20_000, 16_000)
    found = surveyed(sea, raster(sea, lambda e, n: np.full_like(e, 20.0), cell_m=200.0))
    places = np.array([middle(run) for run in found.usable_runs])
    near_m = [
        np.hypot(*(places - corner).T).min()
        for corner in ((0, 0), (0, 16_000), (20_000, 0), (20_000, 16_000))
    ]
    assert max(near_m) < 3000.0
    # Near the shore, where height over the water can be judged, not in the middle of the sea.
    assert all(shapely.Point(place).distance(sea.boundary) <= 2000.0 for place in places)


def test_a_sea_that_shoals_far_out_is_used_where_it_is_deep() -> None:
    # Wading depth to 3 km off the shores, 12 m beyond: the runs nearest to the shore are of no use.
    sea = shapely.box(0, 0, 14_000, 14_000)
    depths = raster(
        sea,
        lambda e, n: np.where(np.maximum(abs(e - 7000.0), abs(n - 7000.0)) < 4000.0, 12.0, 0.8),
        cell_m=100.0,
    )
    deep = [run for run in surveyed(sea, depths).usable_runs if sure_m(run) > 10.0]
    assert len(deep) >= 8


def test_runs_are_clearly_different() -> None:
    square = shapely.box(0, 0, 3000, 3000)
    found = surveyed(square, raster(square, lambda e, n: np.full_like(e, 20.0), cell_m=50.0))
    assert len(found.usable_runs) >= 8
    for one, other in combinations(found.usable_runs, 2):
        apart = np.hypot(*(middle(one) - middle(other)))
        turn = abs(one.heading_grid_deg - other.heading_grid_deg) % 180.0
        # Of two lengths, because a shorter run lies nearer to a fire; no two are nearly the same.
        lengths = sorted((one.length_m, other.length_m))
        assert apart >= 90.0 or min(turn, 180.0 - turn) >= 14.9 or lengths[0] < 0.96 * lengths[1]


def test_every_kept_run_is_clear_where_clear_runs_exist() -> None:
    # A wall 60 m high, 100 m beyond the western end: 480 m before it at 8:1, so the west gives way by 350 m.
    land = level_land(LONG)
    east = land.west_m + (np.arange(land.values.shape[1]) + 0.5) * land.cell_east_m
    land.values[:, east < -100.0] = 60.0
    found = surveyed(LONG, raster(LONG, lambda e, n: np.full_like(e, 9.0)), terrain=land)
    lengthwise = [run for run in found.usable_runs if abs(run.heading_grid_deg - 90.0) < 15.0]
    assert lengthwise
    for run in found.usable_runs:
        assert run.start_end.excess_m <= 0.0 and run.end_end.excess_m <= 0.0
    assert min(min(x for x, _ in run.line.coords) for run in lengthwise) >= 380.0 - 55.0
    assert found.longest_run.usable_ahead_m < found.longest_run.length_m - 300.0
    assert "above the surface" in found.longest_run.limited_by


def test_blocked_water_keeps_a_run_for_its_reason() -> None:
    land = level_land(LONG, below_m=-900.0)
    found = surveyed(LONG, raster(LONG, lambda e, n: np.full_like(e, 9.0)), terrain=land)
    assert 1 <= len(found.usable_runs) <= 3
    assert all(run.start_end.excess_m > 0.0 or run.end_end.excess_m > 0.0 for run in found.usable_runs)
    assert found.longest_run.usable_ahead_m == 0.0 == found.longest_run.usable_back_m


def test_pieces_of_one_chord_end_where_its_depth_does() -> None:
    # A run of 1,500 m from 30 m east, a shoal between 700 and 800 m east: deep for 670 m before and 730 m after, both
    # shorter than the cap, seen at stations 25 m apart.
    depths = raster(LONG, lambda e, n: np.where(abs(e - 750.0) < 50.0, 0.5, 5.0)).grid
    line = shapely.LineString([(30.0, 150.0), (1530.0, 150.0)])
    ground = GroundHeights(LONG, WaterMask(LONG, level_land(LONG)), 0.0, 0.0)
    whole = chord(line, Skyline(surroundings(ground, (), True, SETTINGS)))
    found = pieces_of(whole, DeepWater(depths, (depths,)), SETTINGS)
    sure = [piece for piece in found if piece.sure_depth_m >= 3.75]
    before, after = [p for p in sure if p.high_m <= 670.0], [p for p in sure if p.low_m >= 770.0]
    assert len(sure) == len(before) + len(after)
    assert 645.0 <= max(piece.length_m for piece in before) <= 670.0
    assert 705.0 <= max(piece.length_m for piece in after) <= 730.0
    assert any(piece.low_m < 720.0 < piece.high_m and piece.sure_depth_m == 0.5 for piece in found)


def test_lines_that_leave_the_water_or_come_near_its_shore_are_refused() -> None:
    lake = LONG.difference(shapely.box(1000, 100, 1100, 200))
    lines = [
        [(100, 150), (900, 150)],
        [(100, 150), (971, 150)],  # 29 m before the island
        [(100, 150), (2000, 150)],  # over the island
        [(100, 29), (900, 29)],  # 29 m off the shore
        [(100, -50), (900, -50)],  # beside the lake, 50 m off its shore
        [(1020, 150), (1080, 150)],  # on the island
    ]
    shapes = np.array([shapely.LineString(line) for line in lines], dtype=object)
    assert list(WaterPlan(lake, SETTINGS).holds(shapes)) == [True, False, False, False, False, False]


def test_a_wire_across_the_lake_is_crossed_by_no_run() -> None:
    wire = Obstacle("W1", "", "wire", shapely.LineString([(900, -50), (900, 350)]), 12.0, None, "row 2")
    found = surveyed(LONG, raster(LONG, lambda e, n: np.full_like(e, 9.0)), obstacles=(wire,))
    assert found.longest_run.line.intersects(wire.shape)
    assert found.usable_runs
    assert all(run.line.distance(wire.shape) >= 30.0 for run in found.usable_runs)


def test_a_farm_dam_gets_no_pieces_and_a_coarse_rose() -> None:
    found = surveyed(shapely.box(0, 0, 150, 120), stated_depth=StatedDepth(4.0, 0.5, "owner", None))
    assert found.usable_runs == ()
    assert len(found.heading_runs) == 6
    assert found.runs == (found.longest_run, *found.heading_runs)


def test_unknown_depth_stays_unknown_on_every_piece() -> None:
    found = surveyed(LONG)
    assert found.usable_runs
    assert all(run.depth.quantiles_m is None for run in found.usable_runs)
    no_terrain = surveyed(LONG, terrain=Grid(np.full((10, 10), np.nan), 0.0, 0.0, 50.0, 50.0))
    assert all(r.start_end.excess_m is None or r.end_end.excess_m is None for r in no_terrain.usable_runs)


def test_drawn_down_water_is_used_where_it_is_still_deep() -> None:
    # 6 m lower today: only the eastern half, 11 m deep then, has water left to fly in.
    body = WaterBody(
        "R1", "Reservoir", "reservoir", LONG, "water.gpkg row 2", surface_elevation_m=0.0, level_change_m=-6.0
    )
    depths = raster(LONG, lambda e, n: np.where(e > 1200.0, 11.0, 5.0))
    found = survey_body(body, RegionEvidence(FRAME, SETTINGS, level_land(LONG), depth_grid=depths))
    deep = [run for run in found.usable_runs if sure_m(run) >= 3.0]
    assert deep and all(min(x for x, _ in run.line.coords) >= 1190.0 for run in deep)
    assert max(run.length_m for run in deep) == pytest.approx(1000.0, abs=1.0)


def test_the_same_water_gives_the_same_runs() -> None:
    one, two = (surveyed(LONG, raster(LONG, lambda e, n: np.full_like(e, 9.0))).usable_runs for _ in range(2))
    assert [run.line.wkt for run in one] == [run.line.wkt for run in two]


@pytest.mark.parametrize("approach", [0.08, 0.25])
def test_an_approach_slope_of_its_own_is_measured_apart(approach: float) -> None:
    land = level_land(LONG, below_m=-10.0)
    body = WaterBody(
        "L1", "Lake", "lake", LONG, "water.gpkg row 1", surface_elevation_m=0.0, level_change_m=0.0
    )
    chosen = SurveySettings(approach_slope=approach)
    found = survey_body(body, RegionEvidence(FRAME, chosen, land))
    run = found.usable_runs[0]
    assert run.start_approach.slope == approach and run.start_end.slope == 0.125
    # The land is 10 m up everywhere, so its nearest part decides: 10 m less slope x distance.
    for end, slope in ((run.start_end, 0.125), (run.start_approach, approach), (run.end_approach, approach)):
        assert end.excess_m == pytest.approx(10.0 - slope * end.distance_m)
