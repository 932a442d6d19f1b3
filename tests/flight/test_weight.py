"""What weight and power leave for water: sums by hand of invented tables, and laws that no table may break.

The rule is the plain sum of weights: water = what can be lifted - (empty + crew + equipment + fuel).
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geo.flight.performance import HEAVIEST_FUEL_KG_L, weigh
from geo.ingest.layers.aircraft import load_profile
from geo.records.aircraft import Weights

HEAVY = load_profile("heavy_tank_helicopter")
# By hand below: operating 10,000 kg, full fuel 4,500 L x 0.8 kg/L = 3,600 kg, gross 21,000 kg.
BY_WEIGHT = replace(
    HEAVY,
    fuel_l=4_500.0,
    max_load_kg=10_000.0,
    weights=Weights(9_500.0, 200.0, 300.0, 21_000.0, 0.8),
    hover_weight=((0.0, 21_000.0), (2_000.0, 19_000.0)),
    low_speed_weight=(),
)
BY_PAYLOAD = replace(BY_WEIGHT, hover_weight=(), hover_payload=((0.0, 8_000.0), (2_000.0, 6_000.0)))


def test_water_is_what_is_left_of_the_lifted_weight():
    lift = weigh(BY_WEIGHT, 1_000.0)
    assert lift.hover_kg == pytest.approx(20_000.0 - 10_000.0 - 3_600.0)
    assert (lift.gross_kg, lift.gross_by) == (pytest.approx(7_400.0), "gross weight")
    assert (lift.scoop_kg, lift.scoop_by) == (lift.hover_kg, "hover payload")
    assert lift.gain_kg_l == 0.8 and lift.notes == ()
    above = weigh(BY_WEIGHT, 2_001.0)
    assert above.hover_kg + 3_600.0 <= 0.0, (
        "above its last row a table knows nothing, however little fuel is left"
    )


def test_a_low_speed_table_limits_the_scoop_and_says_so():
    faster = replace(BY_WEIGHT, low_speed_weight=((0.0, 22_000.0), (2_000.0, 21_000.0)))
    lift = weigh(faster, 1_000.0)
    assert (lift.scoop_kg, lift.scoop_by) == (pytest.approx(21_500.0 - 13_600.0), "low-speed power")
    assert lift.hover_kg == weigh(BY_WEIGHT, 1_000.0).hover_kg


def test_a_payload_holds_for_one_state_of_fuel():
    """7,000 kg at 1,000 m with 2,000 L aboard: with full fuel 2,500 L x 0.8 kg/L less."""
    stated = weigh(replace(BY_PAYLOAD, hover_payload_fuel_l=2_000.0), 1_000.0)
    assert stated.hover_kg == pytest.approx(7_000.0 - 2_000.0) and stated.notes == ()
    unstated = weigh(BY_PAYLOAD, 1_000.0)
    assert unstated.hover_kg == pytest.approx(7_000.0 - 3_600.0)
    assert "does not say for which fuel" in unstated.notes[0] and "hover_payload.fuel" in unstated.notes[0]
    above = weigh(replace(BY_PAYLOAD, hover_payload_fuel_l=4_500.0), 2_001.0)
    assert above.hover_kg + 3_600.0 <= 0.0


def test_without_weights_a_full_tank_of_the_heaviest_fuel_is_taken_off():
    """ASTM D1655, table 1: jet fuel weighs at most 0.840 kg/L at 15 degC; 4,500 L are 3,780 kg."""
    assert HEAVIEST_FUEL_KG_L == 0.84
    lift = weigh(replace(BY_PAYLOAD, weights=None, hover_payload_fuel_l=None), 1_000.0)
    assert lift.hover_kg == pytest.approx(7_000.0 - 3_780.0)
    assert lift.gross_kg == pytest.approx(10_000.0 - 3_780.0)
    assert lift.gain_kg_l == 0.0
    assert (
        "fuel was not weighed" in lift.notes[0]
        and "3,780 kg" in lift.notes[0]
        and "[weight]" in lift.notes[0]
    )


def test_arrays_are_the_numbers():
    heights = np.array([-500.0, 0.0, 700.0, 2_000.0, 2_500.0])
    for profile in (BY_WEIGHT, BY_PAYLOAD, replace(BY_PAYLOAD, weights=None)):
        many = weigh(profile, heights).hover_kg
        assert many == pytest.approx([weigh(profile, height).hover_kg for height in heights])


def water_kg(profile, height_m, fuel_l):
    """The water of both ways of filling with so much fuel aboard."""
    lift = weigh(profile, height_m)
    grown = lift.gain_kg_l * (profile.fuel_l - fuel_l)
    return tuple(
        min(profile.max_load_kg, kg + grown, lift.gross_kg + grown) for kg in (lift.hover_kg, lift.scoop_kg)
    )


@settings(max_examples=60, deadline=None)
@given(
    height=st.floats(-500.0, 2_400.0),
    higher=st.floats(0.0, 900.0),
    used=st.floats(0.0, 1.0),
    density=st.floats(0.775, 0.84),
    stated=st.floats(0.0, 4_500.0),
    more=st.floats(0.0, 900.0),
    by_weight=st.booleans(),
)
def test_more_weight_or_height_or_a_fact_less_never_gains(
    height, higher, used, density, stated, more, by_weight
):
    weights = replace(BY_WEIGHT.weights, fuel_kg_l=density)
    whole = replace(
        BY_WEIGHT if by_weight else replace(BY_PAYLOAD, hover_payload_fuel_l=stated), weights=weights
    )
    fuel_l = used * whole.fuel_l
    known = water_kg(whole, height, fuel_l)

    def not_more(changed, at_m=height, aboard_l=fuel_l):
        assert all(a <= b + 1e-6 for a, b in zip(water_kg(changed, at_m, aboard_l), known, strict=True))

    not_more(whole, at_m=height + higher)
    not_more(whole, aboard_l=min(whole.fuel_l, fuel_l + more))
    for part in ("empty_kg", "crew_kg", "equipment_kg"):
        not_more(replace(whole, weights=replace(weights, **{part: getattr(weights, part) + more})))
    not_more(replace(whole, weights=replace(weights, gross_kg=weights.gross_kg - more)))
    if not by_weight:
        not_more(replace(whole, hover_payload_fuel_l=None))
        not_more(replace(whole, weights=None))
        not_more(replace(whole, weights=None, hover_payload_fuel_l=None))
