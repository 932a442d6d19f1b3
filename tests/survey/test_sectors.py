"""What stands round a hover point, on invented ground with exact answers, and against the run ends' own rule."""

import numpy as np
import pytest
import shapely

from geo.base.grid import Grid
from geo.records.region import Obstacle
from geo.records.survey import Sectors, SurveySettings
from geo.survey.clearance import surroundings
from geo.survey.ground import ground_round
from geo.survey.horizon_scan import ABEAM, CLIMBS_M
from geo.survey.sectors import Horizon
from geo.survey.usable.skyline import Skyline

SETTINGS = SurveySettings()
CENTRE = shapely.Point(0.0, 0.0)
LAKE = CENTRE.buffer(300.0, quad_segs=32)
NORTH, EAST, SOUTH, WEST = 0, 9, 18, 27


def land(height, cell_m: float = 20.0, half_m: float = 2500.0) -> Grid:
    """Terrain height(easting, northing) in square cells, the water in the middle too."""
    count = int(2 * half_m / cell_m)
    x = -half_m + (np.arange(count) + 0.5) * cell_m
    east, north = np.meshgrid(x, -x)
    return Grid(
        np.broadcast_to(height(east, north), east.shape).astype(float), -half_m, half_m, cell_m, cell_m
    )


def looked(
    grid: Grid | None, obstacles=(), *, level=0.0, error=0.0, radius=60.0, at=CENTRE, lake=LAKE
) -> Sectors:
    around = surroundings(ground_round(lake, grid, level, error), obstacles, True, SETTINGS)
    return Horizon(around, Skyline(around)).sectors(at, radius)


def wire(shape: shapely.Geometry, height: float | None = 61.0, top: float | None = None) -> Obstacle:
    return Obstacle("L7", "", "wire", shape, top, height, "obstacles.csv row 1")


FLAT = land(lambda e, n: -1.0)


def test_nothing_rises_over_level_ground():
    found = looked(FLAT)
    assert found.slopes == ((0.0,) * 36,) * len(CLIMBS_M)
    assert set(found.ruling) == {None} and set(found.unknown) == {()} and found.things == ()


def test_a_wall_at_a_distance_has_its_own_slope():
    """60 m of wall that begin 600 m east: 60 / 600 straight ahead; it is behind for all that looks west."""
    found = looked(land(lambda e, n: np.where(e > 600.0, 60.0, -1.0)))
    assert found.slopes[0][EAST] == pytest.approx(0.1, abs=1e-4)
    # After a climb of 30 m half of it is left.
    assert found.slopes[-1][EAST] == pytest.approx(0.05, abs=1e-4)
    assert found.things[found.ruling[EAST]] == "terrain 600 m away, 60 m above the water"
    assert max(found.slopes[0][i] for i in range(SOUTH, 37 - SOUTH + 18) if 19 <= i <= 35) == 0.0


def test_the_published_surface_clears_what_lies_on_it():
    """14 CFR Part 77, heliport approach surface: 8:1 over 4,000 ft, so 500 ft at its end."""
    mast = wire(shapely.Point(0.0, 4000.0 * 0.3048), None, 500.0 * 0.3048)
    assert looked(FLAT, (mast,)).slopes[0][NORTH] == pytest.approx(1.0 / 8.0, abs=1e-4)


@pytest.mark.parametrize("seed", range(3))
def test_every_direction_agrees_with_the_rule_for_the_ends_of_runs(seed):
    """On rough ground with a mast: the surface beyond a run's end has its own code, which has its own tests."""
    rng = np.random.default_rng(seed)
    bumps = rng.uniform(-2200.0, 2200.0, (40, 2))
    tall, wide = rng.uniform(20.0, 300.0, 40), rng.uniform(80.0, 500.0, 40)

    def height(e, n):
        parts = tall * np.exp(
            -((e[..., None] - bumps[:, 0]) ** 2 + (n[..., None] - bumps[:, 1]) ** 2) / wide**2
        )
        return np.where(np.hypot(e, n) < 330.0, -1.0, parts.sum(axis=-1) - 10.0)

    grid, mast = land(height, 25.0), wire(shapely.Point(500.0, -700.0), 80.0)
    around = surroundings(ground_round(LAKE, grid, 0.0, 3.0), (mast,), True, SETTINGS)
    found = Horizon(around, Skyline(around)).sectors(shapely.Point(40.0, -30.0), 60.0)
    ends = [around.beyond((40.0, -30.0), 10.0 * i) for i in range(36)]
    for seen, reference in (
        (found.slopes[0], [end.steepest_slope for end in ends]),
        (found.without_error[0], [end.steepest_without_error_slope for end in ends]),
    ):
        above = np.array(seen) - np.array(reference)
        assert above.min() >= -1e-9
        # A cell at an outer corner of the surface may be counted here and not there; elsewhere only rounding differs.
        assert (above <= 1.1e-4).sum() >= 34 and above.max() <= 0.01


def test_a_ring_of_wire_bars_every_direction():
    """61 m of wire 58 m off: at least 61/58 each way, and no more than its nearest part abeam makes."""
    ring = wire(CENTRE.buffer(58.0, quad_segs=32).exterior)
    found = looked(
        land(lambda e, n: np.where(np.hypot(e, n) < 46.0, -1.0, 0.0)),
        (ring,),
        lake=CENTRE.buffer(46.0),
        radius=46.0,
    )
    slopes = np.array(found.slopes[0])
    assert slopes.min() >= 61.0 / 58.1 and slopes.max() <= 61.0 / (ABEAM * 57.5)
    # 31 m of it are left after the highest climb.
    assert min(found.slopes[-1]) >= 31.0 / 58.1
    assert all("wire L7" in found.things[k] for k in found.ruling)


def test_a_gap_in_the_ring_is_a_way():
    """From 300 to 060 degrees the ring is open: the surface (30 m to each side, 1 in 10) fits straight through it."""
    angle = np.radians(np.arange(60.0, 300.5, 2.0))
    ring = wire(shapely.LineString(np.column_stack((np.sin(angle), np.cos(angle))) * 58.0))
    found = looked(FLAT, (ring,), radius=46.0)
    assert found.slopes[0][NORTH] == 0.0
    assert all(found.slopes[0][i] > 1.0 for i in range(6, 31))


def test_unknown_heights_bar_the_directions_they_stand_in():
    mast = wire(shapely.Point(0.0, 500.0), None)
    found = looked(FLAT, (mast,))
    # 30 m + 50 m to each side at 500 m: 9.1 degrees.
    assert [i for i in range(36) if found.unknown[i]] == [0]
    assert "height unknown" in found.things[found.unknown[NORTH][0]] and found.slopes[0][NORTH] == 0.0


def test_missing_ground_is_unknown_and_never_level():
    hole = land(lambda e, n: np.where(n > 900.0, np.nan, -1.0))
    found = looked(hole)
    assert "no terrain from 900 m on" in [found.things[k] for k in found.unknown[NORTH]]
    assert found.unknown[SOUTH] == () and found.slopes[0][NORTH] == 0.0
    short = land(lambda e, n: -1.0, half_m=1000.0)
    assert all(looked(short).unknown)
    assert all(looked(None).unknown) and all(looked(FLAT, level=None).unknown)


def test_the_terrains_error_counts_and_can_be_left_out():
    """5 m of bank 320 m off with an error of 3 m: 8 m are counted."""
    found = looked(land(lambda e, n: np.where(n > 320.0, 5.0, -9.0)), error=3.0)
    assert found.slopes[0][NORTH] == pytest.approx(8.0 / 320.0, abs=1e-4)
    assert found.without_error[0][NORTH] == pytest.approx(5.0 / 320.0, abs=1e-4)


def test_of_a_cell_on_the_shore_only_the_land_counts():
    """Cells of 100 m: the bank begins 50 m off, though its cell begins at the point itself."""
    lake = shapely.box(-400.0, -400.0, 400.0, 50.0)
    found = looked(land(lambda e, n: 2.0, 100.0), lake=lake, radius=50.0)
    assert found.slopes[0][NORTH] == pytest.approx(2.0 / 50.0, abs=1e-4)


def test_trees_on_the_terrain_count():
    bare = land(lambda e, n: 0.0)
    canopy = land(lambda e, n: np.where(n > 400.0, 20.0, 0.0))
    around = surroundings(ground_round(LAKE, bare, 0.0, 0.0, bare.raised_by(canopy)), (), True, SETTINGS)
    found = Horizon(around, Skyline(around)).sectors(CENTRE, 60.0)
    assert found.slopes[0][NORTH] == pytest.approx(20.0 / 400.0, abs=1e-4)
    assert found.things[found.ruling[NORTH]].startswith("terrain with trees 400 m away")


@pytest.mark.parametrize("cell_m", [10.0, 40.0])
def test_no_cell_is_passed_over(cell_m):
    """One needle of ground anywhere: the direction that looks at it has at least its slope from its far corner."""
    rng = np.random.default_rng(4)
    for _ in range(40):
        away, angle = rng.uniform(340.0, 1400.0), rng.uniform(0.0, 2.0 * np.pi)
        e0, n0 = away * np.sin(angle), away * np.cos(angle)
        grid = land(
            lambda e, n, e0=e0, n0=n0: np.where(
                np.maximum(abs(e - e0), abs(n - n0)) <= cell_m / 2, 90.0, -1.0
            ),
            cell_m,
            1800.0,
        )
        found = looked(grid)
        seen = int(np.rint(np.degrees(angle) / 10.0)) % 36
        assert found.slopes[0][seen] >= 90.0 / (away + 1.5 * cell_m)
        assert sum(slope > 0.0 for slope in found.slopes[0]) <= 4
