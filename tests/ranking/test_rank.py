"""The order, the reasons and the exclusions."""

import re
from itertools import permutations

import pytest
from example_candidates import assessment, candidate, flat_leg, table_profile
from hypothesis import given
from hypothesis import strategies as st

from geo.base.errors import BadArgument
from geo.ranking.rank import rank
from geo.ranking.statements import GENERAL_CAUTIONS, assumptions

PROFILE = table_profile()


def test_most_litres_per_hour_comes_first_in_any_order_of_input():
    near = candidate(assessment("NEAR"), 4_000.0)
    far = candidate(assessment("FAR"), 8_000.0)  # 80,178 L/h by hand
    half = candidate(
        assessment("HALF", litres=5_000.0, fill_s=22.5), 3_000.0
    )  # shortest trip, half the load: 76,110 L/h
    for order in permutations([near, far, half]):
        ranked, excluded = rank(order, PROFILE)
        assert [r.body_id for r in ranked] == ["NEAR", "FAR", "HALF"]
        assert [r.rank for r in ranked] == [1, 2, 3]
        assert excluded == ()


def test_each_source_is_flown_with_its_better_method():
    ram = candidate(assessment("W", "ram_intake", litres=5_100.0, fill_s=23.0), 5_000.0)
    pump = candidate(assessment("W", "hover_pump", fill_s=60.0), 5_000.0)
    (only,), _ = rank([ram, pump], PROFILE)
    assert only.cycle.method == "hover_pump"
    assert [m.method for m in only.other_methods] == ["ram_intake"]


def test_reason_redoes_the_difference():
    first = candidate(assessment("A"), 5_000.0)
    second = candidate(assessment("B", "hover_pump", fill_s=60.0), 7_050.0)
    (top, below), _ = rank([second, first], PROFILE)
    assert top.reason.startswith(
        "most water over one fuel cycle with refuelling: 107,463 L/h"
    )  # the planning table's 5 km row
    # By hand: 2 x 2,050 m further; 2,050/50 + 2,050/55.56 = 41.0 + 36.9 = 77.9 s; the pump 15 s slower; 92.9 s in all.
    assert "round trip +93 s" in below.reason
    assert "legs 4.1 km longer +78 s" in below.reason
    assert "fill by hover pump against ram intake +15 s" in below.reason


def test_reason_names_climb_and_load():
    flat = candidate(assessment("A"), 5_000.0)
    high = candidate(
        assessment("B", litres=9_000.0), 5_000.0, loaded_leg=flat_leg(5_000.0, 50.0, climb_extra_s=30.0)
    )
    (_, below), _ = rank([flat, high], PROFILE)
    assert "first load -1,000 L" in below.reason
    assert "climb and descent +30 s" in below.reason
    assert "longer" not in below.reason


def test_equal_sources_are_ordered_by_id_and_say_so():
    (first, second), _ = rank([candidate(assessment(i), 5_000.0) for i in ("B", "A")], PROFILE)
    assert (first.body_id, second.body_id) == ("A", "B")
    assert second.reason == "same rate; same round trip"


def test_exclusions_carry_verdict_and_figures():
    short = candidate(assessment("S", verdict="not usable", reason="run length 390 m, too short"), None)
    deep = candidate(assessment("D", verdict="survey first", reason="survey first: depth unknown"), None)
    deep_pump = candidate(assessment("D", "hover_pump", verdict="not usable", reason="water salt"), None)
    cut_off = candidate(assessment("C"), None, leg_problem="closed area Kestrel blocks every way")
    ranked, excluded = rank([short, deep, deep_pump, cut_off], PROFILE)
    assert ranked == ()
    assert [(e.body_id, e.verdict) for e in excluded] == [
        ("C", "no route"),
        ("D", "survey first"),
        ("S", "not usable"),
    ]
    assert excluded[0].reason == "ram intake: closed area Kestrel blocks every way"
    assert excluded[1].reason == "ram intake: survey first: depth unknown | hover pump: water salt"
    assert excluded[2].reason == "ram intake: run length 390 m, too short"
    assert len(excluded[1].assessments) == 2


def test_survey_first_is_never_ranked_even_with_legs():
    ranked, excluded = rank([candidate(assessment("D", verdict="survey first"), 1_000.0)], PROFILE)
    assert ranked == ()
    assert [e.verdict for e in excluded] == ["survey first"]


def test_a_trip_longer_than_the_fuel_is_excluded_with_its_figures():
    # 150 km: 3,000 + 2,700 s of legs and 145 s. 4,500 L at 1,900 L/h are 142 min of fuel, less 30 min of reserve and
    # 2 x 10 min of transit 92 min.
    transit = flat_leg(30_000.0, 50.0)
    far = candidate(assessment("F"), 150_000.0, transit_to=transit, transit_from=transit)
    ranked, excluded = rank([far], PROFILE)
    assert ranked == ()
    assert excluded[0].verdict == "out of fuel range"
    assert (
        "97.4 min" in excluded[0].reason
        and "142 min" in excluded[0].reason
        and "20 min" in excluded[0].reason
    )


def test_top_cuts_the_list_and_never_the_exclusions():
    group = [candidate(assessment(f"W{i}"), 1_000.0 * (i + 1)) for i in range(5)]
    out = candidate(assessment("X", verdict="not usable"), None)
    all_ranked, _ = rank([*group, out], PROFILE)
    ranked, excluded = rank([*group, out], PROFILE, top=2)
    assert ranked == all_ranked[:2]
    assert len(excluded) == 1


def test_a_small_water_warns_when_it_holds_less_than_a_tank_of_fuel_could_carry():
    (dam,), _ = rank([candidate(assessment("D", "hover_pump", loads_available=3.4), 5_000.0)], PROFILE)
    assert any("the water holds 3 loads, then it is too shallow" in text for text in dam.cautions)
    (lake,), _ = rank([candidate(assessment("D", "hover_pump", loads_available=5_000.0), 5_000.0)], PROFILE)
    assert not any("holds about" in text for text in lake.cautions)


def test_drop_point_is_where_the_loaded_leg_ends():
    (one,), _ = rank([candidate(assessment(), 5_000.0)], PROFILE)
    assert (one.drop_point.x, one.drop_point.y) == (5_000.0, 0.0)


@pytest.mark.parametrize(
    ("candidates", "top"),
    [
        ([candidate(assessment(), 1_000.0), candidate(assessment(), 2_000.0)], None),
        ([candidate(assessment(), None)], None),
        ([candidate(assessment(), 1_000.0)], 0),
    ],
)
def test_broken_questions_are_refused(candidates, top):
    with pytest.raises(BadArgument, match="Fix"):
        rank(candidates, PROFILE, top=top)


SOURCES = st.lists(
    st.tuples(st.floats(500.0, 60_000.0), st.floats(1_000.0, 10_000.0), st.floats(5.0, 60.0)),
    min_size=1,
    max_size=8,
)


@given(SOURCES)
def test_adding_a_source_never_worsens_the_best_nor_moves_the_others(sources):
    made = [
        candidate(assessment(f"W{i}", litres=litres, fill_s=fill_s), distance_m)
        for i, (distance_m, litres, fill_s) in enumerate(sources)
    ]
    all_ranked, _ = rank(made, PROFILE)
    fewer, _ = rank(made[:-1], PROFILE)
    rates = [r.cycle.litres_per_hour for r in all_ranked]
    assert rates == sorted(rates, reverse=True)
    if fewer:
        assert rates[0] >= fewer[0].cycle.litres_per_hour
    assert [r.body_id for r in all_ranked if r.body_id != made[-1].body_id] == [r.body_id for r in fewer]


@pytest.mark.parametrize(
    "topic",
    # One word for each of the cautions that the shared reference asks to be printed with every result.
    [
        "pilot in command",
        "low pass",
        "[Ww]ires",
        "tide",
        "unassessed",
        "snags|drowned",
        "swimmers",
        "permission",
        "invasive",
        "wash down",
        "density altitude",
        "rotor diameters",
        "contract",
        "reserve",
        "estimates",
        "[Nn]ot for navigation",
    ],
)
def test_general_cautions_cover_every_topic(topic):
    assert any(re.search(topic, caution) for caution in GENERAL_CAUTIONS)


def test_assumptions_quote_the_profile():
    said = assumptions(PROFILE)
    assert "30 s at the source" in said["manoeuvre"]
    assert "most water over one fuel cycle" in said["order"]
