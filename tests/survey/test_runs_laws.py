"""Laws that runs keep whatever the shape, hostile input, budgets, and the batch against the single call."""

import itertools

import numpy as np
import pytest
import shapely

from geo.base.errors import BadArgument
from geo.survey import runs
from geo.survey.runs import longest_run, run_rose
from tests.survey.run_shapes import random_lake, turned

WIDTHS_M = (0.0, 30.0)


def lake(seed: int, vertices: int = 18, islands: int = 2) -> shapely.Polygon:
    return random_lake(np.random.default_rng(seed), vertices, islands)


@pytest.mark.parametrize("width_m", WIDTHS_M)
@pytest.mark.parametrize("seed", range(8))
def test_turning_shifting_and_scaling_change_nothing_else(seed, width_m):
    polygon = lake(seed)
    length = longest_run(polygon, width_m).length_m
    assert longest_run(turned(polygon, 57.3), width_m).length_m == pytest.approx(length, rel=1e-9)
    assert longest_run(turned(polygon, 0.0, 2.0e6, -7.0e6), width_m).length_m == pytest.approx(
        length, rel=1e-9
    )
    scaled = shapely.transform(polygon, lambda p: 0.125 * p)
    assert 8.0 * longest_run(scaled, 0.125 * width_m).length_m == pytest.approx(length, rel=1e-9)
    rose = run_rose(polygon, [20.0, 110.0], width_m).lengths_m
    assert run_rose(turned(polygon, 57.3), [77.3, 167.3], width_m).lengths_m == pytest.approx(rose, rel=1e-7)


@pytest.mark.parametrize("width_m", WIDTHS_M)
@pytest.mark.parametrize("seed", range(8))
def test_vertices_on_edges_change_nothing(seed, width_m):
    """Halving every edge is exact in doubles here only up to rounding, so near-collinear vertices abound."""
    polygon = lake(seed)
    run = longest_run(polygon, width_m)
    finer = longest_run(shapely.segmentize(polygon, 7.0), width_m)
    assert finer.length_m == pytest.approx(run.length_m, rel=1e-9)
    assert finer.certified


@pytest.mark.parametrize("seed", range(8))
def test_an_island_never_lengthens_and_a_wider_corridor_never_lengthens(seed):
    polygon = lake(seed)
    with_island = polygon.difference(shapely.Point(*polygon.representative_point().coords[0]).buffer(20.0))
    headings = np.arange(0.0, 180.0, 15.0)
    before, after = longest_run(polygon), longest_run(with_island)
    assert after.length_m <= before.length_m * (1.0 + 1e-12)
    assert (
        run_rose(with_island, headings).lengths_m <= run_rose(polygon, headings).lengths_m * (1.0 + 1e-9)
    ).all()
    lengths = [longest_run(polygon, width).length_m for width in (0.0, 5.0, 20.0, 60.0, 120.0)]
    assert all(wide <= narrow * (1.0 + 1e-9) for narrow, wide in itertools.pairwise(lengths))


@pytest.mark.parametrize("seed", range(5))
def test_no_heading_beats_the_longest_run(seed):
    polygon = lake(seed)
    for width in WIDTHS_M:
        longest = longest_run(polygon, width).length_m
        assert run_rose(polygon, np.arange(0.0, 180.0, 2.0), width).lengths_m.max() <= longest * (1.0 + 1e-9)


def test_a_long_straight_shore_of_a_thousand_vertices():
    """The longest side of a triangle is its longest run; rounding puts its 1,000 points a hair off the side."""
    corners = turned(shapely.Polygon([(0, 0), (1000, 0), (400, 300)]), 23.0, 4.0e6, 5.0e6)
    dense = shapely.segmentize(corners, 1.0)
    run = longest_run(dense)
    assert run.length_m == pytest.approx(1000.0, abs=1e-6)
    assert run.certified
    assert run_rose(dense, [113.0]).lengths_m[0] == pytest.approx(1000.0, abs=1e-2)


def test_slivers_and_needles_keep_their_length():
    """1 km long and from 1 m to 1 micrometre wide: hypot(length, width), wherever they lie."""
    for width in (1.0, 1e-3, 1e-6):
        for angle in (0.0, 40.0):
            needle = turned(shapely.box(0.0, 0.0, 1000.0, width), angle)
            assert longest_run(needle).length_m == pytest.approx(np.hypot(1000.0, width), rel=1e-12)


@pytest.mark.parametrize(("shift_mm", "expected_m"), [(1.0, 100.0), (3.0, 70.0)])
def test_millimetres_at_ten_thousand_kilometres_count(shift_mm, expected_m):
    """Two walls across a basin, each with a slot of 2 mm: a run goes through both only where the slots overlap."""
    basin = shapely.box(0.0, 0.0, 100.0, 50.0)
    for east, middle in ((30.0, 25.0), (70.0, 25.0 + 1e-3 * shift_mm)):
        below = shapely.box(east - 0.1, -1.0, east, middle - 0.001)
        above = shapely.box(east - 0.1, middle + 0.001, east, 51.0)
        basin = basin.difference(shapely.union(below, above))
    far = turned(basin, 0.0, 1.0e7, -1.0e7)
    assert run_rose(far, [90.0]).lengths_m[0] == pytest.approx(expected_m, abs=0.11)


def test_repeated_and_collinear_vertices():
    ring = [(0, 0), (0, 0), (5, 0), (10, 0), (10, 0), (10, 10), (10, 10), (0, 10), (0, 5), (0, 0)]
    assert longest_run(shapely.Polygon(ring)).length_m == pytest.approx(np.sqrt(200.0), rel=1e-15)


def test_an_island_that_touches_the_shell():
    """A hole with one corner on the shore: valid, and the run along that shore goes past the touch."""
    polygon = shapely.Polygon([(0, 0), (10, 0), (10, 4), (0, 4)], [[(5, 0), (6, 2), (4, 2)]])
    assert polygon.is_valid
    assert run_rose(polygon, [90.0]).lengths_m[0] == 10.0


def spoiled(value: float) -> shapely.Polygon:
    """A square with one coordinate that is no finite number, as a reader may hand it on."""
    return shapely.transform(
        shapely.box(0, 0, 10, 10), lambda p: np.where(p == [10.0, 10.0], [10.0, value], p)
    )


BAD = {
    "a bow-tie": (shapely.Polygon([(0, 0), (10, 10), (10, 0), (0, 10)]), "not valid"),
    "a hole outside": (
        shapely.Polygon([(0, 0), (9, 0), (9, 9)], [[(20, 20), (21, 20), (21, 21)]]),
        "not valid",
    ),
    "nothing": (shapely.Polygon(), "empty"),
    "a line": (shapely.LineString([(0, 0), (1, 1)]), "not in a LineString"),
    "no number": (spoiled(float("nan")), "finite"),
    "infinity": (spoiled(float("inf")), "finite"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_polygons_are_refused_with_a_cure(name):
    polygon, words = BAD[name]
    for call in (lambda: longest_run(polygon), lambda: run_rose(polygon, [0.0])):
        with pytest.raises(BadArgument, match=words):
            call()


@pytest.mark.parametrize(
    "arguments",
    [
        {"corridor_width_m": -1.0},
        {"corridor_width_m": float("nan")},
        {"time_budget_s": 0.0},
        {"time_budget_s": -3.0},
    ],
)
def test_bad_settings_are_refused(arguments):
    with pytest.raises(BadArgument, match=str(next(iter(arguments)))):
        longest_run(shapely.box(0, 0, 1, 1), **arguments)


def test_bad_headings_are_refused():
    with pytest.raises(BadArgument, match="headings_deg"):
        run_rose(shapely.box(0, 0, 1, 1), [0.0, float("nan")])


def test_no_headings_give_an_empty_rose():
    rose = run_rose(shapely.box(0, 0, 1, 1), [])
    assert rose.lengths_m.shape == (0,)
    assert rose.lines == ()


def rough_lake(vertices: int) -> shapely.Polygon:
    """A lake 12 km across whose shore is rough at every scale."""
    rng = np.random.default_rng(1)
    waves = np.arange(1, 400)
    turns = 2.0 * np.pi * np.arange(vertices) / vertices
    shore = np.zeros(vertices)
    for wave, phase in zip(waves, rng.uniform(0.0, 2.0 * np.pi, waves.size), strict=True):
        shore += wave**-1.3 * np.cos(wave * turns + phase)
    radii = 5000.0 * (1.0 + 0.15 * shore)
    return shapely.Polygon(np.column_stack([radii * np.cos(turns), radii * np.sin(turns)]))


def test_a_time_budget_ends_the_search_with_a_true_bound():
    """Whatever the budget left undone, the bound holds the longest run, and a gap is not called certain."""
    polygon = rough_lake(20_000)
    whole = longest_run(polygon)
    assert whole.certified
    for budget_s in (1e-6, 0.02, 600.0):
        run = longest_run(polygon, time_budget_s=budget_s)
        assert run.length_m <= whole.length_m * (1.0 + 1e-12)
        assert run.upper_bound_m >= whole.length_m * (1.0 - 1e-12)
        assert run.certified == (run.upper_bound_m <= run.length_m * (1.0 + 1e-9))
    assert run.length_m == pytest.approx(whole.length_m, rel=1e-9)


@pytest.mark.slow
def test_a_million_vertices():
    """However slow the machine, a run in the water comes back, and no longer one is left out of the stated bound."""
    polygon = rough_lake(1_000_000)
    # Every 50th vertex cuts and adds slivers of centimetres: its own longest run is as long to 1 %.
    coarse = longest_run(shapely.Polygon(shapely.get_coordinates(polygon)[::50]))
    for budget_s in (1e-6, 60.0):
        run = longest_run(polygon, time_budget_s=budget_s)
        assert run.line.difference(polygon.buffer(1e-6)).length == 0.0
        assert 0.5 * coarse.length_m <= run.length_m <= 1.01 * coarse.length_m
        assert run.upper_bound_m >= 0.99 * coarse.length_m
        assert run.certified == (run.upper_bound_m <= run.length_m * (1.0 + 1e-9))


class Expired:
    """A clock whose time was up before the search began."""

    def __init__(self, seconds: float | None) -> None:
        self.halt = np.ones(1, np.int64)

    def __enter__(self) -> "Expired":
        return self

    def __exit__(self, *_: object) -> None:
        pass


@pytest.mark.parametrize("width_m", [0.0, 25.0])
def test_an_expired_budget_still_gives_a_run(monkeypatch, width_m):
    polygon = lake(3)
    whole = longest_run(polygon, width_m)
    monkeypatch.setattr(runs, "_Clock", Expired)
    run = longest_run(polygon, width_m, time_budget_s=1.0)
    assert 0.0 < run.length_m <= whole.length_m * (1.0 + 1e-9)
    assert run.upper_bound_m >= whole.length_m
    assert polygon.buffer(1e-6).contains(run.line)


def test_a_budget_that_ends_before_any_run_is_an_error(monkeypatch):
    """Never a length of 0 where a run may exist."""
    monkeypatch.setattr(runs, "_Clock", Expired)
    monkeypatch.setattr(runs, "_FIRST_LOOK", 0)
    with pytest.raises(BadArgument, match="No run was found before the search had to stop"):
        longest_run(lake(3), time_budget_s=1.0)


@pytest.mark.parametrize("angle_deg", [0.0, 29.0])
def test_a_corridor_exactly_as_wide_as_a_channel_passes(angle_deg):
    """A channel 1000 x 60 between two basins: the middle line, less half the width at both ends (plain geometry)."""
    basins = [shapely.box(-100.0, -100.0, 0.0, 100.0), shapely.box(1000.0, -100.0, 1100.0, 100.0)]
    water = turned(shapely.union_all([shapely.box(0.0, -30.0, 1000.0, 30.0), *basins]), angle_deg)
    for run in (longest_run(water, 60.0), longest_run(water, 60.0 * (1.0 - 1e-9))):
        assert run.length_m == pytest.approx(1140.0, rel=1e-6)
        assert run.certified
    # A hair wider than the channel it stays in a basin: the diagonal of 40 x 140 m.
    assert longest_run(water, 60.0 * (1.0 + 1e-9)).length_m < 150.0
    rose = run_rose(water, [90.0 + angle_deg], 60.0)
    assert angle_deg != 0.0 or rose.lengths_m[0] == pytest.approx(1140.0, rel=1e-6)
    assert longest_run(shapely.box(0, 0, 200, 60), 60.0).length_m == pytest.approx(140.0, rel=1e-6)
