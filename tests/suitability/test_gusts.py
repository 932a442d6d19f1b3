"""Gusts and winds from anywhere: judged where they hurt; no source gains by them."""

from dataclasses import replace
from itertools import pairwise

import pytest
from example_waters import AIR, HEAVY, body, criterion_of, survey
from hypothesis import given
from hypothesis import strategies as st

from geo.base.errors import BadArgument
from geo.base.units import MS_PER_KNOT
from geo.records.conditions import Weather
from geo.suitability import criteria
from geo.suitability.assess import assess_body
from geo.suitability.verdict import ORDER

METHODS = ("ram_intake", "hover_pump")
# Waves are another matter (test_waves): here the wind alone is judged.
WIND_ONLY = replace(HEAVY, ram_intake=replace(HEAVY.ram_intake, wave_limit_m=None))


def judge(air, method="ram_intake"):
    whole = assess_body(survey(), body(), WIND_ONLY, air, (), ())
    return next(one for one in whole.methods if one.method == method)


# Interagency helicopter standards (PMS 510), from memory: steady 40 kt, gust spread 15 kt below 500 ft, types 1 and 2.
@pytest.mark.parametrize(
    ("mean_kt", "gust_kt", "met"),
    [
        (18, None, True),
        (18, 33, True),
        (18, 33.1, False),
        (39, None, True),
        (30, 40, True),
        (30, 40.1, False),
    ],
)
@pytest.mark.parametrize("method", METHODS)
def test_gusts_and_their_spread_have_limits(method, mean_kt, gust_kt, met):
    gust_ms = None if gust_kt is None else gust_kt * MS_PER_KNOT
    air = replace(AIR, wind_ms=mean_kt * MS_PER_KNOT, gust_ms=gust_ms, wind_from_grid_deg=0.0)
    judged = criterion_of(judge(air, method), "wind strength")
    assert (judged.state == "met") == met
    assert ("gusts" in judged.reason) == (gust_kt is not None)
    assert (judge(air, method).verdict == "usable") == met


def test_a_gust_counts_as_crosswind_and_tail_wind_never_as_head_wind():
    # 10 kt mean and 20 kt gusts on heading 000: from 030 the head wind is 8.66 kt of the mean, the crosswind 10 kt of
    # the gust; from 150 the tail wind is 17.3 kt of the gust (trigonometry).
    for from_deg, head_kt, cross_kt in ((30.0, 8.660, 10.0), (150.0, -17.321, 10.0)):
        air = replace(
            AIR, wind_from_grid_deg=from_deg, wind_ms=10.0 * MS_PER_KNOT, gust_ms=20.0 * MS_PER_KNOT
        )
        found = [part / MS_PER_KNOT for part in criteria.worst_parts(air, 0.0)]
        assert found == pytest.approx([head_kt, cross_kt], abs=1e-3)
    variable = replace(AIR, wind_ms=4.0 * MS_PER_KNOT, gust_ms=None, wind_variable=True)
    assert criteria.worst_parts(variable, 77.0) == pytest.approx((-4.0 * MS_PER_KNOT, 4.0 * MS_PER_KNOT))
    assert judge(replace(variable, wind_ms=5.5 * MS_PER_KNOT)).verdict == "not usable"  # tail wind limit 5 kt


@given(
    from_deg=st.floats(0.0, 360.0),
    mean_ms=st.floats(0.0, 25.0),
    gust_ms=st.floats(0.0, 15.0),
    more_ms=st.floats(0.0, 15.0),
    method=st.sampled_from(METHODS),
)
def test_no_source_gains_by_gusts_or_by_a_forgotten_direction(from_deg, mean_ms, gust_ms, more_ms, method):
    steady = replace(AIR, wind_from_grid_deg=from_deg, wind_ms=mean_ms)
    gusty = replace(steady, gust_ms=mean_ms + gust_ms)
    gustier = replace(steady, gust_ms=mean_ms + gust_ms + more_ms)
    anywhere = replace(gusty, wind_variable=True)
    order = [judge(air, method) for air in (steady, gusty, gustier)]
    for better, worse in (*pairwise(order), (order[1], judge(anywhere, method))):
        assert ORDER.index(worse.verdict) >= ORDER.index(better.verdict)
        assert worse.score <= better.score + 1e-9
        assert (worse.litres or 0.0) <= (better.litres or 0.0) + 1e-9


def test_a_gust_below_the_mean_is_refused():
    with pytest.raises(BadArgument, match="gust"):
        Weather(0.0, 10.0, 20.0, 1013.0, 0.0, gust_ms=9.0)
