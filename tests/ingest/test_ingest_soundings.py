"""Soundings: signs, units, bodies and uncertainties; published survey classes; salinity from conductivity."""

import gsw
import numpy as np
import pytest
import shapely
from ingest_files import HEAD, LAKE, POND, SOUNDINGS, WATER, frame_of, write_region

from geo.base.geodesy import to_plane
from geo.base.units import METRE_PER_FOOT
from geo.ingest.checks.report import Report
from geo.ingest.layers.salinity import salinity_from_conductivity
from geo.ingest.layers.survey_quality import CATZOC_ZONES, S44_ORDERS, Uncertainty, declared_uncertainty
from geo.ingest.load_region import check_region, load_region
from geo.ingest.settings import SoundingsFile

TOML = HEAD + WATER + '[water.columns]\nid = "ref"\n' + SOUNDINGS
FULL = TOML + 'uncertainty = "u"\ndate = "day"\nbody = "body"\n'


def region_of(folder, worker, rows, toml=TOML, header="lon,lat,depth"):
    write_region(folder, toml, ref=["lake", "pond"])
    (folder / "s.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    faults, summary = check_region(folder, worker=worker)
    return (load_region(folder, worker=worker) if summary["usable"] else None), faults


def grid_rows(depths):
    return [
        f"{-30.018 + 0.001 * (k % 17):.4f},{-40.009 + 0.001 * (k // 17):.4f},{d}"
        for k, d in enumerate(depths)
    ]


def test_values_places_and_origins(tmp_path, worker):
    rows = ["-30.01,-40.005,5.5,0.392,2024-02-29,lake", "-29.958,-40.048,2,,2024-02-30,pond"]
    region, faults = region_of(tmp_path, worker, rows, FULL, "lon,lat,depth,u,day,body")
    found = region.soundings
    assert found.body_id.tolist() == ["lake", "pond"]
    assert found.depth_m.tolist() == [5.5, 2.0]
    # 95 % of a normal distribution is 1.96 sigma; order 1a at 2 m is 0.501 m (S-44 Edition 6, Table 1).
    assert found.sd_m == pytest.approx([0.392 / 1.96, 0.501 / 1.96], abs=3e-4)
    assert found.origin == ("s.csv line 2", "s.csv line 3")
    assert [str(day) for day in found.measured_on] == ["2024-02-29", "None"]
    east, north = to_plane(region.frame.crs_wkt, np.array([-30.01]), np.array([-40.005]))
    assert (found.easting_m[0], found.northing_m[0]) == (pytest.approx(east[0]), pytest.approx(north[0]))
    assert [(fault.severity, fault.field, fault.value) for fault in faults] == [
        ("caution", "day", "2024-02-30")
    ]


def test_points_of_a_vector_file_and_of_a_table_agree(tmp_path, worker):
    one, _ = region_of(tmp_path, worker, ["-30.01,-40.005,5.5", "-30.011,-40.004,7"])
    points = [shapely.Point(-30.01, -40.005), shapely.Point(-30.011, -40.004)]
    frame_of(points, depth=[5.5, 7.0]).to_crs("EPSG:32726").to_file(tmp_path / "s.gpkg")
    toml = TOML.replace("s.csv", "s.gpkg").replace('crs = "EPSG:4326"\n', "")
    (tmp_path / "region.toml").write_text(toml)
    two = load_region(tmp_path, worker=worker)
    assert two.soundings.easting_m == pytest.approx(one.soundings.easting_m, abs=1e-3)
    assert two.soundings.northing_m == pytest.approx(one.soundings.northing_m, abs=1e-3)
    assert two.soundings.depth_m.tolist() == one.soundings.depth_m.tolist()


@pytest.mark.parametrize(("unit", "metres"), [("metre", 1.0), ("foot", METRE_PER_FOOT), ("fathom", 1.8288)])
def test_units(tmp_path, worker, unit, metres):
    region, _ = region_of(tmp_path, worker, ["-30.01,-40.005,3"], TOML.replace('"metre"', f'"{unit}"'))
    assert region.soundings.depth_m[0] == pytest.approx(3 * metres)


def test_positive_up(tmp_path, worker):
    region, _ = region_of(tmp_path, worker, ["-30.01,-40.005,-3"], TOML.replace('"down"', '"up"'))
    assert region.soundings.depth_m.tolist() == [3.0]


def test_mixed_signs_are_asked_about_and_few_are_set_aside(tmp_path, worker):
    region, (fault,) = region_of(tmp_path, worker, grid_rows([5, -5, 6, -6]))
    assert region is None and fault.severity == "ask" and "2 of 4" in fault.rule
    region, (fault,) = region_of(tmp_path, worker, grid_rows([5] * 39 + [-5]))
    assert len(region.soundings) == 39 and fault.severity == "quarantine" and fault.feature == "line 41"


@pytest.mark.parametrize(
    ("missing", "field"),
    [
        ('unit = "metre"\n', "soundings.unit"),
        ('positive = "down"\n', "soundings.positive"),
        ('survey_order = "1a"\n', "soundings.survey_order"),
        ('latitude = "lat"\n', "soundings.columns"),
    ],
)
def test_what_soundings_must_declare(tmp_path, worker, missing, field):
    region, (fault,) = region_of(tmp_path, worker, ["-30.01,-40.005,3"], TOML.replace(missing, ""))
    assert region is None and (fault.severity, fault.field) == ("ask", field)


def test_rows_that_cannot_be_used_are_listed(tmp_path, worker):
    rows = [
        "-30.01,-40.005,5,,,lake",
        "-30.0,-40.02,5,,,",  # 2220 m south of the corner of the lake at -30.0, -40.0; its south shore is 1110 m away
        "-30.01,-40.004,abc,,,",
        "-30.01,-40.003,,,,",
        "-30.01,-40.002,5,,,pond",
        "-30.01,-40.001,812,,,",
        "0,0,5,,,",
        ",-40.005,5,,,",
        "-30.01,-95,5,,,",
    ]
    region, faults = region_of(tmp_path, worker, rows, FULL, "lon,lat,depth,u,day,body")
    said = {fault.feature: fault for fault in faults}
    assert len(region.soundings) == 1 and set(said) == {f"line {k}" for k in range(3, 11)}
    assert all(fault.severity == "quarantine" for fault in faults)
    assert "lake, 1110" in said["line 3"].cure
    assert (said["line 4"].field, said["line 4"].value) == ("depth", "abc")
    assert "no depth" in said["line 5"].rule
    assert "says another body" in said["line 6"].rule and said["line 6"].value == "pond"
    assert said["line 7"].value == "812.00 m"
    assert "0, 0" in said["line 8"].rule
    assert "missing" in said["line 9"].rule
    assert "outside longitude and latitude" in said["line 10"].rule


def test_absurd_depth_is_set_aside(tmp_path, worker):
    region, (fault,) = region_of(tmp_path, worker, grid_rows([4, 5, 6, 7, 8, 9, 55]))
    assert region.soundings.depth_m.max() == 9 and fault.value == "55.00 m"
    assert "far below" in fault.rule
    # 20 m is 2.5 times the second deepest round it (geo.base.outliers), not more.
    region, faults = region_of(tmp_path, worker, grid_rows([4, 5, 6, 7, 8, 9, 20]))
    assert region.soundings.depth_m.max() == 20 and faults == ()


def test_of_two_depths_at_one_place_the_shallower_is_kept(tmp_path, worker):
    rows = ["-30.01,-40.005,9", "-30.01,-40.005,6", "-30.012,-40.005,6.0", "-30.012,-40.005,6.3"]
    region, (fault,) = region_of(tmp_path, worker, rows)
    # Order 1a at 6 m is 0.506 m each: 3 m apart they disagree, 0.3 m apart they agree and both stay.
    assert region.soundings.depth_m.tolist() == [6.0, 6.0, 6.3]
    assert "3.00 m" in fault.rule and fault.feature == "line 2"


def test_soundings_in_no_water_at_all_are_asked_about(tmp_path, worker):
    region, faults = region_of(tmp_path, worker, ["-35.01,-40.005,9"])
    assert region is None and [fault.severity for fault in faults] == ["ask", "quarantine"]


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("lon,lat,depth\n-30.01,-40.005,3,5\n", "line 2"),
        ("lon,lat,depth,Depth\n-30.01,-40.005,3,5\n", "stands twice"),
        ("lon,lat,tiefe\n-30.01,-40.005,3\n", "depth is not in the table"),
        ("lon;lat;depth\n-30,01;-40.005;3,5\n", "decimal point and with decimal comma"),
        ("lon,lat,depth\n", "no rows"),
        ('lon,lat,depth\n"-30.01,-40.005,3\n', "line 2"),
        ('lon,lat,depth\n"-30.01,-40.005",3\n', "line 2"),
        ('lon,lat,depth\n-30.01,-40.005,"3"5\n', "line 2"),
    ],
)
def test_broken_tables(tmp_path, worker, text, rule):
    write_region(tmp_path, TOML, ref=["lake", "pond"])
    (tmp_path / "s.csv").write_text(text)
    fault = check_region(tmp_path, worker=worker)[0][0]
    assert fault.blocks and rule in fault.rule


@pytest.mark.parametrize("encoding", ["UTF-8-SIG", "UTF-16", "ISO-8859-1"])
def test_decimal_comma_and_encodings(tmp_path, worker, encoding):
    write_region(tmp_path, TOML, ref=["lake", "pond"])
    (tmp_path / "s.csv").write_text("lon;lat;depth;bemærkning\n-30,01;-40,005;3,5;dybt\n", encoding=encoding)
    region = load_region(tmp_path, worker=worker)
    assert region.soundings.depth_m.tolist() == [3.5]
    assert any("decimal comma" in fault.rule for fault in region.cautions)


# IHO S-44 Edition 6 (2020), Table 1: TVU_max = sqrt(a^2 + (b d)^2) at 95 % [m], printed to 0.001 m.
S44_TABLE = {
    "exclusive": (0.151, 0.155, 0.168, 0.212, 0.270, 0.335, 0.765),
    "special": (0.250, 0.253, 0.261, 0.292, 0.336, 0.391, 0.791),
    "1a": (0.501, 0.504, 0.517, 0.564, 0.634, 0.721, 1.393),
    "1b": (0.501, 0.504, 0.517, 0.564, 0.634, 0.721, 1.393),
    "2": (1.001, 1.007, 1.026, 1.101, 1.215, 1.359, 2.508),
}


@pytest.mark.parametrize("order", S44_TABLE)
def test_s44_orders(order):
    depths = np.array([2, 5, 10, 20, 30, 40, 100], float)
    found = Uncertainty(*S44_ORDERS[order], False, "").at_95_m(depths)
    assert found == pytest.approx(S44_TABLE[order], abs=6e-4)


@pytest.mark.parametrize(
    ("zone", "depths", "expected"),
    [
        # IHO S-68 Edition 1.1.0 (2025), Table A-1: A1 as published; A2, B and C from its formulas.
        ("A1", (10, 30, 100, 1000), (0.6, 0.8, 1.5, 10.5)),
        ("A2", (10, 30, 100), (1.2, 1.6, 3.0)),
        ("B", (10, 30, 100), (1.2, 1.6, 3.0)),
        ("C", (10, 30, 100), (2.5, 3.5, 7.0)),
        # D is "worse than C" without a number; twice C is this program's own choice.
        ("D", (10, 30, 100), (5.0, 7.0, 14.0)),
    ],
)
def test_catzoc_zones(zone, depths, expected):
    uncertainty = declared_uncertainty(SoundingsFile(file="s", catzoc=zone), Report().about("s"))
    assert uncertainty.at_95_m(np.array(depths, float)) == pytest.approx(expected)
    a_m, b = uncertainty.quadrature_terms()
    in_quadrature = np.hypot(a_m, b * np.array(depths))
    assert (in_quadrature >= np.array(expected) - 1e-9).all() and (
        in_quadrature < 1.4143 * np.array(expected)
    ).all()
    assert ("no source" in uncertainty.origin) == (zone == "D")
    assert CATZOC_ZONES["U"] == CATZOC_ZONES["D"]  # S-67 section 5.1: U is treated like D


def test_two_declarations_of_uncertainty_are_refused(tmp_path, worker):
    toml = TOML.replace('survey_order = "1a"', 'survey_order = "1a"\ncatzoc = "B"')
    region, faults = region_of(tmp_path, worker, ["-30.01,-40.005,3"], toml)
    assert region is None and "more than one way" in faults[0].rule


# UNESCO Technical Papers in Marine Science 44 (1983), p. 9: R = C / C(35, 15, 0), t68 [deg C], p [dbar], S.
PSS78_CHECKS = [(1.0, 15.0, 0.0, 35.0), (1.2, 20.0, 2000.0, 37.245628), (0.65, 5.0, 1500.0, 27.995347)]
C_35_15_0_MS_CM = 42.914


@pytest.mark.parametrize(("ratio", "t68_c", "pressure_dbar", "salinity"), PSS78_CHECKS)
def test_the_library_gives_the_published_salinities(ratio, t68_c, pressure_dbar, salinity):
    found = gsw.SP_from_C(ratio * C_35_15_0_MS_CM, t68_c / 1.00024, pressure_dbar)
    assert found == pytest.approx(salinity, abs=2e-6)


def test_standard_sea_water():
    assert salinity_from_conductivity(C_35_15_0_MS_CM, 15.0 / 1.00024) == pytest.approx(35.0, abs=1e-6)


# Conductivity [mS/cm] at 25 deg C (t68) of the class limits, computed with a TEOS-10 library (not independent of gsw).
@pytest.mark.parametrize(
    ("conductivity_ms_cm", "salinity"),
    [
        (1.0146, 0.5),
        (1.9687, 1.0),
        (5.5584, 3.0),
        (8.9588, 5.0),
        (17.0222, 10.0),
        (46.2478, 30.0),
        (59.7269, 40.0),
    ],
)
def test_conductivity_of_class_limits(conductivity_ms_cm, salinity):
    found = salinity_from_conductivity(conductivity_ms_cm, 25.0 / 1.00024)
    assert found == pytest.approx(salinity, abs=2e-4)


SALT = (
    HEAD + WATER + 'conductivity_unit = "mS/cm"\n[water.columns]\nid = "ref"\nsalinity_class = "salt"\n'
    'conductivity = "cond"\nconductivity_temperature = "temp"\n[water.salinity_classes]\n"sweet" = "fresh"\n'
)


def test_salinity_evidence(tmp_path, worker):
    columns = {"salt": ["sweet", "odd"], "cond": [C_35_15_0_MS_CM, 2.0], "temp": [15.0, None]}
    write_region(tmp_path, SALT, ref=["lake", "pond"], **columns)
    faults, _ = check_region(tmp_path, worker=worker)
    lake, pond = load_region(tmp_path, worker=worker).bodies
    assert lake.salinity.stated_class == "fresh"
    assert lake.salinity.practical_salinity == pytest.approx(35.0, abs=0.01)
    assert pond.salinity is None
    assert {(fault.severity, fault.field) for fault in faults} == {("caution", "salt"), ("caution", "cond")}
    (tmp_path / "region.toml").write_text(SALT.replace("mS/cm", "uS/cm"))
    assert load_region(tmp_path, worker=worker).bodies[0].salinity.practical_salinity < 0.05
    (tmp_path / "region.toml").write_text(SALT.replace('conductivity_unit = "mS/cm"\n', ""))
    asked = [fault.field for fault in check_region(tmp_path, worker=worker)[0] if fault.blocks]
    assert asked == ["water.conductivity_unit"]


def test_smaller_body_owns_a_sounding_where_two_overlap(tmp_path, worker):
    # A basin that reaches into the lake by 5 % of its own area: told, and the sounding there is the basin's.
    basin = shapely.box(-30.012, -40.0002, -30.008, -39.9962)
    write_region(tmp_path, TOML, [LAKE, basin, POND], ref=["lake", "basin", "pond"])
    (tmp_path / "s.csv").write_text("lon,lat,depth\n-30.01,-40.0001,3\n-30.01,-40.005,4\n")
    region = load_region(tmp_path, worker=worker)
    assert region.soundings.body_id.tolist() == ["basin", "lake"]
    (caution,) = region.cautions
    assert (
        "5 % of the smaller" in caution.rule
        and "1 sounding is torn between them (s.csv line 2)" in caution.rule
    )


def test_a_water_drawn_inside_another_is_asked_about(tmp_path, worker):
    inner = shapely.box(-30.012, -40.006, -30.008, -40.004)
    write_region(tmp_path, TOML, [LAKE, inner, POND], ref=["lake", "inner", "pond"])
    (tmp_path / "s.csv").write_text("lon,lat,depth\n-30.01,-40.005,3\n-30.019,-40.009,4\n")
    faults, summary = check_region(tmp_path, worker=worker)
    assert not summary["usable"] and [fault.severity for fault in faults] == ["ask"]
    assert "100 % of the smaller" in faults[0].rule and "inner" in faults[0].feature
    assert "1 sounding is torn between them (s.csv line 2)" in faults[0].rule and "lake" in faults[0].feature


def test_a_spike_that_is_not_absurd_is_still_set_aside_by_its_neighbours(tmp_path, worker):
    """55 m is absurd for the whole lake (above); 14 m among 3 m is so only where it stands. A shoal stays."""
    depths = [3.0 + 0.01 * k for k in range(60)]
    depths[28], depths[40] = 14.0, 0.3
    region, (fault,) = region_of(tmp_path, worker, grid_rows(depths))
    assert len(region.soundings) == 59 and region.soundings.depth_m.max() < 4.0
    assert region.soundings.depth_m.min() == 0.3
    assert (fault.severity, fault.feature, fault.value) == ("quarantine", "line 30", "14.00 m")
    assert "2.5 times" in fault.rule and "lake" in fault.rule and "hole is real" in fault.cure
