"""Loads and time for a wanted line, by hand from the published coverage levels."""

from dataclasses import replace

import pytest
from example_candidates import assessment, candidate, flat_leg, table_profile

from geo.base.errors import BadArgument
from geo.ranking.extras.line_building import build_line, line_wanted
from geo.ranking.rank import rank


def sources(*candidates, **changes):
    ranked, _ = rank(candidates, table_profile(**changes))
    return ranked


def test_loads_and_time_by_hand():
    """400 m x 18 m at level 4: 1.62983 L/m2 (NWCG Glossary's definition) x 7,200 m2 = 11,734.8 L. Of a Gaussian drop
    0.48394 counts: 24,248.5 L, three loads of 10,000 L, each 164.96 m of line. From 10 km (round trip 525 s of the
    planning table, empty leg 180 s): 3 x 525 - 180 = 1,395 s."""
    built = build_line(line_wanted(400.0, 18.0, 4.0), sources(candidate(assessment(), 10_000.0)))
    assert built.litres == pytest.approx(11_734.8, abs=0.1)
    assert built.litres_dropped == pytest.approx(24_248.5, abs=0.5)
    (one,) = built.sources
    assert (one.loads, one.refuel_stops, one.drop_run_m) == (3, 0, None)
    assert one.line_per_load_m == pytest.approx(164.96, abs=0.01)
    assert one.time_s == pytest.approx(1_395.0, abs=1e-6)
    assert any("uniform" in caution for caution in built.cautions)


def test_refuelling_stops_are_counted():
    """By hand: 1,800 s spare less 2 x 300 s transit = 1,200 s, floor(1,200 / 525) = 2 loads a tank; 5 loads take
    3 tanks, 2 stops of 300 + 900 + 300 s: 5 x 525 - 180 + 3,000 = 5,445 s."""
    transit = flat_leg(15_000.0, 50.0)
    one = candidate(assessment(), 10_000.0, transit_to=transit, transit_from=transit)
    tank = {"fuel_l": 3_600.0, "fuel_burn_l_h": 3_600.0, "reserve_s": 1_800.0, "refuel_turn_s": 900.0}
    wanted = line_wanted(48_000.0 * 0.483941 / 1.629836 / 18.0, 18.0, 4.0)
    (built,) = build_line(wanted, sources(one, **tank)).sources
    assert (built.loads, built.refuel_stops) == (5, 2)
    assert built.time_s == pytest.approx(5_445.0, abs=1e-6)


def test_a_water_that_holds_fewer_loads_gets_no_time():
    (built,) = build_line(
        line_wanted(500.0, 20.0, 4.0), sources(candidate(assessment(loads_available=2.9), 5_000.0))
    ).sources  # 16,298 L on the ground, 33,678 L dropped: 4 loads
    assert built.loads == 4 and built.time_s is None and "holds 2 of the 4" in built.note
    enough = sources(candidate(assessment(loads_available=4.0), 5_000.0))
    assert build_line(line_wanted(500.0, 20.0, 4.0), enough).sources[0].time_s is not None


# USDA Forest Service, MTDC, Airtanker Drop Guides, Table 1.
@pytest.mark.parametrize(("model", "level"), [("10", 4.0), ("G", 4.0), ("f5", 3.0), ("1", 1.0), ("T", 3.0)])
def test_the_level_of_a_fuel_model(model, level):
    wanted = line_wanted(400.0, 18.0, fuel_model=model)
    assert wanted.level == level and "Table 1" in wanted.level_origin
    assert len(build_line(wanted, ()).cautions) == 2


def test_a_level_above_the_table_says_least():
    built = build_line(line_wanted(400.0, 18.0, fuel_model="13"), ())
    assert built.wanted.level == 6.0 and any("the least" in caution for caution in built.cautions)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({}, "one of the two"),
        ({"level": 4.0, "fuel_model": "10"}, "one of the two"),
        ({"fuel_model": "2"}, "different levels"),
        ({"fuel_model": "4"}, "different levels"),
        ({"fuel_model": "pine"}, "not understood"),
        ({"fuel_model": "14"}, "no row"),
        ({"level": 0.0}, "above 0"),
        ({"level": float("nan")}, "above 0"),
    ],
)
def test_what_is_not_sure_is_refused(given, said):
    with pytest.raises(BadArgument, match=said):
        line_wanted(400.0, 18.0, **given)


def test_more_line_never_takes_less():
    ranked = sources(candidate(assessment(), 5_000.0), candidate(assessment("W2", litres=4_000.0), 2_000.0))
    before = [0.0, 0.0]
    for length_m in (100.0, 300.0, 900.0, 2_700.0, 9_000.0):
        times = [one.time_s for one in build_line(line_wanted(length_m, 18.0, 4.0), ranked).sources]
        assert all(now >= then for now, then in zip(times, before, strict=True))
        before = times
    with pytest.raises(BadArgument):
        line_wanted(replace(line_wanted(1.0, 1.0, 1.0), length_m=-5.0).length_m, 18.0, 4.0)
