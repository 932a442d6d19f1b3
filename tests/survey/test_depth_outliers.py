"""A sounding far too deep is kept out by the stated rule and shown; a shoal never is; from the file to the volume."""

import numpy as np
import pytest
import shapely
from depth_shapes import EAST, NORTH, basin, body, circle, cone, flat_with_banks, record, sounded
from shapely import LineString

from geo.base.outliers import FACTOR, LEAST_EXCESS_M, deep_outliers, shore_distances_m
from geo.survey.depth import depth_field, depth_model, run_depth_probability

LAKE = basin(1500.0, 600.0)
BED = flat_with_banks(LAKE, 5.0, 25.0)
RUN = LineString([(EAST + 250.0, NORTH + 300.0), (EAST + 1250.0, NORTH + 320.0)])


def in_the_middle(soundings):
    """Places of soundings far from the shore."""
    shore = shore_distances_m(LAKE, soundings.easting_m, soundings.northing_m)
    return np.flatnonzero(shore > 100.0)


@pytest.mark.parametrize("count", [15, 60, 150])
@pytest.mark.parametrize("spike_m", [15.0, 60.0, 400.0])
def test_a_spike_changes_neither_volume_nor_probability(count, spike_m):
    soundings = sounded(LAKE, BED, count)
    k = in_the_middle(soundings)[0]
    without = np.arange(count) != k
    depth = soundings.depth_m.copy()
    depth[k] = spike_m
    spiked = depth_model(body(LAKE), record(soundings.easting_m, soundings.northing_m, depth), None)
    clean = depth_model(
        body(LAKE),
        record(soundings.easting_m[without], soundings.northing_m[without], soundings.depth_m[without]),
        None,
    )
    assert spiked.volume().value == clean.volume().value
    one, other = (model.least_along(RUN, 20.0) for model in (spiked, clean))
    assert one.quantiles_m == other.quantiles_m
    assert f"the deepest {spike_m:.1f} m (soundings.csv row {k + 2})" in one.evidence
    assert "times deeper" in one.evidence and "times deeper" not in other.evidence


def test_the_field_alone_keeps_the_rule():
    soundings = sounded(LAKE, BED, 60)
    soundings.depth_m[in_the_middle(soundings)[0]] = 99.0
    field = depth_field(LAKE, soundings)
    assert np.nanmax(field.mean.values) < 8.0 and len(field.evidence.outliers) == 1
    assert run_depth_probability(field, RUN, 20.0, 2.0) > 0.95


def test_shoals_are_never_outliers():
    soundings = sounded(LAKE, BED, 60)
    depth = soundings.depth_m.copy()
    depth[in_the_middle(soundings)[:3]] = 0.2
    shore = shore_distances_m(LAKE, soundings.easting_m, soundings.northing_m)
    assert not deep_outliers(soundings.easting_m, soundings.northing_m, depth, shore).any()


def test_two_false_echoes_side_by_side_do_not_hide_each_other():
    soundings = sounded(LAKE, BED, 150)
    middle = in_the_middle(soundings)
    x, y = soundings.easting_m[middle], soundings.northing_m[middle]
    pair = middle[np.argsort(np.hypot(x - x[0], y - y[0]))[:2]]
    depth = soundings.depth_m.copy()
    depth[pair] = 45.0
    shore = shore_distances_m(LAKE, soundings.easting_m, soundings.northing_m)
    out = deep_outliers(soundings.easting_m, soundings.northing_m, depth, shore)
    assert sorted(np.flatnonzero(out)) == sorted(pair)


@pytest.mark.parametrize("count", [8, 15, 60, 400])
def test_the_deep_middle_of_a_cone_is_no_outlier(count):
    for seed in range(20):
        soundings = sounded(circle(), cone, count, seed=seed)
        x, y = np.append(soundings.easting_m, EAST), np.append(soundings.northing_m, NORTH)
        depth = np.append(soundings.depth_m, 12.0)
        assert not deep_outliers(x, y, depth, shore_distances_m(circle(), x, y)).any()


def test_the_rule_is_met_and_not_met_at_its_limits():
    # Twelve soundings of 4 m on a ring, one in the middle: 2.5 x 4 m is the limit. Four of 1 m: 2 m more is the limit.
    angle = np.arange(12) * np.pi / 6.0
    x, y = np.append(100.0 * np.cos(angle), 0.0), np.append(100.0 * np.sin(angle), 0.0)
    shore = np.full(13, 300.0)
    for least_m, limit_m in ((4.0, FACTOR * 4.0), (1.0, 1.0 + LEAST_EXCESS_M)):
        for middle_m, out in ((limit_m - 0.01, False), (limit_m + 0.01, True)):
            depth = np.append(np.full(12, least_m), middle_m)
            assert deep_outliers(x, y, depth, shore)[12] == out
    # Shallow banks are no measure for the middle: nothing lies half as far from the shore.
    far = np.append(np.full(12, 100.0), 201.0)
    assert not deep_outliers(x, y, np.append(np.full(12, 1.0), 30.0), far).any()


def test_too_few_soundings_are_compared_with_none():
    few = np.array([0.0, 10.0, 20.0])
    assert not deep_outliers(few, few, np.array([2.0, 2.0, 90.0]), np.full(3, 50.0)).any()
    assert deep_outliers(np.zeros(0), np.zeros(0), np.zeros(0), np.zeros(0)).tolist() == []


def test_distance_to_the_shore_counts_islands():
    island = LAKE.difference(shapely.box(EAST + 700, NORTH + 250, EAST + 800, NORTH + 350))
    found = shore_distances_m(
        island, np.array([EAST + 690.0, EAST + 300.0]), np.array([NORTH + 300.0, NORTH + 40.0])
    )
    assert found == pytest.approx([10.0, 40.0])
