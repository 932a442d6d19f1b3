"""Coverage levels, line lengths and the recommended levels, against their published values."""

import numpy as np
import pytest
from scipy.stats import norm

from geo.base.errors import BadArgument
from geo.base.units import LITRE_PER_US_GALLON, METRE_PER_FOOT, MS_PER_KNOT
from geo.ranking.extras import coverage as drop

SIXTY_FEET_M = 60.0 * METRE_PER_FOOT


# NWCG Glossary, "coverage level": level n is n US gallons per 100 square feet; values computed from that definition.
@pytest.mark.parametrize(
    ("level", "litres_m2"),
    [(0.5, 0.204), (1, 0.407), (2, 0.815), (3, 1.222), (4, 1.630), (6, 2.445), (8, 3.260), (10, 4.075)],
)
def test_coverage_level_in_litres(level, litres_m2):
    assert drop.coverage_l_m2(level) == pytest.approx(litres_m2, abs=0.0005)


def test_coverage_level_four_closely():
    assert drop.coverage_l_m2(4.0) == pytest.approx(
        1.62983, abs=1e-5
    )  # from the definition, exact unit factors


# Uniform sheet, L = 100 G / (C W) in feet and gallons: 3,000 gal at level 4 and 60 ft is 1,250 ft in a public analysis
# text; the others follow from the same algebra.
@pytest.mark.parametrize(("gallons", "level", "feet"), [(3000, 4, 1250.0), (2000, 4, 833.333)])
def test_litres_for_a_line_in_feet(gallons, level, feet):
    litres = drop.litres_for_line(feet * METRE_PER_FOOT, level, SIXTY_FEET_M)
    assert litres / LITRE_PER_US_GALLON == pytest.approx(gallons, rel=1e-6)


@pytest.mark.parametrize(("level", "metres"), [(1, 1342.0), (2, 671.0), (4, 335.5), (6, 223.7), (8, 167.7)])
def test_ten_thousand_litres_by_level(level, metres):
    assert drop.litres_for_line(metres, level, 18.288) == pytest.approx(10_000.0, rel=3e-4)


def test_the_share_on_the_ground_is_the_best_that_a_gaussian_drop_can_do():
    """Int. J. Wildland Fire 23(2):272-280 (2014): the liquid lies across the line as a Gaussian. Of one that holds 1 in
    all, the strip on which it reaches a level counts with that level; the level that makes most of it is sought."""
    levels = np.linspace(0.001, norm.pdf(0.0), 200_001)[:-1]
    half_width = norm.isf(0.5) + np.sqrt(-2.0 * np.log(levels / norm.pdf(0.0)))
    assert (2.0 * half_width * levels).max() == pytest.approx(drop.GROUND_SHARE, rel=1e-8)
    # Common practice, no source: drops take about twice the litres of a uniform sheet.
    assert pytest.approx(2.0, abs=0.1) == 1.0 / drop.GROUND_SHARE


def test_a_load_makes_half_the_line_of_a_uniform_sheet():
    """10,000 L at level 2 and 60 ft: 671.0 m as a uniform sheet (table of the same algebra), times the share."""
    assert drop.line_of_load_m(2.0, SIXTY_FEET_M, 10_000.0) == pytest.approx(
        671.0 * drop.GROUND_SHARE, rel=3e-4
    )
    assert drop.litres_to_drop(671.0, 2.0, SIXTY_FEET_M) == pytest.approx(
        10_000.0 / drop.GROUND_SHARE, rel=3e-4
    )


def test_loads_are_rounded_up_to_whole_ones():
    assert drop.loads_for_line(324.0, 324.5) == 1
    assert drop.loads_for_line(325.0, 324.5) == 2
    assert drop.loads_for_line(3.0 * 0.1, 0.1) == 3  # 0.30000000000000004 in binary


# USDA Forest Service, MTDC 0057-2850: flow rates of 75, 300 and 700 US gal/s, tests at 35 to 91 kt.
FLOWS_L_S = (75.0 * LITRE_PER_US_GALLON, 700.0 * LITRE_PER_US_GALLON)


@pytest.mark.parametrize(("level", "knots"), [(1.0, 50.0), (4.0, 35.0), (4.0, 70.0), (2.0, 91.0)])
def test_the_doors_lay_the_level_that_is_asked_for(level, knots):
    """Per second the aircraft covers ground speed x width; what counts of the flow, spread over it, is the level."""
    speed_ms = knots * MS_PER_KNOT
    flow, laid = drop.set_doors(level, SIXTY_FEET_M, speed_ms, FLOWS_L_S)
    assert FLOWS_L_S[0] < flow < FLOWS_L_S[1] and laid == pytest.approx(level)
    gallons, square_feet = flow / LITRE_PER_US_GALLON, knots * 1852.0 / 3600.0 / METRE_PER_FOOT * 60.0
    assert 100.0 * gallons * drop.GROUND_SHARE / square_feet == pytest.approx(level)
    # The doors open by the ground speed: twice as fast, twice as wide.
    assert drop.set_doors(level, SIXTY_FEET_M, speed_ms / 2.0, (1.0, 1e6))[0] == pytest.approx(flow / 2.0)


def test_doors_at_their_limits_lay_more_or_less_than_asked_and_say_so():
    speed_ms = 50.0 * MS_PER_KNOT
    flow, laid = drop.set_doors(0.25, SIXTY_FEET_M, speed_ms, FLOWS_L_S)
    assert flow == FLOWS_L_S[0] and laid > 0.25
    flow, laid = drop.set_doors(10.0, SIXTY_FEET_M, speed_ms, FLOWS_L_S)
    assert flow == FLOWS_L_S[1] and laid < 10.0


# USDA Forest Service, MTDC, Airtanker Drop Guides, Table 1; F and C also in the text of 0057-2816 and 0057-2829.
@pytest.mark.parametrize(
    ("letter", "model", "level"),
    [("F", 5, 3), ("C", 2, 2), ("G", 10, 4), ("H", 8, 2), ("A", 1, 1), ("T", 2, 3)],
)
def test_recommended_level(letter, model, level):
    (row,) = drop.recommended_levels(letter, model)
    assert (row.level, row.above) == (level, False)
    assert "memory" not in row.source


def test_a_letter_of_two_rows_gives_both():
    assert [(r.fire_behaviour, r.level) for r in drop.recommended_levels("F")] == [(5, 3.0), (6, 6.0)]


def test_rows_from_memory_say_so():
    # The levels of these rows are from memory of the table, not read.
    for row in drop.recommended_levels(fire_behaviour=4) + drop.recommended_levels("J"):
        assert "from memory" in row.source
        assert row.level == 6.0


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan"), float("inf")])
def test_bad_amounts_are_refused(bad):
    with pytest.raises(BadArgument, match="above 0"):
        drop.coverage_l_m2(bad)
    with pytest.raises(BadArgument, match="above 0"):
        drop.litres_for_line(bad, 2.0, 18.0)


@pytest.mark.parametrize("asked", [(None, None), ("Z", None), ("F", 10)])
def test_unknown_fuel_is_refused(asked):
    with pytest.raises(BadArgument, match="Fix"):
        drop.recommended_levels(*asked)
