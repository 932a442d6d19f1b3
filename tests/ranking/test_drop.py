"""Coverage levels, line lengths and the recommended levels, against their published values."""

import pytest

from geo.base.errors import BadArgument
from geo.base.units import LITRE_PER_US_GALLON, METRE_PER_FOOT
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


def test_loads_are_rounded_up_to_whole_ones():
    assert drop.loads_for_line(670.0, 2.0, 18.288, 10_000.0) == 1
    assert drop.loads_for_line(672.0, 2.0, 18.288, 10_000.0) == 2


def test_a_whole_number_of_loads_is_not_rounded_up():
    litres_per_m = drop.litres_for_line(1.0, 3.0, 20.0)
    assert drop.loads_for_line(30_000.0 / litres_per_m, 3.0, 20.0, 10_000.0) == 3


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
