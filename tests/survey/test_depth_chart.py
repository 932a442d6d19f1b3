"""Charts, age, and waters that nobody sounded."""

from datetime import date

import numpy as np
import pytest
import shapely
from depth_shapes import EAST, NORTH, basin, body, circle, cone, flat_with_banks, raster, record, sounded
from shapely import LineString, Point

from geo.base.errors import BadArgument
from geo.base.grid import Grid
from geo.records.chart import DepthArea
from geo.survey.depth import depth_field, depth_model
from geo.survey.depth.ageing import aged
from geo.survey.depth.chart import (
    charted_least,
    contour_soundings,
    zone_sd_m,
)
from geo.survey.depth.corridor import Disc, Strip
from geo.survey.depth.recalibration import shipped_recalibration
from geo.survey.depth.shore import Shoreline
from geo.survey.depth.unsounded import greatest_depth, land_slope

LAKE = basin(1500.0, 600.0)
BED = flat_with_banks(LAKE, 5.0, 25.0)
RUN = LineString([(EAST + 250.0, NORTH + 300.0), (EAST + 1250.0, NORTH + 320.0)])


@pytest.mark.parametrize(
    ("zone", "depth", "published"),
    # CATZOC depth accuracy at 95 %: A1 as printed in the table (10, 30, 100 m), the others from its formula.
    [("A1", 10, 0.6), ("A1", 30, 0.8), ("A1", 100, 1.5), ("A2", 30, 1.6), ("B", 10, 1.2),
     ("C", 10, 2.5), ("C", 30, 3.5)],
)  # fmt: skip
def test_zone_accuracy_is_the_published_one(zone, depth, published):
    assert 1.96 * zone_sd_m(zone, depth) == pytest.approx(published, abs=1e-9)


@pytest.mark.parametrize("zone", ["D", "U"])
def test_zones_without_a_published_figure_stay_unknown(zone):
    assert zone_sd_m(zone, 10.0) is None
    table, reason = charted_least([DepthArea(LAKE, 5.0, 10.0, zone, "chart")], Strip(RUN, 20.0), 0.0)
    assert table is None and f"zone of confidence {zone}" in reason and "sound here" in reason


def test_depth_area_promises_its_shallower_limit_only():
    areas = [DepthArea(LAKE, 5.0, 10.0, "B", "area 4")]
    table, reason = charted_least(areas, Strip(RUN, 20.0), -0.5)
    sd = (1.0 + 0.02 * 5.0) / 1.96
    assert table[3] == pytest.approx(5.0 - 0.5 - 1.644854 * sd, abs=1e-4)
    assert "5.0 to 10.0 m" in reason and "zone B" in reason


def test_shallower_neighbour_within_the_position_error_counts():
    west, east = shapely.box(*LAKE.bounds), basin(100.0, 600.0)
    deep = DepthArea(
        west.difference(shapely.box(EAST, NORTH, EAST + 220.0, NORTH + 600.0)), 10.0, 20.0, "B", "deep"
    )
    shoal = DepthArea(shapely.box(EAST, NORTH, EAST + 220.0, NORTH + 600.0), 2.0, 5.0, "B", "shoal")
    near, _ = charted_least([deep, shoal], Strip(RUN, 20.0), 0.0)  # 30 m beside it, zone B is +-50 m
    alone, _ = charted_least([deep], Strip(RUN, 20.0), 0.0)
    assert near[12] == pytest.approx(2.0) and alone[12] == pytest.approx(10.0)
    far = LineString([(EAST + 300.0, NORTH + 300.0), (EAST + 1250.0, NORTH + 300.0)])
    assert charted_least([deep, shoal], Strip(far, 20.0), 0.0)[0][12] == pytest.approx(10.0)
    assert east.area > 0


def test_water_that_no_area_covers_is_unknown():
    half = DepthArea(basin(700.0, 600.0), 5.0, 10.0, "A1", "half")
    table, reason = charted_least([half], Strip(RUN, 20.0), 0.0)
    assert table is None and "no depth area of the chart covers E" in reason
    assert charted_least([], Strip(RUN, 20.0), 0.0)[0] is None


def test_contours_become_soundings_with_the_error_of_drawing():
    lines = [LineString([(0.0, 0.0), (100.0, 0.0)]), LineString([(0.0, 50.0), (60.0, 50.0)])]
    found = contour_soundings(lines, np.array([2.0, 4.0]), 2.0, np.array([0.1, 0.9]))
    assert len(found.depth_m) == 5 + 4  # every 25 m or less, both ends
    assert found.sd_m[found.line == 0] == pytest.approx(0.6)  # 0.3 x interval
    assert found.sd_m[found.line == 1] == pytest.approx(0.9)  # the survey's own, if worse
    assert found.easting_m[:5] == pytest.approx([0.0, 25.0, 50.0, 75.0, 100.0])
    for bad in ((np.array([2.0]), 2.0), (np.array([2.0, -1.0]), 2.0), (np.array([2.0, 4.0]), 0.0)):
        with pytest.raises(BadArgument):
            contour_soundings(lines, *bad)


def test_contours_of_a_cone_give_back_the_cone():
    lines = [Point(EAST, NORTH).buffer(r, quad_segs=40).exterior for r in (100.0, 200.0, 300.0)]
    depths = np.array([9.0, 6.0, 3.0])  # cone of 12 m depth and 400 m radius
    s = contour_soundings([LineString(line.coords) for line in lines], depths, 3.0)
    field = depth_field(
        circle(), easting_m=s.easting_m, northing_m=s.northing_m, depth_m=s.depth_m, sd_m=s.sd_m
    )
    x, y = EAST + np.array([150.0, 0.0, -250.0]), NORTH + np.array([0.0, 250.0, 0.0])
    mean, sd = field.at(x, y)
    assert np.all(np.abs(mean - cone(x, y)) < np.maximum(2.0 * sd, 0.4))


def test_age_takes_depth_off_and_is_said():
    today = date(2026, 1, 1)
    days = (date(2016, 1, 1), None, today)
    depth_m, sd_m, text = aged(
        np.array([10.0, 10.0, 10.0]), np.array([0.3, 0.3, 0.3]), days, "reservoir", today
    )
    # 0.5 % of the depth a year: 10 years (3 653 days) and 20 years for the undated one.
    assert depth_m == pytest.approx([10.0 * (1 - 0.005 * 3653 / 365.25), 9.0, 10.0])
    assert sd_m == pytest.approx([np.hypot(0.3, 0.05 * 10.0013689), np.hypot(0.3, 1.0), 0.3], rel=1e-4)
    assert "undated" in text and "0.5% of the depth a year" in text
    with pytest.raises(BadArgument, match="after the day asked for"):
        aged(np.ones(1), np.ones(1), (date(2027, 1, 1),), "lake", today)


def test_older_evidence_is_never_deeper_nor_surer():
    soundings = sounded(LAKE, BED, 40)  # of 2024-03-02
    grid = raster(LAKE, BED, 14.0, 9.0)  # of 2023-05-04
    for s, g in ((soundings, None), (None, grid)):
        tables = [
            depth_model(body(LAKE), s, g, today).least_along(RUN, 20.0)
            for today in (None, date(2024, 4, 1), date(2034, 4, 1), date(2054, 4, 1))
        ]
        sure = [each.depth_with_confidence_m(0.95) for each in tables]
        assert sure[0] + 0.02 >= sure[1] > sure[2] > sure[3]
        assert "taken off" not in tables[0].evidence
        assert all("of the depth a year taken off" in each.evidence for each in tables[1:])


def test_land_slope_round_a_pond_in_a_cone():
    # Ground that rises 1 in 8 away from a round pond of 100 m radius.
    x, y = np.meshgrid(EAST - 395.0 + 10.0 * np.arange(80), NORTH + 395.0 - 10.0 * np.arange(80))
    ground = Grid(
        250.0 + (np.hypot(x - EAST, y - NORTH) - 100.0) / 8.0, EAST - 400.0, NORTH + 400.0, 10.0, 10.0
    )
    pond = Shoreline(Point(EAST, NORTH).buffer(100.0, quad_segs=60))
    assert land_slope(pond, ground, 250.0) == pytest.approx(0.125, rel=0.02)
    assert land_slope(pond, Grid(np.full((4, 4), np.nan), EAST, NORTH, 10.0, 10.0), 250.0) is None


def test_range_of_an_unsounded_depth_is_wide_and_says_so():
    pond = Shoreline(Point(EAST, NORTH).buffer(100.0))
    rule = shipped_recalibration().unsounded
    dammed, natural = (greatest_depth(pond, 0.125, rule, kind) for kind in (False, True))
    assert dammed.low_m < dammed.middle_m < dammed.high_m
    assert dammed.high_m / dammed.low_m > 3.0
    # Factors that the published table of lakes left: 0.28 and 2.9.
    assert natural.low_m <= 0.28 * natural.middle_m and natural.high_m >= 2.9 * natural.middle_m
    assert "wide range" in dammed.text and "no evidence for a run" in dammed.text
    with pytest.raises(BadArgument):
        greatest_depth(pond, np.nan, rule, True)


def test_raster_that_does_not_reach_the_body_is_no_evidence():
    elsewhere = raster(shapely.box(EAST + 9000, NORTH, EAST + 9500, NORTH + 400), BED, 10.0, 8.0)
    holed = raster(LAKE, lambda x, y: np.full(x.shape, np.nan), 10.0, 8.0)
    for grid in (elsewhere, holed):
        model = depth_model(body(LAKE), None, grid)
        for least in (model.least_along(RUN, 20.0), model.least_within(Point(EAST + 700, NORTH + 300), 5.0)):
            assert least.reason == "no depth evidence" and least.evidence.startswith("no depth evidence")
            assert "raster" not in least.reason + least.evidence
        assert model.volume().origin == "no depth evidence"


def test_raster_that_reaches_only_the_other_end_says_so():
    half = raster(basin(150.0, 600.0), BED, 10.0, 8.0)
    reason = depth_model(body(LAKE), None, half).least_along(RUN, 20.0).reason
    assert reason == "no depth evidence here: the depth raster does not reach this place"


def test_pond_smaller_than_a_cell_still_has_the_raster():
    pond = Point(EAST + 52.0, NORTH + 52.0).buffer(3.0)
    grid = raster(LAKE, BED, 10.0, 8.0)
    least = depth_model(body(pond), None, grid).least_over(Disc(pond.centroid, 1.0))
    assert least.data_class == "depth grid"
    lone = record([EAST + 52.0], [NORTH + 52.0], [2.0])
    assert depth_model(body(pond), lone, None).least_over(Disc(pond.centroid, 1.0)).quantiles_m is None
