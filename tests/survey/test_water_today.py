"""The survey of a water that has fallen: closed beds, whose shore at any level is known."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from depth_shapes import EAST, GREATEST, NORTH, basin, body, raster, sounded

from geo.base.errors import BadArgument
from geo.base.geodesy import local_crs
from geo.base.grid import Grid
from geo.records.region import RegionFrame, StatedDepth
from geo.records.survey import BodySurvey, SurveySettings
from geo.survey.body import RegionEvidence, survey_body

FRAME = RegionFrame(local_crs(147.0, -37.0).to_wkt(), 147.0, -37.0, "mean sea level")
SETTINGS = SurveySettings(corridor_width_m=20.0)
LENGTH, HALF = 1000.0, 200.0
TROUGH = basin(LENGTH, 2.0 * HALF)
WIDE = 2.0 * HALF * LENGTH


def trough(x, y):
    """Bed like a roof upside down, with upright ends: 12 m deep along its middle."""
    return GREATEST * (1.0 - np.abs(y - NORTH - HALF) / HALF)


def round_trough(x, y):
    return GREATEST * (1.0 - ((y - NORTH - HALF) / HALF) ** 2)


def surveyed(water, soundings=None, depth_grid=None, terrain=None, settings=SETTINGS) -> BodySurvey:
    return survey_body(
        water, RegionEvidence(FRAME, settings, terrain, soundings=soundings, depth_grid=depth_grid)
    )


@pytest.mark.parametrize("fall_m", [1.0, 3.0, 6.0])
def test_trough_shrinks_to_its_closed_rectangle_and_the_run_with_it(fall_m):
    # Half width B, depth D: drawn down by d the half width is b = B (1 - d/D). The longest run keeps half its clear
    # width w to every shore: the diagonal of (L - w) x (2 b - w).
    found = surveyed(body(TROUGH, level=-fall_m), depth_grid=raster(TROUGH, trough, 10.0, 8.0))
    half_m = HALF * (1.0 - fall_m / GREATEST)
    assert found.area_today_m2.value == pytest.approx(2.0 * half_m * LENGTH, rel=0.02)
    assert found.area_m2 == pytest.approx(WIDE)
    assert found.longest_run.length_m == pytest.approx(np.hypot(LENGTH - 20.0, 2.0 * half_m - 20.0), rel=0.01)
    assert found.water_today.covers(found.longest_run.line)
    assert found.hover_point.clear_radius_m <= half_m + 8.0
    assert any("smaller than its outline" in remark for remark in found.remarks)


def test_trough_from_soundings_shrinks_too_and_keeps_its_depth_model():
    # Parabola: depth D (1 - (y/B)^2); drawn down by d its half width is B sqrt(1 - d/D). The ends, upright in truth,
    # are shelving in a field that is 0 at every shore: the area is not above the closed one and not far below.
    points = sounded(TROUGH, round_trough, 150)
    found = surveyed(body(TROUGH, level=-4.0), points)
    closed_m2 = 2.0 * HALF * np.sqrt(1.0 - 4.0 / GREATEST) * LENGTH
    assert 0.9 * closed_m2 < found.area_today_m2.value < 1.03 * closed_m2
    deepest = found.hover_point.depth.depth_with_confidence_m(0.5)
    assert deepest < GREATEST - 4.0 + 0.5


def test_water_that_falls_apart_is_searched_in_its_largest_part():
    lake = basin(1500.0, 400.0)

    def two_pools(x, y):
        # 10 m deep, but for a bar of 2 m from 900 to 1,000 m east.
        bar = (x > EAST + 900.0) & (x < EAST + 1000.0)
        return np.where(bar, 2.0, 10.0)

    found = surveyed(body(lake, level=-5.0), depth_grid=raster(lake, two_pools, 10.0, 10.0))
    assert any("in 2 parts" in remark for remark in found.remarks)
    assert found.water_today.bounds[2] < EAST + 905.0
    assert found.longest_run.line.bounds[2] < EAST + 905.0
    # Both pools count as water left: (900 + 500) of 1,500 m.
    assert found.area_today_m2.value == pytest.approx(1400.0 * 400.0, rel=0.01)


def test_dry_water_has_neither_run_nor_hover_point():
    found = surveyed(body(TROUGH, level=-15.0), depth_grid=raster(TROUGH, trough, 10.0, 8.0))
    assert found.longest_run is None and found.hover_point is None and found.usable_runs == ()
    assert found.area_today_m2.value == 0.0
    assert any("no water is left" in remark for remark in found.remarks)


@pytest.mark.parametrize("level", [None, 0.0, 2.0])
def test_unknown_or_higher_level_keeps_the_outline(level):
    found = surveyed(body(TROUGH, level=level), depth_grid=raster(TROUGH, trough, 10.0, 8.0))
    assert found.water_today is None
    assert found.area_today_m2.value == pytest.approx(found.area_m2)
    assert found.longest_run.length_m == pytest.approx(np.hypot(LENGTH - 20.0, 2.0 * HALF - 20.0), rel=0.01)


def test_fallen_water_without_a_surveyed_bed_is_never_called_deep():
    stated = StatedDepth(30.0, 0.5, "owner", date(2024, 1, 1))
    low = surveyed(body(TROUGH, level=-3.0, stated=stated))
    assert low.area_today_m2.value is None
    for depth in (low.longest_run.depth, low.hover_point.depth, *(run.depth for run in low.usable_runs)):
        assert depth.probability_at_least(1.0) is None
        assert "shore lies" in depth.reason
    # Half a metre moves no bank into a rotor's way; the depth is then counted at today's level.
    near = surveyed(body(TROUGH, level=-0.5, stated=stated))
    assert near.hover_point.depth.probability_at_least(1.0) > 0.5


def test_bank_that_fell_dry_stands_beyond_the_runs_end():
    # Terrain flown when the water was full: at the old level everywhere. Today's run ends 10 m inside the new shore;
    # the old level, 6 m up, stands beyond it, above a surface of 1:8 from there.
    water = replace(body(TROUGH, level=-6.0), surface_elevation_m=94.0)
    x = EAST - 3000.0 + (np.arange(300) + 0.5) * 20.0
    flat = Grid(np.full((300, 300), 100.0), float(x[0]) - 10.0, NORTH + 3000.0, 20.0, 20.0)
    grid = raster(TROUGH, trough, 10.0, 8.0)
    low = surveyed(water, depth_grid=grid, terrain=flat)
    full = surveyed(
        replace(water, level_change_m=0.0, surface_elevation_m=100.0), depth_grid=grid, terrain=flat
    )
    assert full.longest_run.end_end.excess_m <= 0.0
    assert low.longest_run.end_end.excess_m == pytest.approx(6.0 - 10.0 / 8.0, abs=2.5)


def test_depth_evidence_ages_to_the_day_asked_for():
    # Stated rules: a reservoir loses 0.5 % of its depth a year, with as much one sigma (geo/survey/depth/ageing.py).
    def flat(x, y):
        return np.full(np.shape(x), GREATEST)

    grid = replace(raster(TROUGH, flat, 10.0, 8.0), surveyed_on=date(2000, 1, 1))
    water = replace(body(TROUGH), kind="reservoir")
    new, old = (
        surveyed(water, depth_grid=grid, settings=replace(SETTINGS, as_of=day)).hover_point.depth
        for day in ("2000-01-01", "2020-01-01")
    )
    plain = surveyed(water, depth_grid=grid).hover_point.depth
    middle = [one.depth_with_confidence_m(0.5) for one in (new, old, plain)]
    assert middle[0] == pytest.approx(middle[2])
    assert middle[1] == pytest.approx(0.9 * middle[0], rel=0.02)
    assert old.depth_with_confidence_m(0.95) < 0.9 * new.depth_with_confidence_m(0.95)
    assert "years old" in old.evidence


def test_a_day_that_is_none_and_evidence_from_the_future_are_refused():
    with pytest.raises(BadArgument, match="YYYY-MM-DD"):
        surveyed(body(TROUGH), settings=replace(SETTINGS, as_of="summer"))
    with pytest.raises(BadArgument, match="after the day"):
        surveyed(body(TROUGH), sounded(TROUGH, trough, 60), settings=replace(SETTINGS, as_of="1999-01-01"))
