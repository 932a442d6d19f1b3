"""Each criterion just met, just not met and unknown. Limits are the profile's; scores follow their docstrings."""

import math
from dataclasses import replace

import pytest
from example_waters import HEAVY, clear_end, known_depth, unknown_depth

from geo.base.errors import BadArgument
from geo.base.units import MS_PER_KNOT, STANDARD_GRAVITY_MS2
from geo.records.survey import EndClearance, Measure
from geo.suitability import criteria, ends, water
from geo.suitability.weights import WEIGHTS

RAM = HEAVY.ram_intake
PUMP = HEAVY.hover_pump


def test_run_length_needed():
    # Common practice, no source: 45 s at 50 km/h is 625 m; the profile adds 45 m entry and 50 m exit.
    assert RAM.fill_time_s * RAM.speed_ms == pytest.approx(625.0, abs=0.1)
    assert RAM.full_run_m == pytest.approx(720.0)
    assert criteria.least_run_m(RAM) == pytest.approx(407.5)


def test_the_profile_speed_is_fast_enough_to_lift_water_into_a_tank():
    # Physics: v^2/2g at 50 km/h is 9.84 m of water, an upper bound of the lift.
    assert RAM.speed_ms**2 / (2.0 * STANDARD_GRAVITY_MS2) == pytest.approx(9.835, abs=0.01)


@pytest.mark.parametrize(
    ("length_m", "state", "score"),
    [
        (407.49, "not met", 0.0),
        (407.5, "met", 0.0),
        (563.75, "met", 25.0),
        (720.0, "met", 50.0),
        (1080.0, "met", 75.0),
        (1440.0, "met", 100.0),
        (20_000.0, "met", 100.0),
    ],
)
def test_run_length(length_m, state, score):
    judged = criteria.run_length(length_m, RAM)
    assert (judged.state, judged.hard) == (state, True)
    assert judged.score == pytest.approx(score, abs=1e-6)
    assert judged.margin == pytest.approx(length_m - 407.5)


def test_run_length_words_never_round_a_shortfall_away():
    short = criteria.run_length(719.96, RAM).reason
    assert short == "719 m, enough for 99% of a load; a full load needs 720 m"
    assert criteria.run_length(1_000.0, RAM).reason == "1,000 m; 720 m needed"
    assert criteria.run_length(390.0, RAM).reason.startswith("390 m, too short: half a load needs 408 m")


@pytest.mark.parametrize(
    ("length_m", "share"), [(50.0, 0.0), (95.0, 0.0), (407.5, 0.5), (720.0, 1.0), (900.0, 1.0)]
)
def test_run_share(length_m, share):
    # (run - entry - exit) / (fill time x speed) = (407.5 - 95) / 625 = 0.5
    assert criteria.run_share(length_m, RAM) == pytest.approx(share)


@pytest.mark.parametrize(
    ("litres", "state"), [(5_000.0, "met"), (4_999.0, "not met"), (10_000.0, "met"), (None, "unknown")]
)
def test_load(litres, state):
    judged = criteria.load(litres, "run", 10_000.0, 0.5)
    assert judged.state == state
    assert judged.score == (0.0 if litres is None else litres / 100.0)


@pytest.mark.parametrize(("corridor_m", "state"), [(60.0, "met"), (59.9, "unknown")])
def test_width(corridor_m, state):
    assert criteria.width(corridor_m, 60.0).state == state


@pytest.mark.parametrize(
    ("excess_m", "state", "score"),
    [
        (0.0, "met", 50.0),
        (0.1, "not met", None),
        (-15.0, "met", 75.0),
        (-30.0, "met", 100.0),
        (None, "unknown", 0.0),
    ],
)
def test_end_clearance(excess_m, state, score):
    judged = ends.end_clearance("climb-out clearance", clear_end(0.0, excess_m))
    assert (judged.state, judged.hard) == (state, True)
    if score is not None:
        assert judged.score == pytest.approx(score)


def test_an_obstacle_of_unknown_height_leaves_the_end_unknown_but_never_hides_a_known_one():
    unknown = ("mast Kite",)
    assert (
        ends.end_clearance("climb-out clearance", clear_end(0.0, -40.0, unknown_heights=unknown)).state
        == "unknown"
    )
    assert (
        ends.end_clearance("climb-out clearance", clear_end(0.0, 3.0, unknown_heights=unknown)).state
        == "not met"
    )


# Wind FROM 030 at 20 kt on heading 000: head 17.32 kt, cross 10 kt (trigonometry).
@pytest.mark.parametrize(
    ("wind_from_deg", "heading_deg", "head_kt", "cross_kt"),
    [
        (30.0, 0.0, 17.32, 10.0),
        (30.0, 180.0, -17.32, 10.0),
        (90.0, 0.0, 0.0, 20.0),
        (350.0, 350.0, 20.0, 0.0),
    ],
)
def test_wind_parts(wind_from_deg, heading_deg, head_kt, cross_kt):
    head_ms, cross_ms = criteria.wind_parts(wind_from_deg, 20.0 * MS_PER_KNOT, heading_deg)
    assert head_ms / MS_PER_KNOT == pytest.approx(head_kt, abs=0.005)
    assert cross_ms / MS_PER_KNOT == pytest.approx(cross_kt, abs=0.005)


@pytest.mark.parametrize(
    ("wind_ms", "state", "score"), [(10.0, "met", 50.0), (10.01, "not met", 49.95), (0.0, "met", 100.0)]
)
def test_wind_strength(wind_ms, state, score):
    judged = criteria.wind_strength(wind_ms, 10.0)
    assert (judged.state, judged.hard) == (state, True)
    assert judged.score == pytest.approx(score)
    assert judged.margin == pytest.approx(10.0 - wind_ms)


@pytest.mark.parametrize(
    ("cross_ms", "state", "score"), [(8.0, "met", 50.0), (8.01, "not met", None), (0.0, "met", 100.0)]
)
def test_crosswind(cross_ms, state, score):
    judged = criteria.crosswind(cross_ms, 8.0)
    assert judged.state == state
    assert score is None or judged.score == pytest.approx(score)


@pytest.mark.parametrize(
    ("head_ms", "state", "score"),
    [
        (-2.5, "met", 50.0),
        (-2.6, "not met", None),
        (5.0, "met", 100.0),
        (1.25, "met", 75.0),
        (12.0, "met", 100.0),
    ],
)
def test_tail_wind(head_ms, state, score):
    judged = criteria.tail_wind(head_ms, 2.5)
    assert judged.state == state
    assert score is None or judged.score == pytest.approx(score)


@pytest.mark.parametrize(
    ("radius_m", "heights", "state", "score"),
    [
        (16.8, (), "met", 50.0),
        (16.7, (), "not met", None),
        (33.6, (), "met", 100.0),
        (40.0, ("wire",), "unknown", 0.0),
    ],
)
def test_rotor_clearance(radius_m, heights, state, score):
    judged = criteria.rotor_clearance(radius_m, 16.8, "shore", heights)
    assert (judged.state, judged.hard) == (state, True)
    assert score is None or judged.score == pytest.approx(score)


@pytest.mark.parametrize(
    ("payload_kg", "state", "score"),
    [
        (5_000.0, "met", 0.0),
        (4_999.0, "not met", 0.0),
        (7_500.0, "met", 25.0),
        (10_000.0, "met", 50.0),
        (11_000.0, "met", 75.0),
        (12_000.0, "met", 100.0),
        (None, "unknown", 0.0),
    ],
)
def test_hover_payload(payload_kg, state, score):
    judged = criteria.hover_payload(payload_kg, 10_000.0, PUMP, "density altitude 500 m")
    assert (judged.state, judged.hard) == (state, True)
    assert judged.score == pytest.approx(score)


# known_depth(low, high) is even from low to high, so the chance of 2 m or more is (high - 2) / (high - low).
@pytest.mark.parametrize(
    ("least", "state"),
    [
        (known_depth(1.9, 3.9), "met"),  # 95 %: just met
        (known_depth(1.89, 3.89), "unknown"),  # 94.5 %: survey first
        (known_depth(1.0, 3.1), "unknown"),  # 52 %
        (known_depth(1.0, 2.9), "not met"),  # 47 % by soundings: likelier too shallow
        (known_depth(1.0, 2.9, "depth grid"), "not met"),
        (known_depth(1.0, 2.9, "stated depth"), "unknown"),  # nobody measured it
        (known_depth(1.0, 2.06, "stated depth"), "unknown"),  # 5.7 %
        (
            known_depth(1.0, 2.04, "stated depth"),
            "not met",
        ),  # 3.8 %: as sure of "too shallow" as 95 % asks for
        (known_depth(5.0, 9.0, "none"), "unknown"),  # a guess is no evidence, however deep
        (unknown_depth(), "unknown"),
    ],
)
def test_depth(least, state):
    judged = water.depth(least, 2.0, 0.95, "along the run")
    assert (judged.state, judged.hard) == (state, True)
    assert (judged.score > 0.0) == (state == "met")


def test_depth_score_and_words():
    judged = water.depth(known_depth(3.0, 3.0), 2.0, 0.95, "along the run")
    assert judged.score == pytest.approx(75.0)  # 1 m of margin on 2 m needed
    assert judged.margin == pytest.approx(1.0)
    assert (
        water.depth(unknown_depth(), 2.0, 0.95, "along the run").reason
        == "unknown along the run: no depth evidence"
    )
    assert (
        "the chance of 2.0 m everywhere is 47.4%, 95% needed (soundings)"
        in water.depth(known_depth(1.0, 2.9), 2.0, 0.95, "along the run").reason
    )


@pytest.mark.parametrize(
    ("kind", "hard"),
    [
        ("reservoir", True),
        ("dam", True),
        ("unknown", True),
        ("lake", False),
        ("river", False),
        ("sea", False),
    ],
)
def test_unknown_level(kind, hard):
    judged = water.level(Measure(None, "no level given"), kind)
    assert (judged.state, judged.hard, judged.score) == ("unknown", hard, 0.0)


def test_known_level_is_met_also_when_it_is_zero():
    assert water.level(Measure(0.0, "gauge"), "reservoir").state == "met"
    assert "4.0 m below" in water.level(Measure(-4.0, "gauge"), "reservoir").reason


@pytest.mark.parametrize(
    ("salinity", "kind", "allowed", "state", "hard"),
    [
        ("fresh", "lake", False, "met", True),
        ("brackish", "estuary", False, "not met", True),
        ("brackish", "dam", False, "not met", True),
        ("brackish", "estuary", True, "met", True),
        ("salt", "sea", False, "not met", True),
        ("salt", "lake", False, "not met", True),
        ("salt", "sea", True, "met", True),
        (None, "lake", False, "unknown", True),
        (None, "dam", False, "unknown", False),
        (None, "river", False, "unknown", True),
        (None, "estuary", False, "unknown", True),
        (None, "sea", False, "unknown", True),
        (None, "unknown", False, "unknown", True),
        (None, "estuary", True, "unknown", False),
    ],
)
def test_salt_in_hover(salinity, kind, allowed, state, hard):
    judged = water.salt_in_hover(salinity, "as tested", kind, allowed=allowed)
    assert (judged.state, judged.hard) == (state, hard)


def test_salt_words_say_the_class_once():
    assert (
        water.salt_in_hover(None, "unknown: not measured", "dam", allowed=False).reason
        == "unknown: not measured"
    )
    assert water.salt_in_forward_flight("salt", "salt: a sea").reason.startswith(
        "salt water, a sea; forward speed"
    )


def test_salt_never_vetoes_forward_flight_but_costs_score():
    scores = [water.salt_in_forward_flight(s, "as tested").score for s in ("fresh", "brackish", "salt", None)]
    assert scores == [100.0, 75.0, 50.0, 0.0]
    assert not water.salt_in_forward_flight("salt", "as tested").hard


def test_loads_of_a_cone():
    # Geometry: a cone of 300 m2 and 3 m holds 300 m3; drained to 1 m at its tip (1/3)^3 of it is left.
    assert water.loads_in_water(300.0, None, 3.0, 1.0, 10_000.0) == pytest.approx(30.0 * 26.0 / 27.0)
    assert water.loads_in_water(300.0, 150.0, 3.0, 1.0, 10_000.0) == pytest.approx(15.0 * 26.0 / 27.0)
    assert water.loads_in_water(300.0, 9_999.0, 3.0, 1.0, 10_000.0) == pytest.approx(30.0 * 26.0 / 27.0)
    assert water.loads_in_water(300.0, None, 1.0, 1.0, 10_000.0) == 0.0


def test_loads_of_a_cone_against_summed_slices():
    area_m2, depth_m, required_m = 5_000.0, 4.0, 1.5
    slices = 200_000
    step_m = (depth_m - required_m) / slices
    heights = (required_m + (i + 0.5) * step_m for i in range(slices))
    volume_m3 = math.fsum(area_m2 * (height / depth_m) ** 2 * step_m for height in heights)
    assert water.loads_in_water(area_m2, None, depth_m, required_m, 1_000.0) == pytest.approx(
        volume_m3, rel=1e-6
    )


@pytest.mark.parametrize(
    ("count", "state", "hard", "score"),
    [
        (10.0, "met", False, 100.0),
        (9.99, "not met", False, 99.9),
        (1.0, "not met", False, 10.0),
        (0.99, "not met", True, 9.9),
    ],
)
def test_loads(count, state, hard, score):
    judged = water.loads(count, 10, "dam", volume_known=True)
    assert (judged.state, judged.hard) == (state, hard)
    assert judged.score == pytest.approx(score)


def test_loads_unknown_and_unlimited():
    assert (
        water.loads(None, 10, "dam", volume_known=True).state,
        water.loads(None, 10, "dam", volume_known=True).hard,
    ) == ("unknown", False)
    for kind in ("river", "sea", "estuary"):
        assert (
            water.loads(None, 10, kind, volume_known=True).state,
            water.loads(None, 10, kind, volume_known=True).score,
        ) == ("met", 100.0)
        said = "flowing: not limited" if kind == "river" else "tidal: not limited"
        assert water.loads(None, 10, kind, volume_known=True).reason == said


def test_unknown_scores_nothing_and_every_name_has_a_weight():
    made = criteria.criterion("rotor clearance", "unknown", "made for a test", hard=True, score=100.0)
    assert (made.score, made.weight) == (0.0, WEIGHTS["rotor clearance"])
    # Waves are a veto only: where no limit of waves is known none is judged, and that must not pay.
    assert WEIGHTS["waves"] == 0.0
    assert all(weight > 0.0 for name, weight in WEIGHTS.items() if name != "waves")


def test_a_profile_that_asks_for_a_whole_load_needs_the_whole_run():
    whole = replace(RAM, least_load_fraction=1.0)
    assert criteria.run_length(719.9, whole).state == "not met"
    assert criteria.run_length(720.0, whole).state == "met"
    assert (
        criteria.hover_payload(
            9_999.0, 10_000.0, replace(PUMP, least_load_fraction=1.0), "made for a test"
        ).state
        == "not met"
    )


def test_nan_is_refused_because_it_would_pass_for_good():
    with pytest.raises(BadArgument, match="NaN"):
        ends.end_clearance("climb-out clearance", clear_end(0.0, math.nan))
    with pytest.raises(BadArgument, match="NaN"):
        water.level(Measure(math.nan, "gauge"), "reservoir")


# 7,500 L in one pass, tank 10,000 L in 45 s, 40 s to turn back: the second pass adds 2,500 L in 40 + 11.25 = 51.25 s;
# it pays where 10,000 / (C + 51.25) > 7,500 / C, that is C > 153.75 s.
def test_a_second_pass_by_hand():
    more = criteria.second_pass(7_500.0, 10_000.0, 10_000.0, 45.0, 40.0)
    assert more.litres == 10_000.0
    assert more.extra_s == pytest.approx(51.25)
    assert more.worth_above_cycle_s == pytest.approx(153.75)
    assert more.text.startswith("two passes of 5,000 L would take 10,000 L: 52 s more")
    cycle_s = more.worth_above_cycle_s
    assert 10_000.0 / (cycle_s + more.extra_s) == pytest.approx(7_500.0 / cycle_s)


def test_a_second_pass_never_takes_more_than_two_loads_or_the_limit():
    assert criteria.second_pass(4_000.0, 10_000.0, 10_000.0, 45.0, 40.0).litres == 8_000.0
    assert criteria.second_pass(7_500.0, 9_000.0, 10_000.0, 45.0, 40.0).litres == 9_000.0
    assert criteria.second_pass(9_950.0, 10_000.0, 10_000.0, 45.0, 40.0) is None


def test_where_only_the_terrains_error_breaks_the_surface_it_is_unknown():
    """4 m above with an error of 6 m counted: clear by 2 m without it, so nobody knows; a ridge stays a ridge."""
    only_error = EndClearance(0.0, 0.125, 4.0, 30.0, "terrain", 1500.0, excess_without_error_m=-2.0)
    assert ends.end_clearance("climb-out clearance", only_error).state == "unknown"
    ridge = EndClearance(0.0, 0.125, 40.0, 300.0, "terrain", 1500.0, excess_without_error_m=34.0)
    assert ends.end_clearance("climb-out clearance", ridge).state == "not met"


def test_a_guessed_volume_counts_only_when_it_is_ten_times_enough():
    guessed = water.loads(40.0, 10, "dam", volume_known=False)
    assert (guessed.state, guessed.score, guessed.hard) == ("unknown", 0.0, False)
    assert "no volume is known" in guessed.reason
    assert water.loads(100.0, 10, "dam", volume_known=False).state == "met"
    assert water.loads(0.5, 10, "dam", volume_known=False).hard
