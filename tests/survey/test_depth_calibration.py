"""How often the truth lies where the depth stage says it does, on bodies that nothing was learned from.

Bodies: see flooded_valleys. Each part of the terrain is judged by corrections learned on the other parts alone. The
bars are those that the product promises; the small test has fewer bodies and therefore wider bounds.
"""

import numpy as np
import pytest
from depth_learning import written_recalibration
from depth_study import areas, proof, surveys, unsounded_bodies, unsounded_coverage
from flooded_valleys import inside, random_run, reservoirs

from geo.survey.depth import depth_field, run_depth_probability
from geo.survey.depth.corridor import Strip
from geo.survey.depth.recalibration import read_recalibration, shipped_recalibration

COUNTS = (15, 60, 150)


@pytest.fixture(scope="module")
def small():
    return proof(reservoirs()[:24], (COUNTS, (15, 60)), 3, 41)


@pytest.mark.parametrize("count", COUNTS)
def test_intervals_hold_what_they_say_on_other_terrain(small, count):
    half, most = small.coverage(count, "spread")
    assert 0.42 <= half <= 0.58
    assert 0.85 <= most <= 0.95


def test_trusted_runs_are_deep_enough_on_other_terrain(small):
    run = small.asked.run > 0
    trusted, doubted = run & (small.stated >= 0.9), run & (small.stated <= 0.1)
    assert trusted.sum() > 60 and doubted.sum() > 60
    assert small.asked.held[trusted].mean() >= 0.9
    assert small.asked.held[doubted].mean() <= 0.1


@pytest.mark.slow
def test_bars_of_calibration_leave_terrain_out():
    full = proof(reservoirs(), ((15, 30, 60, 150), (10, 15, 30, 60, 150)), 5, 42, repeats=2)
    for count in COUNTS:
        half, most = full.coverage(count, "spread")
        assert 0.46 <= half <= 0.54, (count, half)
        assert 0.87 <= most <= 0.93, (count, most)
    run = full.asked.run > 0
    assert run.sum() > 2 * 2000  # two depths are asked of each run
    trusted = run & (full.stated >= 0.9)
    assert full.asked.held[trusted].mean() >= 0.9
    for stated, observed, number in full.reliability(True, np.arange(0.05, 0.96, 0.1)):
        assert number > 100
        assert observed == pytest.approx(stated, abs=0.07), full.reliability(True, np.arange(0.05, 0.96, 0.1))


@pytest.mark.slow
def test_range_of_an_unsounded_greatest_depth_leave_terrain_out():
    assert 0.87 <= unsounded_coverage(unsounded_bodies()) <= 0.93


def test_shipped_file_says_where_it_is_from_and_survives_reading():
    shipped = shipped_recalibration()
    assert {"learned_on", "terrain", "limits", "made_by", "bodies"} <= set(shipped.provenance)
    assert shipped.provenance["bodies"] >= 20
    again = read_recalibration(written_recalibration(shipped))
    assert again == shipped or written_recalibration(again) == written_recalibration(shipped)
    assert shipped.area.joint > 0.0 and shipped.area.point >= 0.0
    assert np.all(np.diff(shipped.point.interval_sigmas) > 0.0)


def test_bodies_are_disjoint_valleys_with_one_dam():
    bodies = reservoirs()
    assert len(bodies) >= 50 and len({body.block for body in bodies}) >= 15
    for body in bodies[:10]:
        x, y = inside(body.polygon, 200, np.random.default_rng(1))
        assert body.bed(x, y).min() >= 0.0 and np.isfinite(body.bed(x, y)).all()
        assert body.bed(x, y).max() <= body.depth.values.max() + 1e-9


def test_probability_is_not_one_where_a_run_passes_unsounded_water():
    body = reservoirs()[9]
    rng = np.random.default_rng(1)
    survey = surveys([body], (12,), ("spread",), rng)[0]
    p = survey.field.process
    field = depth_field(
        body.polygon, easting_m=p.easting_m, northing_m=p.northing_m, depth_m=p.depth_m, sd_m=0.26
    )
    line = random_run(body.polygon, np.random.default_rng(2))
    px, py, _offset = Strip(line, 20.0).points(5.0)
    assert 0.005 <= run_depth_probability(field, line, 20.0, float(body.bed(px, py).max()) + 30.0) <= 0.05


def test_study_asks_depths_that_do_not_know_the_truth():
    rng = np.random.default_rng(4)
    asked = areas(surveys(reservoirs()[:4], (30,), ("spread",), rng), rng)
    held = np.concatenate([each.least_m >= each.required_m for each in asked])
    assert 0.1 < held.mean() < 0.9
