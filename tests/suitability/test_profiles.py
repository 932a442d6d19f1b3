"""Aircraft profiles: values against their sources, units, and every fault reported at once."""

import re
from dataclasses import fields
from importlib.resources import files

import pytest

from geo.base.errors import BadInput
from geo.ingest.layers.aircraft import LARGEST_FILE_BYTES, load_profile, profile_names
from geo.records.aircraft import GroundHose, HoverFill, RamIntake

HEAVY_TEXT = (files("geo") / "profiles" / "heavy_tank_helicopter.toml").read_text(encoding="utf-8")


def own(tmp_path, *changes, text=HEAVY_TEXT):
    """A user's profile: the heavy one under an id of its own, with pieces of text replaced."""
    changes = ((r"^id = .*$", 'id = "mine"'), *changes)
    for pattern, new in changes:
        text, count = re.subn(pattern, new, text, count=1, flags=re.MULTILINE)
        assert count == 1, pattern
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    return path


def faults(path):
    """The faults that loading raises."""
    with pytest.raises(BadInput) as caught:
        load_profile(path)
    assert all(f.severity == "refuse" and f.cure for f in caught.value.faults)
    return caught.value.faults


def test_built_in_profiles_and_their_methods():
    assert {name: load_profile(name).methods() for name in profile_names()} == {
        "heavy_tank_helicopter": ("ram_intake", "hover_pump"),
        "light_bucket_helicopter": ("bucket_dip",),
        "medium_tank_helicopter": ("hover_pump",),
    }


def test_every_value_of_every_profile_has_a_source():
    for name in profile_names():
        profile = load_profile(name)
        plain = {f.name for f in fields(profile)} - {"profile_id", "name", "sources", "weights"}
        plain -= {"ram_intake", "hover_pump", "bucket_dip", "ground_hose"}
        plain -= {"hover_payload", "hover_payload_fuel_l", "hover_weight", "low_speed_weight"}
        # No value of a profile, but of a question.
        plain -= {"drop_run"}
        # What a profile may leave out, and does, is None and has no source.
        plain = {one for one in plain if getattr(profile, one) is not None}
        wanted = plain | {"hover_weight.density_altitude_m", "hover_weight.weight_kg"}
        wanted |= {f"weight.{one.name}" for one in fields(profile.weights)}
        kinds = {"ram_intake": RamIntake, "ground_hose": GroundHose}
        for method in (*profile.methods(), *(["ground_hose"] if profile.ground_hose is not None else [])):
            kind = kinds.get(method, HoverFill)
            filled = getattr(profile, method)
            wanted |= {f"{method}.{f.name}" for f in fields(kind) if getattr(filled, f.name) is not None}
        assert set(profile.sources) == wanted
        assert all(source.strip() for source in profile.sources.values())


def test_heavy_values():
    heavy = load_profile("heavy_tank_helicopter")
    # Common practice, no source: 10,000 L; ram intake 45 s at 50 km/h; hover pump 60 s.
    assert heavy.tank_l == 10_000.0
    assert (heavy.ram_intake.fill_time_s, heavy.hover_pump.fill_time_s) == (45.0, 60.0)
    assert heavy.ram_intake.speed_ms == pytest.approx(50.0 / 3.6)
    assert heavy.ram_intake.full_run_m == pytest.approx(720.0)
    # Rounded for a class, no source: no figure, nor all together, names a type.
    assert (heavy.fuel_l, heavy.fuel_burn_l_h, heavy.rotor_diameter_m) == (4_500.0, 1_900.0, 22.0)
    # ASTM D1655, table 1: jet fuel weighs 0.775 to 0.840 kg/L at 15 degC. Pump and hose: common practice, no source.
    assert 0.775 <= heavy.weights.fuel_kg_l <= 0.840
    assert 250.0 <= heavy.weights.equipment_kg <= 300.0
    # NWCG, Helicopter Landing Zone Selection: safety circles of 110, 90 and 75 ft across for types 1, 2, 3.
    medium, light = load_profile("medium_tank_helicopter"), load_profile("light_bucket_helicopter")
    radii_ft = [p.clear_radius_m / 0.3048 for p in (heavy.hover_pump, medium.hover_pump, light.bucket_dip)]
    assert radii_ft == pytest.approx([55.0, 45.0, 37.5])
    assert heavy.reserve_s >= 20.0 * 60.0  # US 14 CFR 91.151(b), rotorcraft VFR: 20 min


def test_users_own_profile_reads_like_a_built_in_one(tmp_path):
    mine, heavy = load_profile(own(tmp_path)), load_profile("heavy_tank_helicopter")
    assert mine.profile_id == "mine"
    assert (mine.ram_intake, mine.hover_pump, mine.sources) == (
        heavy.ram_intake,
        heavy.hover_pump,
        heavy.sources,
    )
    assert load_profile(str(tmp_path / "mine.toml")) == mine


def test_units_are_converted(tmp_path):
    path = own(
        tmp_path,
        (r"^tank = \{ value = 10000, unit = \"L\"", 'tank = { value = 2642, unit = "US gal"'),
        (r"^max_load = \{ value = 10000, unit = \"kg\"", 'max_load = { value = 22000, unit = "lb"'),
        (r"^fill_time = \{ value = 45, unit = \"s\"", 'fill_time = { value = 0.75, unit = "min"'),
        (
            r"^depth_probability = \{ value = 95, unit = \"%\"",
            'depth_probability = { value = 0.95, unit = "1"',
        ),
    )
    mine = load_profile(path)
    assert mine.tank_l == pytest.approx(10_001.06, abs=0.01)  # 231 cubic inches to the gallon
    assert mine.max_load_kg == pytest.approx(9_979.03, abs=0.01)  # 0.45359237 kg to the pound
    assert mine.ram_intake.fill_time_s == pytest.approx(45.0)
    assert mine.ram_intake.depth_probability == pytest.approx(0.95)


def test_what_a_profile_may_leave_out(tmp_path):
    """Surfaces of the aircraft's own: absent is None, given is read with unit, range and source."""
    intake = load_profile("heavy_tank_helicopter").ram_intake
    assert (intake.approach_slope, intake.climb_out_slope, intake.surface_divergence) == (None,) * 3
    keys = (
        '[ram_intake]\napproach_slope = { value = 20, unit = "%", source = "manual 4-3" }\n'
        'climb_out_slope = { value = 0.08, unit = "1", source = "manual 4-4" }\n'
        'surface_divergence = { value = 15, unit = "%", source = "manual 4-5" }'
    )
    mine = load_profile(own(tmp_path, (r"^\[ram_intake\]$", keys)))
    given = mine.ram_intake
    assert (given.approach_slope, given.climb_out_slope) == pytest.approx((0.2, 0.08))
    assert given.surface_divergence == pytest.approx(0.15)
    assert mine.sources["ram_intake.approach_slope"] == "manual 4-3"
    for wrong, rule in (
        (keys.replace("value = 20,", "value = 200,"), "must lie between"),
        (
            keys.replace('unit = "%", source = "manual 4-3"', 'source = "manual 4-3"'),
            "is not a unit of share",
        ),
        (keys.replace(', source = "manual 4-3"', ""), "every value needs a source"),
    ):
        (fault,) = faults(own(tmp_path, (r"^\[ram_intake\]$", wrong)))
        assert rule in fault.rule and fault.field.startswith("ram_intake.approach_slope")


def test_all_faults_come_at_once(tmp_path):
    path = own(
        tmp_path,
        (r"^tank = .*$", 'tank = { value = 10000, unit = "L" }'),
        (r"^cruise_empty = \{ value = 200, unit = \"km/h\"", 'cruise_empty = { value = 200, unit = "mph"'),
        (r"^entry = \{ value = 45", "entry = { value = -45"),
        (r"^burn = ", "brun = "),
        (r"^salt_allowed = \{ value = false", 'salt_allowed = { value = "no"'),
        (r"^weight = \{ values = \[21500, 20000", "weight = { values = [21500, 22000"),
    )
    found = {f.field: f.rule for f in faults(path)}
    assert found["load.tank.source"] == "every value needs a source"
    assert found["flight.cruise_empty.unit"] == "is not a unit of speed"
    assert "must lie between" in found["ram_intake.entry.value"]
    assert found["fuel.brun"] == "unknown key"
    assert found["fuel.burn"] == "is missing"
    assert found["hover_pump.salt_allowed.value"] == "is not true or false"
    assert "must not rise" in found["hover_weight.weight"]
    assert len(found) == 7


@pytest.mark.parametrize(
    ("pattern", "new", "field", "rule"),
    [
        (r"source = \"common practice, no source\"", 'source = "  "', "load.tank.source", "needs a source"),
        (
            r"^depth_probability = \{ value = 95",
            "depth_probability = { value = 101",
            "ram_intake.depth_probability.value",
            "between",
        ),
        (
            r"^depth_probability = \{ value = 95",
            "depth_probability = { value = 40",
            "ram_intake.depth_probability.value",
            "between",
        ),
        (r"^fill_time = \{ value = 45", "fill_time = { value = 0", "ram_intake.fill_time.value", "between"),
        (r"^fill_time = \{ value = 45", "fill_time = { value = nan", "ram_intake.fill_time.value", "finite"),
        (r"^fill_time = \{ value = 45", "fill_time = { value = inf", "ram_intake.fill_time.value", "finite"),
        (r"^fill_time = \{ value = 45", "fill_time = { value = true", "ram_intake.fill_time.value", "finite"),
        (r"^fill_time = \{ value = 45", 'fill_time = { value = "45"', "ram_intake.fill_time.value", "finite"),
        (
            r"^fill_time = \{ value = 45",
            f"fill_time = {{ value = 1{'0' * 400}",
            "ram_intake.fill_time.value",
            "finite",
        ),
        (
            r"^useful_loads = \{ value = 10",
            "useful_loads = { value = 2.5",
            "load.useful_loads.value",
            "whole",
        ),
        (
            r"values = \[0, 1500, 3000, 4500\]",
            "values = [0, 3000, 1500, 4500]",
            "hover_weight.density_altitude",
            "rise",
        ),
        (
            r"values = \[0, 1500, 3000, 4500\]",
            "values = [0, 1500, 3000]",
            "hover_weight",
            "3 altitudes but 4",
        ),
        (
            r"values = \[0, 1500, 3000, 4500\]",
            "values = [0]",
            "hover_weight.density_altitude.values",
            "at least two",
        ),
        (r"^reserve = \{ value = 30, unit = \"min\"", 'reserve = { value = 2, unit = "h"', None, None),
        (r"^capacity = \{ value = 4500", "capacity = { value = 760", "fuel.reserve", "endurance of 24 min"),
        (r"^gross = \{ value = 21000", "gross = { value = 19999", "weight.gross", "even without fuel"),
        (r"^crew = .*$", "", "weight.crew", "missing"),
        (
            r"^fuel_density = \{ value = 0.80",
            "fuel_density = { value = 800",
            "weight.fuel_density.value",
            "between",
        ),
        (r"^\[weight\]$", "[wait]", "hover_weight", "weights are not known"),
        (r"^\[hover_weight\]$", "[low_speed_weight]", "hover_weight", "not none and not two"),
        (
            r"^clear_radius = \{ value = 55",
            "clear_radius = { value = 30",
            "hover_pump.clear_radius",
            "rotor's radius",
        ),
        (r"^max_load = \{ value = 10000", "max_load = { value = 4000", "load.max_load", "least load"),
        (r"^\[cycle\]$", "[cylce]", "cycle", "missing"),
        (r"^name = .*$", "name = 7", "name", "missing"),
    ],
)
def test_each_rule(tmp_path, pattern, new, field, rule):
    path = own(tmp_path, (pattern, new))
    if field is None:  # a long reserve that still fits: no fault
        assert load_profile(path).reserve_s == 7_200.0
        return
    assert any(f.field == field and rule in f.rule for f in faults(path)), [
        f.sentence() for f in faults(path)
    ]


def test_a_profile_without_any_method_is_refused(tmp_path):
    text = HEAVY_TEXT[: HEAVY_TEXT.index("[ram_intake]")]
    assert any("no fill method" in f.rule for f in faults(own(tmp_path, text=text)))


def test_a_built_in_id_cannot_be_taken(tmp_path):
    path = tmp_path / "copy.toml"
    path.write_text(HEAVY_TEXT, encoding="utf-8")
    assert faults(path)[0].field == "id"


@pytest.mark.parametrize(
    "data",
    [b"id = ", b"\xff\xfe", b"a = " + b"[" * 5000, b"a = " + b"9" * 5000, b"#" * (LARGEST_FILE_BYTES + 1)],
)
def test_files_that_are_no_profile_end_in_one_clear_fault(tmp_path, data):
    path = tmp_path / "broken.toml"
    path.write_bytes(data)
    assert len(faults(path)) == 1


def test_names_and_paths_that_do_not_exist(tmp_path):
    assert "heavy_tank_helicopter" in faults("heavy")[0].cure
    assert "no such file" in faults(tmp_path / "none.toml")[0].rule
    assert (
        faults("../profiles/heavy_tank_helicopter")[0].rule
        == "there is no built-in aircraft profile of this name"
    )
