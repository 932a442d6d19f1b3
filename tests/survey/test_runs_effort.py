"""Searches that a limit ends: bounded on the hardest waters, with a bound that holds, the same every time."""

import numpy as np
import pytest
import shapely

from geo.base.errors import BadArgument
from geo.survey.longest.limits import ENDLESS, SearchLimits
from geo.survey.longest.rings import shore_of
from geo.survey.longest.scratch import make_scratch
from geo.survey.longest.search import SECTORS, UNLIMITED, search_all
from geo.survey.runs import longest_run
from tests.bench.bench_runs import dams


def moat(beyond_m: float) -> shapely.Polygon:
    """A round moat 60 m wide and a little more: a corridor of 60 m has thousands of almost longest runs in it."""
    turns = 2.0 * np.pi * np.arange(256) / 256
    ring = np.column_stack([np.cos(turns), np.sin(turns)])
    return shapely.Polygon((1060.0 + beyond_m) * ring, [1000.0 * ring])


@pytest.mark.parametrize("beyond_m", [2.0, 10.0])
def test_limited_effort_ends_with_a_bound_that_more_effort_keeps(beyond_m):
    water = moat(beyond_m)
    short = longest_run(water, 60.0, gap=0.002, effort_edges=20_000)
    more = longest_run(water, 60.0, gap=0.002, effort_edges=3_000_000)
    assert more.upper_bound_m <= 1.01 * more.length_m
    assert not short.certified
    assert 0.0 < short.length_m <= more.length_m * (1.0 + 1e-9)
    assert more.length_m <= short.upper_bound_m
    # Plain geometry: the ring from 1030 m to `inside` is clear, and no water within `core` or beyond 1030 + beyond is.
    inside, core = (1060.0 + beyond_m) * np.cos(np.pi / 256) - 30.0, 1000.0 * np.cos(np.pi / 256) + 30.0
    least, most = np.sqrt(inside**2 - 1030.0**2), np.sqrt((1030.0 + beyond_m) ** 2 - core**2)
    assert 2.0 * least <= more.length_m <= 2.0 * most


def test_limited_effort_gives_the_same_answer_every_time():
    found = [longest_run(moat(10.0), 60.0, gap=0.002, effort_edges=50_000) for _ in range(2)]
    assert found[0].line.equals(found[1].line)
    assert found[0].upper_bound_m == found[1].upper_bound_m


def test_effort_that_ends_before_any_run_is_an_error_and_water_too_narrow_is_not():
    with pytest.raises(BadArgument, match="before the search had to stop"):
        longest_run(moat(0.0), 60.0, gap=0.002, effort_edges=20_000)
    narrow = longest_run(moat(-1.0), 60.0, gap=0.002, effort_edges=20_000)
    assert (narrow.length_m, narrow.upper_bound_m, narrow.certified) == (0.0, 0.0, True)


def test_effort_must_be_above_0():
    with pytest.raises(BadArgument, match="effort_edges is 0"):
        longest_run(shapely.box(0, 0, 3, 4), effort_edges=0)


def test_the_most_promising_bundles_are_halved_first():
    """Along a curve of almost equal lines a search depth first halves thousands of bundles; a count, not a time, of
    edges looked at, measured at 1.6e4 a dam on average, 7.4e4 at most (regression value) and 1e7 depth first."""
    made = dams(70)
    for k in (3, 9, 67):
        shore, _ = shore_of(made[k])
        limits = SearchLimits(np.zeros(1, np.int64), np.full(1, ENDLESS), 0.0)
        search_all(
            shore, make_scratch(shore.x.size // 2), False, SECTORS, 30.0, UNLIMITED, np.zeros(5), limits
        )
        assert ENDLESS - limits.work[0] < 500_000
