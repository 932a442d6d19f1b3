"""What a planner asks next: levels against closed beds, and where the next sounding goes."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
import shapely
from depth_shapes import EAST, NORTH, basin, body, circle, cone, flat_with_banks, raster, record, sounded
from scipy.special import ndtri

from geo.base.geodesy import local_crs
from geo.base.grid import Grid
from geo.records.region import RegionFrame, StatedDepth
from geo.records.survey import LeastDepth, SurveySettings
from geo.survey.body import RegionEvidence, survey_body
from geo.survey.depth.recalibration import shipped_recalibration
from geo.survey.depth.shore import Shoreline
from geo.survey.depth.unsounded import greatest_depth
from geo.survey.depth_picture import depth_picture
from geo.survey.outlook import Place, _advice_sentence

FRAME = RegionFrame(local_crs(147.0, -37.0).to_wkt(), 147.0, -37.0, "mean sea level")
SETTINGS = SurveySettings(corridor_width_m=40.0)
LAKE = basin(1200.0, 300.0)


def surveyed(water, soundings=None, depth_grid=None, terrain=None):
    return survey_body(
        water, RegionEvidence(FRAME, SETTINGS, terrain, soundings=soundings, depth_grid=depth_grid)
    )


def at_level(level_m=200.0, change_m=0.0, polygon=LAKE, **more):
    return replace(body(polygon, level=change_m, **more), surface_elevation_m=level_m)


def test_levels_of_a_flat_bed_are_the_closed_ones():
    # Bed 9 m below the full level, 200 m; today 1.5 m down. Error common to the raster, sigma = hypot(a, b d)/1.96: the
    # least depth with probability p is 9 + z(1-p) sigma, so required q holds down to 200 - 9 - z(1-p) sigma + q.
    grid = raster(LAKE, lambda x, y: np.full(np.shape(x), 9.0), 10.0, 10.0, a=0.5, b=0.01)
    found = surveyed(at_level(198.5, -1.5), depth_grid=grid)
    sigma = np.hypot(0.5, 0.01 * 9.0) / 1.96
    by = {(one.where.split()[0], one.required_m): one for one in found.level_outlooks}
    for where, p in (("run", 0.95), ("hover", 0.8)):
        for required_m in (1.0, 2.0):
            one = by[where, required_m]
            assert one.confidence == p
            assert one.lowest_elevation_m == pytest.approx(
                200.0 - 9.0 - ndtri(1.0 - p) * sigma + required_m, abs=0.02
            )
            chance = np.interp(one.lowest_elevation_m, one.elevations_m, one.probabilities)
            assert chance == pytest.approx(p, abs=0.12)
            assert list(one.probabilities) == sorted(one.probabilities)
            assert f"{one.lowest_elevation_m:.1f} m" in one.sentence


def test_level_that_is_too_low_already_is_said_so():
    grid = raster(LAKE, lambda x, y: np.full(np.shape(x), 2.2), 10.0, 10.0)
    found = surveyed(at_level(199.0, -1.0), depth_grid=grid)
    two = [one for one in found.level_outlooks if one.required_m == 2.0]
    assert two and all("only from a level of" in one.sentence for one in two)


@pytest.mark.parametrize(
    "water",
    [
        replace(at_level(), surface_elevation_m=None),
        replace(at_level(), level_change_m=None),
        replace(at_level(), kind="sea"),
    ],
    ids=["surface unknown", "level unknown", "sea"],
)
def test_no_levels_are_told_without_a_known_level(water):
    grid = raster(LAKE, lambda x, y: np.full(np.shape(x), 9.0), 10.0, 10.0)
    assert surveyed(water, depth_grid=grid).level_outlooks == ()


def test_stated_depth_tells_no_levels():
    stated = StatedDepth(9.0, 0.3, "owner", date(2024, 1, 1))
    assert surveyed(at_level(stated=stated)).level_outlooks == ()


def test_next_sounding_goes_where_the_run_was_not_sounded():
    # Flat bed of 2.3 m sounded densely but for a gap from 450 to 750 m east, which the best run cannot avoid.
    bed = flat_with_banks(LAKE, 2.3, 10.0)
    points = sounded(LAKE, bed, 240, sd=0.05)
    keep = (points.easting_m < EAST + 400.0) | (points.easting_m > EAST + 800.0)
    gapped = record(points.easting_m[keep], points.northing_m[keep], points.depth_m[keep], 0.05)
    found = surveyed(at_level(), gapped)
    advice = found.next_sounding
    assert advice is not None and advice.where.startswith("run")
    assert 0.05 < advice.chance < 0.95
    assert EAST + 350.0 < advice.point.x < EAST + 850.0
    assert advice.sd_after_m < advice.sd_before_m
    line = next(run.line for run in found.usable_runs if f"{round(run.heading_true_deg):03d}" in advice.where)
    assert advice.point.distance(line) < 200.0


def test_sure_and_hopeless_places_ask_for_no_sounding():
    for depth_m in (9.0, 0.3):
        grid = raster(LAKE, lambda x, y, d=depth_m: np.full(np.shape(x), d), 10.0, 10.0, a=0.2, b=0.01)
        assert surveyed(at_level(), depth_grid=grid).next_sounding is None


def test_without_a_field_the_middle_or_the_shallowest_place_is_sounded():
    run = surveyed(at_level()).next_sounding
    assert run.chance is None and run.sd_before_m is None
    assert abs(run.point.x - (EAST + 600.0)) < 450.0 and abs(run.point.y - (NORTH + 150.0)) < 150.0

    def shoal(x, y):
        return np.where(np.hypot(x - EAST - 600.0, y - NORTH - 150.0) < 160.0, 2.1, 2.6)

    grid = raster(LAKE, shoal, 10.0, 10.0, a=1.2, b=0.01)
    advice = surveyed(at_level(), depth_grid=grid).next_sounding
    assert advice is not None and "2.0 m" in advice.sentence


def test_unsounded_water_gets_a_wide_range_and_no_depth():
    tarn = LAKE
    x = EAST - 2000.0 + (np.arange(200) + 0.5) * 20.0
    north = NORTH + 2000.0 - (np.arange(200) + 0.5) * 20.0
    away = shapely.distance(tarn, shapely.points(*np.meshgrid(x, north)))
    slope = Grid(200.0 + 0.1 * away, EAST - 2000.0, NORTH + 2000.0, 20.0, 20.0)
    found = surveyed(at_level(polygon=tarn), terrain=slope)
    assert "nobody sounded it" in found.greatest_depth and "no evidence" in found.greatest_depth
    assert "land rising 10% from it" in found.greatest_depth
    assert found.hover_point.depth.quantiles_m is None and found.mean_depth_m.value is None
    assert (
        surveyed(
            at_level(polygon=tarn), sounded(tarn, flat_with_banks(tarn, 5.0, 30.0), 60), terrain=slope
        ).greatest_depth
        == ""
    )


def test_rule_of_thumb_volume_of_a_dam_is_marked_and_is_no_volume():
    stated = StatedDepth(5.0, 0.3, "owner", date(2024, 1, 1))
    dam = replace(at_level(polygon=basin(100.0, 80.0), stated=stated), kind="dam")
    found = surveyed(dam)
    # Farm-dam handbooks, from memory: 0.4 x area x greatest depth.
    assert "16,000 m3" in found.greatest_depth and "rule of thumb" in found.greatest_depth
    assert found.volume_m3.value is None


def test_picture_shows_the_beds_depth_and_nothing_where_it_is_dry():
    tarn = circle()
    picture = depth_picture(body(tarn, level=-6.0), None, raster(tarn, cone, 10.0, 8.0), SETTINGS)
    assert picture.origin == "depth raster"
    assert np.nanmax(picture.mean.values) == pytest.approx(6.0, abs=0.4)
    assert np.isfinite(picture.mean.values).sum() * picture.mean.cell_east_m**2 == pytest.approx(
        np.pi * 200.0**2, rel=0.03
    )
    from_points = depth_picture(body(tarn), sounded(tarn, cone, 80), None, SETTINGS)
    assert from_points.origin == "soundings"
    middle = from_points.mean.nearest(np.array([EAST]), np.array([NORTH]))[0]
    assert middle == pytest.approx(12.0, abs=2.0)
    assert depth_picture(body(tarn), None, None, SETTINGS) is None


@pytest.mark.parametrize(
    ("slope", "words"),
    [
        (0.184, "land rising 18% from it"),
        (0.007, "land rising 0.7% from it"),
        (0.0, "level land (counted as rising 0.5%)"),
        (-0.19, "land that falls away from it by 19% (counted as rising 0.5%)"),
    ],
)
def test_slope_of_the_land_is_said_in_words(slope, words):
    found = greatest_depth(Shoreline(LAKE), slope, shipped_recalibration().unsounded, True)
    assert words in found.text and "-" not in found.text


def test_a_sounding_that_brings_nothing_is_said_so():
    place = Place("hover point", shapely.Point(EAST, NORTH), 10.0, 0.8, LeastDepth("soundings", None, "", ""))
    nil, dull, sharp = (_advice_sentence(place, 0.4, 0.50, after_m) for after_m in (0.499, 0.49, 0.30))
    assert "no single sounding helps" in nil and "0.50 m" in nil and "falls from" not in nil
    assert "hardly surer" in dull and "0.50 m" in dull and "falls from" not in dull
    assert "falls from 0.50 to 0.30 m" in sharp
