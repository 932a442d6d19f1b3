"""Several bases and trucks: the plan takes the one with which a source delivers most. By hand, and over a ranking."""

from dataclasses import replace
from datetime import UTC, datetime, time

import pytest
import shapely

from geo import pipeline
from geo.ingest.layers.aircraft import load_profile
from geo.records.conditions import Weather
from geo.records.extras import ExtrasRequest
from geo.records.question import RankingQuestion
from geo.records.region import Base
from geo.search.refuelling import open_at, refuel_stop
from tests.ranking.random_regions import Recipe, made

# 4,500 L at 1,900 L/h, of which 950 L are the reserve; refuelling takes 15 min at least.
HEAVY = replace(
    load_profile("heavy_tank_helicopter"),
    fuel_l=4_500.0,
    fuel_burn_l_h=1_900.0,
    reserve_s=1_800.0,
    refuel_turn_s=900.0,
)
PLACE = shapely.Point(0.0, 0.0)
WEATHER = Weather(120.0, 6.0, 25.0, 1009.0, 0.0)
REGION, SURVEY = made(Recipe(10, cells=60, relief_m=100.0, good_share=1.0, closed=0), 41)


def ranked(region, **asked):
    question = RankingQuestion(region, SURVEY, region.fires[0], HEAVY, WEATHER, ExtrasRequest(**asked))
    return pipeline.rank_question(question, quick=True)


def rates(ranking):
    return {one.body_id: one.fuel.sustained_litres_per_hour for one in ranking.sources}


def test_a_slow_pump_and_an_empty_truck_by_hand():
    """3,550 L are taken beside the reserve: at 100 L/min 2,130 s; at 500 L/min 426 s, within the 15 min."""
    assert refuel_stop(Base("b", PLACE), HEAVY, None).turn_s == 900.0
    assert refuel_stop(Base("b", PLACE, fuel_flow_l_min=100.0), HEAVY, None).turn_s == pytest.approx(2_130.0)
    assert refuel_stop(Base("b", PLACE, fuel_flow_l_min=500.0), HEAVY, None).turn_s == 900.0
    truck = refuel_stop(Base("truck", PLACE, 1_000.0, 50.0), HEAVY, None)
    assert (truck.fuel_l, truck.turn_s) == (pytest.approx(1_950.0), pytest.approx(1_200.0))
    assert "truck has 1,000 L of fuel left" in truck.note
    assert refuel_stop(Base("b", PLACE, 3_550.0), HEAVY, None).fuel_l == 4_500.0


@pytest.mark.parametrize(
    ("opens", "closes", "at", "is_open"),
    [
        (time(6), time(18), "2026-01-31T12:00", True),
        (time(6), time(18), "2026-01-31T05:59", False),
        (time(6), time(18), "2026-01-31T17:30", False),  # it would close while the aircraft comes
        (time(20), time(8), "2026-01-31T23:30", True),  # over midnight
        (time(20), time(8), "2026-01-31T12:00", False),
        (None, None, "2026-01-31T12:00", True),
    ],
)
def test_hours_of_a_base(opens, closes, at, is_open):
    base = Base("b", PLACE, open_from_utc=opens, open_until_utc=closes)
    assert open_at(base, datetime.fromisoformat(at).replace(tzinfo=UTC)) is is_open
    assert open_at(base, None)


def test_each_source_refuels_where_it_delivers_most():
    """The whole ranking with both bases has for each source the better of the rankings with one of them."""
    far = replace(REGION.base, name="far")
    near = Base("near", shapely.Point(600.0, 600.0))
    both = ranked(replace(REGION, base=far, bases=(near,)))
    alone = [rates(ranked(replace(REGION, base=one))) for one in (far, near)]
    assert rates(both) == {body: max(alone[0][body], alone[1][body]) for body in rates(both)}
    assert {one.fuel.refuel_at for one in both.sources} <= {"far", "near"}
    assert any(one.fuel.refuel_at == "near" for one in both.sources)


def test_a_fact_against_a_base_never_gains_and_a_further_base_never_loses():
    plain = rates(ranked(REGION))
    near = Base("near", shapely.Point(600.0, 600.0))
    more = rates(ranked(replace(REGION, bases=(near,))))
    assert all(more[body] >= rate for body, rate in plain.items())
    for worse in ({"fuel_left_l": 400.0}, {"fuel_flow_l_min": 60.0}):
        less = rates(ranked(replace(REGION, bases=(replace(near, **worse),))))
        assert all(plain[body] <= rate <= more[body] for body, rate in less.items())
    shut = replace(near, open_from_utc=time(1), open_until_utc=time(2))
    at = datetime(2026, 1, 31, 12, tzinfo=UTC)
    assert rates(ranked(replace(REGION, bases=(shut,)), at=at)) == plain
    only = ranked(replace(REGION, base=replace(shut, name="only")), at=at)
    barred = [one for one in only.excluded if one.verdict == "no route"]
    assert not only.sources and len(barred) == len(plain)
    assert all("closed at the time asked" in one.reason for one in barred)
