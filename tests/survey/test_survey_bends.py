"""Bent runs as the survey records them: closed channels, clear ends of their own headings, wires, depth of the whole.

Every run is checked anew by code of this file: water on both sides, radius, headings, and the surfaces beyond its ends.
"""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from geo.base.geodesy import local_crs
from geo.base.grid import Grid
from geo.records.region import DepthGrid, Obstacle, RegionFrame, WaterBody
from geo.records.survey import BodySurvey, Run, SurveySettings
from geo.survey.bent.flyable import WORTH_SHARE, least_bend_m
from geo.survey.bent.pieces import RunPiece, cut_out, stations_along
from geo.survey.body import survey_body
from geo.survey.clearance import surroundings
from geo.survey.ground import Ground
from geo.survey.usable.skyline import Skyline

FRAME = RegionFrame(local_crs(147.0, -37.0).to_wkt(), 147.0, -37.0, "mean sea level")
SETTINGS = SurveySettings(bent_radius_m=120.0)
# Two legs of 700 m by 100 m that meet at a right angle: the longest straight run is about 650 m.
L_CHANNEL = shapely.Polygon([(0, 0), (700, 0), (700, 100), (100, 100), (100, 700), (0, 700)])
CELL_M = 10.0


def land(height=lambda e, n: -5.0 + 0.0 * e, reach_m: float = 3000.0) -> Grid:
    """Terrain height(easting, northing) [m] round the origin; 5 m below the water unless it says otherwise."""
    count = int(2 * reach_m / CELL_M)
    x = -reach_m + (np.arange(count) + 0.5) * CELL_M
    ee, nn = np.meshgrid(x, -x)
    return Grid(height(ee, nn), -reach_m, reach_m, CELL_M, CELL_M)


def surveyed(
    polygon: shapely.Polygon = L_CHANNEL,
    terrain: Grid | None = None,
    obstacles=(),
    depth: DepthGrid | None = None,
    settings: SurveySettings = SETTINGS,
) -> BodySurvey:
    body = WaterBody(
        "R1", "River", "river", polygon, "water.gpkg row 1", surface_elevation_m=0.0, level_change_m=0.0
    )
    terrain = land() if terrain is None else terrain
    return survey_body(body, FRAME, terrain, 0.0, None, depth, obstacles, True, settings)


def raster(depth_m) -> DepthGrid:
    """A depth raster depth_m(easting, northing), 0.1 m of one sigma (a 95 % uncertainty of 0.196 m)."""
    grid = land(depth_m, 800.0)
    return DepthGrid(grid, 0.196, 0.0, "depths.tif")


def heading_deg(start: np.ndarray, end: np.ndarray) -> float:
    return float(np.degrees(np.arctan2(end[0] - start[0], end[1] - start[1])) % 360.0)


def assert_flyable(run: Run, polygon: shapely.Polygon, settings: SurveySettings = SETTINGS) -> None:
    """Check a bent run by its drawn line alone: clear width, length, turns, radius, headings at both ends."""
    xy = shapely.get_coordinates(run.line)
    step = np.diff(xy, axis=0)
    heading = np.degrees(np.arctan2(step[:, 0], step[:, 1]))
    turn = (np.diff(heading) + 180.0) % 360.0 - 180.0
    length = np.hypot(*step.T)
    assert run.search == "bent" and run.is_bent and len(xy) > 3
    assert polygon.covers(run.line.buffer(0.5 * run.corridor_width_m - 0.02))
    assert settings.least_useful_m <= run.length_m <= settings.useful_cap_m + 0.1
    assert run.length_m == pytest.approx(run.line.length, abs=1e-6)
    assert run.length_m <= sum(part.length_m for part in run.parts) <= run.length_m + 0.1
    assert np.abs(turn).sum() == pytest.approx(run.turned_deg, abs=2.0) and run.turned_deg <= 90.0 + 1e-6
    assert turn.sum() == pytest.approx(run.end_turn_deg, abs=2.0)
    # Between any two corners the line turns by no more than the way / radius, and one chord more (3 m at 5 mm).
    way, turned = np.cumsum(length)[:-1], np.cumsum(np.abs(turn))
    first, last = np.triu_indices(len(way), 1)
    most_deg = np.degrees((way[last] - way[first] + 3.0) / settings.bent_radius_m)
    assert (turned[last] - turned[first] <= most_deg).all() and run.least_radius_m >= settings.bent_radius_m
    assert heading_deg(xy[0], xy[1]) == pytest.approx(run.heading_grid_deg, abs=1.0)
    last = (run.heading_grid_deg + run.end_turn_deg) % 360.0
    assert heading_deg(xy[-2], xy[-1]) == pytest.approx(last, abs=1.0)
    assert run.start_end.heading_grid_deg == pytest.approx((run.heading_grid_deg + 180.0) % 360.0, abs=1e-6)
    assert run.end_end.heading_grid_deg == pytest.approx(last, abs=1e-6)


def worst_rise_m(run: Run, terrain: Grid, water: shapely.Polygon) -> tuple[float, float]:
    """Give how far cells rise above 8:1 behind the start and ahead of the end, by brute force over cell centres."""
    rows, columns = terrain.values.shape
    x = terrain.west_m + (np.arange(columns) + 0.5) * CELL_M
    y = terrain.north_m - (np.arange(rows) + 0.5) * CELL_M
    ee, nn = np.meshgrid(x, y)
    dry = ~shapely.contains_xy(water, ee, nn)
    xy = shapely.get_coordinates(run.line)
    found = []
    for end, toward in ((xy[0], xy[0] - xy[1]), (xy[-1], xy[-1] - xy[-2])):
        unit = toward / np.hypot(*toward)
        along = (ee - end[0]) * unit[0] + (nn - end[1]) * unit[1]
        aside = np.abs((ee - end[0]) * unit[1] - (nn - end[1]) * unit[0])
        inside = dry & (along > 0.0) & (along < 1500.0) & (aside < 30.0 + 0.1 * along)
        found.append(float((terrain.values - along / 8.0)[inside].max()))
    return found[0], found[1]


def test_l_channel_gets_a_bent_run_that_beats_the_straight_one():
    found = surveyed()
    straight_m = max(run.length_m for run in found.usable_runs)
    # With 30 m kept all round a leg is 640 m by 40 m; the rounded inner corner lets a line lean a little more.
    assert 640.0 <= straight_m <= 645.0
    assert found.bent_runs and found.bent_runs[0] in found.runs
    for run in found.bent_runs:
        assert_flyable(run, L_CHANNEL)
        assert run.length_m >= (1.0 + WORTH_SHARE) * straight_m
    # Both legs along their middle lines with one turn of 120 m: 2 x 650 - 2 x 120 + 120 pi / 2 = 1,248 m are there, so
    # the run is cut to the cap, by less than one station.
    best = max(found.bent_runs, key=lambda run: run.length_m)
    assert best.length_m >= SETTINGS.useful_cap_m - 25.0 and best.upper_bound_m >= 1200.0


def test_ring_channel_is_flown_along_its_arc():
    # Closed: with 30 m kept to both shores the water from 180 to 220 m from the centre is left. A right angle turned on
    # 200 m with straight tails to 220 m at both ends fits: 100 pi + 2 sqrt(220^2 - 200^2) = 497.5 m. More than
    # 110 pi + 2 sqrt(220^2 - 180^2) = 598.6 m is not there, and a straight run is no longer than those tails.
    ring = shapely.Point(0, 0).buffer(250.0, 16).difference(shapely.Point(0, 0).buffer(150.0, 16))
    chosen = replace(SETTINGS, bent_radius_m=150.0)
    found = surveyed(ring, settings=chosen)
    assert found.usable_runs == () and len(found.bent_runs) >= 1
    run = max(found.bent_runs, key=lambda one: one.length_m)
    assert_flyable(run, ring, chosen)
    assert 497.5 - 1.0 <= run.length_m <= 598.6
    # A turn of 300 m: one arc that touches 180 m in its middle and ends on 220 m, 600 m x its half angle = 407.9 m;
    # the shores are drawn with chords, which leaves about a metre.
    wide = replace(chosen, bent_radius_m=300.0)
    angle = np.arccos((120.0**2 + 300.0**2 - 220.0**2) / (2.0 * 120.0 * 300.0))
    (run,) = surveyed(ring, settings=wide).bent_runs
    assert_flyable(run, ring, wide)
    assert 0.97 * 600.0 * angle <= run.length_m <= 600.0 * angle + 1.0


def test_no_bend_where_a_straight_run_is_long_enough_or_none_is_asked_for():
    assert surveyed(shapely.box(0, 0, 1500, 100)).bent_runs == ()
    assert surveyed(settings=replace(SETTINGS, bent_radius_m=0.0)).bent_runs == ()
    assert least_bend_m(0.0, SETTINGS) == SETTINGS.least_useful_m
    assert least_bend_m(600.0, SETTINGS) == pytest.approx(690.0)


@pytest.mark.parametrize("height_m", [None, 20.0])
def test_one_wire_in_the_bend_is_kept_clear_of(height_m):
    # A wire over the corner: both legs stay, no run round it. One over a leg: the run round the corner keeps off it.
    over = shapely.LineString([(-50, 150), (150, -50)])
    corner = Obstacle("w1", "w1", "wire", over, None, height_m, "obstacles row 1")
    assert surveyed(obstacles=(corner,)).bent_runs == ()
    leg = replace(corner, shape=shapely.LineString([(-50, 560), (150, 560)]))
    found = surveyed(obstacles=(leg,))
    assert found.bent_runs
    for run in found.bent_runs:
        assert_flyable(run, L_CHANNEL)
        assert run.line.distance(leg.shape) >= 30.0
    # Its top is known to lie under water: nothing is in the way.
    sunk = replace(corner, top_elevation_m=-2.0, height_above_ground_m=None)
    assert surveyed(obstacles=(sunk,)).bent_runs


def test_ends_are_judged_along_their_own_headings():
    # A hill behind the east end of the one leg: whoever comes from or leaves to the east meets it; the line from the
    # run's first to its last point points north-west and would miss it.
    hill = land(lambda e, n: np.where((e > 700.0) & (abs(n - 50.0) < 200.0), 60.0, -5.0))
    found = surveyed(terrain=hill)
    assert found.bent_runs
    for run in found.bent_runs:
        assert_flyable(run, L_CHANNEL)
        assert max(worst_rise_m(run, hill, L_CHANNEL)) <= 0.0
        assert max(run.start_end.excess_m, run.end_end.excess_m) <= 0.0
        # 60 m above the water are clear of 8:1 from 480 m before the hill on.
        assert shapely.get_coordinates(run.line)[:, 0].max() <= 700.0 - 8.0 * 60.0 + 8.0 * CELL_M
    # A hill beyond each leg, too near for any run of use between them.
    walls = land(lambda e, n: np.where((e > 700.0) | (n > 700.0), 120.0, -5.0))
    assert surveyed(terrain=walls).bent_runs == ()


def test_depth_is_that_of_the_whole_bend_at_once():
    # A shoal of 0.6 m in the corner alone: each leg is deep, the bend is not.
    shoal = raster(lambda e, n: np.where((e < 110.0) & (n < 110.0), 0.6, 6.0))
    for run in surveyed(depth=shoal).bent_runs:
        assert run.depth.depth_with_confidence_m(0.95) < 0.8
    deep = surveyed(depth=raster(lambda e, n: 6.0 + 0.0 * e)).bent_runs
    assert deep and all(5.0 < run.depth.depth_with_confidence_m(0.95) < 6.0 for run in deep)
    unknown = surveyed().bent_runs
    assert unknown and all(run.depth.quantiles_m is None for run in unknown)


def test_unknown_ground_leaves_an_end_unknown():
    gap = land(lambda e, n: np.where(e > 750.0, np.nan, -5.0))
    body = WaterBody("R1", "River", "river", L_CHANNEL, "row 1", surface_elevation_m=0.0, level_change_m=0.0)
    bare = survey_body(body, FRAME, None, None, None, None, (), True, SETTINGS)
    assert bare.bent_runs and all(run.start_end.excess_m is None for run in bare.bent_runs)
    for run in surveyed(terrain=gap).bent_runs:
        assert run.start_end.excess_m is None or run.end_end.excess_m is None or run.end_end.excess_m <= 0.0


def test_pieces_are_cut_where_they_should_be():
    # By hand: 100 m north from the origin, then a right turn of 90 degrees about (50, 100) with radius 50.
    arc_m = 25.0 * np.pi
    pieces = (RunPiece(0.0, 0.0, 0.0, 100.0), RunPiece(0.0, 100.0, 0.0, arc_m, 50.0, 90.0))
    cut = cut_out(pieces, 40.0, 100.0 + 0.5 * arc_m)
    assert [piece.length_m for piece in cut] == pytest.approx([60.0, 0.5 * arc_m])
    assert (cut[0].northing_m, cut[1].turn_deg) == pytest.approx((40.0, 45.0))
    half = 50.0 * np.sqrt(0.5)
    xy, heading = stations_along(cut, np.array([0.0, 60.0, 60.0 + 0.5 * arc_m]))
    assert xy.ravel() == pytest.approx([0.0, 40.0, 0.0, 100.0, 50.0 - half, 100.0 + half])
    assert heading == pytest.approx([0.0, 0.0, 45.0])
    late = cut_out(pieces, 100.0 + 0.5 * arc_m, 100.0 + arc_m)
    assert (late[0].heading_deg, late[0].turn_deg, len(late)) == pytest.approx((45.0, 45.0, 1))


def test_crossings_of_a_bent_line():
    # By hand: a mast 10 m aside of the second leg's middle bars sqrt(30^2 - 10^2) m on either side of it.
    line = shapely.LineString([(0, 0), (0, 400), (400, 400)])
    mast = Obstacle("m", "m", "mast", shapely.Point(200.0, 410.0), None, 5.0, "row 1")
    water = shapely.box(-500, -500, 900, 900)
    around = surroundings(Ground(water, None, 0.0, 0.0), (mast,), True, SETTINGS)
    ((low_m, high_m),) = Skyline(around).crossings(line, 30.0)
    half_m = np.sqrt(800.0)
    assert 600.0 - half_m - 0.1 <= low_m <= 600.0 - half_m and 600.0 + half_m <= high_m <= 600.1 + half_m
