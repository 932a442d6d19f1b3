"""Runs against an independent brute force (`run_brute`): random lakes with islands, lattices of coincidences."""

from math import sqrt

import numpy as np
import pytest
import shapely

from geo.survey.longest.predicates import exact_orientation, orientation
from geo.survey.runs import longest_run, run_rose
from tests.survey.run_brute import longest_run_by_pairs, rose_by_vertices, squared_longest_run_exact
from tests.survey.run_shapes import lattice_lake, random_lake, some_of, turned


def _random_case(seed: int) -> shapely.Polygon:
    rng = np.random.default_rng(seed)
    return random_lake(rng, int(rng.integers(3, 24)), int(rng.integers(0, 5)))


def _lattice_case(seed: int) -> shapely.Polygon:
    rng = np.random.default_rng(seed)
    return lattice_lake(rng, int(rng.integers(2, 6)), int(rng.integers(0, 5)))


def _check_longest(polygon: shapely.Polygon, expected: float) -> None:
    run = longest_run(polygon)
    assert run.length_m == pytest.approx(expected, rel=1e-12)
    assert run.certified
    assert run.length_m <= run.upper_bound_m <= run.length_m * (1.0 + 1e-9)
    assert run.line.difference(polygon.buffer(1e-9 * expected)).length == 0.0


@pytest.mark.parametrize("block", some_of(10, 3))
def test_longest_run_of_random_lakes(block):
    for seed in range(40 * block, 40 * block + 40):
        polygon = _random_case(seed)
        _check_longest(polygon, longest_run_by_pairs(polygon))


@pytest.mark.parametrize("block", some_of(6, 2))
def test_longest_run_of_lattice_shapes_in_rational_arithmetic(block):
    """Collinear edges, corners on lines, islands that touch: decided without rounding on both sides."""
    for seed in range(20 * block, 20 * block + 20):
        polygon = _lattice_case(seed)
        _check_longest(polygon, sqrt(squared_longest_run_exact(polygon)))


@pytest.mark.slow
@pytest.mark.parametrize("block", range(50))
def test_longest_run_of_thousands_of_shapes(block):
    for seed in range(100_000 + 80 * block, 100_000 + 80 * block + 80):
        polygon = _random_case(seed)
        _check_longest(polygon, longest_run_by_pairs(polygon))
        polygon = _lattice_case(seed)
        _check_longest(polygon, sqrt(squared_longest_run_exact(polygon)))


@pytest.mark.parametrize("block", some_of(5, 2))
def test_rose_of_random_lakes(block):
    for seed in range(20 * block, 20 * block + 20):
        polygon = _random_case(seed)
        headings = np.random.default_rng(seed).uniform(0.0, 360.0, 3)
        rose = run_rose(polygon, headings)
        for heading, length, line in zip(headings, rose.lengths_m, rose.lines, strict=True):
            assert length == pytest.approx(rose_by_vertices(polygon, heading), rel=1e-11)
            assert line.difference(polygon.buffer(1e-9 * length)).length == 0.0


@pytest.mark.parametrize("angle_deg", [0.0, 31.7])
def test_rose_of_lattice_shapes_through_many_vertices_at_once(angle_deg):
    """Along the lattice directions every line goes through several corners; turned, rounding must not close the way."""
    for seed in range(25):
        polygon = _lattice_case(seed)
        for lattice_deg in (0.0, 45.0, 90.0, 135.0, np.degrees(np.arctan2(1.0, 2.0))):
            length = run_rose(turned(polygon, angle_deg), [lattice_deg + angle_deg]).lengths_m[0]
            assert length == pytest.approx(rose_by_vertices(polygon, lattice_deg), rel=1e-10)


def _eroded(polygon: shapely.Polygon, radius: float, brute) -> float:
    parts = shapely.get_parts(polygon.buffer(-radius, quad_segs=8))
    return max((brute(part) for part in parts if not part.is_empty), default=0.0)


def _bracket(polygon: shapely.Polygon, radius: float, brute) -> tuple[float, float]:
    """Give brute-force lengths in an erosion surely too deep and in one surely too shallow.

    The erosion's arcs are chords that cut into the clearance circle by 1 - cos(pi / 32) of the radius, and GEOS may
    simplify its input by 1 % of the distance.
    """
    return (
        _eroded(polygon, 1.011 * radius / np.cos(np.pi / 32.0), brute),
        _eroded(polygon, 0.989 * radius, brute),
    )


@pytest.mark.parametrize("seed", range(30))
def test_corridor_lies_between_a_deeper_and_a_shallower_erosion(seed):
    rng = np.random.default_rng(seed)
    polygon = random_lake(rng, int(rng.integers(3, 10)), int(rng.integers(0, 3)))
    width = float(rng.choice([10.0, 60.0, 150.0]))
    low, high = _bracket(polygon, 0.5 * width, longest_run_by_pairs)
    run = longest_run(polygon, width)
    assert low <= run.length_m <= high
    assert run.certified
    heading = float(rng.uniform(0.0, 360.0))
    low, high = _bracket(polygon, 0.5 * width, lambda part: rose_by_vertices(part, heading))
    rose = run_rose(polygon, [heading], width)
    assert low <= rose.lengths_m[0] <= high
    for line in (run.line, rose.lines[0]):
        if line is not None:
            assert polygon.contains(line)
            assert polygon.boundary.distance(line) >= 0.5 * width * (1.0 - 1e-9)


def test_rose_of_a_corridor_reaches_the_longest_run_at_its_heading():
    """Two searches of different kind meet: along the longest run's own heading the rose finds the same length."""
    for seed in range(30):
        polygon = _random_case(seed)
        run = longest_run(polygon, 40.0)
        if run.line is not None:
            (x1, y1), (x2, y2) = run.line.coords
            heading = np.degrees(np.arctan2(x2 - x1, y2 - y1))
            assert run_rose(polygon, [heading], 40.0).lengths_m[0] == pytest.approx(run.length_m, rel=1e-6)


def test_orientation_has_the_sign_of_rational_arithmetic():
    """Shewchuk 1997's hard case: points a few last bits from a line, where plain doubles get signs wrong."""
    from fractions import Fraction

    plain_wrong = 0
    for i in range(40):
        for j in range(40):
            a, b, c = (0.5 + i * 2.0**-53, 0.5 + j * 2.0**-53), (12.0, 12.0), (24.0, 24.0)
            (ax, ay), (bx, by), (cx, cy) = (tuple(map(Fraction, point)) for point in (a, b, c))
            truth = (ax - cx) * (by - cy) - (ay - cy) * (bx - cx)
            sign = (truth > 0) - (truth < 0)
            assert np.sign(orientation(*a, *b, *c)) == sign
            assert np.sign(exact_orientation(*a, *b, *c)) == sign
            plain = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
            plain_wrong += np.sign(plain) != sign
    assert plain_wrong > 0  # the case is hard indeed
