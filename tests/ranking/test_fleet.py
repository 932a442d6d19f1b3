"""Fleets against brute force over every assignment, and cases with an obvious answer."""

from itertools import product

import numpy as np
import pytest
from example_candidates import assessment, candidate, table_profile

from geo.base.errors import BadArgument
from geo.ranking.extras.fleet import plan_fleet
from geo.ranking.rank import rank


def ranked(*judged_and_distance):
    return rank([candidate(judged, distance) for judged, distance in judged_and_distance], table_profile())[0]


def brute_force(fleet, rates, seats):
    """The best total of all assignments: each aircraft to one source or to none."""
    bodies = [*seats, None]
    best = 0.0
    for choice in product(bodies, repeat=len(fleet)):
        if all(choice.count(body) <= seats[body] for body in seats) and all(
            body is None or body in rates[kind] for kind, body in zip(fleet, choice, strict=True)
        ):
            best = max(best, sum(rates[k][b] for k, b in zip(fleet, choice, strict=True) if b is not None))
    return best


@pytest.mark.parametrize("seed", range(25))
def test_no_assignment_is_better(seed):
    rng = np.random.default_rng(seed)
    bodies = [f"W{k}" for k in range(3)]
    rankings = {}
    for kind in ("heavy", "light", "medium"):
        able = [b for b in bodies if rng.random() < 0.8]
        litres = float(rng.uniform(800, 10_000))
        rankings[kind] = ranked(*((assessment(b, litres=litres), float(rng.uniform(1e3, 2e4))) for b in able))
    fleet = [str(kind) for kind in rng.choice(list(rankings), size=5)]
    slots = int(rng.integers(1, 4))
    plan = plan_fleet(fleet, rankings, slots=slots)
    rates = {
        kind: {s.body_id: s.cycle.litres_per_hour for s in sources} for kind, sources in rankings.items()
    }
    assert plan.litres_per_hour == pytest.approx(
        brute_force(fleet, rates, dict.fromkeys(bodies, slots)), abs=0.01
    )
    sent = [one.body_id for one in plan.members if one.body_id is not None]
    assert all(sent.count(body) <= slots for body in bodies)
    assert sum(one.litres_per_hour for one in plan.members) == pytest.approx(plan.litres_per_hour, abs=0.01)
    assert sum(one.gain_litres_per_hour for one in plan.members) == pytest.approx(
        plan.litres_per_hour, abs=0.01
    )


def test_the_greedy_choice_is_not_taken():
    """One place at each of two sources. The heavy has 107,463 and 68,571 L/h (planning table, 5 and 10 km); the
    light has the near one alone. With 10 % of the heavy's load, 10,746: 68,571 + 10,746 < 107,463, so the light
    stays; with half the load, 53,731: 68,571 + 53,731 = 122,302 > 107,463, so the heavy gives way."""
    heavy = ranked((assessment("NEAR"), 5_000.0), (assessment("FAR"), 10_000.0))
    small, half = (ranked((assessment("NEAR", litres=litres), 5_000.0)) for litres in (1_000.0, 5_000.0))
    stays = plan_fleet(["heavy", "light"], {"heavy": heavy, "light": small}, slots=1)
    assert [one.body_id for one in stays.members] == ["NEAR", None]
    assert "aircraft 2 adds nothing" in stays.members[1].note
    gives_way = plan_fleet(["heavy", "light"], {"heavy": heavy, "light": half}, slots=1)
    assert [one.body_id for one in gives_way.members] == ["FAR", "NEAR"]
    assert gives_way.litres_per_hour == pytest.approx(122_302.0, abs=1.0)
    assert gives_way.members[1].gain_litres_per_hour == pytest.approx(122_302.0 - 107_463.0, abs=2.0)


def test_the_aircraft_that_gains_nothing_is_named():
    sources = ranked((assessment("A"), 5_000.0))
    plan = plan_fleet(["heavy"] * 3, {"heavy": sources})
    assert [one.body_id for one in plan.members] == ["A", "A", None]
    assert [one.note != "" for one in plan.members] == [False, False, True]
    assert plan.litres_per_hour == pytest.approx(2 * 107_463.0, abs=1.0)
    assert "no source is ranked" in plan_fleet(["heavy"], {"heavy": ()}).members[0].note


def test_a_small_dam_takes_fewer_and_gives_no_more_than_it_holds():
    """10.7 loads an hour at 5 km: a dam of 12 loads serves one for an hour, a dam of 5 gives 50,000 L in it."""
    rankings = {"heavy": ranked((assessment("DAM", loads_available=12.0), 5_000.0))}
    plan = plan_fleet(["heavy", "heavy"], rankings)
    assert [one.body_id for one in plan.members] == ["DAM", None]
    assert (plan.sources[0].seats, plan.sources[0].limited_by) == (1, "water left")
    little = plan_fleet(["heavy"], {"heavy": ranked((assessment("DAM", loads_available=5.9), 5_000.0))})
    assert little.litres_per_hour == pytest.approx(50_000.0)
    for hours in (0.5, 2.0, 6.0):
        plan = plan_fleet(["heavy"] * 3, rankings, slots=3, hours=hours)
        assert plan.litres_per_hour * hours <= 120_000.0 + 1e-6


def test_more_slots_never_lose_water():
    rankings = {"heavy": ranked(*((assessment(f"W{k}"), 3_000.0 + 2_000.0 * k) for k in range(4)))}
    totals = [plan_fleet(["heavy"] * 6, rankings, slots=slots).litres_per_hour for slots in (1, 2, 3, 6)]
    assert totals == sorted(totals)


@pytest.mark.parametrize(
    "bad", [{"fleet": []}, {"fleet": ["other"]}, {"slots": 0}, {"hours": 0.0}, {"hours": float("nan")}]
)
def test_what_cannot_be_planned_is_refused(bad):
    asked = {"fleet": ["heavy"], "rankings": {"heavy": ()}} | bad
    with pytest.raises(BadArgument, match="Fix"):
        plan_fleet(asked.pop("fleet"), asked.pop("rankings"), **asked)
