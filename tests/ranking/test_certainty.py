"""How sure the order is: the wind triangle, closed probabilities of two sources, and facts by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
from example_candidates import assessment, candidate, flat_leg, table_profile

from geo.base.errors import BadArgument
from geo.ranking.extras.certainty import certainty
from geo.ranking.extras.contenders import Contender, Spread
from geo.ranking.extras.retiming import Retimer, WindLimits
from geo.ranking.rank import rank
from geo.records.flight import Segment
from geo.records.suitability import Criterion, LoadByFuel

STILL = Spread(0.0, 0.0, 0.0, 0.0, 0.0)
CALM = WindLimits(100.0)


def sure(flown, wind_from_deg, wind_ms, **asked):
    return certainty(flown, wind_from_deg, wind_ms, table_profile(), **asked)


def contenders(*candidates, chances=None, limits=CALM):
    ranked, _ = rank(candidates, table_profile())
    chances = chances or {}
    return [
        Contender(source, chances.get(source.body_id, 1.0), 2.0, "at its shoal", limits) for source in ranked
    ]


def towards(distance_m, track_out_deg, tas_ms=50.0, body="W"):
    """A source whose loaded leg has this track; the empty one comes back."""
    legs = []
    for track in (track_out_deg, (track_out_deg + 180.0) % 360.0):
        segment = Segment(distance_m, track, tas_ms, tas_ms, distance_m / tas_ms)
        legs.append(replace(flat_leg(distance_m, tas_ms), segments=(segment,)))
    return candidate(assessment(body), 1.0, loaded_leg=legs[0], empty_leg=legs[1])


def shares(answer):
    return {one.body_id: (one.best, one.first_three, one.available) for one in answer.sources}


def test_the_stated_wind_gives_the_stated_rates():
    flown = contenders(
        candidate(assessment("A"), 5_000.0), candidate(assessment("B", litres=6_000.0), 3_000.0)
    )
    rates = Retimer([c.source for c in flown], [c.limits for c in flown], table_profile()).rates(
        np.zeros(1), np.zeros(1)
    )
    assert rates[0] == pytest.approx([c.source.cycle.litres_per_hour for c in flown], rel=1e-12)


def test_without_spread_the_order_is_sure():
    answer = sure(
        contenders(*(candidate(assessment(f"W{k}"), 3_000.0 + 1_000.0 * k) for k in range(5))),
        0.0,
        0.0,
        spread=STILL,
    )
    assert list(shares(answer).values()) == [
        (1.0, 1.0, 1.0),
        (0.0, 1.0, 1.0),
        (0.0, 1.0, 1.0),
        *[(0.0, 0.0, 1.0)] * 2,
    ]


def test_depth_alone_gives_its_own_probabilities():
    """Closed: best = p1; (1-p1) p2; (1-p1)(1-p2) p3, when only the depth is uncertain; 4 standard errors allowed."""
    p = {"W0": 0.7, "W1": 0.5, "W2": 0.9}
    three = [candidate(assessment(f"W{k}"), 3_000.0 + 1_000.0 * k) for k in range(3)]
    answer = sure(contenders(*three, chances=p), 0.0, 0.0, spread=STILL, samples=20_000)
    for body, want in (("W0", 0.7), ("W1", 0.3 * 0.5), ("W2", 0.3 * 0.5 * 0.9)):
        error = math.sqrt(want * (1.0 - want) / 20_000)
        assert shares(answer)[body][0] == pytest.approx(want, abs=4.0 * error)
        assert shares(answer)[body][2] == pytest.approx(p[body], abs=4.0 * math.sqrt(0.25 / 20_000))
    # No sample has a best where all three are too shallow.
    assert sum(one.best for one in answer.sources) == pytest.approx(1.0 - 0.3 * 0.5 * 0.1, abs=0.01)


def test_fill_time_alone_has_a_closed_answer():
    """Equal loads: B wins when fill_A - fill_B > d. By numerical integration of two log-normals (scipy quadrature)."""
    from scipy.integrate import quad
    from scipy.stats import lognorm

    spread, d = 0.15, 0.02
    flown = contenders(candidate(assessment("A"), 5_000.0), candidate(assessment("B", fill_s=47.0), 5_000.0))
    law = {body: lognorm(s=spread, scale=fill) for body, fill in (("A", 45.0), ("B", 47.0))}
    want, _ = quad(lambda x: law["A"].pdf(x) * law["B"].sf(x), 10.0, 120.0)
    answer = sure(flown, 0.0, 0.0, spread=replace(STILL, fill_fraction=spread), samples=20_000)
    assert shares(answer)["A"][0] == pytest.approx(want, abs=d)


def test_seed_decides_and_a_better_chance_never_hurts():
    two = contenders(
        candidate(assessment("A"), 5_000.0), candidate(assessment("B"), 5_300.0), chances={"A": 0.8}
    )
    assert sure(two, 300.0, 9.0) == sure(two, 300.0, 9.0)
    assert sure(two, 300.0, 9.0) != sure(two, 300.0, 9.0, seed=7)
    surer = [replace(two[0], depth_chance=0.9), two[1]]
    assert shares(sure(surer, 300.0, 9.0))["A"][0] >= shares(sure(two, 300.0, 9.0))["A"][0]


def test_a_wind_above_the_limit_of_the_fill_drops_it():
    limits = WindLimits(100.0, run_heading_true_deg=0.0, crosswind_ms=5.0, tailwind_ms=2.0)
    (one,) = contenders(candidate(assessment("A"), 5_000.0), limits=limits)
    for from_deg, able in ((0.0, 1.0), (90.0, 0.0), (180.0, 0.0), (20.0, 1.0), (40.0, 0.0)):
        # 10 m/s: crosswind 3.4 m/s from 20 deg, 6.4 m/s from 40 deg; 10 m/s of tail wind from 180 deg
        assert sure([one], from_deg, 10.0, spread=STILL, samples=3).sources[0].available == able, from_deg


def test_the_turning_wind_direction_by_hand():
    """A lies 10 km one way along 000, B along 090, equal but for 1 m: in a wind along a leg a round trip is longer
    than across it (t = 2dV/(V^2-W^2) against 2d/sqrt(V^2-W^2)); the winner turns past equal angles, 45
    degrees; at 45 itself A still wins by its metre, so 46 in whole degrees."""
    flown = contenders(towards(10_000.0, 0.0, body="A"), towards(10_001.0, 90.0, body="B"))
    answer = sure(flown, 90.0, 15.0, samples=10)
    turn = next(one for one in answer.turns if one.fact == "wind direction")
    assert turn.new_best == "B"
    assert turn.text == "wind from 136 instead of 090 deg true (+46) makes number 2, Water B, best"
    assert turn.deviations == pytest.approx(46.0 / 15.0)


def test_the_turning_times_by_hand():
    """The planning table's 5 km: 335 s; 5.3 km is 11.4 s more; equal loads: the fill may take 11.4 s longer.

    log(56.4 / 45) / 0.15 = 1.506 standard deviations, searched in tenths: 1.6, at which the fill takes 57.2 s.
    """
    answer = sure(
        contenders(
            candidate(assessment("A"), 5_000.0), candidate(assessment("B"), 5_300.0), chances={"A": 0.95}
        ),
        0.0,
        0.0,
    )
    facts = {one.fact: one for one in answer.turns}
    assert (
        "fill time of 57 instead of 45 s at number 1 makes number 2, Water B, best" in facts["fill time"].text
    )
    assert facts["fill time"].deviations == pytest.approx(1.6)
    assert facts["depth"].chance == pytest.approx(0.05)
    assert facts["depth"].deviations == pytest.approx(1.645, abs=1e-3)  # the 95 % point of the normal law
    assert facts["depth"].text.startswith("less than 2.0 m of water in number 1 at its shoal, chance 5.0%,")
    assert [one.deviations for one in answer.turns] == sorted(one.deviations for one in answer.turns)


def test_the_level_that_turns_it_is_the_margin_of_the_depth():
    """A depth of 3.4 m for sure where 2.0 m is needed: 1.4 m of level to lose."""
    depth = Criterion("depth", "met", True, 3.4, 2.0, "m", 1.4, 80.0, 3.0, "made for a test")
    deep = replace(assessment("A"), criteria=(depth,))
    answer = sure(contenders(candidate(deep, 5_000.0), candidate(assessment("B"), 5_300.0)), 0.0, 0.0)
    turn = next(one for one in answer.turns if one.fact == "level")
    assert "level 1.4 m lower" in turn.text and turn.new_best == "B" and turn.deviations is None


def test_one_or_no_source():
    assert sure([], 0.0, 0.0).sources == ()
    (only,) = contenders(candidate(assessment("A"), 5_000.0))
    answer = sure([only], 0.0, 0.0)
    assert answer.turns == () and answer.sources[0].best == 1.0
    with pytest.raises(BadArgument, match="samples"):
        sure([only], 0.0, 0.0, samples=0)
    with pytest.raises(BadArgument, match="chance"):
        sure([replace(only, depth_chance=1.5)], 0.0, 0.0)


def test_a_changing_wind_shifts_as_a_whole():
    """Closed form: a piece east of 10 km in 3 m/s from west, asked with 5 m/s from west; a sample of 9 m/s makes 7."""
    flown = contenders(towards(10_000.0, 90.0))
    cycle = flown[0].source.cycle
    legs = [
        replace(leg, segments=(replace(leg.segments[0], wind_from_true_deg=270.0, wind_ms=3.0),))
        for leg in (cycle.loaded_leg, cycle.empty_leg)
    ]
    changed = replace(cycle, loaded_leg=legs[0], empty_leg=legs[1])
    retimer = Retimer([replace(flown[0].source, cycle=changed)], [CALM], table_profile(), (270.0, 5.0))
    taken = retimer.flight_s(np.array([270.0, 270.0, 90.0]), np.array([5.0, 9.0, 1.0]))
    expected = [10_000 / (50 + w) + 10_000 / (50 - w) for w in (3.0, 7.0, -3.0)]
    assert taken[:, 0] == pytest.approx(expected)
    # Where the pieces have the wind asked with, the plain way gives the same as without it.
    same = [
        replace(leg, segments=(replace(leg.segments[0], wind_from_true_deg=270.0, wind_ms=5.0),))
        for leg in legs
    ]
    again = replace(flown[0].source, cycle=replace(cycle, loaded_leg=same[0], empty_leg=same[1]))
    plain = Retimer([again], [CALM], table_profile(), (270.0, 5.0))
    assert plain.flight_s(np.array([200.0]), np.array([8.0])) == pytest.approx(
        Retimer([flown[0].source], [CALM], table_profile()).flight_s(np.array([200.0]), np.array([8.0]))
    )


GROWING = LoadByFuel(10_000.0, "tank", 6_000.0, "gross weight", 4_500.0, 0.8, 1.0)


@pytest.mark.parametrize("hours", [None, 1.0, 3.3])
def test_the_stated_figures_give_the_plan_of_the_ranking_whatever_limits_it(hours):
    """Loads that grow, a water that ends, transits, refuelling: the arrays and the plan are two codes of one rule."""
    profile = table_profile(refuel_turn_s=900.0)
    judged = [
        replace(assessment("A", litres=6_000.0, fill_s=27.0), load=GROWING),
        replace(assessment("B", litres=6_000.0, fill_s=36.0, loads_available=3.4), load=GROWING),
        assessment("C", litres=4_000.0, fill_s=20.0),
    ]
    away = {"transit_to": flat_leg(9_000.0, 50.0), "transit_from": flat_leg(12_000.0, 50.0)}
    ranked, _ = rank(
        [candidate(one, 4_000.0 + 500.0 * k, **away) for k, one in enumerate(judged)], profile, hours=hours
    )
    rates = Retimer(ranked, [CALM] * 3, profile).rates(np.zeros(2), np.zeros(2))
    expected = [one.fuel.sustained_litres_per_hour for one in ranked]
    assert rates[1] == pytest.approx(expected, rel=1e-9)
    assert min(expected) > 0.0 and any(one.fuel.loads == 3 for one in ranked)


def test_figures_of_the_aircraft_without_a_source_vary_and_others_do_not():
    profile = table_profile()
    spread = Spread().for_profile(profile)
    assert (spread.lift_fraction, spread.burn_fraction, spread.climb_fraction) == (0.03, 0.05, 0.15)
    sourced = replace(profile, sources=dict.fromkeys(profile.sources, "flight manual, page 5-3"))
    assert Spread().for_profile(sourced) == Spread()
    told = sure(contenders(candidate(assessment("A"), 5_000.0)), 0.0, 0.0).assumptions["aircraft"]
    assert "weight that can be lifted 3%, fuel burn 5%" in told


def test_less_lift_changes_the_winner_where_only_one_is_limited_by_it():
    """A's 7,000 L hang on lift, B's 6,900 L on its run; operating 10,000 kg and 3,600 kg of fuel: 20,600 kg are lifted.

    6,900 L a trip equal 7,000 L when 100 of 20,600 kg are missing, -0.5 %: 0.2 standard deviations of 3 % (by hand).
    """
    by_lift = LoadByFuel(10_000.0, "tank", 7_000.0, "hover payload", 4_500.0, 0.0, 1.0)
    a = replace(assessment("A", litres=7_000.0, fill_s=45.0), load=by_lift)
    b = assessment("B", litres=6_900.0, fill_s=6_900.0 / 7_000.0 * 45.0)
    answer = sure(contenders(candidate(a, 5_000.0), candidate(b, 5_000.0)), 0.0, 0.0)
    turn = next(one for one in answer.turns if one.fact == "weight that can be lifted")
    # A shorter fill makes up for some of it, so the turn comes a little later: in tenths, 0.2.
    assert turn.new_best == "B" and turn.deviations == pytest.approx(0.2)
    assert 0.2 < answer.sources[1].best < 0.8
