"""Bent runs and the aircraft's own surfaces: what a profile allows, winds on all headings, one way only."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from example_waters import AIR, HEAVY, body, clear_end, criterion_of, run, survey

from geo.base.errors import BadArgument
from geo.base.units import MS_PER_KNOT
from geo.records.survey import Run, RunPart
from geo.suitability import criteria
from geo.suitability.ends import end_clearance
from geo.suitability.facts import Facts
from geo.suitability.ram_intake import assess_ram_intake

RADIUS_M = 120.0
ARC_M = 0.5 * math.pi * RADIUS_M


def bent_run(leg_m: float = 310.0, **changes) -> Run:
    """North for leg_m, a right turn of 90 degrees, east for leg_m; by hand, the arc's centre lies at (120, leg_m)."""
    angle = np.linspace(0.0, 0.5 * np.pi, 50)
    arc = np.column_stack((RADIUS_M * (1.0 - np.cos(angle)), leg_m + RADIUS_M * np.sin(angle)))
    line = shapely.LineString([(0.0, 0.0), *arc, (RADIUS_M + leg_m, leg_m + RADIUS_M)])
    parts = (RunPart(leg_m, 0.0), RunPart(ARC_M, 0.0, 90.0, RADIUS_M), RunPart(leg_m, 90.0))
    made = replace(
        run(float(line.length)),
        search="bent",
        line=line,
        start_end=clear_end(180.0),
        end_end=clear_end(90.0),
        parts=parts,
    )
    return replace(made, **changes)


SHORT = replace(run(430.0), search="usable")  # 335 m for filling of 625 m: half a load and a little
BENT = survey(usable_runs=(SHORT,), bent_runs=(bent_run(),))


def judged(surveyed=BENT, wind_from_deg: float = 0.0, wind_kt: float = 0.0, **intake):
    profile = replace(HEAVY, ram_intake=replace(HEAVY.ram_intake, **intake))
    air = replace(
        AIR,
        wind_from_true_deg=wind_from_deg,
        wind_from_grid_deg=wind_from_deg,
        wind_ms=wind_kt * MS_PER_KNOT,
    )
    return assess_ram_intake(Facts(surveyed, body(), profile, air, (), ()))


def test_a_profile_without_a_bank_limit_flies_no_bend_and_says_so():
    found = judged()
    assert HEAVY.ram_intake.bank_limit_deg is None
    assert found.run_bend is None and found.run_line.equals(SHORT.line)
    assert found.litres_ruled_by == "run"
    (said,) = [text for text in found.cautions if "bent run" in text]
    assert "not counted" in said and "bank_limit" in said and "120 m radius" in said


def test_a_bend_is_flown_for_a_full_load_and_marked():
    # 50 km/h at 10 degrees of bank: 111.6 m (by hand: 13.889^2 / (9.80665 x 0.17633)). 2 x 310 + 188.5 = 808.5 m of
    # the 720 m that a full tank needs.
    found = judged(bank_limit_deg=10.0)
    assert found.verdict == "usable" and found.litres == 10_000.0
    assert "BENT run, from heading 000 to 090" in found.reason and any("BENT" in t for t in found.cautions)
    assert criterion_of(found, "turn").required == pytest.approx(111.56, abs=0.01)
    assert found.run_bend.turned_deg == 90.0 and found.run_bend.end_heading_true_deg == 90.0
    assert found.run_line.coords[0] == (0.0, 0.0) and len(found.run_line.coords) > 40
    assert criterion_of(found, "run length").measured == pytest.approx(620.0 + ARC_M, abs=0.05)


def test_a_radius_too_tight_for_the_bank_is_not_flown():
    # 9 degrees need 124.2 m.
    found = judged(bank_limit_deg=9.0)
    assert found.run_bend is None
    assert any("this aircraft needs 125 m" in text for text in found.cautions)
    assert judged(bank_limit_deg=10.0, speed_ms=14.5).run_bend is None  # 121.6 m


def test_a_straight_run_with_the_same_load_is_preferred():
    full = replace(run(760.0), search="usable", depth=BENT.longest_run.depth)
    found = judged(survey(usable_runs=(full,), bent_runs=(bent_run(),)), bank_limit_deg=10.0)
    assert found.run_bend is None and found.litres == 10_000.0
    assert all(one.run_bend is None for one in found.alternatives)
    assert not any("bent run" in text for text in found.cautions)  # nothing is missed


def test_flown_back_the_headings_are_the_reverse():
    # A hill beyond the east end bars the climb-out there; the approach is clear for this aircraft's steeper descent.
    hill = bent_run(end_end=clear_end(90.0, 6.0, steepest_slope=0.14))
    found = judged(survey(usable_runs=(SHORT,), bent_runs=(hill,)), bank_limit_deg=10.0, approach_slope=0.15)
    assert found.verdict == "usable"
    assert found.run_heading_true_deg == pytest.approx(270.0)
    assert found.run_bend.end_heading_true_deg == pytest.approx(180.0)
    assert found.run_bend.sweeps[1] == (pytest.approx(270.0), -90.0)
    assert found.run_line.coords[-1] == (0.0, 0.0)


@pytest.mark.parametrize(
    ("wind_from_deg", "wind_kt", "state"),
    [
        (45.0, 16.0, "met"),  # head wind at 45 degrees, 11.3 kt across at both ends
        (135.0, 16.0, "not met"),  # 16 kt across at 45 degrees, 11.3 kt across at both ends
        (315.0, 16.0, "not met"),
        (135.0, 14.9, "met"),
    ],
)
def test_crosswind_at_the_worst_heading_of_the_bend(wind_from_deg, wind_kt, state):
    # Limit 15 kt; the tail wind is let go so that the crosswind alone decides.
    found = judged(
        survey(usable_runs=(), longest_run=None, bent_runs=(bent_run(),)),
        wind_from_deg,
        wind_kt,
        bank_limit_deg=10.0,
        tailwind_limit_ms=60.0,
    )
    across = criterion_of(found, "crosswind")
    assert across.state == state and "worst heading" in across.reason


def test_tail_wind_anywhere_on_the_bend_counts():
    # From the north: head wind at the start flown as drawn, none at the end. From 225: tail wind of 8 kt at 45 degrees
    # either way round: flown back the bend heads 270 to 180, with 225 in its middle as a head wind.
    bend = survey(usable_runs=(), longest_run=None, bent_runs=(bent_run(),))
    assert judged(bend, 0.0, 8.0, bank_limit_deg=10.0).run_heading_true_deg == pytest.approx(0.0)
    assert judged(bend, 225.0, 8.0, bank_limit_deg=10.0).run_heading_true_deg == pytest.approx(270.0)
    # From 135 it is behind at 315 and ahead at 135, beside both ways: 5.7 kt behind at one end each, limit 5 kt.
    found = judged(bend, 135.0, 8.0, bank_limit_deg=10.0)
    assert criterion_of(found, "tail wind").measured / MS_PER_KNOT == pytest.approx(8.0 * math.sqrt(0.5))
    assert found.verdict == "not usable"


def test_worst_wind_against_every_heading():
    random = np.random.default_rng(4)
    for _ in range(200):
        wind_from, start, turn = random.uniform(0, 360), random.uniform(0, 360), random.uniform(-180, 180)
        head, cross = criteria.worst_wind_parts(wind_from, 10.0, ((start, turn),))
        angle = np.radians(wind_from - start - np.linspace(0.0, turn, 20_001))
        assert head == pytest.approx((10.0 * np.cos(angle)).min(), abs=1e-5)
        assert cross == pytest.approx(np.abs(10.0 * np.sin(angle)).max(), abs=1e-5)


def test_headings_for_sampled_winds_hold_the_ends_and_every_degree():
    headings = judged(bank_limit_deg=10.0).run_headings_true_deg()
    assert headings == pytest.approx([float(h) for h in range(91)])
    assert judged().run_headings_true_deg() == (judged().run_heading_true_deg,)


def test_turn_needs_a_bank_limit():
    with pytest.raises(BadArgument, match="flies no turn"):
        criteria.turn(120.0, 90.0, HEAVY.ram_intake)


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
    steep = judged(survey(longest_run=both), climb_out_slope=0.2, approach_slope=0.2)
    assert steep.verdict == "usable" and any("may have missed longer runs" in text for text in steep.cautions)
