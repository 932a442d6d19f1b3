"""Runs of real lakes against the independent brute force, and the certificate of every lake of the open set."""

import numpy as np
import pytest
import shapely

from geo.survey.runs import longest_run, run_rose
from tests.needs import needs
from tests.real_lakes import real_lakes
from tests.survey.run_brute import longest_run_by_pairs, rose_by_vertices

pytestmark = [
    pytest.mark.real,
    needs("shoreline data"),
]


def _lakes(least: int, most: int, step: int) -> list[shapely.Polygon]:
    chosen = [lake for lake in real_lakes() if least <= shapely.get_num_coordinates(lake.outline) <= most]
    return [lake.in_metres() for lake in chosen[::step]]


def test_longest_run_and_rose_of_real_lakes():
    for polygon in _lakes(20, 70, 50):
        run = longest_run(polygon)
        assert run.length_m == pytest.approx(longest_run_by_pairs(polygon), rel=1e-12)
        assert run.certified
        rose = run_rose(polygon, [20.0, 100.0])
        for heading, length in zip(rose.headings_deg, rose.lengths_m, strict=True):
            assert length == pytest.approx(rose_by_vertices(polygon, heading), rel=1e-11)


@pytest.mark.slow
@pytest.mark.parametrize("block", range(20))
def test_longest_run_of_three_hundred_real_lakes(block):
    for polygon in _lakes(71, 160, 8)[block::20]:
        assert longest_run(polygon).length_m == pytest.approx(longest_run_by_pairs(polygon), rel=1e-12)


@pytest.mark.parametrize("step", [pytest.param(1, marks=pytest.mark.slow), 5])
def test_every_real_lake_has_a_certified_run(step):
    lakes = np.array([lake.in_metres() for lake in real_lakes()[::step]])
    assert shapely.is_valid(lakes).all()
    runs = [longest_run(lake) for lake in lakes]
    assert all(run.upper_bound_m <= run.length_m * (1.0 + 1e-9) for run in runs)
    for lake, run in zip(lakes, runs, strict=True):
        assert (run_rose(lake, [0.0, 90.0]).lengths_m <= run.length_m * (1.0 + 1e-9)).all()
    lines = np.array([run.line for run in runs])
    assert shapely.length(lines) == pytest.approx([run.length_m for run in runs], rel=1e-9)
    # A point nine tenths along is in the lake: runs are in water, not across land.
    for share in (0.1, 0.37, 0.5, 0.9):
        points = shapely.line_interpolate_point(lines, share, normalized=True)
        assert (shapely.distance(lakes, points) <= 1e-6).all()
