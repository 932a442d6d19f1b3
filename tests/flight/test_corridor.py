"""The corridor's highest ground against brute force over every cell; no cell may be left out."""

import numpy as np
import pytest
import shapely

from geo.base.errors import BadArgument
from geo.base.grid import Grid
from geo.flight.legs.corridor import corridor, corridor_surface, crop, obstacle_spans, profile
from geo.records.region import Obstacle

EAST, NORTH = 20.0, 10.0  # oblong cells on purpose: rows and columns must not be swapped


def terrain(rows=60, columns=50, seed=0, **change):
    values = np.random.default_rng(seed).uniform(0, 1000, (rows, columns))
    return Grid(values, 300.0, 900.0, EAST, NORTH)


def boxes(grid):
    rows, columns = grid.values.shape
    row, column = np.mgrid[0:rows, 0:columns]
    west, north = grid.west_m + column * EAST, grid.north_m - row * NORTH
    return shapely.box(west, north - NORTH, west + EAST, north)


def obstacle(shape, top=None, height=None, name="T"):
    return Obstacle(name, name, "mast", shape, top, height, "test")


@pytest.mark.parametrize("half_width", [0.0, 5.0, 30.0, 47.0, 120.0])
def test_surface_is_the_disc_maximum_of_rectangles(half_width):
    grid = terrain(25, 22)
    surface = corridor_surface(grid, half_width)
    cells = boxes(grid)
    for row, column in [(0, 0), (12, 11), (24, 21), (3, 20)]:
        # Independent: every cell whose rectangle lies within half_width of this rectangle, neighbours always.
        near = shapely.distance(cells[row, column], cells) <= half_width + 1e-9
        assert surface.values[row, column] == grid.values[near].max()


@pytest.mark.parametrize("seed", range(15))
def test_walk_misses_no_cell_and_never_understates(seed):
    rng = np.random.default_rng(100 + seed)
    grid, half_width = terrain(seed=seed), float(rng.uniform(0, 80))
    prepared = corridor(grid, half_width)
    start, end = tuple(rng.uniform([320, 320], [1280, 880])), tuple(rng.uniform([320, 320], [1280, 880]))
    walked = profile(prepared, start, end, [3.0, 17.0])
    line, cells = shapely.LineString([start, end]), boxes(grid)
    crossed = shapely.length(shapely.intersection(line, cells)) > 1e-6
    assert set(walked.ground_m[walked.to_m - walked.from_m > 1e-6]) == set(grid.values[crossed])
    assert walked.from_m[0] == 0.0
    assert walked.to_m[-1] == pytest.approx(line.length)
    assert walked.from_m[1:] == pytest.approx(walked.to_m[:-1], abs=0)
    truth = grid.values[shapely.distance(line, cells) <= half_width].max()
    assert np.max(walked.surface_m) >= truth
    # Nor does it reach further than one cell's diagonal beyond the half-width.
    reach = half_width + np.hypot(EAST, NORTH) + 1e-6
    assert np.max(walked.surface_m) <= grid.values[shapely.distance(line, cells) <= reach].max()


def test_a_single_peak_counts_exactly_where_it_is_near():
    values = np.zeros((60, 50))
    values[30, 25] = 500.0
    prepared = corridor(Grid(values, 300.0, 900.0, EAST, NORTH), 40.0)
    peak_east, peak_north = 300 + 25.5 * EAST, 900 - 30.5 * NORTH
    near = profile(prepared, (peak_east - 400, peak_north + 44), (peak_east + 400, peak_north + 44))
    far = profile(prepared, (peak_east - 400, peak_north + 61), (peak_east + 400, peak_north + 61))
    assert near.surface_m.max() == 500.0  # the peak's cell edge is 39 m from the track
    assert far.surface_m.max() == 0.0
    ruled = near.surface_m == 500.0
    assert near.from_m[ruled].min() <= 400 - EAST / 2
    assert near.to_m[ruled].max() >= 400 + EAST / 2


def test_lines_along_cell_borders_and_through_corners_are_walked():
    grid = terrain()
    prepared = corridor(grid, 0.0)
    border = profile(prepared, (340.0, 700.0), (640.0, 700.0))
    both = np.maximum(grid.values[19, 2:17], grid.values[20, 2:17])
    assert len(border.from_m) == 15
    assert np.all(border.surface_m >= both)  # zero half-width still covers both sides of the border
    diagonal = profile(prepared, (300.0, 900.0), (700.0, 700.0))
    assert list(diagonal.ground_m) == [grid.values[i, i] for i in range(20)]


def test_unknown_terrain_near_or_outside_is_not_known():
    grid = terrain()
    grid.values[30, 25] = np.nan
    prepared = corridor(grid, 40.0)
    easting, northing = 300 + 25.5 * EAST, 900 - 30.5 * NORTH
    near = profile(prepared, (easting - 300, northing + 40), (easting + 300, northing + 40))
    assert not near.known.all()
    assert near.known[0]
    assert np.isfinite(near.surface_m).all()
    leaving = profile(prepared, (1200.0, 600.0), (1500.0, 600.0))
    assert np.isnan(leaving.ground_m[-1])
    assert not leaving.known[-1]
    assert not leaving.known[
        leaving.to_m > 1300 - 40 - 1200 + EAST
    ].any()  # the edge is within the half-width


def test_without_terrain_nothing_is_known():
    walked = profile(corridor(None, 100.0), (0.0, 0.0), (1000.0, 0.0))
    assert not walked.known.any()
    assert np.isnan(walked.surface_m).all()


def test_cropped_terrain_gives_the_same_walk():
    grid = terrain()
    start, end = (600.0, 500.0), (900.0, 640.0)
    whole = profile(corridor(grid, 60.0), start, end)
    part = profile(corridor(crop(grid, (600.0, 500.0, 900.0, 640.0), 60.0 + 2 * EAST), 60.0), start, end)
    assert part.surface_m == pytest.approx(whole.surface_m, abs=0)
    assert part.from_m == pytest.approx(whole.from_m, abs=1e-9)
    assert part.known.all()


def test_obstacle_tops():
    values = np.zeros((60, 50))
    values[:, 30:] = 100.0  # a step at easting 900
    grid = Grid(values, 300.0, 900.0, EAST, NORTH)
    wire = shapely.LineString([(850.0, 600.0), (950.0, 600.0)])
    things = [
        obstacle(shapely.Point(500.0, 500.0), top=77.0),
        obstacle(shapely.Point(1000.0, 500.0), height=30.0),
        obstacle(wire, height=20.0),
        obstacle(shapely.Point(1000.0, 500.0)),
        obstacle(shapely.Point(5000.0, 500.0), height=30.0),  # ground there unknown
    ]
    assert [top.top_m for top in corridor(grid, 50.0, things).obstacles] == [77.0, 130.0, 120.0, None, None]
    assert [top.top_m for top in corridor(None, 50.0, things).obstacles] == [77.0, None, None, None, None]


def test_long_wires_carry_their_own_ground():
    values = np.zeros((60, 200))
    values[:, 150:] = 400.0
    wire = obstacle(shapely.LineString([(350.0, 600.0), (4200.0, 600.0)]), height=25.0)
    tops = corridor(Grid(values, 300.0, 900.0, EAST, NORTH), 50.0, [wire]).obstacles
    assert {top.top_m for top in tops} == {25.0, 425.0}
    assert sum(top.shape.length for top in tops) == pytest.approx(3850.0)


def test_obstacle_span_is_the_chord_of_the_circle():
    prepared = corridor(None, 100.0, [obstacle(shapely.Point(500.0, 60.0), top=50.0)])
    ((first, last, top),) = obstacle_spans(prepared, (0.0, 0.0), (1000.0, 0.0), 100.0)
    # Closed form: half chord sqrt(100^2 - 60^2) = 80; never narrower, at most 1 % of the radius wider.
    assert 419.0 <= first <= 420.0
    assert 580.0 <= last <= 581.0
    assert top.top_m == 50.0
    for northing in np.linspace(-41.0, -40.0, 30):  # round the very edge of the reach, allowance included
        spans = obstacle_spans(prepared, (0.0, northing), (1000.0, northing), 100.0)
        assert bool(spans) or northing < -40.0
    assert obstacle_spans(prepared, (0.0, -41.0), (1000.0, -41.0), 100.0) == []


@pytest.mark.parametrize("half_width", [-1.0, float("nan"), float("inf")])
def test_bad_half_width_is_refused(half_width):
    with pytest.raises(BadArgument, match="half_width_m"):
        corridor_surface(terrain(), half_width)
