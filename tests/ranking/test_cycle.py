"""Round trips, delivery rates and fuel against the planning tables and by hand."""

from dataclasses import replace

import pytest
from example_candidates import assessment, flat_leg, table_profile

from geo.base.errors import BadArgument
from geo.base.units import LITRE_PER_US_GALLON
from geo.ranking.cycle import fly_cycle
from geo.ranking.fuel_plan import plan_fuel
from geo.records.suitability import LoadByFuel

EMPTY_MS = 200.0 / 3.6


def ten_thousand_litres(distance_m: float, **changes):
    judged = assessment(**changes)
    return fly_cycle(judged, flat_leg(distance_m, 50.0), flat_leg(distance_m, EMPTY_MS), table_profile())


# Planning table by plain kinematics: 10,000 L, 180 km/h loaded, 200 km/h empty, fill 45 s, drop 10 s, manoeuvre 90 s.
@pytest.mark.parametrize(
    ("distance_km", "seconds", "loads", "litres"),
    [(2, 221, 16.29, 162_896), (5, 335, 10.75, 107_463), (10, 525, 6.86, 68_571), (20, 905, 3.98, 39_779)],
)
def test_effect_of_distance(distance_km, seconds, loads, litres):
    cycle = ten_thousand_litres(distance_km * 1000.0)
    assert cycle.round_trip_s == pytest.approx(seconds, abs=1e-6)
    assert cycle.loads_per_hour == pytest.approx(loads, abs=0.005)
    assert cycle.litres_per_hour == pytest.approx(litres, abs=0.5)


def test_hover_pump_adds_its_fifteen_seconds():
    cycle = ten_thousand_litres(10_000.0, method="hover_pump", fill_s=60.0)
    assert cycle.round_trip_s == pytest.approx(540.0, abs=1e-6)  # same table
    assert cycle.litres_per_hour == pytest.approx(66_667.0, abs=0.5)


# The same 10 km with 30 km/h of wind along the legs: 541.5 s with a head wind when loaded, 528.2 s with a tail wind.
@pytest.mark.parametrize(("loaded_kmh", "empty_kmh", "seconds"), [(150, 230, 541.5), (210, 170, 528.2)])
def test_wind_along_the_leg(loaded_kmh, empty_kmh, seconds):
    legs = flat_leg(10_000.0, loaded_kmh / 3.6), flat_leg(10_000.0, empty_kmh / 3.6)
    assert fly_cycle(assessment(), *legs, table_profile()).round_trip_s == pytest.approx(seconds, abs=0.05)


def test_the_six_parts_add_up():
    loaded = flat_leg(7_000.0, 48.0, climb_extra_s=25.0)
    cycle = fly_cycle(
        assessment(litres=6_000.0, fill_s=27.0), loaded, flat_leg(7_000.0, 55.0), table_profile()
    )
    parts = cycle.fill_s + cycle.manoeuvre_source_s + cycle.loaded_leg.time_s
    parts += cycle.drop_s + cycle.manoeuvre_fire_s + cycle.empty_leg.time_s
    assert parts == pytest.approx(cycle.round_trip_s)
    assert cycle.round_trip_s == pytest.approx(
        27.0 + 30.0 + 7000.0 / 48.0 + 25.0 + 10.0 + 60.0 + 7000.0 / 55.0
    )


def test_nothing_to_fly_is_refused():
    with pytest.raises(BadArgument, match="above 0"):
        ten_thousand_litres(5_000.0, verdict="not usable")
    broken = replace(flat_leg(5_000.0, 50.0), time_s=float("nan"))
    with pytest.raises(BadArgument, match="finite"):
        fly_cycle(assessment(), broken, broken, table_profile())


def plan_of(
    round_trip_s, litres, profile, there=None, back=None, *, loads_available=None, load=None, hours=None
):
    """The fuel plan of round trips of a known length that fill in a tenth of it."""
    judged = assessment(litres=litres, fill_s=0.1 * round_trip_s, loads_available=loads_available)
    judged = replace(judged, load=load)
    calm = replace(profile, drop_s=0.1, manoeuvre_source_s=0.0, manoeuvre_fire_s=0.0)
    leg = flat_leg(0.5 * (0.9 * round_trip_s - 0.1) * 50.0, 50.0)
    return plan_fuel(fly_cycle(judged, leg, leg, calm), judged, calm, there, back, hours=hours)


def one_tank(reserve_min: float, **changes):
    burn = {"fuel_burn_l_h": 500 * LITRE_PER_US_GALLON, "fuel_l": 2.4 * 500 * LITRE_PER_US_GALLON}
    profile = table_profile(reserve_s=60.0 * reserve_min, **burn, **changes)
    transit = flat_leg(15.0 * 60.0 * 50.0, 50.0)
    return plan_of(9.1 * 60.0, 10_000.0, profile, transit, transit)


# Planning example: 2.4 h of fuel, transit 2 x 15 min, round trip 9.1 min. 20 min is the reserve of US 14 CFR 91.151(b).
@pytest.mark.parametrize(("reserve_min", "loads"), [(20.0, 10), (30.0, 9)])
def test_loads_per_tank_of_fuel(reserve_min, loads):
    plan = one_tank(reserve_min)
    assert plan.endurance_s == pytest.approx(2.4 * 3600.0)
    assert plan.loads == loads
    assert plan.litres == pytest.approx(loads * 10_000.0)


def test_long_run_rate_by_hand():
    plan = one_tank(30.0, refuel_turn_s=900.0)
    # 9 loads in 30 min transit + 9 x 9.1 min + 15 min refuelling = 126.9 min
    assert plan.long_run_litres_per_hour == pytest.approx(90_000.0 / 126.9 * 60.0)


def test_loads_are_whole_never_negative_and_exact_at_the_limit():
    profile = table_profile(fuel_l=1000.0, fuel_burn_l_h=1000.0, reserve_s=1800.0)
    assert plan_of(180.0, 1.0, profile).loads == 10  # 1,800 s spare: exactly ten
    assert plan_of(180.1, 1.0, profile).loads == 9
    far = flat_leg(200_000.0, 50.0)
    none = plan_of(180.0, 1.0, profile, far, far)
    assert (none.loads, none.litres, none.long_run_litres_per_hour) == (0, 0.0, 0.0)


def test_transit_that_is_not_counted_is_said():
    assert "without the flights from and to a base" in plan_of(300.0, 1.0, table_profile()).note
    leg = flat_leg(1000.0, 50.0)
    assert "with the flights from and to the base" in plan_of(300.0, 1.0, table_profile(), leg, leg).note


def test_the_water_can_end_before_the_fuel():
    """By hand: 1,800 s spare / 180 s = 10 loads by fuel; a water that holds 3.4 loads gives 3."""
    profile = table_profile(fuel_l=3_600.0, fuel_burn_l_h=3_600.0, reserve_s=1_800.0, refuel_turn_s=900.0)
    plan = plan_of(180.0, 1_000.0, profile, loads_available=3.4)
    assert (plan.loads, plan.litres) == (3, 3_000.0)
    assert "fuel allows 10 loads, the water holds 3" in plan.note
    assert plan_of(180.0, 1_000.0, profile, loads_available=40.0).loads == 10
    # Measured over the whole fuel cycle, 10 x 180 s + 900 s of refuelling, as a water is that does not end.
    assert plan.long_run_litres_per_hour == pytest.approx(3_000.0 / 2_700.0 * 3_600.0)


# 1,000 L of fuel at 0.8 kg/L; 100 L/h. Full: 500 L of water; each litre burned lets 0.8 L more be carried, up to 600 L.
GROWING = LoadByFuel(600.0, "tank", 500.0, "gross weight", 1_000.0, 0.8, 1.0)


def test_the_load_grows_as_fuel_burns_by_hand():
    """Round trip 1 h with 500 L, of which the fill is 360 s: 0.72 s a litre. Burn 100 L/h.

    Load 2 begins with 900 L: 580 L, 57.6 s more; load 3 with 100 x 3,657.6 / 3,600 = 101.6 L less: by weight 661.3 L,
    by the tank 600 L. Reserve 0: loads end at 3,600, 7,257.6, 10,929.6, then every 3,672 s to 36,000 s: the last of
    9 ends at 32,961.6 s.
    """
    profile = table_profile(fuel_l=1_000.0, fuel_burn_l_h=100.0, reserve_s=0.0, refuel_turn_s=600.0)
    plan = plan_of(3_600.0, 500.0, profile, load=GROWING)
    assert [one.litres for one in plan.table] == pytest.approx([500.0, 580.0, *[600.0] * 7])
    assert [one.fuel_l for one in plan.table[:3]] == pytest.approx([1_000.0, 900.0, 798.4])
    assert [one.ruled_by for one in plan.table[:3]] == ["gross weight", "gross weight", "tank"]
    assert plan.table[1].round_trip_s == pytest.approx(3_657.6)
    assert (plan.loads, plan.litres) == (9, pytest.approx(5_280.0))
    assert plan.cycle_s == pytest.approx(3_657.6 + 3_600.0 + 7 * 3_672.0 + 600.0)
    # Heavy profile's made weights: operating 10,000 kg, fuel 0.8 kg/L.
    assert plan.table[1].gross_kg == pytest.approx(10_000.0 + 900.0 * 0.8 + 580.0)


def test_over_hours_tanks_follow_one_another_and_a_load_counts_with_its_drop():
    """180 s a load, 10 loads a tank, 900 s of refuelling; a drop ends 81 s before its round trip does (no manoeuvre,
    the empty leg is half of 162 s but for the drop's 0.1 s): in 0.5 h 10 loads, in 1 h, 900 s after the refuelling, 5.
    """
    profile = table_profile(fuel_l=3_600.0, fuel_burn_l_h=3_600.0, reserve_s=1_800.0, refuel_turn_s=900.0)
    for hours, litres in ((0.5, 10_000.0), (1.0, 15_000.0), (0.76, 10_000.0), (0.02, 0.0), (0.03, 1_000.0)):
        plan = plan_of(180.0, 1_000.0, profile, hours=hours)
        assert plan.sustained_litres_per_hour * hours == pytest.approx(litres), hours
    assert plan_of(
        180.0, 1_000.0, profile, loads_available=12.0, hours=9.0
    ).sustained_litres_per_hour * 9.0 == (pytest.approx(12_000.0))
    with pytest.raises(BadArgument, match="hours"):
        plan_of(180.0, 1_000.0, profile, hours=0.0)
