"""Charts in the depth model of a body: closed beds, and that no chart makes a shallow place look deep."""

from dataclasses import replace
from datetime import date

import contourpy
import numpy as np
import pytest
import shapely
from depth_shapes import (
    EAST,
    GREATEST,
    NORTH,
    RADIUS,
    SEEN_DRY,
    basin,
    body,
    circle,
    cone,
    raster,
    record,
    sounded,
)
from flooded_valleys import random_run, reservoirs
from scipy.special import ndtri
from shapely import LineString, Point

from geo.base.geodesy import local_crs
from geo.records.chart import DepthArea, DepthChart, DepthContour
from geo.records.region import RegionFrame, StatedDepth
from geo.records.survey import DEPTH_PROBABILITIES, SurveySettings
from geo.survey.body import RegionEvidence, survey_body
from geo.survey.depth import depth_model, waterline_today
from geo.survey.depth.chart import contour_intervals
from geo.survey.depth.corridor import Strip
from geo.survey.depth_picture import depth_picture

LAKE = basin(1500.0, 600.0)
RUN = LineString([(EAST + 250.0, NORTH + 300.0), (EAST + 1250.0, NORTH + 320.0)])
CHORD = LineString([(EAST - 120.0, NORTH), (EAST + 120.0, NORTH)])
MAPPED = date(2019, 4, 3)
FRAME = RegionFrame(local_crs(147.0, -37.0).to_wkt(), 147.0, -37.0, "mean sea level")


def contour(line, depth_m, sd_m=0.1, row=1):
    return DepthContour("tarn", line, depth_m, sd_m, f"contours.gpkg row {row}", MAPPED, SEEN_DRY)


def rings_of_the_cone(step_m=2.0):
    """Contours of the cone (12 m deep, 400 m radius), every step_m."""
    depths = np.arange(step_m, GREATEST, step_m)
    radii = RADIUS * (1.0 - depths / GREATEST)
    lines = [LineString(Point(EAST, NORTH).buffer(r, quad_segs=40).exterior.coords) for r in radii]
    return DepthChart(
        tuple(contour(line, d, row=k + 1) for k, (line, d) in enumerate(zip(lines, depths, strict=True)))
    )


def area(polygon, least_m, greatest_m, zone="A1", day=MAPPED, row=1):
    return DepthArea(polygon, least_m, greatest_m, zone, f"areas.gpkg row {row}", day, "tarn")


def charted(polygon, chart, level=0.0, stated=None, soundings=None, grid=None, today=None):
    return depth_model(body(polygon, level, stated), soundings, grid, today, chart)


def test_steps_between_contours():
    # 2 and 4 m from the shore inwards, then a gap to 9 m: the wider step beside each counts.
    assert contour_intervals(np.array([2.0, 4.0, 9.0, 4.0])).tolist() == [2.0, 5.0, 5.0, 5.0]
    assert contour_intervals(np.array([3.0])).tolist() == [3.0]
    assert contour_intervals(np.array([0.0])).tolist() == [1.0]


def test_contours_of_a_cone_tell_its_least_depth_volume_and_waterline():
    chart = rings_of_the_cone()
    model = charted(circle(), chart)
    least = model.least_along(CHORD, 0.0)
    # The ends of the chord lie 120 m from the middle: 12 (1 - 120 / 400) = 8.4 m; one sigma of drawing is 0.6 m.
    assert least.data_class == "chart" and least.oldest_on == MAPPED
    low, high = least.depth_with_confidence_m(0.95), least.depth_with_confidence_m(0.05)
    assert low < 8.4 < high and 8.4 - low > 1.0 * 0.6
    assert "contours" in least.reason and "contours.gpkg" in least.evidence and "2019-04-03" in least.evidence
    # A cone holds a third of base times height; its mean depth is a third of the greatest.
    assert model.mean_depth().value == pytest.approx(GREATEST / 3.0, rel=0.1)
    assert model.volume().value == pytest.approx(np.pi * RADIUS**2 * GREATEST / 3.0, rel=0.1)
    # The error of drawing, 0.6 m, is common to the map: the mean is no surer than that.
    assert "one sigma of the mean 0.6" in model.volume().origin
    # Six metres down, a cone of half the height keeps half the radius.
    wet, why = waterline_today(charted(circle(), chart, level=-6.0))
    assert wet.area == pytest.approx(np.pi * 200.0**2, rel=0.12) and "contours" in why


def test_the_level_moves_contours_and_areas_alike():
    for chart in (rings_of_the_cone(), DepthChart(areas=(area(circle(), 6.0, 12.0),))):
        full = charted(circle(), chart).least_along(CHORD, 20.0)
        low = charted(circle(), chart, level=-1.5).least_along(CHORD, 20.0)
        assert np.array(full.quantiles_m) - np.array(low.quantiles_m) == pytest.approx(1.5, abs=1e-6)


def test_area_promises_its_shallower_limit_and_leaves_open_what_lies_between():
    chart = DepthChart(areas=(area(LAKE, 5.0, 10.0, "B"),))
    least = charted(LAKE, chart, level=0.8).least_along(RUN, 20.0)
    # CATZOC B: 1 m + 2 % of the depth at 95 % (IHO S-57 Ed. 3.1 Supp. 3); tide 0.8 m above chart datum.
    sd = (1.0 + 0.02 * 5.0) / 1.96
    # Of the bed: what may stand on it unseen comes on top, for zone B searches nothing.
    sure = np.interp(0.05, DEPTH_PROBABILITIES, least.bed_quantiles_m)
    assert sure == pytest.approx(5.8 - 1.644854 * sd, abs=1e-3)
    assert 0.45 < least.bed_probability_at_least(7.0) < 0.5
    assert least.bed_probability_at_least(13.0) < 0.05
    assert least.data_class == "chart" and "zone B" in least.reason


@pytest.mark.parametrize("zone", ["D", "U"])
def test_a_zone_without_accuracy_promises_nothing(zone):
    chart = DepthChart(areas=(area(LAKE, 15.0, 20.0, zone),))
    least = charted(LAKE, chart).least_along(RUN, 20.0)
    assert least.quantiles_m is None and f"zone of confidence {zone}" in least.reason
    both = DepthChart(
        areas=(area(LAKE, 15.0, 20.0, "A1"), area(basin(700.0, 600.0), 15.0, 20.0, zone, row=2))
    )
    assert charted(LAKE, both).least_along(RUN, 20.0).quantiles_m is None


def test_contours_of_one_depth_are_no_bed():
    chart = DepthChart((contour(LineString(LAKE.buffer(-100.0).exterior.coords), 6.0),))
    least = charted(LAKE, chart).least_along(RUN, 20.0)
    assert least.quantiles_m is None and "one depth" in least.reason
    assert charted(LAKE, chart).volume().value is None


def deep(x, y):
    return 9.0 + 0.0 * x


def across(depth_m):
    middle = EAST + 700.0
    return DepthChart((contour(LineString([(middle, NORTH + 200.0), (middle, NORTH + 450.0)]), depth_m),))


@pytest.mark.parametrize("kind", ["soundings", "depth grid", "stated depth"])
def test_a_shallow_contour_across_the_run_bounds_every_other_evidence(kind):
    stated = StatedDepth(30.0, 0.3, "owner", MAPPED) if kind == "stated depth" else None
    soundings = sounded(LAKE, deep, 60) if kind == "soundings" else None
    grid = raster(LAKE, deep, 10.0, 8.0) if kind == "depth grid" else None
    least = [
        charted(LAKE, chart, stated=stated, soundings=soundings, grid=grid).least_along(RUN, 20.0)
        for chart in (None, across(1.0), across(40.0))
    ]
    assert [one.data_class for one in least] == [kind] * 3
    plain, shoal, pit = (np.array(one.bed_quantiles_m) for one in least)
    # One sigma of a lone contour of 1 m is 0.3 of its step from the shore, 0.3 m.
    assert np.all(shoal <= np.maximum(1.0 + 0.3 * ndtri(0.995), 0.0) + 1e-6) and shoal[12] <= 1.0 + 1e-3
    assert np.array_equal(plain, pit)
    assert "contour of 1.0 m" in least[1].reason and least[1].shallowest.x == pytest.approx(EAST + 700.0)


def test_areas_bound_other_evidence_only_where_they_surely_lie_on_the_run():
    soundings = sounded(LAKE, deep, 60)
    plain = charted(LAKE, None, soundings=soundings).least_along(RUN, 20.0)
    shoal = area(basin(700.0, 600.0), 0.0, 2.0, "A1")
    bound = charted(LAKE, DepthChart(areas=(shoal,)), soundings=soundings).least_along(RUN, 20.0)
    assert bound.quantiles_m[12] == pytest.approx(2.0, abs=0.01) and "areas.gpkg row 1" in bound.reason
    # Zone C lies up to 500 m off, D and U anywhere: they do not contradict a survey of the place itself.
    for zone in ("C", "D", "U"):
        vague = DepthChart(areas=(area(basin(700.0, 600.0), 0.0, 2.0, zone),))
        assert (
            charted(LAKE, vague, soundings=soundings).least_along(RUN, 20.0).quantiles_m == plain.quantiles_m
        )
    deeper = DepthChart(areas=(area(LAKE, 20.0, 50.0, "A1"),))
    assert charted(LAKE, deeper, soundings=soundings).least_along(RUN, 20.0).quantiles_m == plain.quantiles_m


def test_a_chart_is_never_deeper_than_the_depth_stated():
    chart = DepthChart(areas=(area(LAKE, 8.0, 10.0),))
    least = charted(LAKE, chart, stated=StatedDepth(3.0, 0.2, "sign", MAPPED)).least_along(RUN, 20.0)
    assert least.data_class == "chart" and least.quantiles_m[12] == pytest.approx(3.0, abs=0.01)
    assert "stated" in least.reason


def test_contours_and_areas_together_give_the_more_cautious():
    chart = rings_of_the_cone()
    alone = charted(circle(), chart).least_along(CHORD, 20.0)
    both = DepthChart(chart.contours, (area(circle(), 0.0, 12.0),))
    found = charted(circle(), both).least_along(CHORD, 20.0)
    assert found.quantiles_m[3] <= alone.quantiles_m[3] and "also" in found.evidence


def test_old_charts_lose_depth_and_weight():
    for chart in (rings_of_the_cone(), DepthChart(areas=(area(circle(), 6.0, 12.0),))):
        found = [
            charted(circle(), chart, today=today).least_along(CHORD, 20.0).depth_with_confidence_m(0.95)
            for today in (None, date(2020, 4, 3), date(2050, 4, 3))
        ]
        assert found[0] + 0.05 >= found[1] > found[2]


def test_points_near_each_other_do_not_make_a_map_surer():
    """The error of drawing is common: contours drawn twice as finely must not halve it."""
    wide = LineString([(EAST - 200.0, NORTH), (EAST + 200.0, NORTH)])
    least = charted(circle(), rings_of_the_cone()).least_along(wide, 0.0)
    spread = least.depth_with_confidence_m(0.05) - least.depth_with_confidence_m(0.95)
    # At the 6 m contour, where the run ends, one sigma is 0.3 x 2 m; 90 % of a normal error are 2 x 1.645 sigma.
    assert spread > 0.97 * 2 * 1.645 * 0.6


def test_nothing_deeper_than_the_deepest_contour_is_promised():
    """Inside the last contour a map says no more than that contour: 10 m, though the cone goes down to 12."""
    place = LineString([(EAST - 5, NORTH), (EAST + 5, NORTH)])
    least = charted(circle(), rings_of_the_cone()).least_along(place, 0.0)
    assert least.depth_with_confidence_m(0.5) <= 10.0 + 1e-6
    assert least.depth_with_confidence_m(0.8) < 10.0 and "deepest contour, 10.0 m" in least.reason


def test_soundings_outrank_the_map_and_a_map_outranks_a_sign():
    chart, stated = rings_of_the_cone(), StatedDepth(GREATEST, 0.5, "sign", MAPPED)
    assert charted(circle(), chart, stated=stated).least_along(CHORD, 20.0).data_class == "chart"
    few = record([EAST, EAST + 50.0], [NORTH, NORTH], [12.0, 10.5])
    assert charted(circle(), chart, soundings=few).least_along(CHORD, 20.0).data_class == "chart"
    many = sounded(circle(), cone, 60)
    assert charted(circle(), chart, soundings=many).least_along(CHORD, 20.0).data_class == "soundings"


def test_a_charted_water_is_surveyed_with_levels_and_a_picture():
    chart, settings = rings_of_the_cone(), SurveySettings(corridor_width_m=40.0)
    water = replace(body(circle(), level=-1.0), surface_elevation_m=99.0)
    found = survey_body(water, RegionEvidence(FRAME, settings, chart=chart))
    assert found.longest_run.depth.data_class == "chart" and found.greatest_depth == ""
    assert found.volume_m3.value is not None and found.level_outlooks != ()
    picture = depth_picture(water, None, None, settings, chart)
    assert picture.origin == "depth contours"
    # The error of drawing is in the picture: 0.3 x 2 m and more.
    assert np.nanmin(picture.sd.values) >= 0.6 - 1e-6


def test_a_chart_of_another_body_says_nothing():
    other = DepthChart((DepthContour("elsewhere", CHORD, 9.0, 0.1, "c row 1"),))
    least = charted(LAKE, other).least_along(RUN, 20.0)
    assert (
        least.reason == "no depth evidence" and depth_model(body(LAKE), None, None, None, other).chart is None
    )


def test_a_run_that_leaves_the_chart_or_the_water_is_told():
    half = DepthChart(areas=(area(basin(700.0, 600.0), 8.0, 10.0),))
    least = charted(LAKE, half).least_along(RUN, 20.0)
    assert least.quantiles_m is None and "covers E" in least.reason
    out = LineString([(EAST + 250.0, NORTH + 300.0), (EAST + 250.0, NORTH + 900.0)])
    whole = DepthChart(areas=(area(shapely.buffer(LAKE, 500.0), 8.0, 10.0),))
    assert charted(LAKE, whole).least_over(Strip(out, 20.0)).quantiles_m[-1] == 0.0


def mapped(reservoir) -> DepthChart:
    """The true bed's contours at 0.5 to 10 m steps, at most eight of them: a map without an error of survey."""
    grid = reservoir.depth
    rows, columns = grid.values.shape
    x = grid.west_m + (np.arange(columns) + 0.5) * grid.cell_east_m
    y = grid.north_m - (np.arange(rows) + 0.5) * grid.cell_north_m
    greatest_m = float(np.nanmax(grid.values))
    step_m = next((step for step in (0.5, 1.0, 2.0, 5.0) if greatest_m / step <= 8.0), 10.0)
    drawn = contourpy.contour_generator(x, y, np.nan_to_num(grid.values, nan=-3.0))
    lines = [
        (part, float(depth_m))
        for depth_m in np.arange(step_m, greatest_m, step_m)
        for line in drawn.lines(depth_m)
        for part in shapely.get_parts(shapely.intersection(LineString(line), reservoir.polygon))
        if part.geom_type == "LineString" and part.length > 1.0
    ]
    return DepthChart(tuple(contour(part, depth_m) for part, depth_m in lines))


def test_what_maps_promise_of_flooded_valleys_is_there():
    """Reservoirs of a real terrain, whose bed is known everywhere: runs stated at 0.9 or more succeed as often."""
    rng = np.random.default_rng(3)
    stated, true, ratios = [], [], []
    for reservoir in reservoirs()[:12]:
        model = charted(reservoir.polygon, mapped(reservoir))
        if model.contour_field() is None:
            continue
        x, y, _ = model.shore.lattice(1000)
        ratios.append(model.mean_depth().value / reservoir.bed(x, y).mean())
        for _ in range(6):
            run = random_run(reservoir.polygon, rng)
            least = None if run is None else model.least_along(run, 20.0)
            if least is None or least.quantiles_m is None:
                continue
            bed = reservoir.bed(*Strip(run, 20.0).points(8.0)[:2]).min()
            for required_m in np.array([0.3, 0.6, 0.8, 1.0, 1.2, 1.5]) * bed:
                if required_m > 0.05:
                    stated.append(least.probability_at_least(float(required_m)))
                    true.append(bed >= required_m - 1e-9)
    sure = np.array(stated) >= 0.9
    assert sure.sum() >= 80 and np.array(true)[sure].mean() >= 0.9
    assert np.median(ratios) == pytest.approx(1.0, abs=0.1)


def test_sure_depths_of_single_places_are_those_of_map_and_chart():
    x, y = np.array([EAST, EAST + 200.0, EAST + 3000.0]), np.full(3, NORTH)
    model = charted(circle(), rings_of_the_cone(), level=-1.0).charted
    found = model.sure_m(x, y, 1.645)
    # Not deeper than the deepest contour, 10 m, less the error of drawing, 0.6 m; 6 m half way out; unknown outside.
    assert found[0] <= 10.0 - 1.0 - 1.645 * 0.6 + 1e-6 and found[1] < 6.0 - 1.0 - 1.645 * 0.6 + 0.3
    assert np.isnan(found[2])
    areas = DepthChart(areas=(area(LAKE, 5.0, 10.0, "A1"), area(basin(700.0, 600.0), 2.0, 5.0, "A1", row=2)))
    x = np.array([EAST + 900.0, EAST + 300.0])
    sd = np.array([0.55, 0.52]) / 1.96  # CATZOC A1: 0.5 m + 1 % of the depth at 95 %
    found = charted(LAKE, areas).charted.sure_m(x, np.full(2, NORTH + 300.0), 1.645)
    assert found == pytest.approx(np.array([5.0, 2.0]) - 1.645 * sd)
    blind = DepthChart(areas=(area(LAKE, 5.0, 10.0, "D"),))
    assert np.isnan(charted(LAKE, blind).charted.sure_m(x, np.full(2, NORTH + 300.0), 1.645)).all()
