"""Another level: waterline, lowest usable level, area and volume against closed shapes."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from depth_shapes import (
    EAST,
    GREATEST,
    NORTH,
    RADIUS,
    basin,
    body,
    bowl,
    circle,
    cone,
    flat_with_banks,
    raster,
    sounded,
)
from shapely import LineString, Point

from geo.base.errors import BadArgument
from geo.survey.depth import depth_field, depth_model
from geo.survey.depth.corridor import Disc, Strip
from geo.survey.depth.level import (
    at_level,
    raster_waterline,
    small_dam_volume,
    usable_down_to,
    waterline,
    waterline_today,
)

CHORD = LineString([(EAST - 200.0, NORTH + 50.0), (EAST + 200.0, NORTH + 50.0)])


@pytest.fixture(scope="module")
def cone_field():
    return depth_field(circle(), sounded(circle(), cone, 200))


@pytest.mark.parametrize("drop", [1.0, 3.0, 6.0, 9.0])
@pytest.mark.parametrize(
    ("bed", "share"), [(cone, lambda h: 1.0 - h / GREATEST), (bowl, lambda h: np.sqrt(1.0 - h / GREATEST))]
)
def test_waterline_of_cone_and_bowl_is_the_closed_circle(bed, share, drop):
    # Solid geometry: at depth h below the rim a cone's radius is R (1 - h/D), a paraboloid's R sqrt(1 - h/D).
    exact = shapely.Point(EAST, NORTH).buffer(RADIUS * share(drop), quad_segs=90)
    wet = waterline(depth_field(circle(), sounded(circle(), bed, 250)), -drop)
    assert wet.area == pytest.approx(exact.area, rel=0.04)
    assert wet.symmetric_difference(exact).area < 0.06 * exact.area
    by_raster = raster_waterline(raster(circle(), bed, 8.0, 5.0).grid, circle(), -drop)
    assert by_raster.symmetric_difference(exact).area < 0.02 * exact.area


def test_waterline_is_nested_and_never_leaves_the_outline(cone_field):
    lines = [waterline(cone_field, -drop) for drop in (0.0, 0.5, 2.0, 5.0, 11.0, 30.0)]
    for wide, narrow in pairwise(lines):
        assert narrow.difference(wide).area < 1e-6
    assert lines[0].equals(circle()) and lines[-1].is_empty
    sure = waterline(cone_field, -2.0, 0.95)
    assert sure.area < lines[2].area and sure.difference(lines[2]).area < 1e-6
    assert waterline(cone_field, 3.0).equals(circle())


def test_waterline_keeps_islands_and_falls_apart_into_pools():
    lake = basin(1200.0, 400.0)

    def two_pools(x, y):
        ridge = np.exp(-(((x - EAST - 600.0) / 80.0) ** 2))
        return flat_with_banks(lake, 8.0, 30.0)(x, y) * (1.0 - 0.8 * ridge)

    wet = waterline(depth_field(lake, sounded(lake, two_pools, 300)), -4.0)
    large = [p for p in wet.geoms if p.area > 20000.0]
    assert len(large) == 2
    island = shapely.box(EAST + 300.0, NORTH + 150.0, EAST + 380.0, NORTH + 230.0)
    holed = lake.difference(island)
    kept = waterline(depth_field(holed, sounded(holed, flat_with_banks(holed, 8.0, 30.0), 200)), -1.0)
    assert not kept.intersects(island.buffer(-0.1))


def test_waterline_without_a_field_is_empty_not_full():
    few = depth_field(circle(), sounded(circle(), cone, 5))
    assert waterline(few, -1.0).is_empty
    assert waterline(few, 0.0).is_empty


def test_run_is_usable_down_to_the_closed_level():
    # Least depth on the chord: at its ends, hypot(200, 50) from the middle.
    closed = GREATEST * (1.0 - np.hypot(200.0, 50.0) / RADIUS)
    model = depth_model(body(circle(), 0.0), sounded(circle(), cone, 200, sd=0.02), None)
    levels = np.linspace(-6.0, 1.0, 29)
    chance, lowest_m = usable_down_to(model, Strip(CHORD, 0.0), 2.0, 0.9, levels)
    assert lowest_m == pytest.approx(2.0 - closed, abs=0.3)
    assert lowest_m > 2.0 - closed - 0.05  # cautious side
    assert np.all(np.diff(chance) >= 0.0)
    assert np.interp(lowest_m, levels, chance) == pytest.approx(0.9, abs=0.06)


@pytest.mark.parametrize("change", [-3.0, -1.0, 0.0])
def test_curve_agrees_with_a_survey_at_that_level(change):
    for soundings, grid in ((sounded(circle(), cone, 80), None), (None, raster(circle(), cone, 8.0, 5.0))):
        model = depth_model(body(circle(), -0.7), soundings, grid)
        for area in (Strip(CHORD, 20.0), Disc(Point(EAST + 50.0, NORTH), 5.0)):
            chance, lowest_m = usable_down_to(model, area, 2.5, 0.9, np.array([change]))
            there = depth_model(body(circle(), change), soundings, grid).least_over(area)
            assert chance[0] == pytest.approx(there.probability_at_least(2.5), abs=1e-9)
            sure_m = max(2.5 - lowest_m + change, 0.0)
            assert sure_m == pytest.approx(there.depth_with_confidence_m(0.9), abs=1e-9)


def test_nothing_known_gives_no_level():
    unknown = depth_model(body(circle()), None, None)
    assert usable_down_to(unknown, Strip(CHORD, 0.0), 2.0, 0.9, [0.0]) is None


def test_volume_survives_one_absurd_spike():
    # One depth of 400 m (a slipped decimal point) in a bowl of 12 m: pi R^2 D / 2 m3.
    clean = sounded(circle(), bowl, 60)
    depth = clean.depth_m.copy()
    depth[np.argmax(depth)] = 400.0
    model = depth_model(body(circle()), replace(clean, depth_m=depth), None)
    exact = np.pi * RADIUS**2 * GREATEST / 2.0
    assert model.volume().value == pytest.approx(exact, rel=0.05)


def test_model_at_another_level_is_not_learned_anew():
    model = depth_model(body(circle()), sounded(circle(), cone, 80), None)
    assert at_level(model, -2.0).field.process is model.field.process


def test_rule_of_thumb_volume_is_marked_as_such():
    measure = small_dam_volume(5000.0, 4.0)
    assert measure.value == pytest.approx(8000.0)  # 0.4 x 5 000 m2 x 4 m: farm-dam handbooks, from memory
    assert measure.origin.startswith("rule of thumb, not a survey")
    for bad in ((0.0, 4.0), (5000.0, -1.0), (np.nan, 2.0)):
        with pytest.raises(BadArgument):
            small_dam_volume(*bad)


def test_arguments_that_cannot_be_are_refused(cone_field):
    model = depth_model(body(circle()), None, None)
    calls = [
        lambda: waterline(cone_field, np.nan),
        lambda: waterline(cone_field, -1.0, 0.3),
        lambda: usable_down_to(model, Strip(CHORD, 0.0), 0.0, 0.9, [0.0]),
        lambda: usable_down_to(model, Strip(CHORD, 0.0), 2.0, 1.0, [0.0]),
    ]
    for call in calls:
        with pytest.raises(BadArgument):
            call()


@pytest.mark.parametrize("kind", ["soundings", "raster"])
def test_outline_of_today_from_whatever_tells_of_the_bed(kind):
    soundings = sounded(circle(), cone, 150) if kind == "soundings" else None
    grid = raster(circle(), cone, 8.0, 5.0) if kind == "raster" else None
    wet, reason = waterline_today(depth_model(body(circle(), -3.0), soundings, grid))
    assert wet.area == pytest.approx(np.pi * (0.75 * RADIUS) ** 2, rel=0.04)
    assert kind in reason
    full, _ = waterline_today(depth_model(body(circle(), 0.5), soundings, grid))
    assert full.equals(circle())


def test_outline_of_today_is_unknown_where_nothing_tells_of_the_bed():
    wet, reason = waterline_today(depth_model(body(circle(), -3.0), None, None))
    assert wet is None and "level -3.00 m" in reason and "no depth evidence" in reason
    wet, reason = waterline_today(depth_model(body(circle(), None), sounded(circle(), cone, 150), None))
    assert wet is None and "not known" in reason
