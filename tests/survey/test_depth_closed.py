"""Depth against shapes with closed answers: cone, bowl, ramp; mean, volume, drawdown, least depth along a chord."""

import numpy as np
import pytest
import shapely
from depth_shapes import EAST, GREATEST, NORTH, RADIUS, basin, body, bowl, circle, cone, raster, sounded
from shapely import LineString, Point

from geo.survey.depth import depth_field, depth_model

CHORD_OFFSET = 50.0
CHORD = LineString([(EAST - 300.0, NORTH + CHORD_OFFSET), (EAST + 300.0, NORTH + CHORD_OFFSET)])


def ramp(x, y):
    """Plane that falls from 2 m at the west shore to 14 m at the east."""
    return 2.0 + 12.0 * (x - EAST) / 900.0


@pytest.mark.parametrize(
    ("bed", "mean"),
    [
        (cone, GREATEST / 3.0),
        (bowl, GREATEST / 2.0),
    ],  # solid geometry: cone 1/3, paraboloid 1/2 of base x height
)
def test_mean_depth_and_volume_of_cone_and_bowl(bed, mean):
    model = depth_model(body(circle()), sounded(circle(), bed, 150), None)
    assert model.mean_depth().value == pytest.approx(mean, rel=0.015)
    assert model.volume().value == pytest.approx(mean * np.pi * RADIUS**2, rel=0.015)


@pytest.mark.parametrize("drop", [2.0, 5.0])
def test_drawn_down_cone_keeps_its_closed_volume(drop):
    # Similar cones: volume falls with the cube of the height left, mean depth is a third of it.
    left = GREATEST - drop
    for soundings, grid in (
        (sounded(circle(), cone, 200), None),
        (None, raster(circle(), cone, 8.0, 5.0)),
    ):
        model = depth_model(body(circle(), level=-drop), soundings, grid)
        volume = np.pi * RADIUS**2 * GREATEST / 3.0 * (left / GREATEST) ** 3
        assert model.volume().value == pytest.approx(volume, rel=0.03)
        assert model.mean_depth().value == pytest.approx(left / 3.0, rel=0.03)


def test_least_depth_along_a_chord_of_a_cone():
    # Least at the chord's ends: depth h (1 - hypot(300, 50) / R).
    closed = GREATEST * (1.0 - np.hypot(300.0, CHORD_OFFSET) / RADIUS)
    least = depth_model(body(circle()), sounded(circle(), cone, 150), None).least_along(CHORD, 0.0)
    assert least.depth_with_confidence_m(0.5) == pytest.approx(closed, abs=0.2)
    assert least.depth_with_confidence_m(0.95) <= closed <= least.depth_with_confidence_m(0.05) + 0.1
    ends = [Point(CHORD.coords[0]), Point(CHORD.coords[-1])]
    assert min(least.shallowest.distance(end) for end in ends) < 40.0


def test_least_depth_of_a_corridor_is_at_its_outer_corner():
    closed = GREATEST * (1.0 - np.hypot(300.0, CHORD_OFFSET + 20.0) / RADIUS)
    least = depth_model(body(circle()), sounded(circle(), cone, 150), None).least_along(CHORD, 40.0)
    assert least.depth_with_confidence_m(0.5) == pytest.approx(closed, abs=0.2)


def test_least_depth_under_a_hover_in_a_cone():
    # Circle of 30 m round a point 100 m from the centre: least at the far side, 130 m out.
    closed = GREATEST * (1.0 - 130.0 / RADIUS)
    least = depth_model(body(circle()), sounded(circle(), cone, 150), None).least_within(
        Point(EAST + 100, NORTH), 30.0
    )
    assert least.depth_with_confidence_m(0.5) == pytest.approx(closed, abs=0.2)
    assert least.shallowest.x > EAST + 115.0


def test_drawdown_lowers_every_quantile_by_the_drop():
    soundings = sounded(circle(), cone, 60)
    full = depth_model(body(circle(), 0.0), soundings, None).least_along(CHORD, 0.0)
    low = depth_model(body(circle(), -1.5), soundings, None).least_along(CHORD, 0.0)
    assert np.array(low.quantiles_m) == pytest.approx(
        np.maximum(np.array(full.quantiles_m) - 1.5, 0.0), abs=1e-9
    )


def test_ramp_field_away_from_its_walls():
    field = depth_field(basin(900.0, 500.0), sounded(basin(900.0, 500.0), ramp, 200), cell_m=20.0)
    x, y = (
        a.ravel()
        for a in np.meshgrid(EAST + np.arange(100.0, 801.0, 50.0), NORTH + np.arange(100.0, 401.0, 50.0))
    )
    mean, sd = field.at(x, y)
    assert np.sqrt(np.mean((mean - ramp(x, y)) ** 2)) < 0.06
    assert np.all(sd < 0.2)


def test_grid_of_the_field_lies_the_right_way_round():
    field = depth_field(basin(900.0, 500.0), sounded(basin(900.0, 500.0), ramp, 200), cell_m=20.0)
    assert field.mean.values.shape == (25, 45)
    assert field.mean.bounds == (EAST, NORTH, EAST + 900.0, NORTH + 500.0)
    west, east = field.mean.nearest(np.array([EAST + 110.0, EAST + 790.0]), np.array([NORTH + 250.0] * 2))
    assert west == pytest.approx(2.0 + 12.0 * 110 / 900, abs=0.4)
    assert east == pytest.approx(2.0 + 12.0 * 790 / 900, abs=0.4)
    assert np.isnan(depth_field(circle(), sounded(circle(), cone, 60)).mean.values[0, 0])


def test_raster_gives_the_chord_of_a_ramp_to_the_cell():
    line = LineString([(EAST + 200.0, NORTH + 100.0), (EAST + 700.0, NORTH + 300.0)])
    grid = raster(basin(900.0, 500.0), ramp, 10.0, 4.0, a=0.0, b=0.0)
    least = depth_model(body(basin(900.0, 500.0)), None, grid).least_along(line, 0.0)
    # No uncertainty: all quantiles are the depth at the centre of the westernmost cell, within half a cell (0.067 m).
    assert np.ptp(least.quantiles_m) == 0.0
    assert least.quantiles_m[0] == pytest.approx(2.0 + 12.0 * 200.0 / 900.0, abs=12.0 * 10.0 / 900.0)
    assert least.shallowest.distance(shapely.Point(line.coords[0])) < 12.0
