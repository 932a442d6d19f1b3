"""The standard atmosphere against ISO 2533 / U.S. Standard Atmosphere 1976 tables and handbook problems."""

import numpy as np
import pytest

from geo.base.errors import BadArgument
from geo.flight import atmosphere as air

FOOT = 0.3048
HPA_PER_INHG = 33.8638866667  # conventional inch of mercury at 0 degC


def density_kg_m3(height_m):
    """The gas law p / (R T) with the standard's R, written out here."""
    return air.isa_pressure_pa(height_m) / (287.05287 * air.isa_temperature_k(height_m))


# ISO 2533 table, printed digits: height m, T K, p Pa, rho kg/m3, sigma (computed from the standard's formulas by
# another hand; equal to the published table in all digits shown).
TABLE = [
    (-500, 291.40, 107477.5, 1.28489, 1.04889),
    (0, 288.15, 101325.0, 1.22500, 1.00000),
    (500, 284.90, 95460.8, 1.16727, 0.95287),
    (1000, 281.65, 89874.6, 1.11164, 0.90746),
    (1500, 278.40, 84556.0, 1.05807, 0.86373),
    (2000, 275.15, 79495.2, 1.00649, 0.82162),
    (2500, 271.90, 74682.5, 0.95686, 0.78111),
    (3000, 268.65, 70108.5, 0.90912, 0.74214),
    (4000, 262.15, 61640.2, 0.81913, 0.66868),
    (5000, 255.65, 54019.9, 0.73612, 0.60091),
]
# Same, in feet: height ft, T degC, p hPa, inHg, sigma, 1/sqrt(sigma).
TABLE_FEET = [
    (0, 15.00, 1013.25, 29.921, 1.00000, 1.0000),
    (1000, 13.02, 977.17, 28.856, 0.97106, 1.0148),
    (2000, 11.04, 942.13, 27.821, 0.94277, 1.0299),
    (3000, 9.06, 908.12, 26.817, 0.91512, 1.0454),
    (4000, 7.08, 875.11, 25.842, 0.88809, 1.0611),
    (5000, 5.09, 843.07, 24.896, 0.86167, 1.0773),
    (6000, 3.11, 812.00, 23.978, 0.83586, 1.0938),
    (7000, 1.13, 781.85, 23.088, 0.81065, 1.1107),
    (8000, -0.85, 752.62, 22.225, 0.78602, 1.1279),
    (10000, -4.81, 696.82, 20.577, 0.73848, 1.1637),
]
# U.S. Standard Atmosphere 1976 layer points, from an open test suite: height m, T K, p Pa, rho kg/m3.
LAYERS = [
    (-1000, 294.65, 113929.1, 1.346995),
    (11000, 216.65, 22632.06, 0.3639178),
    (20000, 216.65, 5474.889, 0.0880348),
]


@pytest.mark.parametrize(("height", "kelvin", "pascal", "density", "sigma"), TABLE)
def test_iso_2533_table(height, kelvin, pascal, density, sigma):
    assert air.isa_temperature_k(height) == pytest.approx(kelvin, abs=0.005)
    assert air.isa_pressure_pa(height) == pytest.approx(pascal, abs=0.051)
    assert density_kg_m3(height) == pytest.approx(density, abs=5.1e-6)
    assert density_kg_m3(height) / density_kg_m3(0.0) == pytest.approx(sigma, abs=5.1e-6)


@pytest.mark.parametrize(("feet", "celsius", "hpa", "inhg", "sigma", "tas_factor"), TABLE_FEET)
def test_iso_table_in_feet(feet, celsius, hpa, inhg, sigma, tas_factor):
    height = feet * FOOT
    assert air.isa_temperature_k(height) - 273.15 == pytest.approx(celsius, abs=0.0051)
    assert air.isa_pressure_pa(height) / 100 == pytest.approx(hpa, abs=0.0051)
    assert air.isa_pressure_pa(height) / 3386.38866667 == pytest.approx(inhg, abs=0.00051)
    ratio = density_kg_m3(height) / 1.225
    assert ratio == pytest.approx(sigma, abs=5.1e-6)
    assert ratio**-0.5 == pytest.approx(tas_factor, abs=5.1e-5)


@pytest.mark.parametrize(("height", "kelvin", "pascal", "density"), LAYERS)
def test_layer_points(height, kelvin, pascal, density):
    assert air.isa_temperature_k(height) == pytest.approx(kelvin, abs=1e-9)
    # The 1976 standard has R = 287.05310 (8,314.32 / 28.9644), ISO 2533 prints 287.05287: 1e-6 per scale height.
    assert air.isa_pressure_pa(height) == pytest.approx(pascal, rel=3e-6)
    assert density_kg_m3(height) == pytest.approx(density, rel=3e-6)


@pytest.mark.parametrize(("altimeter_inhg", "correction_ft"), [(30.10, -165), (29.70, 205), (29.921, 0)])
def test_pressure_altitude_of_handbook_table(altimeter_inhg, correction_ft):
    # FAA PHAK, pressure altitude conversion table.
    shift = air.pressure_altitude_m(0.0, altimeter_inhg * HPA_PER_INHG) / FOOT
    assert shift == pytest.approx(correction_ft, abs=1.0)


@pytest.mark.parametrize("qnh", [960.0, 995.5, 1013.25, 1030.0])
def test_pressure_altitude_against_common_formula(qnh):
    # 145,366.45 ft form (from memory of the weather service's formula); agreement within its rounding of constants.
    common = 1500.0 + 145366.45 * FOOT * (1.0 - (qnh / 1013.25) ** 0.190284)
    assert air.pressure_altitude_m(1500.0, qnh) == pytest.approx(common, abs=0.3)


# (pressure altitude ft, temperature C, published ft, tolerance ft, source); "exact dry" rows
# are the same physics worked by another hand beside the published figure.
DENSITY_ALTITUDES = [
    (5718, (70 - 32) / 1.8, 7700, 50, "FAA PHAK density altitude chart, sample problem 1"),
    (5718, (70 - 32) / 1.8, 7710, 5, "exact dry"),
    (3500, 27, 5657, 1, "exact dry; the 120 ft rule of the ATPL(H) item gives 5,780"),
    (6000, -15, 3780, 30, "light-helicopter flight manual fig. 5-6"),
    (6000, -15, 3760, 5, "exact dry"),
    (6027, 15, 7407, 1, "exact dry; exercise gives 7,467 by the rule"),
    (5470, 35, 8895, 1, "exact dry; worked page gives 9,070 by the rule"),
]


@pytest.mark.parametrize(
    ("pressure_ft", "celsius", "expected_ft", "tolerance_ft", "source"), DENSITY_ALTITUDES
)
def test_density_altitude(pressure_ft, celsius, expected_ft, tolerance_ft, source):
    answer = air.density_altitude_m(pressure_ft * FOOT, celsius) / FOOT
    assert answer == pytest.approx(expected_ft, abs=tolerance_ft), source


def test_whole_chain_of_handbook_sample_problem():
    # FAA PHAK sample problem 1: elevation 5,883 ft, 70 F, 30.10 inHg -> PA 5,718 ft, DA about 7,700 ft.
    pressure = air.pressure_altitude_m(5883 * FOOT, 30.10 * HPA_PER_INHG)
    assert pressure / FOOT == pytest.approx(5718, abs=1.0)
    assert air.density_altitude_m(pressure, (70.0 - 32.0) / 1.8) / FOOT == pytest.approx(7700, abs=50)


def test_airspeed_factor_of_flight_manual():
    # Light-helicopter flight manual fig. 5-6: 1.058, 98.5 kt calibrated -> 104.2 kt true.
    factor = (density_kg_m3(3780 * FOOT) / 1.225) ** -0.5
    assert factor == pytest.approx(1.058, abs=0.0006)
    assert 98.5 * factor == pytest.approx(104.2, abs=0.05)


def test_standard_day_is_its_own_density_altitude():
    heights = np.array([-200.0, 0.0, 800.0, 2500.0, 6000.0])
    standard_c = air.isa_temperature_k(heights) - 273.15
    assert air.density_altitude_m(heights, standard_c) == pytest.approx(heights, abs=1e-6)
    assert air.pressure_altitude_m(heights, 1013.25) == pytest.approx(heights, abs=1e-9)


def test_temperature_falls_by_the_standard_lapse():
    assert air.temperature_at_c(34.0, 200.0, 1200.0) == pytest.approx(27.5)
    assert air.temperature_at_c(34.0, 1200.0, 200.0) == pytest.approx(40.5)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: air.density_altitude_m(500.0, 93.0), "Fahrenheit"),
        (lambda: air.density_altitude_m(500.0, -61.0), "Celsius"),
        (lambda: air.density_altitude_m(float("nan"), 20.0), "metres"),
        (lambda: air.density_altitude_m(500.0, float("nan")), "finite"),
        (lambda: air.density_altitude_m(500.0, np.array([20.0, 80.0])), "Fahrenheit"),
        (lambda: air.temperature_at_c(300.0, 0.0, 0.0), "kelvin"),
        (lambda: air.pressure_altitude_m(100.0, 29.92), "inHg"),
        (lambda: air.pressure_altitude_m(100.0, 101.3), "kilopascal"),
        (lambda: air.pressure_altitude_m(100.0, 101325.0), "pascal"),
        (lambda: air.pressure_altitude_m(100.0, 760.0), "QFE"),
        (lambda: air.pressure_altitude_m(100.0, float("nan")), "hectopascal"),
        (lambda: air.pressure_altitude_m(12000.0, 1013.0), "metres"),
        (lambda: air.isa_pressure_pa(20001.0), "20000"),
    ],
)
def test_out_of_range_is_refused_with_the_cure(call, words):
    with pytest.raises(BadArgument, match=words):
        call()
