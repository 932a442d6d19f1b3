"""Runs in shapes whose answer follows from school geometry, and what a corridor's ends mean."""

from math import cos, hypot, pi, radians, sin, sqrt, tan

import numpy as np
import pytest
import shapely

from geo.survey.runs import longest_run, run_rose
from tests.survey.run_shapes import turned


def ngon(corners: int, radius: float = 1.0, phase: float = 0.0) -> list[tuple[float, float]]:
    turns = [2.0 * pi * k / corners + phase for k in range(corners)]
    return [(radius * cos(turn), radius * sin(turn)) for turn in turns]


def annulus(outer: float, inner: float, corners: int) -> shapely.Polygon:
    """A regular ring whose hole has its corners on the same rays as the shell."""
    return shapely.Polygon(ngon(corners, outer), [ngon(corners, inner)])


def comb(teeth: int) -> shapely.Polygon:
    """A spine 20 m high and teeth 100 m high, 10 m wide and 10 m apart, on top of it."""
    boxes = [shapely.box(20.0 * k, 20.0, 20.0 * k + 10.0, 120.0) for k in range(teeth)]
    return shapely.union_all([shapely.box(0.0, 0.0, 20.0 * teeth - 10.0, 20.0), *boxes])


def spiral() -> shapely.Polygon:
    """A canal 10 m wide wound inwards with legs of 100, 100, 80 and 60 m between walls."""
    centre = [(5, 5), (95, 5), (95, 95), (25, 95), (25, 35)]
    return shapely.LineString(centre).buffer(5.0, cap_style="square", join_style="mitre")


CLOSED_FORMS = {
    # name: polygon, longest run
    "square: its diagonal": (shapely.box(0, 0, 10, 10), 10.0 * sqrt(2.0)),
    "rectangle 300 x 400: 3-4-5 triangle": (shapely.box(0, 0, 300, 400), 500.0),
    "any triangle: its longest side": (shapely.Polygon([(0, 0), (100, 0), (40, 30)]), 100.0),
    "regular hexagon: twice its side": (shapely.Polygon(ngon(6, 7.0)), 14.0),
    "regular pentagon: golden ratio times its side": (
        shapely.Polygon(ngon(5)),
        2.0 * sin(pi / 5.0) * (1.0 + sqrt(5.0)) / 2.0,
    ),
    # From the far corner (100, 0) through the inner corner (10, 10) to the wall x = 0 at height 100 / 9.
    "L with arms 100 x 10": (
        shapely.Polygon([(0, 0), (100, 0), (100, 10), (10, 10), (10, 80), (0, 80)]),
        hypot(100.0, 100.0 / 9.0),
    ),
    "thin plus of two bars 100 x 2": (
        shapely.union(shapely.box(-50, -1, 50, 1), shapely.box(-1, -50, 1, 50)),
        hypot(100.0, 2.0),
    ),
    # From a tooth's upper corner past its lower one on the other side, 10 across in 100 down, to the spine's floor.
    "comb: down a tooth to the floor": (comb(6), hypot(12.0, 120.0)),
}


@pytest.mark.parametrize("name", CLOSED_FORMS)
@pytest.mark.parametrize(("angle_deg", "shift_m"), [(0.0, 0.0), (33.0, 0.0), (71.3, 1.0e7)])
def test_longest_run_of_shapes_with_a_closed_answer(name, angle_deg, shift_m):
    polygon, expected = CLOSED_FORMS[name]
    run = longest_run(turned(polygon, angle_deg, shift_m, -shift_m))
    # At 1e7 m the last bit of a coordinate is 1.9e-9 m.
    assert run.length_m == pytest.approx(expected, rel=1e-12, abs=2e-15 * shift_m + 2e-16 * shift_m)
    assert run.certified
    assert run.line.length == pytest.approx(expected, abs=1e-15 * shift_m + 1e-9)


@pytest.mark.parametrize("corners", [12, 60, 360])
def test_longest_run_of_a_ring_round_an_island(corners):
    """The line along a side of the island: its distance from the middle is the island's apothem r cos(pi / n), and it
    meets the shell's sides, which are tangents of the circle of radius R cos(pi / n), mirror-symmetrically."""
    outer, inner = 10.0, 5.0
    apothem, sides = inner * cos(pi / corners), outer * cos(pi / corners)
    # The line y = apothem against the shell's sides with outward normals at angle t: half length is the least
    # (sides - apothem sin t) / cos t over t = (2 k + 1) pi / n measured from the x axis of the turned picture.
    normals = [pi / 2.0 - 2.0 * pi * k / corners for k in range(corners)]
    half = min((sides - apothem * sin(t)) / cos(t) for t in normals if cos(t) > 1e-9)
    run = longest_run(annulus(outer, inner, corners))
    assert run.length_m >= 2.0 * half - 1e-12
    assert run.length_m <= 2.0 * sqrt(
        outer**2 - apothem**2
    )  # no chord of the circle at that distance is longer


def test_longest_run_of_a_star_goes_from_tip_to_tip():
    """A pentagram: its sides are the diagonals of the pentagon, tip to tip through two inner corners."""
    tips = ngon(5, 10.0, pi / 2.0)
    inner = ngon(5, 10.0 * (3.0 - sqrt(5.0)) / 2.0, pi / 2.0 + pi / 5.0)
    star = shapely.Polygon([corner for pair in zip(tips, inner, strict=True) for corner in pair])
    assert longest_run(star).length_m == pytest.approx(2.0 * 10.0 * sin(2.0 * pi / 5.0), rel=1e-9)


def test_longest_run_of_a_spiral_canal_stays_in_one_leg():
    """Legs 100 x 10 joined in corners. In the leg x 90..100 a run may leave through the corner into neither
    neighbour further than its diagonal allows: the longest run is the diagonal of one 100 x 10 leg, or the line from
    a leg's outer corner past the inner corner of the next."""
    run = longest_run(spiral())
    # From (0, 0) past nothing to (100, 10): the diagonal of the first leg; past (90, 10) the canal opens upwards, so
    # the line from (0, 0) through (90, 10) reaches x = 100 at height 100 / 9.
    assert run.length_m == pytest.approx(hypot(100.0, 100.0 / 9.0), rel=1e-12)


def test_a_run_may_pass_where_two_islands_touch_in_a_corner():
    """The closed polygon holds the common corner, so the run along the diagonal goes on through it."""
    lake = shapely.Polygon(
        [(0, 0), (8, 0), (8, 8), (0, 8)], [[(2, 4), (4, 4), (4, 6), (2, 6)], [(4, 2), (6, 2), (6, 4), (4, 4)]]
    )
    assert lake.is_valid
    assert longest_run(lake).length_m == pytest.approx(8.0 * sqrt(2.0), rel=1e-15)


def test_a_run_along_the_shore_goes_on_where_water_changes_sides():
    """Two 10 x 1 strips that overlap by 2 along y = 1: the line y = 1 has water below first, then above."""
    lake = shapely.union(shapely.box(0, 0, 10, 1), shapely.box(8, 1, 18, 2))
    assert run_rose(lake, [90.0]).lengths_m[0] == 18.0
    assert run_rose(turned(lake, 20.0), [110.0]).lengths_m[0] == pytest.approx(18.0, rel=1e-12)


@pytest.mark.parametrize("heading_deg", [0.0, 17.0, 45.0, 90.0, 123.0, 180.0, 270.0, 359.0])
def test_rose_of_a_rectangle(heading_deg):
    """A chord of an a x b rectangle at angle t from its side a: min(a / |cos t|, b / |sin t|)."""
    easts, norths = 400.0, 150.0
    east, north = abs(sin(radians(heading_deg))), abs(cos(radians(heading_deg)))
    expected = min(easts / max(east, 1e-15), norths / max(north, 1e-15))
    rose = run_rose(shapely.box(0, 0, easts, norths), [heading_deg])
    assert rose.lengths_m[0] == pytest.approx(expected, rel=1e-12)
    start, end = np.array(rose.lines[0].coords)
    step = (end - start) / np.hypot(*(end - start))
    assert step == pytest.approx([sin(radians(heading_deg)), cos(radians(heading_deg))], abs=1e-12)


def test_a_heading_and_its_opposite_have_one_run_turned_round():
    rose = run_rose(shapely.Polygon([(0, 0), (100, 0), (40, 30)]), [35.0, 215.0, 395.0])
    assert rose.lengths_m[0] == rose.lengths_m[1] == rose.lengths_m[2]
    assert list(rose.lines[0].coords) == list(rose.lines[1].coords)[::-1]
    assert list(rose.lines[0].coords) == list(rose.lines[2].coords)


@pytest.mark.parametrize("width_m", [1.0, 60.0, 200.0, 299.0])
def test_corridor_in_a_rectangle_keeps_half_its_width_beyond_both_ends(width_m):
    """A rectangle shrunk by w / 2 on every side is a rectangle: the run is its diagonal."""
    run = longest_run(shapely.box(0, 0, 300, 400), width_m)
    assert run.length_m == pytest.approx(hypot(300.0 - width_m, 400.0 - width_m), rel=1e-9)
    assert run.certified
    assert run.length_m <= run.upper_bound_m <= run.length_m * (1.0 + 1e-9)
    assert run_rose(shapely.box(0, 0, 300, 400), [0.0], width_m).lengths_m[0] == pytest.approx(
        400.0 - width_m
    )


@pytest.mark.parametrize("corners", [6, 32, 128])
def test_corridor_in_a_round_lake_of_many_equal_runs(corners):
    """A regular polygon shrunk by r on every side is one of circumradius R - r / cos(pi / n): every diagonal ties."""
    run = longest_run(shapely.Polygon(ngon(corners, 100.0, 0.1)), 60.0)
    assert run.length_m == pytest.approx(2.0 * (100.0 - 30.0 / cos(pi / corners)), rel=1e-9)
    assert run.certified


def test_corridor_past_a_headland_keeps_its_distance_as_a_circle():
    """An L with arms 100 m wide and a corridor of 60 m: the run touches the circle of 30 m about the inner corner.

    Clear water is x >= 30, y >= 30, outside the circle round (100, 100). A tangent of that circle whose normal has
    the angle t to the x axis meets x = 30 and y = 30; the arms are so long that it ends in them or at their ends.
    """
    arm = 1000.0
    lake = shapely.Polygon([(0, 0), (arm, 0), (arm, 100), (100, 100), (100, arm), (0, arm)])
    run = longest_run(lake, 60.0)
    # From the arm's far end at its outer wall (970, 30), tangent to the circle, to the wall x = 30.
    dx, dy = 970.0 - 100.0, 100.0 - 30.0
    lean = np.arctan2(dy, dx) - np.arcsin(30.0 / hypot(dx, dy))
    expected = (970.0 - 30.0) / cos(lean)
    assert tan(lean) > 0.0
    assert run.length_m == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("width_m", [300.0, 301.0, 5000.0])
def test_a_corridor_wider_than_the_water_has_no_run(width_m):
    run = longest_run(shapely.box(0, 0, 200, 300), width_m)
    assert (run.length_m, run.line, run.upper_bound_m, run.certified) == (0.0, None, 0.0, True)
    rose = run_rose(shapely.box(0, 0, 200, 300), [0.0, 30.0], width_m)
    assert rose.lines == (None, None)
    assert list(rose.lengths_m) == [0.0, 0.0]


def test_each_part_is_searched_on_its_own():
    """Two squares that share a side: no run crosses it; the longer part is named."""
    parts = shapely.MultiPolygon([shapely.box(0, 0, 10, 10), shapely.box(10, 0, 22, 10)])
    run = longest_run(parts)
    assert run.part_index == 1
    assert run.length_m == pytest.approx(hypot(12.0, 10.0), rel=1e-15)
    assert list(run_rose(parts, [90.0, 0.0]).lengths_m) == [12.0, 10.0]
