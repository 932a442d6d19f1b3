"""Waves: the handbook's formula against printed values, fetch over made waters, and the veto."""

from dataclasses import replace

import pytest
import shapely
from example_waters import AIR, HEAVY, body, criterion_of, survey

from geo.base.units import MS_PER_KNOT
from geo.records.survey import Measure
from geo.suitability.assess import assess_body
from geo.suitability.waves import fetch_m, significant_height_m

ROUGH = replace(HEAVY, ram_intake=replace(HEAVY.ram_intake, wave_limit_m=0.6))


# Fetch-limited deep water by the same handbook's plain form, H = 5.112e-4 U_A sqrt(F): worked by hand for the table.
@pytest.mark.parametrize(
    ("wind_ms", "fetch_km", "height_m"),
    [
        (10.0, 1.0, 0.19),
        (10.0, 5.0, 0.44),
        (10.0, 20.0, 0.87),
        (15.0, 5.0, 0.72),
        (15.0, 20.0, 1.44),
        (5.0, 1.0, 0.08),
    ],
)
def test_short_fetches_in_deep_water(wind_ms, fetch_km, height_m):
    assert significant_height_m(1000.0 * fetch_km, wind_ms) == pytest.approx(height_m, rel=0.04, abs=0.006)


def test_shallow_water_keeps_waves_low():
    """Fully grown waves in shallow water reach 0.283 tanh(0.53 (g d / U_A^2)^0.75) U_A^2 / g: for U = 20 m/s and 2 m,
    U_A = 28.28 m/s, scale 81.6 m, a = tanh(0.0329) = 0.0329, H = 0.759 m (by hand)."""
    assert significant_height_m(1e7, 20.0, 2.0) == pytest.approx(0.759, abs=0.01)
    for depth_m in (0.5, 2.0, 10.0):
        assert significant_height_m(5000.0, 12.0, depth_m) <= significant_height_m(5000.0, 12.0) + 1e-12
    assert significant_height_m(5000.0, 12.0, 1e4) == pytest.approx(significant_height_m(5000.0, 12.0))
    assert significant_height_m(0.0, 12.0) == significant_height_m(5000.0, 0.0) == 0.0


def test_more_wind_or_fetch_never_lowers_waves():
    heights = [significant_height_m(3000.0, wind_ms, 8.0) for wind_ms in range(0, 40, 2)]
    assert heights == sorted(heights)
    heights = [significant_height_m(one, 9.0, 8.0) for one in range(0, 20_000, 500)]
    assert heights == sorted(heights)


def test_the_fetch_ends_at_the_first_shore_upwind():
    lake = shapely.box(0.0, 0.0, 1000.0, 4000.0).difference(shapely.box(400.0, 3000.0, 600.0, 3100.0))
    place = shapely.Point(500.0, 500.0)
    assert fetch_m(lake, place, 0.0) == pytest.approx(2500.0)  # the island
    assert fetch_m(lake, place, 180.0) == pytest.approx(500.0)
    assert fetch_m(lake, place, 270.0) == pytest.approx(500.0)
    assert fetch_m(lake, place, 30.0) == pytest.approx(1000.0)  # 500 m east at sin 30


def judge(kind="lake", wind_kt=20.0, profile=ROUGH, **changes):
    surveyed = survey(kind=kind, **changes)
    air = replace(AIR, wind_ms=wind_kt * MS_PER_KNOT)
    whole = assess_body(surveyed, body(kind=kind), profile, air, (), ())
    return next(one for one in whole.methods if one.method == "ram_intake")


def test_waves_above_the_limit_veto_and_lower_ones_earn_nothing():
    calm, rough = judge(wind_kt=10.0), judge(wind_kt=38.0)
    assert criterion_of(calm, "waves").state == "met" and calm.verdict == "usable"
    assert criterion_of(rough, "waves").state == "not met" and rough.verdict == "not usable"
    unjudged = judge(
        wind_kt=10.0, profile=replace(HEAVY, ram_intake=replace(HEAVY.ram_intake, wave_limit_m=None))
    )
    assert unjudged.score == pytest.approx(calm.score)
    assert not [one for one in unjudged.criteria if one.name == "waves"]


def test_on_the_open_sea_waves_are_unknown_never_good():
    at_sea = judge("sea", wind_kt=10.0)
    assert criterion_of(at_sea, "waves").state == "unknown"
    assert any("waves unknown" in one for one in at_sea.cautions)
    assert criterion_of(judge("sea", wind_kt=38.0), "waves").state == "not met"


def test_a_shallow_mean_depth_counts_where_it_is_known():
    shallow = judge(wind_kt=30.0, mean_depth_m=Measure(1.0, "soundings"))
    assert criterion_of(shallow, "waves").measured < criterion_of(judge(wind_kt=30.0), "waves").measured


def test_a_rivers_current_is_said_or_unknown():
    whole = assess_body(survey(kind="river"), body(kind="river"), HEAVY, AIR, (), ())
    assert any("current unknown" in one for one in whole.methods[0].cautions)
    whole = assess_body(survey(kind="river"), body(kind="river", current_ms=1.25), HEAVY, AIR, (), ())
    assert any("current 1.2 m/s" in one for one in whole.methods[0].cautions)
