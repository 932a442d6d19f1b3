"""The usable part of a run against closed cases of an 8:1 surface, and against brute force.

8:1 is the US civil heliport approach surface (14 CFR Part 77): a thing of height h must lie 8 h beyond the lift-off.
"""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geo.base.errors import BadArgument
from geo.base.grid import Grid
from geo.records.region import Obstacle
from geo.records.survey import SurveySettings
from geo.survey.runs import usable_run
from geo.survey.usable.barred import barred
from geo.survey.usable.run import UsableRun

WATER_M = 200.0
# Northward run of 2,000 m in the middle of a lake that goes 30 m on beyond both ends.
RUN = shapely.LineString([(0.0, 0.0), (0.0, 2000.0)])
LAKE = shapely.box(-60.0, -30.0, 60.0, 2030.0)
FAR = SurveySettings(end_look_m=3000.0)
CELL_M = 20.0


def grid(height, reach_m: float = 6000.0, cell_m: float = CELL_M) -> Grid:
    """Terrain with height(easting, northing) above the water at its cell centres."""
    count = int(2 * reach_m / cell_m)
    x = -reach_m + (np.arange(count) + 0.5) * cell_m
    east, north = np.meshgrid(x, -x)
    return Grid(WATER_M + np.broadcast_to(height(east, north), east.shape), -reach_m, reach_m, cell_m, cell_m)


FLAT = grid(lambda e, n: np.full_like(e, -20.0))


def mast(easting: float, northing: float, rise_m: float | None) -> Obstacle:
    top = None if rise_m is None else WATER_M + rise_m
    return Obstacle("M1", "", "mast", shapely.Point(easting, northing), top, None, "obstacles.csv row 1")


def used(
    terrain: Grid | None = FLAT,
    obstacles=(),
    chosen: SurveySettings = FAR,
    line: shapely.LineString = RUN,
    water: shapely.Polygon = LAKE,
    surface_m: float | None = WATER_M,
    width_m: float = 60.0,
    **more,
) -> UsableRun:
    return usable_run(line, width_m, surface_m, terrain, None, obstacles, True, water, chosen, **more)


def wall(rise_m: float, from_north_m: float) -> Grid:
    return grid(lambda e, n: np.where(n > from_north_m, rise_m, -20.0))


def test_nothing_around_leaves_the_whole_run() -> None:
    found = used()
    assert found.ahead.length_m == pytest.approx(2000.0)
    assert found.back.length_m == pytest.approx(2000.0)
    assert found.ahead.heading_grid_deg == 0.0 and found.back.heading_grid_deg == 180.0
    assert found.back.line.coords[0] == (0.0, 2000.0)
    assert "nothing" in found.ahead.limited_by


@pytest.mark.parametrize(
    ("rise_m", "beyond_m", "left_m"),
    [(100.0, 800.0, 2000.0), (100.0, 600.0, 1800.0), (150.0, 300.0, 1100.0), (300.0, 100.0, 0.0)],
)
def test_wall_beyond_the_north_end(rise_m: float, beyond_m: float, left_m: float) -> None:
    # The lift-off lies 8 h before the wall: 2,000 + beyond - 8 h of the run is left.
    found = used(wall(rise_m, 2000.0 + beyond_m))
    assert found.ahead.length_m == pytest.approx(left_m, abs=0.01)
    # One surface for approach and departure, so the other direction comes down where this one lifts off.
    assert found.back.length_m == pytest.approx(left_m, abs=0.01)
    if 0.0 < left_m < 2000.0:
        assert found.ahead.line.coords[-1][1] == pytest.approx(left_m, abs=0.01)


def test_lake_under_a_ridge_keeps_its_water_but_is_used_one_way_only() -> None:
    # 200 m high, 300 m beyond the north end. Out over it at 8:1: 2,000 + 300 - 1,600 = 700 m. Down over it on an
    # approach surface of 8 % (Annex 14 Vol II, first section of category B, from memory): 200 / 0.08 = 2,500 m
    # before the ridge, 200 m south of the run.
    shallow = SurveySettings(end_look_m=3000.0, approach_slope=0.08)
    found = used(wall(200.0, 2300.0), chosen=shallow)
    assert found.ahead.length_m == pytest.approx(700.0, abs=0.01)
    assert found.back.length_m == 0.0 and found.back.line is None
    assert "no touch-down" in found.back.limited_by
    steep = SurveySettings(end_look_m=3000.0, approach_slope=0.25)
    assert used(wall(200.0, 2300.0), chosen=steep).back.length_m == pytest.approx(1500.0, abs=0.01)


def test_both_ends_give_way_and_may_leave_nothing() -> None:
    both = grid(lambda e, n: np.where(n > 2100.0, 100.0, np.where(n < -100.0, 80.0, -20.0)))
    # 2,000 - (800 - 100) - (640 - 100) = 760 m
    found = used(both)
    assert found.ahead.length_m == pytest.approx(760.0, abs=0.01)
    assert found.ahead.line.coords[0][1] == pytest.approx(540.0, abs=0.01)
    higher = grid(lambda e, n: np.where((n > 2100.0) | (n < -100.0), 150.0, -20.0))
    assert used(higher).ahead.length_m == 0.0


def test_the_words_name_thing_distance_height_and_end() -> None:
    # 1.1 km beyond the end the surface is 137.5 m up; a ridge of 175.5 m stands 38 m above it.
    found = used(wall(175.5, 3100.0))
    assert "1.1 km beyond the north end, 38.0 m above the surface" in found.ahead.limited_by
    assert "lift-off 304 m before the north end" in found.ahead.limited_by
    assert found.ahead.length_m == pytest.approx(2000.0 - (8 * 175.5 - 1100.0), abs=0.01)


def test_cliff_beside_the_run_counts_where_the_surface_is_wide_enough() -> None:
    # A mast 90 m up, 60 m aside at 1,500 m north: under the surface from 720 m before; beside it until the trapezoid
    # (30 m + 0.1 x distance) reaches it, 300 m before. So lift-offs between 780 and 1,200 m are barred, the end is not.
    found = used(obstacles=(mast(60.0, 1500.0, 90.0),))
    assert found.ahead.length_m == pytest.approx(2000.0)
    shorter = used(obstacles=(mast(60.0, 1500.0, 90.0),), line=shapely.LineString([(0, 0), (0, 1199)]))
    assert shorter.ahead.length_m == pytest.approx(780.0, abs=0.01)


MASTS = st.lists(
    st.tuples(st.floats(-400.0, 400.0), st.floats(-1200.0, 3200.0), st.floats(-5.0, 220.0)),
    min_size=1,
    max_size=6,
)


def lift_offs(masts, at: np.ndarray, slope: float, look_m: float) -> np.ndarray:
    """Which northward lift-offs are clear, straight from the definition of the surface."""
    good = np.ones(len(at), bool)
    for x, y, rise in masts:
        ahead = y - at
        under = (ahead >= 0) & (ahead <= look_m) & (abs(x) < 30.0 + 0.10 * ahead)
        good &= ~(under & (rise > slope * ahead))
    return good


@settings(max_examples=60)
@given(MASTS, st.sampled_from([0.125, 0.2]))
def test_masts_by_brute_force(masts, approach: float) -> None:
    masts = [(x, y, r) for x, y, r in masts if not (abs(x) < 31.0 and -31.0 <= y <= 2031.0)]
    chosen = SurveySettings(approach_slope=None if approach == 0.125 else approach)
    sea = shapely.box(-9000, -9000, 9000, 9000)
    found = used(FLAT, [mast(*m) for m in masts], chosen, water=sea)
    at = np.arange(0.0, 2000.5, 1.0)
    for piece, turned in ((found.ahead, masts), (found.back, [(-x, 2000.0 - y, r) for x, y, r in masts])):
        ups = at[lift_offs(turned, at, 0.125, 1500.0)]
        behind = [(-x, 2000.0 - y, r) for x, y, r in turned]
        downs = 2000.0 - at[lift_offs(behind, at, approach, 1500.0)]
        best = ups.max(initial=-1.0) - downs.min(initial=2001.0)
        # Brute force looks at every whole metre: it may miss up to 2 m, and finds no more.
        assert max(best, 0.0) - 0.01 <= piece.length_m <= max(best, 0.0) + 2.01


@pytest.mark.parametrize("heading_deg", [0.0, 37.0, 90.0, 211.0])
def test_rough_terrain_by_brute_force(heading_deg: float) -> None:
    # Dense points with the height of the cell that holds each: none may stand above either surface of the piece.
    rng = np.random.default_rng(int(heading_deg) + 3)
    rough = rng.uniform(-60.0, 110.0, FLAT.values.shape)
    terrain = grid(lambda e, n: rough)
    angle = np.radians(heading_deg)
    way = np.array([np.sin(angle), np.cos(angle)])
    line = shapely.LineString([(0, 0), 2000.0 * way])
    lake = line.buffer(150.0)
    piece = used(terrain, line=line, water=lake, chosen=SurveySettings()).ahead
    assert 0.0 < piece.length_m < 2000.0
    along, share = np.meshgrid(np.arange(0.0, 1500.0, 2.0), np.linspace(-1.0, 1.0, 201))
    across = share * (30.0 + 0.10 * along)
    ends = shapely.get_coordinates(piece.line)
    for end, unit in ((ends[1], way), (ends[0], -way)):
        east = end[0] + along * unit[0] + across * unit[1]
        north = end[1] + along * unit[1] - across * unit[0]
        over = terrain.nearest(east, north) - WATER_M - 0.125 * along
        assert over[~shapely.contains_xy(lake, east, north)].max() <= 1e-6


def test_unknown_ground_is_never_good() -> None:
    hole = grid(lambda e, n: np.where((n > 2800) & (n < 2900) & (abs(e) < 50), np.nan, -20.0))
    # With 1,500 m looked at, a lift-off before 1,300 m does not see the hole: that much is clear for sure.
    found = used(hole, chosen=SurveySettings())
    assert found.ahead.length_m == pytest.approx(1300.0, abs=0.01)
    assert "no terrain" in found.ahead.limited_by and "2000 m if nothing stands" in found.ahead.limited_by
    for nothing in (used(None), used(FLAT, surface_m=None), used(grid(lambda e, n: e * np.nan))):
        assert nothing.ahead.length_m is None and nothing.ahead.line is None
        assert nothing.back.length_m is None
    blocked = used(wall(400.0, 2060.0), chosen=SurveySettings())
    assert blocked.ahead.length_m == pytest.approx(
        2060.0 - 1500.0, abs=0.01
    )  # nothing is looked at beyond 1,500 m


def test_edge_of_the_terrain_is_unknown() -> None:
    small = grid(lambda e, n: np.full_like(e, -20.0), reach_m=3000.0)
    found = used(small, chosen=SurveySettings())
    assert found.ahead.length_m == pytest.approx(1500.0, abs=0.01)


def test_mast_of_unknown_height() -> None:
    found = used(obstacles=(mast(0.0, 2500.0, None),), chosen=SurveySettings())
    assert found.ahead.length_m == pytest.approx(1000.0, abs=0.01)
    assert "no height known of mast M1" in found.ahead.limited_by


@pytest.mark.parametrize("top_m", [WATER_M + 15.0, None])
def test_wire_across_the_water_splits_the_run(top_m: float | None) -> None:
    # At 1,400 m north, 15 m up: south of it the lift-off lies 120 m before it (unknown height: 1,500 m), north of it
    # the touch-down 120 m beyond it.
    wire = Obstacle("W1", "", "wire", shapely.LineString([(-200, 1400), (200, 1400)]), top_m, None, "row 2")
    found = used(obstacles=(wire,), chosen=SurveySettings())
    assert "crossed by wire W1" in found.ahead.limited_by
    if top_m is None:
        assert found.ahead.length_m is None
    else:
        assert found.ahead.length_m == pytest.approx(1400.0 - 120.0, abs=0.01)
        assert found.ahead.line.distance(wire.shape) == pytest.approx(120.0, abs=0.01)


def test_trees_count_with_their_canopy() -> None:
    trees = grid(lambda e, n: np.where(n > 2100.0, 20.0, 0.0) - WATER_M, cell_m=25.0)
    # Trees of 20 m on level ground from 100 m beyond the end: 160 m before them, so 60 m of the run are lost.
    level = grid(lambda e, n: np.zeros_like(e))
    assert used(level, canopy=trees).ahead.length_m == pytest.approx(1940.0, abs=0.01)
    assert used(level).ahead.length_m == pytest.approx(2000.0)
    gap = Grid(np.where(trees.values > 10.0, np.nan, 0.0), -6000.0, 6000.0, 25.0, 25.0)
    assert used(level, canopy=gap, chosen=SurveySettings()).ahead.length_m < 700.0


def test_open_intervals_join_and_end_where_they_should() -> None:
    found = barred(np.array([5.0, 1.0, 2.0, 9.0]), np.array([6.0, 3.0, 4.0, 8.0]))
    assert found.low_m == pytest.approx([1.0, 5.0], abs=0.01)
    assert found.high_m == pytest.approx([4.0, 6.0], abs=0.01)
    assert list(found.holds(np.array([0.5, 2.5, 4.5, 5.5, 7.0]))) == [False, True, False, True, False]
    assert found.last_free(np.array([5.5]))[0] == pytest.approx(5.0, abs=0.01)
    assert found.first_free(np.array([2.5]))[0] == pytest.approx(4.0, abs=0.01)


def test_a_longer_distance_to_the_ridge_never_shortens_the_run() -> None:
    lengths = [used(wall(180.0, 2000.0 + d)).ahead.length_m for d in range(50, 1500, 145)]
    assert lengths == sorted(lengths)


def test_arguments_that_cannot_be() -> None:
    with pytest.raises(BadArgument, match="corridor_width_m"):
        used(width_m=-1.0)
    with pytest.raises(BadArgument, match="no length"):
        used(line=shapely.LineString([(0, 0), (0, 0)]))


def test_a_bent_line_is_refused_and_the_front_door_is_geo_survey_runs():
    bend = shapely.LineString([(0.0, 0.0), (20.0, 1000.0), (0.0, 2000.0)])
    with pytest.raises(BadArgument, match="give a straight run"):
        used(grid(lambda e, n: np.full_like(e, -5.0)), line=bend)
    assert usable_run.__module__ == "geo.survey.usable.run"
    assert used(grid(lambda e, n: np.full_like(e, -5.0))).ahead.length_m == pytest.approx(2000.0)
