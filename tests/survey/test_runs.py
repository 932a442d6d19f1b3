"""The longest run and the rose: closed answers, an independent brute force, invariants, and bad input."""

import itertools

import numpy as np
import pytest
import run_brute
import run_shapes
import shapely

from geo.base.errors import BadArgument
from geo.survey.runs import longest_run, run_rose

HEADINGS = np.arange(0.0, 360.0, 10.0)


def inside(polygon, line, width_m=0.0):
    """The run lies in the water and keeps half the corridor from every shore (GEOS distances, 1e-6 m)."""
    assert line.difference(polygon.buffer(1e-6)).length == 0.0
    if width_m > 0.0:
        assert line.distance(polygon.boundary) >= width_m / 2.0 - 1e-6


def comb(teeth=6):
    """A bar 1000 x 100 with bays of 50 x 300 to the north."""
    bays = [shapely.box(150.0 * k, 100.0, 150.0 * k + 50.0, 400.0) for k in range(teeth)]
    return shapely.union_all([shapely.box(0.0, 0.0, 1000.0, 100.0), *bays])


# Closed answers: (shape, length). Plain geometry; no other source.
CLOSED = {
    "rectangle": (shapely.box(0, 0, 300, 400), 500.0),
    "unit square": (shapely.box(0, 0, 1, 1), np.sqrt(2.0)),
    "triangle": (shapely.Polygon([(0, 0), (400, 0), (0, 300)]), 500.0),
    # L of two bars 100 wide, 400 long: the line from (0, 400) past the inner corner (100, 100) meets y = 0 at 133.3.
    "L": (
        shapely.Polygon([(0, 0), (400, 0), (400, 100), (100, 100), (100, 400), (0, 400)]),
        np.hypot(400.0, 400.0 / 3),
    ),
    # A square with a square island: the line from the corner (0, 0) past the island's (300, 100) runs to (400, 133.3).
    "ring": (
        shapely.Polygon(
            [(0, 0), (400, 0), (400, 400), (0, 400)], [[(100, 100), (300, 100), (300, 300), (100, 300)]]
        ),
        np.hypot(400.0, 400.0 / 3.0),
    ),
    "needle": (shapely.Polygon([(0, 0), (5000, 0.001), (10000, 0)]), 10000.0),
    # From (1000, 0) past the first bay's corner (50, 100) the line goes on into the bay to x = 0, y = 100 x 1000 / 950.
    "comb": (comb(), np.hypot(1000.0, 100.0 * 1000.0 / 950.0)),
}


@pytest.mark.parametrize("name", CLOSED)
def test_shapes_with_a_closed_answer(name):
    shape, length_m = CLOSED[name]
    found = longest_run(shape)
    assert found.length_m == pytest.approx(length_m, rel=1e-9)
    assert found.certified and found.upper_bound_m == pytest.approx(length_m, rel=1e-9)
    assert found.line.length == pytest.approx(found.length_m, rel=1e-9)
    inside(shape, found.line)


def test_corridor_in_a_rectangle():
    """Half the corridor is kept on every side: the diagonal of the rectangle drawn in by 30 m (plain geometry)."""
    shape = shapely.box(0, 0, 300, 400)
    found = longest_run(shape, 60.0)
    assert found.length_m == pytest.approx(np.hypot(240.0, 340.0), rel=1e-8)
    inside(shape, found.line, 60.0)


def test_corridor_round_a_headland():
    """A capsule grazes a corner at exactly half its width: against GEOS erosion with fine arcs (reference library)."""
    shape = CLOSED["L"][0]
    found = longest_run(shape, 40.0)
    eroded = shape.buffer(-20.0, quad_segs=512)
    assert found.length_m == pytest.approx(longest_run(eroded).length_m, rel=1e-4)
    inside(shape, found.line, 40.0)


def test_a_water_too_narrow_for_the_corridor_has_no_run():
    found = longest_run(shapely.box(0, 0, 1000, 50), 60.0)
    assert (found.length_m, found.line) == (0.0, None)


@pytest.mark.parametrize("seed", run_shapes.some_of(300, 80))
def test_random_lakes_with_islands_against_brute_force(seed):
    """300 random polygons; the brute force in run_brute.py shares no code with the program."""
    rng = np.random.default_rng(seed)
    lake = run_shapes.random_lake(rng, int(rng.integers(5, 14)), int(rng.integers(0, 3)))
    found = longest_run(lake)
    assert found.length_m == pytest.approx(run_brute.longest_run_by_pairs(lake), rel=1e-9)
    assert found.certified
    inside(lake, found.line)


@pytest.mark.parametrize("seed", run_shapes.some_of(60, 20))
def test_lattice_shapes_against_exact_arithmetic(seed):
    """Collinear edges, touching islands, grazed corners: compared in rational numbers without rounding."""
    lake = run_shapes.lattice_lake(np.random.default_rng(seed), 4, 2)
    exact = float(run_brute.squared_longest_run_exact(lake)) ** 0.5
    assert longest_run(lake).length_m == pytest.approx(exact, rel=1e-12)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1000, 4000))
def test_thousands_of_random_lakes(seed):
    rng = np.random.default_rng(seed)
    lake = run_shapes.random_lake(rng, int(rng.integers(5, 25)), int(rng.integers(0, 5)))
    assert longest_run(lake).length_m == pytest.approx(run_brute.longest_run_by_pairs(lake), rel=1e-9)


@pytest.mark.parametrize("seed", run_shapes.some_of(40, 15))
def test_rose_against_brute_force(seed):
    lake = run_shapes.random_lake(np.random.default_rng(seed), 12, 2)
    rose = run_rose(lake, HEADINGS)
    for heading, length, line in zip(HEADINGS, rose.lengths_m, rose.lines, strict=True):
        assert length == pytest.approx(run_brute.rose_by_vertices(lake, heading), rel=1e-8)
        (x1, y1), (x2, y2) = line.coords
        assert np.degrees(np.arctan2(x2 - x1, y2 - y1)) % 360.0 == pytest.approx(heading, abs=1e-6)
        inside(lake, line)
    assert rose.lengths_m.max() <= longest_run(lake).length_m * (1.0 + 1e-9)
    assert np.allclose(rose.lengths_m[:18], rose.lengths_m[18:], rtol=1e-12)


def test_rose_of_a_rectangle():
    """Across 300, along 400; at 45 degrees the width rules: 300 sqrt 2 (plain geometry)."""
    lengths = run_rose(shapely.box(0, 0, 300, 400), [0.0, 90.0, 45.0, 225.0]).lengths_m
    assert lengths == pytest.approx([400.0, 300.0, 300.0 * np.sqrt(2.0), 300.0 * np.sqrt(2.0)], rel=1e-12)


@pytest.mark.parametrize("width_m", [0.0, 20.0])
@pytest.mark.parametrize("seed", range(8))
def test_turning_moving_and_scaling_change_nothing(seed, width_m):
    lake = run_shapes.random_lake(np.random.default_rng(seed), 14, 2)
    length = longest_run(lake, width_m).length_m
    assert longest_run(run_shapes.turned(lake, 37.0), width_m).length_m == pytest.approx(length, rel=1e-8)
    moved = shapely.transform(lake, lambda p: np.round(p, 3) + np.array([1.0e7, -2.0e6]))
    near = longest_run(shapely.transform(lake, lambda p: np.round(p, 3)), width_m).length_m
    assert longest_run(moved, width_m).length_m == pytest.approx(near, rel=1e-8)
    doubled = shapely.transform(lake, lambda p: 2.0 * p)
    assert longest_run(doubled, 2.0 * width_m).length_m == pytest.approx(2.0 * length, rel=1e-8)


@pytest.mark.parametrize("seed", range(8))
def test_more_vertices_change_nothing_and_less_water_is_never_longer(seed):
    rng = np.random.default_rng(seed)
    lake = run_shapes.random_lake(rng, 14, 1)
    length = longest_run(lake).length_m
    assert longest_run(lake.segmentize(37.0)).length_m == pytest.approx(length, rel=1e-8)
    middle = longest_run(lake).line.interpolate(0.5, normalized=True)
    islanded = run_shapes.largest_part(lake.difference(middle.buffer(5.0)))
    assert longest_run(islanded).length_m <= length * (1.0 + 1e-12)
    widths = [longest_run(lake, width).length_m for width in (0.0, 10.0, 30.0, 60.0, 120.0)]
    assert all(wider <= narrower * (1.0 + 1e-9) for narrower, wider in itertools.pairwise(widths))


def test_each_part_is_searched_on_its_own():
    """Two squares that touch in a corner: no run crosses from one to the other."""
    both = shapely.MultiPolygon([shapely.box(0, 0, 100, 100), shapely.box(100, 100, 300, 300)])
    found = longest_run(both)
    assert found.length_m == pytest.approx(200.0 * np.sqrt(2.0), rel=1e-12)
    assert found.part_index == 1


def test_islands_that_touch_the_shore_and_each_other():
    """Two triangles that meet in the middle of a square: a run may pass through the point where they touch."""
    cuts = [
        shapely.Polygon([(0, 150), (200, 200), (0, 250)]),
        shapely.Polygon([(400, 150), (200, 200), (400, 250)]),
    ]
    lake = shapely.box(0, 0, 400, 400).difference(shapely.union_all(cuts))
    parts = list(shapely.get_parts(lake))
    found = longest_run(lake)
    assert found.length_m == pytest.approx(
        max(run_brute.longest_run_by_pairs(part) for part in parts), rel=1e-9
    )


@pytest.mark.parametrize(
    "shape",
    [
        shapely.Polygon(),
        shapely.Polygon([(0, 0), (100, 100), (100, 0), (0, 100)]),
    ],
)
def test_bad_polygons_are_refused(shape):
    with pytest.raises(BadArgument):
        longest_run(shape)
    with pytest.raises(BadArgument):
        run_rose(shape, [0.0])


def test_a_coordinate_that_is_no_number_is_refused():
    with np.errstate(invalid="ignore"):
        shape = shapely.from_wkt("POLYGON ((0 0, 1 0, nan 1, 0 0))")
        with pytest.raises(BadArgument):
            longest_run(shape)


def test_bad_arguments_are_refused():
    square = shapely.box(0, 0, 1, 1)
    for arguments in ({"corridor_width_m": -1.0}, {"corridor_width_m": np.nan}, {"time_budget_s": 0.0}):
        with pytest.raises(BadArgument):
            longest_run(square, **arguments)
    with pytest.raises(BadArgument):
        run_rose(square, [np.nan])


def test_a_time_budget_states_the_gap():
    """A shore of 40,000 vertices in next to no time: what is returned is a run, and the bound is above it."""
    angle = np.linspace(0.0, 2.0 * np.pi, 40_000, endpoint=False)
    radius = 1000.0 + 40.0 * np.sin(97.0 * angle) + np.random.default_rng(1).uniform(0.0, 5.0, angle.size)
    lake = shapely.Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)]))
    found = longest_run(lake, time_budget_s=0.001)
    assert found.upper_bound_m >= found.length_m
    assert found.certified == (found.upper_bound_m <= found.length_m * (1.0 + 1e-9))
    if found.line is not None:
        inside(lake, found.line)


def test_a_round_lake_with_a_corridor_ends_at_the_stated_gap():
    """Radius 500, corridor 60: the run is the diameter less the width, 940 m (closed answer), within the gap asked."""
    found = longest_run(shapely.Point(0.0, 0.0).buffer(500.0, quad_segs=90), 60.0, gap=0.002)
    assert 940.0 * 0.998 <= found.length_m <= 940.0 + 1e-6
    assert found.length_m <= found.upper_bound_m <= found.length_m * 1.002


def test_a_gap_leaves_ordinary_waters_exact():
    for seed in range(20):
        lake = run_shapes.random_lake(np.random.default_rng(seed), 12, 1)
        assert longest_run(lake, 20.0, gap=0.002).length_m == pytest.approx(
            longest_run(lake, 20.0).length_m, rel=1e-3
        )
