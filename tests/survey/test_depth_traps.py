"""The known ways to be wrong about depth, each as a check. Sources: textbook formulas, laws of probability."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from depth_shapes import (
    EAST,
    NORTH,
    basin,
    body,
    circle,
    cone,
    flat_with_banks,
    inside,
    raster,
    record,
    sounded,
)
from scipy.spatial.distance import cdist
from shapely import LineString, Point

from geo.records.region import StatedDepth
from geo.records.survey import DEPTH_PROBABILITIES, LeastDepth
from geo.survey.depth import depth_field, depth_model, run_depth_probability
from geo.survey.depth.corridor import Strip
from geo.survey.depth.likelihood import leave_one_out
from geo.survey.depth.process import fit_process, matern

LAKE = basin(1500.0, 600.0)
BED = flat_with_banks(LAKE, 5.0, 25.0)
RUN = LineString([(EAST + 250.0, NORTH + 300.0), (EAST + 1250.0, NORTH + 320.0)])


def naive_kriging_with_shore_zeros(x, y, z, sd, px, py):
    """Simple kriging with one mean and zero points along the shore, fitted variance: the method that breaks."""
    shore = shapely.get_coordinates(shapely.segmentize(LAKE.exterior, 25.0))
    sites = np.concatenate((np.column_stack((x, y)), shore))
    values = np.concatenate((z, np.zeros(len(shore))))
    noise = np.concatenate((np.full(len(z), sd**2), np.full(len(shore), 1e-4)))
    length, mean, variance = 300.0, values.mean(), values.var()
    covariance = variance * matern(cdist(sites, sites), length) + np.diag(noise)
    cross = variance * matern(cdist(np.column_stack((px, py)), sites), length)
    weights = np.linalg.solve(covariance, cross.T).T
    predicted = mean + weights @ (values - mean)
    return predicted, np.sqrt(np.maximum(variance - (weights * cross).sum(axis=1), 0.0))


def test_steep_banks_do_not_pull_the_mean_down():
    rng = np.random.default_rng(4)
    bed = flat_with_banks(LAKE, 5.0, 6.0)
    soundings = sounded(LAKE, bed, 20, seed=4)
    px, py = inside(LAKE, 500, rng)
    truth = bed(px, py)
    mean, sd = depth_field(LAKE, soundings).at(px, py)
    naive, _ = naive_kriging_with_shore_zeros(
        soundings.easting_m, soundings.northing_m, soundings.depth_m, 0.1, px, py
    )
    ours, theirs = np.mean(mean - truth), np.mean(naive - truth)
    assert theirs < -0.3  # the trap is real here
    assert abs(ours) < 0.15
    assert np.mean(np.abs(truth - mean) <= 1.645 * np.hypot(sd, 0.1)) > 0.85


def test_instrument_noise_is_not_simulated_at_every_point():
    # Bed 5 m, noise 0.3 m, 1 km run: independent noise at 100 points would leave P(all >= 4.6) = Phi(1.33)^100 = 6e-5.
    field = depth_field(LAKE, sounded(LAKE, flat_with_banks(LAKE, 5.0, 10.0), 80, seed=2, sd=0.3))
    assert run_depth_probability(field, RUN, 20.0, 4.4) > 0.8
    assert run_depth_probability(field, RUN, 20.0, 5.6) < 0.05


def test_joint_probability_does_not_fall_with_more_points():
    field = depth_field(LAKE, sounded(LAKE, BED, 40, seed=3))
    whole = run_depth_probability(field, RUN, 20.0, 4.6)
    # The same line with nearly twice the stations (two legs that meet in the middle) is the same question.
    bent = LineString([RUN.coords[0], RUN.interpolate(0.5, normalized=True).coords[0], RUN.coords[-1]])
    assert run_depth_probability(field, shapely.segmentize(bent, 5.0), 20.0, 4.6) == pytest.approx(
        whole, abs=0.03
    )


@pytest.mark.parametrize("required", [4.2, 4.6, 4.8, 4.9, 5.0])
def test_joint_is_below_pointwise_and_above_independence(required):
    field = depth_field(LAKE, sounded(LAKE, BED, 25, seed=6))
    joint = run_depth_probability(field, RUN, 40.0, required)
    draws = field.draws(Strip(RUN, 40.0))
    # As if the whole corridor were its worst point: no joint draws, each rank taken by itself.
    worst = field.least_table(replace(draws, least_m=draws.ranked()[1]))
    lowest = LeastDepth("soundings", worst, "", "").probability_at_least(required)
    assert joint <= lowest + 1.0 / 400
    raw = replace(field, recalibration=None)
    joint = run_depth_probability(raw, RUN, 40.0, required)
    pointwise = (raw.draws(Strip(RUN, 40.0)).depth_m >= required).mean(axis=1)
    # Positively correlated Gaussians: the joint probability is at least the product (Slepian 1962).
    assert joint >= np.prod(pointwise) - 0.01
    if 0.1 < joint < 0.9:
        assert np.prod(pointwise) < 0.5 * joint  # independence is useless along a run


EVIDENCE = {
    "soundings": (sounded(LAKE, BED, 40, seed=8), None, None),
    "raster": (None, raster(LAKE, BED, 14.0, 9.0), None),
    "both": (sounded(LAKE, BED, 40, seed=8), raster(LAKE, BED, 14.0, 9.0), None),
    "stated": (None, None, StatedDepth(6.0, 0.5, "sign", None)),
}


@pytest.mark.parametrize("kind", EVIDENCE)
def test_wider_is_never_deeper(kind):
    soundings, grid, stated = EVIDENCE[kind]
    model = depth_model(body(LAKE, 0.0, stated), soundings, grid)
    tables = [model.least_along(RUN, width).quantiles_m for width in (0.0, 20.0, 40.0, 60.0, 100.0, 300.0)]
    rings = [
        model.least_within(Point(EAST + 700.0, NORTH + 200.0), r).quantiles_m
        for r in (0.0, 2.5, 5.0, 30.0, 150.0)
    ]
    for series in (tables, rings):
        assert np.all(np.diff(np.array(series), axis=0) <= 1e-9)


@pytest.mark.parametrize("kind", EVIDENCE)
def test_lower_level_is_never_deeper_and_never_below_dry(kind):
    soundings, grid, stated = EVIDENCE[kind]
    levels = (0.5, 0.0, -0.5, -2.0, -4.0, -9.0)
    answers = [
        depth_model(body(LAKE, level, stated), soundings, grid).least_along(RUN, 40.0) for level in levels
    ]
    table = np.array([answer.quantiles_m for answer in answers])
    assert np.all(np.diff(table, axis=0) <= 1e-9)
    assert np.all(table >= 0.0)
    assert np.all(table[-1] == 0.0)
    assert np.all(np.diff(table, axis=1) >= 0.0)
    assert answers[-1].expected_least_m == 0.0


def test_bank_that_nobody_sounded_is_not_taken_for_a_wall():
    # All soundings lie 150 m and more from the shore of an even bed; 8 m from the shore nothing is known but the shore.
    rng = np.random.default_rng(2)
    x, y = inside(shapely.box(EAST + 150.0, NORTH + 150.0, EAST + 1350.0, NORTH + 450.0), 20, rng)
    model = depth_model(body(LAKE), record(x, y, 5.0 + rng.normal(0.0, 0.1, 20)), None)
    along_shore = LineString([(EAST + 300.0, NORTH + 8.0), (EAST + 1000.0, NORTH + 8.0)])
    assert model.least_along(along_shore, 0.0).depth_with_confidence_m(0.95) < 1.0
    assert model.least_along(RUN, 20.0).depth_with_confidence_m(0.95) > 4.5


def test_unknown_is_never_zero():
    nothing = depth_model(body(LAKE), None, None)
    least = nothing.least_along(RUN, 40.0)
    assert least.data_class == "none" and least.quantiles_m is None
    assert least.reason == "no depth evidence"
    assert least.probability_at_least(0.1) is None
    for measure in (nothing.mean_depth(), nothing.volume()):
        assert measure.value is None and measure.origin == "no depth evidence"
    few = depth_field(LAKE, sounded(LAKE, BED, 7))
    assert run_depth_probability(few, RUN, 20.0, 1.0) is None
    assert np.isnan(few.mean.values).all() and np.isnan(few.sd.values).all()


def test_land_is_dry_whatever_the_evidence():
    across = LineString([(EAST + 100.0, NORTH + 300.0), (EAST + 1700.0, NORTH + 300.0)])
    for soundings, grid, stated in EVIDENCE.values():
        least = depth_model(body(LAKE, 1.0, stated), soundings, grid).least_along(across, 20.0)
        assert least.quantiles_m is None or set(least.quantiles_m) == {0.0}


def test_one_shoal_sounding_pulls_the_run_down():
    rng = np.random.default_rng(12)
    x, y = inside(LAKE, 60, rng)
    clear = shapely.distance(shapely.points(x, y), RUN) > 120.0
    x, y = x[clear], y[clear]
    deep = record(x, y, BED(x, y) + rng.normal(0.0, 0.1, len(x)))
    at = RUN.interpolate(0.4, normalized=True)
    answers = {}
    for beside in (0.0, 35.0):
        with_shoal = record(np.append(x, at.x), np.append(y, at.y + beside), np.append(deep.depth_m, 1.2))
        answers[beside] = depth_model(body(LAKE), with_shoal, None).least_along(RUN, 20.0)
    without = depth_model(body(LAKE), deep, None).least_along(RUN, 20.0)
    five = DEPTH_PROBABILITIES.index(0.05)
    assert (
        answers[0.0].depth_with_confidence_m(0.05) < 1.6
    )  # sounded on the run: the run is known to be shallow
    assert answers[0.0].shallowest.distance(at) < 40.0
    assert answers[35.0].quantiles_m[five] < without.quantiles_m[five] - 1.0  # beside it: cannot be trusted


def test_a_lone_shoal_sounding_beats_the_other_evidence():
    at = RUN.interpolate(0.4, normalized=True)
    lone = record([at.x], [at.y + 4.0], [0.8])
    for _, grid, stated in (EVIDENCE["raster"], EVIDENCE["stated"]):
        least = depth_model(body(LAKE, 0.0, stated), lone, grid).least_along(RUN, 20.0)
        assert least.depth_with_confidence_m(0.05) < 1.1
        assert "never deeper than the sounding of 0.8 m" in least.reason


def test_same_body_same_answer():
    soundings = sounded(LAKE, BED, 30)
    one = depth_model(body(LAKE), soundings, None).least_along(RUN, 40.0)
    depth_model(body(circle()), sounded(circle(), cone, 30), None).least_within(Point(EAST, NORTH), 5.0)
    assert depth_model(body(LAKE), soundings, None).least_along(RUN, 40.0) == one


@pytest.fixture
def unknown_mean(monkeypatch):
    """The textbooks' mean is wholly unknown beforehand; the field's is known to a share of itself."""
    monkeypatch.setattr("geo.survey.depth.process.MEAN_SHARE", 1e6)


@pytest.mark.usefixtures("unknown_mean")
def test_prediction_equals_the_textbook_system():
    # Universal kriging as one bordered linear system, Cressie 1993, Statistics for Spatial Data, sec. 3.4.
    soundings = sounded(LAKE, BED, 25, seed=9)
    field = replace(depth_field(LAKE, soundings), recalibration=None)
    p = field.process
    f = 1.0 - np.exp(-p.shore_distance_m / p.shore_scale_m)
    sites = np.column_stack((p.easting_m, p.northing_m))
    root = np.sqrt(3.0) / p.length_m
    r = cdist(sites, sites) * root
    covariance = p.sd_m**2 * np.outer(f, f) * (1 + r) * np.exp(-r) + np.diag(p.noise_m2)
    x, y = inside(LAKE, 5, np.random.default_rng(1))
    fx = 1.0 - np.exp(-shapely.distance(LAKE.exterior, shapely.points(x, y)) / p.shore_scale_m)
    q = cdist(np.column_stack((x, y)), sites) * root
    cross = p.sd_m**2 * fx[:, None] * f * (1 + q) * np.exp(-q)
    system = np.block([[covariance, f[:, None]], [f[None, :], np.zeros((1, 1))]])
    right = np.concatenate((cross, fx[:, None]), axis=1)
    weights = np.linalg.solve(system, right.T).T
    mean, sd = field.at(x, y)
    assert mean == pytest.approx(weights[:, :-1] @ p.depth_m, rel=1e-6)
    variance = (p.sd_m * fx) ** 2 - (weights * right).sum(axis=1)
    assert sd == pytest.approx(p.scale * np.sqrt(variance), rel=1e-4)


@pytest.mark.usefixtures("unknown_mean")
def test_leave_one_out_equals_leaving_one_out():
    soundings = sounded(LAKE, BED, 18, seed=10)
    shore = shapely.distance(LAKE.exterior, shapely.points(soundings.easting_m, soundings.northing_m))
    p = fit_process(soundings.easting_m, soundings.northing_m, soundings.depth_m, soundings.sd_m, shore)
    f = p.factor(p.shore_distance_m)
    sites = np.column_stack((p.easting_m, p.northing_m))
    correlation = matern(cdist(sites, sites), p.length_m)
    fast = leave_one_out(correlation, f, p.depth_m, p.noise_m2, p.sd_m**2)
    errors = []
    for k in range(len(f)):
        rest = np.arange(len(f)) != k
        solution = p.conditioned(np.flatnonzero(rest)).solved()
        mean, covariance = solution.joint_field(p.easting_m[[k]], p.northing_m[[k]])
        variance = f[k] ** 2 * covariance[0, 0] / p.scale**2 + p.noise_m2[k]
        errors.append((p.depth_m[k] - f[k] * mean[0]) ** 2 / variance)
    assert fast == pytest.approx(np.sqrt(np.mean(errors)), rel=1e-6)


def test_field_of_many_soundings_agrees_with_the_exact_one():
    # Above 400 soundings each grid point uses its nearest ones only; the exact solve of all is the reference.
    many = replace(depth_field(LAKE, sounded(LAKE, BED, 900, seed=14)), recalibration=None)
    x, y = inside(LAKE, 200, np.random.default_rng(3))
    mean, sd = many.at(x, y)
    f = many.process.factor(shapely.distance(LAKE.exterior, shapely.points(x, y)))
    exact_mean, exact_sd = (f * a for a in many.process.solved().field(x, y))
    assert np.abs(mean - exact_mean).max() < 0.05
    # Leaving data out never makes kriging surer.
    assert np.all(sd >= exact_sd * (1.0 - 1e-9)) and np.all(sd < 1.4 * exact_sd)


def test_thinning_round_a_run_keeps_the_shoal():
    many = sounded(LAKE, BED, 3000, seed=15)
    at = RUN.interpolate(0.3, normalized=True)
    clear = depth_model(body(LAKE), many, None).least_along(RUN, 20.0)
    answers = []
    for beside in (3.0, 16.0):
        x, y = np.append(many.easting_m, at.x), np.append(many.northing_m, at.y + beside)
        shoal = record(x, y, np.append(many.depth_m, 1.0))
        answers.append(depth_model(body(LAKE), shoal, None).least_along(RUN, 20.0))
    assert answers[0].depth_with_confidence_m(0.05) < 1.4  # on the run
    assert answers[0].shallowest.distance(at) < 30.0
    assert (
        answers[1].depth_with_confidence_m(0.95) < clear.depth_with_confidence_m(0.95) - 0.5
    )  # 6 m beside it


LONG_LAKE = basin(3600.0, 500.0)
LONG_RUN = LineString([(EAST + 200.0, NORTH + 250.0), (EAST + 3400.0, NORTH + 250.0)])


def with_a_shoal(along_m: float, beside_m: float):
    """A bed of 5 m with a cone 20 m across and 4 m high, 12 m beside the run; sounded every 8 m on both sides of it."""
    flat = flat_with_banks(LONG_LAKE, 5.0, 25.0)
    lines = NORTH + 250.0 + np.array([-beside_m, beside_m])
    x, y = (a.ravel() for a in np.meshgrid(EAST + np.arange(200.0, 3401.0, 8.0), lines))
    shoal = 4.0 * np.maximum(1.0 - np.hypot(x - EAST - along_m, y - NORTH - 262.0) / 10.0, 0.0)
    noise = np.random.default_rng(3).normal(0.0, 0.1, len(x))
    return depth_model(body(LONG_LAKE), record(x, y, flat(x, y) - shoal + noise), None)


ALONG_M = (1500.0, 1508.0, 1516.0, 1524.0)


@pytest.mark.parametrize("along_m", ALONG_M)
def test_shoal_sounded_just_beside_a_long_run_is_not_smoothed_away(along_m):
    # 2 m outside the strip the shoal was measured at 2.6 m; the field alone, learned from 800 others, says 3.5 m there.
    least = with_a_shoal(along_m, 12.0).least_along(LONG_RUN, 20.0)
    assert least.depth_with_confidence_m(0.05) < 3.0
    assert least.shallowest.distance(Point(EAST + along_m, NORTH + 262.0)) < 20.0


@pytest.mark.parametrize("along_m", ALONG_M)
def test_shoal_of_twenty_metres_does_not_slip_between_the_stations_of_a_long_run(along_m):
    # Reference: short pieces over the shoal, moved by a metre at a time, so that their stations lie everywhere.
    model = with_a_shoal(along_m, 16.0)
    least = model.least_along(LONG_RUN, 20.0)
    start = EAST + along_m - 40.0
    pieces = [LineString([(start + k, NORTH + 250.0), (start + 60.0 + k, NORTH + 250.0)]) for k in range(10)]
    finest = min(model.least_along(piece, 20.0).depth_with_confidence_m(0.5) for piece in pieces)
    assert finest < 4.2
    assert least.depth_with_confidence_m(0.5) <= finest + 0.15
    assert least.shallowest.distance(Point(EAST + along_m, NORTH + 262.0)) < 30.0
