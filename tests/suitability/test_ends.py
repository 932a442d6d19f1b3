"""The ends of a run against the aircraft's own surfaces: slopes, width, and runs that are usable one way only."""

from dataclasses import replace

import pytest
from example_waters import AIR, HEAVY, body, clear_end, run, survey

from geo.suitability.ends import climb_out_clearance, end_clearance, speed_up_m
from geo.suitability.facts import Facts
from geo.suitability.ram_intake import assess_ram_intake


def judged(surveyed, air=AIR, **intake):
    """The assessment of a ram intake with some figures of its own."""
    profile = replace(HEAVY, ram_intake=replace(HEAVY.ram_intake, **intake))
    return assess_ram_intake(Facts(surveyed, body(), profile, air, (), ()))


# Surfaces. Published ones for scale: 8:1 (14 CFR Part 77), 4.5 % and 8 % and 12.5 % (ICAO Annex 14 Vol. II, Table 4-1,
# slope categories A, B, C; from memory).
@pytest.mark.parametrize(
    ("slope", "steepest", "excess_m", "state"),
    [
        (None, 0.10, -10.0, "met"),
        (0.125, 0.10, -10.0, "met"),
        (0.08, 0.10, -10.0, "not met"),
        (0.08, 0.079, -40.0, "met"),
        (0.045, 0.079, -40.0, "not met"),
        (0.20, 0.15, 10.0, "met"),
        (0.14, 0.15, 10.0, "not met"),
        (0.08, 0.07, 0.1, "not met"),  # broken at 12.5 % is broken at 8 %, whatever rounding says
        (0.08, None, None, "unknown"),
        (0.08, None, 5.0, "not met"),
        (0.20, None, 5.0, "unknown"),
    ],
)
def test_an_end_against_the_aircrafts_own_slope(slope, steepest, excess_m, state):
    end = clear_end(0.0, excess_m, steepest_slope=steepest)
    judged_end = end_clearance("climb-out clearance", end, slope)
    assert judged_end.state == state
    if slope not in (None, 0.125):
        assert f"{slope:.1%}" in judged_end.reason or (steepest is None and excess_m is not None)


def test_only_the_terrains_error_breaks_the_aircrafts_slope():
    end = clear_end(0.0, -2.0, steepest_slope=0.09, steepest_without_error_slope=0.07)
    assert end_clearance("approach clearance", end, 0.08).state == "unknown"
    assert end_clearance("approach clearance", end, 0.06).state == "not met"


def test_unknown_heights_are_unknown_at_any_slope():
    end = clear_end(0.0, -40.0, unknown_heights=("mast m1 (height unknown)",))
    found = end_clearance("approach clearance", end, 0.3)
    assert found.state == "unknown" and "mast m1" in found.reason


@pytest.mark.parametrize(
    ("surveyed", "asked", "state"), [(0.1, 0.1, "met"), (0.1, 0.15, "unknown"), (None, 0.1, "unknown")]
)
def test_a_wider_surface_than_the_surveys_is_unknown(surveyed, asked, state):
    end = clear_end(0.0, divergence=surveyed)
    assert end_clearance("approach clearance", end, None, asked).state == state


def test_a_run_can_be_usable_one_way_only():
    # 10 % to the north, nothing to the south. The aircraft climbs out at 8 % and comes down at 12.5 %.
    one_way = replace(
        run(1000.0),
        start_end=clear_end(180.0, steepest_slope=0.0),
        end_end=clear_end(0.0, -5.0, steepest_slope=0.10),
    )
    found = judged(survey(longest_run=one_way), climb_out_slope=0.08)
    assert found.verdict == "usable" and found.run_heading_true_deg == pytest.approx(180.0)
    assert any("may have missed runs that are clear for it" in text for text in found.cautions)
    both = replace(one_way, start_end=clear_end(180.0, -5.0, steepest_slope=0.10))
    found = judged(survey(longest_run=both), climb_out_slope=0.08)
    assert found.verdict == "not usable" and "this aircraft's surface rises 8.0%" in found.reason
    # No slope of the profile is climbed that the day does not allow: 8 % at full weight.
    steep = judged(survey(longest_run=both), climb_out_slope=0.2, approach_slope=0.2)
    assert steep.verdict == "not usable" and "this aircraft's surface rises 8.0%" in steep.reason
    cold = replace(AIR, climb_gradient_loaded=0.25, climb_gradient_empty=0.3)
    steep = judged(survey(longest_run=both), cold, climb_out_slope=0.2, approach_slope=0.2)
    assert steep.verdict == "usable" and any("may have missed longer runs" in text for text in steep.cautions)


def test_the_way_to_gather_speed_is_plain_kinematics():
    """(38.58^2 - 13.89^2) / (2 x 1.0 m/s2) = 647.8 m: from 50 km/h to 75 kt; half of it at twice the acceleration."""
    assert speed_up_m(50.0 / 3.6, 75.0 * 1852.0 / 3600.0, 1.0) == pytest.approx(647.8, abs=0.1)
    assert speed_up_m(50.0 / 3.6, 75.0 * 1852.0 / 3600.0, 2.0) == pytest.approx(323.9, abs=0.1)
    assert speed_up_m(30.0, 20.0, 1.0) == 0.0


RIDGE = clear_end(0.0, -8.0, steepest_slope=0.115, later_slopes=(0.12, 0.13, None))


@pytest.mark.parametrize(
    ("gradient", "own", "beyond_m", "state"),
    [
        (0.086, None, 0.0, "not met"),  # ground rising 11.5 % under a climb of 650 ft/min at 75 kt, 8.6 %
        (0.12, None, 0.0, "met"),
        (0.12, 0.10, 0.0, "not met"),  # the profile may ask for a flatter surface
        (0.086, 0.30, 0.0, "not met"),  # never for a steeper one
        (0.125, None, 90.0, "met"),
        (0.125, None, 110.0, "not met"),  # 13 % clears from 200 m on
        (0.50, None, 250.0, "not met"),  # something stands before
        (0.50, None, 350.0, "unknown"),  # further than the survey looked
        (None, 0.2, 0.0, "unknown"),
    ],
)
def test_the_climb_out_is_the_days_climb_after_gathering_speed(gradient, own, beyond_m, state):
    assert climb_out_clearance(RIDGE, gradient, beyond_m, own).state == state
