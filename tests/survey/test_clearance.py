"""End clearances against closed cases of an 8:1 surface.

8:1 is the US civil heliport approach surface (14 CFR Part 77): 12.5 m at 100 m, 62.5 m at 500 m, 152.4 m at
1,219.2 m (4,000 ft).
"""

import numpy as np
import pytest
import shapely

from geo.base.grid import Grid
from geo.records.region import Obstacle
from geo.records.survey import EndClearance, SurveySettings
from geo.survey.clearance import surroundings
from geo.survey.ground import ground_round

WATER_M = 200.0
POND = shapely.box(-400, -60, 40, 60)  # the run's end is at (0, 0): 40 m of water ahead
SETTINGS = SurveySettings()
HEADINGS = [0.0, 37.0, 90.0, 141.5, 180.0, 233.0, 270.0, 315.0]


def plane_grid(
    height, cell_east_m: float = 10.0, cell_north_m: float = 20.0, reach_m: float = 2000.0
) -> Grid:
    """Terrain with height(easting, northing) at its cell centres, on cells of 10 x 20 m."""
    columns, rows = int(2 * reach_m / cell_east_m), int(2 * reach_m / cell_north_m)
    x = -reach_m + (np.arange(columns) + 0.5) * cell_east_m
    y = reach_m - (np.arange(rows) + 0.5) * cell_north_m
    east, north = np.meshgrid(x, y)
    values = np.broadcast_to(np.asarray(height(east, north), float), east.shape).copy()
    return Grid(values, -reach_m, reach_m, cell_east_m, cell_north_m)


FLAT_LOW = plane_grid(lambda e, n: np.full_like(e, WATER_M - 50.0))


def obstacle(shape, top: float | None = None, height: float | None = None, kind: str = "mast") -> Obstacle:
    return Obstacle("M1", "", kind, shape, top, height, "obstacles.csv row 1")


def looked(
    heading_deg: float = 90.0,
    terrain: Grid | None = FLAT_LOW,
    obstacles: tuple[Obstacle, ...] = (),
    error_m: float | None = None,
    listed: bool = True,
    surface_m: float | None = WATER_M,
    water: shapely.Polygon = POND,
    settings: SurveySettings = SETTINGS,
) -> EndClearance:
    ground = ground_round(water, terrain, surface_m, error_m)
    return surroundings(ground, obstacles, listed, settings).beyond((0.0, 0.0), heading_deg)


def ahead(heading_deg: float, along_m: float, across_m: float = 0.0) -> shapely.Point:
    angle = np.radians(heading_deg)
    return shapely.Point(
        along_m * np.sin(angle) + across_m * np.cos(angle), along_m * np.cos(angle) - across_m * np.sin(angle)
    )


@pytest.mark.parametrize(("distance_m", "rise_m"), [(100.0, 12.5), (500.0, 62.5), (1219.2, 152.4)])
@pytest.mark.parametrize("heading_deg", HEADINGS)
def test_mast_exactly_on_the_surface(heading_deg: float, distance_m: float, rise_m: float) -> None:
    for lift_m in (-1.0, 0.0, 1.0):
        mast = obstacle(ahead(heading_deg, distance_m), top=WATER_M + rise_m + lift_m)
        found = looked(heading_deg, obstacles=(mast,))
        assert found.excess_m == pytest.approx(lift_m, abs=1e-6)
        assert found.distance_m == pytest.approx(distance_m, abs=1e-6)
        assert found.steepest_slope == pytest.approx((rise_m + lift_m) / distance_m)
        assert "mast M1" in found.what


@pytest.mark.parametrize("heading_deg", HEADINGS)
def test_surface_widens_by_the_divergence_on_both_sides(heading_deg: float) -> None:
    # half width at 800 m: 30 + 0.10 x 800 = 110 m
    for across_m in (-109.9, 109.9):
        mast = obstacle(ahead(heading_deg, 800.0, across_m), top=WATER_M + 300.0)
        assert looked(heading_deg, obstacles=(mast,)).excess_m == pytest.approx(200.0, abs=1e-6)
    for across_m in (-110.1, 110.1):
        mast = obstacle(ahead(heading_deg, 800.0, across_m), top=WATER_M + 300.0)
        assert looked(heading_deg, obstacles=(mast,)).what.startswith("terrain")


def test_nothing_behind_the_end_or_beyond_the_look_counts() -> None:
    masts = (obstacle(ahead(90, -5), top=999.0), obstacle(ahead(90, 1500.5), top=9999.0))
    assert looked(obstacles=masts).excess_m < 0.0


@pytest.mark.parametrize("heading_deg", [0.0, 90.0, 180.0, 270.0])
def test_wall_at_a_distance(heading_deg: float) -> None:
    # A wall of 100 m from 600 m outward: the surface is at 75 m there, so it stands 25 m above; on every side.
    wall = plane_grid(
        lambda e, n: np.where(np.maximum(abs(e), abs(n)) > 600.0, WATER_M + 100.0, WATER_M - 50.0)
    )
    found = looked(heading_deg, wall)
    assert found.excess_m == pytest.approx(25.0, abs=1e-6)
    assert found.distance_m == pytest.approx(600.0, abs=1e-6)
    assert found.steepest_slope == pytest.approx(100.0 / 600.0)
    # A surface that begins to rise later, 3 m above the water before: (100 - 3) / (600 - later); nothing clears a wall
    # that stands before it begins.
    for hundreds, slope in enumerate(found.later_slopes, start=1):
        if hundreds < 6:
            assert slope == pytest.approx(97.0 / (600.0 - 100.0 * hundreds))
        else:
            assert slope is None
    assert len(found.later_slopes) == 15
    assert "600 m beyond the end, 25.0 m above" in found.what


def test_wedge_ridge_by_its_formula() -> None:
    # Rises 1 in 4 from 400 m to a crest of 150 m at 1,000 m, falls beyond. Above the 8:1 surface by 150 - 125 = 25 m at
    # the crest. A cell counts from its near edge, 5 m before its centre: at most 10 m x 1/8 more than the formula.
    def ridge(e: np.ndarray, n: np.ndarray) -> np.ndarray:
        return WATER_M + np.maximum(-50.0, np.minimum((e - 400.0) / 4.0, 150.0 - (e - 1000.0) / 4.0))

    found = looked(90.0, plane_grid(ridge))
    assert 25.0 - 1.25 <= found.excess_m <= 25.0 + 1.25
    assert found.distance_m == pytest.approx(1000.0, abs=10.0)


@pytest.mark.parametrize("heading_deg", [0.0, 90.0])
def test_cells_that_are_not_square_keep_their_axes(heading_deg: float) -> None:
    # One high cell of 10 m (east) x 20 m (north) at 500-510 m east and 500-520 m north of the end.
    def spike(e: np.ndarray, n: np.ndarray) -> np.ndarray:
        east = (abs(e - 505.0) < 1.0) & (abs(n) < 15.0)
        north = (abs(n - 510.0) < 1.0) & (abs(e) < 15.0)
        return np.where(east | north, WATER_M + 100.0, WATER_M - 50.0)

    found = looked(heading_deg, plane_grid(spike))
    assert found.distance_m == pytest.approx(500.0, abs=1e-6)
    assert found.excess_m == pytest.approx(100.0 - 62.5, abs=1e-6)


@pytest.mark.parametrize("heading_deg", HEADINGS)
def test_no_cell_in_the_fan_is_missed(heading_deg: float) -> None:
    # Independent brute force: dense points in the fan, each with the height of the cell that holds it. The answer is
    # never below the points on land; nor above those of a fan larger by a cell's diagonal and nearer by as much.
    rng = np.random.default_rng(int(heading_deg * 10) + 1)
    rough = rng.uniform(-60.0, 160.0, (200, 400))
    terrain = plane_grid(lambda e, n: WATER_M + rough)
    diagonal_m = np.hypot(10.0, 20.0)

    def highest(wider_m: float, nearer_m: float, pond: shapely.Polygon | None) -> float:
        angle = np.radians(heading_deg)
        along, share = np.meshgrid(np.arange(-wider_m, 1500.0 + wider_m, 1.0), np.linspace(-1.0, 1.0, 361))
        across = share * (30.0 + 0.10 * np.maximum(along, 0.0) + wider_m)
        east = along * np.sin(angle) + across * np.cos(angle)
        north = along * np.cos(angle) - across * np.sin(angle)
        excess = terrain.nearest(east, north) - WATER_M - 0.125 * np.maximum(along - nearer_m, 0.0)
        return excess.max() if pond is None else excess[~shapely.contains_xy(pond, east, north)].max()

    found = looked(heading_deg, terrain).excess_m
    # 0.125 m: the points are 1 m apart, so the nearest part of a cell lies up to 1 m before its first point
    assert found >= highest(0.0, 0.0, POND) - 1e-9
    assert found <= highest(diagonal_m, diagonal_m, None) + 0.125


def test_fan_narrower_than_a_cell_sees_the_cell() -> None:
    coarse = plane_grid(lambda e, n: np.where(e > 1000.0, WATER_M + 400.0, WATER_M - 9.0), 500.0, 500.0)
    narrow = SurveySettings(corridor_width_m=2.0, surface_divergence=0.0)
    found = looked(90.0, coarse, settings=narrow)
    assert found.excess_m == pytest.approx(400.0 - 125.0, abs=1e-6)


def test_terrain_error_is_added_and_said() -> None:
    wall = plane_grid(lambda e, n: np.where(e > 600.0, WATER_M + 70.0, WATER_M - 50.0))
    assert looked(90.0, wall).excess_m == pytest.approx(-5.0, abs=1e-6)
    found = looked(90.0, wall, error_m=6.0)
    assert found.excess_m == pytest.approx(1.0, abs=1e-6)
    assert "error of 6.0 m" in found.what and "5.0 m below without it" in found.what


def test_cells_over_the_water_count_at_water_level() -> None:
    # The terrain model is 300 m wrong over the water only: cells wholly in it do not matter.
    wrong = plane_grid(lambda e, n: np.where((abs(n) < 60.0) & (e < 40.0), WATER_M + 300.0, WATER_M - 50.0))
    assert looked(90.0, wrong, water=shapely.box(-400, -60, 40, 60)).excess_m < 0.0


def test_shore_cell_counts_from_where_its_land_begins() -> None:
    # Cells of 100 m: the one at 0-100 m east is water to 40 m. Its 4 m stand on land from 40 m, where the surface is
    # 5 m up: clear by 1 m. Counted from its near edge it would stand 4 m above.
    coarse = plane_grid(
        lambda e, n: np.where((e > 0) & (e < 100), WATER_M + 4.0, WATER_M - 90.0), 100.0, 100.0
    )
    found = looked(90.0, coarse)
    assert found.excess_m == pytest.approx(-1.0, abs=1e-5)
    assert found.distance_m == pytest.approx(40.0, abs=1e-4)


def test_only_water_ahead() -> None:
    sea = shapely.box(-5000, -5000, 5000, 5000)
    found = looked(90.0, terrain=plane_grid(lambda e, n: np.full_like(e, np.nan)), water=sea)
    assert found.excess_m == pytest.approx(-0.125 * 1500.0)
    assert found.distance_m is None and found.steepest_slope == 0.0
    assert "only water" in found.what


def test_missing_terrain_is_unknown_never_clear() -> None:
    hole = plane_grid(lambda e, n: np.where((e > 800) & (e < 811) & (n > 0), np.nan, WATER_M - 50.0))
    for found in (
        looked(terrain=None),
        looked(terrain=hole),
        looked(terrain=plane_grid(lambda e, n: e * 0, reach_m=900.0)),
    ):
        assert found.excess_m is None and found.distance_m is None and found.steepest_slope is None
        assert "no terrain" in found.what
    assert "800 m" in looked(terrain=hole).what
    assert looked(heading_deg=270.0, terrain=hole).excess_m is not None


def test_what_is_known_to_break_the_surface_stands_without_terrain() -> None:
    mast = obstacle(ahead(90, 400), top=WATER_M + 80.0)
    found = looked(terrain=None, obstacles=(mast,))
    assert found.excess_m == pytest.approx(30.0)
    assert found.steepest_slope is None
    assert "mast M1" in found.what and "no terrain" in found.what


def test_unknown_water_level_is_unknown() -> None:
    found = looked(surface_m=None)
    assert found.excess_m is None
    assert "surface elevation is unknown" in found.what


def test_obstacle_on_ground_counts_with_ground_error_and_height() -> None:
    hill = plane_grid(lambda e, n: np.full_like(e, WATER_M + 10.0))
    mast = obstacle(ahead(90, 400), height=60.0)
    assert looked(terrain=hill, obstacles=(mast,), error_m=2.0).excess_m == pytest.approx(
        10 + 2 + 60 - 50, abs=1e-6
    )


def test_unknown_height_is_listed_and_not_guessed() -> None:
    found = looked(obstacles=(obstacle(ahead(90, 400)),))
    assert found.unknown_heights == ("mast M1 (height unknown)",)
    assert found.excess_m < 0.0
    assert looked(obstacles=(obstacle(ahead(90, -400)),)).unknown_heights == ()


def test_wire_counts_at_full_height_where_it_crosses() -> None:
    # Crosses the fan at 300 m (surface 37.5 m up) between towers outside it; the eastern tower stands 30 m higher.
    rise = plane_grid(lambda e, n: np.where(n > 100.0, WATER_M + 30.0, WATER_M - 5.0))
    wire = obstacle(shapely.LineString([(300, -500), (300, 500)]), height=25.0, kind="wire")
    found = looked(90.0, rise, obstacles=(wire,))
    assert found.excess_m == pytest.approx(30.0 + 25.0 - 37.5, abs=1e-6)
    assert "wire M1 300 m beyond the end" in found.what
    top = obstacle(shapely.LineString([(300, -500), (350, 500)]), top=WATER_M + 40.0, kind="wire")
    # enters the fan where northing = -(30 + 0.1 easting): easting 323.382..., and the near one is on the south side
    crossing_m = (300 + 0.05 * (500 - 30)) / (1 + 0.05 * 0.1)
    assert looked(90.0, FLAT_LOW, obstacles=(top,)).distance_m == pytest.approx(crossing_m, abs=1e-3)


def test_forest_counts_cell_by_cell() -> None:
    # Trees of 20 m on a 1-in-10 slope from 200 m to 700 m: the highest excess is at the near edge, 20 + 20 - 25 m.
    slope = plane_grid(lambda e, n: WATER_M + e / 10.0)
    trees = obstacle(shapely.box(200, -300, 700, 300), height=20.0, kind="trees")
    found = looked(90.0, slope, obstacles=(trees,))
    assert found.excess_m == pytest.approx(
        20.5 + 20.0 - 25.0, abs=1e-6
    )  # ground at the centre of the first cell


def test_without_a_list_of_obstacles_it_is_said() -> None:
    assert "masts and wires are unknown" in looked(listed=False).what
    assert "unknown" not in looked(listed=True).what
