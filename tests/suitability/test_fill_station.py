"""Fill stations: each criterion just met, just not met and unknown; what is unknown never helps.

Exact invented cases; times and loads by hand from V + r t (n - 1) >= n L and coupling + litres / flow.
"""

from dataclasses import fields, replace
from datetime import date

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geo.ingest.layers.aircraft import load_profile
from geo.records.conditions import SourceConditions
from geo.records.region import Closure, Obstacle
from geo.records.station import FillStation
from geo.suitability.station import StationFacts, assess_station, loads_held, methods_at

HEAVY = load_profile("heavy_tank_helicopter")
HOSE, PUMP = HEAVY.ground_hose, HEAVY.hover_pump
AIR = SourceConditions(50.0, 60.0, 400.0, 20.0, 300.0, 300.0, 5.0, 12_000.0, 1.0, "20 degC")
PLACE = shapely.Point(0.0, 0.0)
PLANT = FillStation(
    "P", "plant", "mixing plant", PLACE, "here", "retardant", 20.0, 90.0, 200_000.0, 0.0, 30.0, 0.02,
    permission="granted",
)  # fmt: skip
TANK = FillStation(
    "D", "tank", "dip tank", PLACE, "here", "water", volume_l=30_000.0, clear_radius_m=30.0, depth_m=1.5,
    permission="granted",
)  # fmt: skip


def judged(station, *, air=AIR, day=None, closures=(), obstacles=(), profile=HEAVY):
    return assess_station(StationFacts(station, profile, air, closures, obstacles, True, day))


def only(station, **given_):
    (one,) = judged(station, **given_)
    return one


def state(station, name, **given_):
    return next(c.state for c in only(station, **given_).criteria if c.name == name)


def test_a_hose_takes_its_coupling_and_the_load_by_the_lesser_flow():
    """By hand: 90 s + 10,000 L / 20 L/s = 590 s; the profile takes 33.3 L/s at most: 60 s + 10,000 / 33.3 = 360 s."""
    one = only(PLANT)
    assert (one.verdict, one.method, one.agent, one.litres) == (
        "usable",
        "ground_hose",
        "retardant",
        10_000.0,
    )
    assert one.fill_time_s == pytest.approx(590.0)
    fast = only(replace(PLANT, flow_l_s=300.0, coupling_s=0.0))
    assert fast.fill_time_s == pytest.approx(HOSE.coupling_time_s + 10_000.0 / HOSE.most_flow_l_s) == 360.0
    assert "retardant" in one.reason and "ground hose" in one.reason


def test_an_open_tank_is_filled_from_the_hover():
    one = only(TANK)
    assert (one.verdict, one.method, one.agent) == ("usable", "hover_pump", "water")
    assert one.fill_time_s == PUMP.fill_time_s and one.loads_available == 3.0
    assert one.fill_point == PLACE and one.run_line is None


def test_which_kind_offers_which_method():
    offered = {
        kind: methods_at(replace(PLANT, kind=kind), HEAVY) for kind in ("hydrant", "tanker", "dip tank", None)
    }
    assert offered["hydrant"] == offered["tanker"] == ("ground_hose",)
    assert offered["dip tank"] == ("hover_pump",)
    assert offered[None] == ("ground_hose", "hover_pump")
    bucket = load_profile("light_bucket_helicopter")
    assert methods_at(PLANT, bucket) == () and methods_at(TANK, bucket) == ("bucket_dip",)
    assert methods_at(replace(PLANT, kind="portable tank"), HEAVY) == ("ground_hose", "hover_pump")


@pytest.mark.parametrize(
    ("station", "name", "changes"),
    [
        (PLANT, "rotor clearance", [("clear_radius_m", HOSE.clear_radius_m, -0.01)]),
        (PLANT, "slope", [("slope", HOSE.most_slope, 0.001)]),
        (TANK, "depth", [("depth_m", PUMP.depth_m, -0.01)]),
        (TANK, "rotor clearance", [("clear_radius_m", PUMP.clear_radius_m, -0.01)]),
        (TANK, "supply", [("volume_l", 10_000.0, -1.0)]),
    ],
)
def test_just_met_just_not_met_and_unknown(station, name, changes):
    ((field, limit, past),) = changes
    assert only(replace(station, **{field: limit})).verdict == "usable"
    assert state(replace(station, **{field: limit + past}), name) == "not met"
    assert only(replace(station, **{field: limit + past})).verdict == "not usable"
    unknown = only(replace(station, **{field: None}))
    assert (unknown.verdict, state(replace(station, **{field: None}), name)) == ("survey first", "unknown")


def test_what_it_holds_and_its_flow_must_be_known():
    for change in ({"agent": None}, {"flow_l_s": None}, {"kind": None}):
        assert {one.verdict for one in judged(replace(PLANT, **change))} == {"survey first"}


def test_an_unknown_coupling_time_counts_as_the_longest():
    assert only(replace(PLANT, coupling_s=None)).fill_time_s == pytest.approx(600.0 + 500.0)


def test_a_listed_obstacle_takes_the_room_that_its_keeper_states():
    pole = Obstacle("O", "pole", "mast", shapely.Point(16.0, 0.0), None, 9.0, "list")
    one = only(PLANT, obstacles=(pole,))
    assert one.verdict == "not usable" and "16.0 m, limited by mast pole" in one.reason
    far = Obstacle("O", "pole", "mast", shapely.Point(40.0, 0.0), None, 9.0, "list")
    assert only(PLANT, obstacles=(far,)).verdict == "usable"


def test_a_refusal_a_closed_area_or_a_gale_rule_it_out():
    assert "permission refused" in only(replace(PLANT, permission="refused")).reason
    area = Closure("C", "camp", "no filling", PLACE.buffer(5.0), "people")
    assert only(PLANT, closures=(area,)).verdict == "not usable"
    assert only(PLANT, air=replace(AIR, wind_ms=HOSE.wind_limit_ms + 0.1)).verdict == "not usable"


FROM, TO = date(2026, 11, 1), date(2026, 11, 30)


@pytest.mark.parametrize(
    ("kind", "days", "asked", "verdict"),
    [
        ("mixing plant", (None, None), None, "usable"),
        ("mixing plant", (FROM, TO), date(2026, 11, 30), "usable"),
        ("mixing plant", (FROM, TO), date(2026, 12, 1), "not usable"),
        ("mixing plant", (FROM, TO), None, "survey first"),
        # What is moved about is there only on stated days.
        ("tanker", (None, None), date(2026, 11, 5), "survey first"),
        ("tanker", (FROM, None), date(2026, 11, 5), "survey first"),
        ("tanker", (FROM, TO), date(2026, 11, 5), "usable"),
        # One that goes before it comes is never there.
        ("mixing plant", (TO, FROM), date(2026, 11, 5), "not usable"),
    ],
)
def test_a_station_counts_only_on_its_days(kind, days, asked, verdict):
    station = replace(PLANT, kind=kind, valid_from=days[0], valid_to=days[1])
    assert only(station, day=asked).verdict == verdict


def test_the_load_leaves_the_ground_only_if_it_can_be_lifted_in_the_hover():
    """Heavier contents, thinner air: 8,000 kg to be lifted of 1.1 kg/L are 7,272.7 L."""
    one = only(PLANT, air=replace(AIR, liftable_kg=8_000.0, water_density_kg_l=1.1))
    assert one.litres == pytest.approx(8_000.0 / 1.1) and one.litres_ruled_by == "hover payload"
    assert only(PLANT, air=replace(AIR, liftable_kg=None)).verdict == "survey first"


@pytest.mark.parametrize(
    ("volume_l", "refill_l_s", "loads"),
    [
        (30_000.0, None, 3.0),
        (30_000.0, 0.0, 3.0),
        # t = 0 + 30 + 60 + 10 s: 5,000 L run in, n = (30,000 - 5,000) / (10,000 - 5,000).
        (30_000.0, 50.0, 5.0),
        (30_000.0, 100.0, None),
        (9_000.0, 100.0, 0.9),
    ],
)
def test_the_loads_that_a_tank_gives(volume_l, refill_l_s, loads):
    tank = replace(TANK, volume_l=volume_l, refill_l_s=refill_l_s)
    assert loads_held(tank, 10_000.0, 0.0, HEAVY) == loads
    if loads is not None and loads >= 1.0:  # a plain simulation: fill, wait 100 s, fill ...
        left, filled = volume_l, 0
        while left >= 10_000.0 and filled < 99:
            left, filled = left - 10_000.0 + (refill_l_s or 0.0) * 100.0, filled + 1
        assert filled == int(loads)


def test_retardant_says_how_far_it_is_kept_from_water():
    """USDA Forest Service, WFCS, Guidelines for aerial application of retardant or foam near waterways: 300 ft, 5 s."""
    assert any("91 m (300 ft)" in said and "5 s" in said for said in only(PLANT).cautions)
    assert not any("300 ft" in said for said in only(replace(PLANT, agent="water")).cautions)


FACTS = [
    f.name
    for f in fields(FillStation)
    if f.name not in ("station_id", "name", "point", "origin", "note", "owner")
]


@settings(max_examples=300, deadline=None)
@given(
    kind=st.sampled_from(["hydrant", "mixing plant", "portable tank", "dip tank", "tanker"]),
    numbers=st.tuples(
        st.sampled_from([5.0, 20.0, 60.0]),
        st.sampled_from([0.0, 90.0, 600.0]),
        st.sampled_from([5_000.0, 30_000.0, 500_000.0]),
        st.sampled_from([0.0, 20.0, 120.0]),
        st.sampled_from([10.0, 18.0, 60.0]),
        st.sampled_from([0.0, 0.05, 0.2]),
        st.sampled_from([0.5, 1.2, 3.0]),
    ),
    agent=st.sampled_from(["water", "retardant", "foam"]),
    gone=st.sampled_from(FACTS),
)
def test_a_fact_less_never_helps(kind, numbers, agent, gone):
    """Permission is granted and the station stands on the day: a refusal or an end date is no fact in its favour."""
    whole = FillStation(
        "X", "x", kind, PLACE, "here", agent, *numbers, permission="granted", valid_from=FROM, valid_to=TO
    )
    day = date(2026, 11, 5)
    before = {one.method: one for one in judged(whole, day=day)}
    after = {one.method: one for one in judged(replace(whole, **{gone: None}), day=day)}
    for method, one in after.items():
        if one.verdict != "usable":
            continue
        known = before[method]
        assert known.verdict == "usable" and known.litres == one.litres
        assert one.fill_time_s >= known.fill_time_s and one.score <= known.score
        assert known.loads_available is None or one.loads_available <= known.loads_available
