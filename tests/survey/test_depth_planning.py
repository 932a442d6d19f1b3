"""The next sounding: against plain matrix algebra, and against what it is for."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from depth_shapes import EAST, NORTH, basin, body, flat_with_banks, inside, record, sounded
from scipy.spatial.distance import cdist
from shapely import LineString, Point, box

from geo.base.errors import BadArgument
from geo.survey.depth import depth_field, depth_model
from geo.survey.depth.corridor import Strip
from geo.survey.depth.next_survey import next_survey
from geo.survey.depth.planning import NO_GAIN, _candidates, _critical, next_sounding

LAKE = basin(1500.0, 600.0)
BED = flat_with_banks(LAKE, 5.0, 25.0)
RUN = LineString([(EAST + 250.0, NORTH + 300.0), (EAST + 1250.0, NORTH + 320.0)])


def textbook_variance(process, factor_at, x, y, extra):
    """Kriging variance with an unknown mean as one bordered system (Cressie 1993, sec. 3.4), soundings plus extra."""
    sites = np.column_stack((process.easting_m, process.northing_m))
    noise, f = process.noise_m2, process.factor(process.shore_distance_m)
    if extra is not None:
        place, sd = extra
        sites = np.vstack((sites, place))
        noise, f = np.append(noise, (sd / process.scale) ** 2), np.append(f, factor_at(*place))

    def covariance(a, b):
        r = cdist(a, b) * np.sqrt(3.0) / process.length_m
        return process.sd_m**2 * (1.0 + r) * np.exp(-r)

    left = covariance(sites, sites) * np.outer(f, f) + np.diag(noise)
    system = np.block([[left, f[:, None]], [f[None, :], np.zeros((1, 1))]])
    points = np.column_stack((x, y))
    fx = np.array([factor_at(*point) for point in points])
    right = np.concatenate((covariance(points, sites) * fx[:, None] * f, fx[:, None]), axis=1)
    weights = np.linalg.solve(system, right.T).T
    return process.scale**2 * ((process.sd_m * fx) ** 2 - (weights * right).sum(axis=1))


def test_promised_gain_is_that_of_really_adding_the_sounding():
    field = depth_field(LAKE, sounded(LAKE, BED, 25, seed=6))
    area = Strip(RUN, 20.0)
    found = next_sounding(field, RUN, 20.0, 4.6)

    def factor_at(x, y):
        return float(field.process.factor(field.shore.distance_m(np.array([x]), np.array([y])))[0])

    x, y, weight = _critical(field, area, 4.6)
    before = textbook_variance(field.process, factor_at, x, y, None)
    place = np.array([[found.point.x, found.point.y]])
    after = textbook_variance(field.process, factor_at, x, y, (place[0], 0.25))
    assert found.sd_before_m == pytest.approx(np.sqrt(weight @ before), rel=1e-3)
    assert found.sd_after_m == pytest.approx(np.sqrt(weight @ after), rel=1e-3)
    # No other candidate, each tried by brute force, does better.
    u, v = _candidates(field, area)
    for k in range(0, len(u), 9):
        other = textbook_variance(field.process, factor_at, x, y, (np.array([u[k], v[k]]), 0.25))
        assert weight @ other >= found.sd_after_m**2 * (1.0 - 1e-6)


def test_the_unsounded_end_of_the_run_is_sounded_next():
    x, y = inside(box(EAST + 50.0, NORTH + 100.0, EAST + 700.0, NORTH + 500.0), 30, np.random.default_rng(5))
    field = depth_field(LAKE, record(x, y, BED(x, y)))
    found = next_sounding(field, RUN, 20.0, 4.0)
    assert found.point.x > EAST + 800.0
    assert found.sd_after_m < found.sd_before_m
    assert LAKE.contains(found.point)


def test_hover_point_is_sounded_where_it_hovers():
    x, y = inside(box(EAST + 50.0, NORTH + 100.0, EAST + 700.0, NORTH + 500.0), 30, np.random.default_rng(5))
    field = depth_field(LAKE, record(x, y, BED(x, y)))
    here = Point(EAST + 1200.0, NORTH + 300.0)
    assert next_sounding(field, here, 10.0, 2.0).point.distance(here) < 0.5 * field.process.length_m


def test_no_place_is_named_where_no_single_sounding_helps():
    # A fine sonar knows the bed to 2 cm: a hand lead of one metre (1 sigma) can add nothing, wherever it is dropped.
    x, y = np.meshgrid(EAST + np.arange(230.0, 1271.0, 40.0), NORTH + np.arange(270.0, 351.0, 20.0))
    fine = record(x.ravel(), y.ravel(), BED(x.ravel(), y.ravel()), 0.02)
    field = depth_field(LAKE, fine)
    found = next_sounding(field, RUN, 20.0, 5.0, instrument_sd_m=1.0)
    assert found.point is None
    assert found.sd_before_m * (1.0 - NO_GAIN) <= found.sd_after_m <= found.sd_before_m


def test_without_a_field_nothing_is_planned_and_nonsense_is_refused():
    few = depth_field(LAKE, sounded(LAKE, BED, 5))
    assert next_sounding(few, RUN, 20.0, 2.0) is None
    field = depth_field(LAKE, sounded(LAKE, BED, 20))
    for required, sd in ((0.0, 0.2), (np.nan, 0.2), (2.0, -0.1)):
        with pytest.raises(BadArgument):
            next_sounding(field, RUN, 20.0, required, sd)


def test_the_next_survey_is_the_smallest_that_is_enough():
    # Nobody looked at the bed of this reservoir: 6 m deep, soundings some 67 m apart.
    points = replace(sounded(LAKE, flat_with_banks(LAKE, 6.0, 25.0), 200), searches=(), survey=None)
    model = depth_model(replace(body(LAKE), kind="reservoir"), points, None)
    now = model.least_along(RUN, 20.0)
    assert now.probability_at_least(2.0) < 0.2 and now.bed_probability_at_least(2.0) > 0.9
    plan = next_survey(model, Strip(RUN, 20.0), now, 2.0, 0.95)
    # An unbroken sounder crosses banks but meets no trees: only the side scan is enough, along one line.
    assert plan.search.method == "swath" and len(plan.lines) == 1 and plan.chance >= 0.95
    # What was promised is what a model with that survey says, where it reads what was expected.
    xy = shapely.get_coordinates(shapely.segmentize(plan.lines[0], 10.0))
    expected = model.field.at(*xy.T)[0]
    more = replace(
        record(
            np.append(points.easting_m, xy[:, 0]), np.append(points.northing_m, xy[:, 1]),
            np.append(points.depth_m, expected), np.append(points.sd_m, np.full(len(xy), 0.15)),
        ),
        searches=(plan.search,),
        survey=np.repeat([-1, 0], [len(points), len(xy)]),
    )  # fmt: skip
    after = depth_model(model.body, more, None).least_along(RUN, 20.0)
    assert after.probability_at_least(2.0) == pytest.approx(plan.chance, abs=0.04)


def test_lines_are_enough_where_only_banks_may_hide():
    # Posts of a farm dam seldom stand 2.5 m high; banks and fences are crossed by an unbroken sounder.
    bed = flat_with_banks(LAKE, 4.5, 25.0)
    points = replace(sounded(LAKE, bed, 200), searches=(), survey=None)
    model = depth_model(replace(body(LAKE), kind="dam"), points, None)
    now = model.least_along(RUN, 20.0)
    lines = next_survey(model, Strip(RUN, 20.0), now, 2.0, 0.3)
    assert lines.search.method == "lines" and lines.chance >= 0.3
    assert all(one.distance(RUN) <= 20.1 for one in lines.lines)


def test_without_evidence_a_survey_is_named_without_a_chance():
    model = depth_model(body(LAKE), None, None)
    plan = next_survey(model, Strip(RUN, 20.0), model.least_along(RUN, 20.0), 2.0, 0.95)
    assert plan.chance is None and plan.lines
