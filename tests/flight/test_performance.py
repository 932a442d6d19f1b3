"""Hover payload and water density."""

import math

import pytest

from geo.base.errors import BadArgument
from geo.flight.performance import liftable_kg, water_density_kg_l

TABLE = ((0.0, 10000.0), (1000.0, 9000.0), (3000.0, 5000.0))


@pytest.mark.parametrize(
    ("altitude", "expected"),
    [
        (-500, 10000),
        (0, 10000),
        (250, 9750),
        (1000, 9000),
        (2000, 7000),
        (3000, 5000),
        (3000.1, 0),
        (9000, 0),
    ],
)
def test_liftable_is_linear_between_rows_and_never_extrapolated(altitude, expected):
    assert liftable_kg(TABLE, altitude) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("table", "altitude"),
    [
        ((), 0.0),
        (((0.0, 1.0), (0.0, 2.0)), 0.0),
        (((1000.0, 1.0), (0.0, 2.0)), 0.0),
        (((0.0, -1.0),), 0.0),
        (((0.0, math.nan),), 0.0),
        (TABLE, math.nan),
    ],
)
def test_bad_tables_are_refused(table, altitude):
    with pytest.raises(BadArgument):
        liftable_kg(table, altitude)


def test_density_of_water():
    # TEOS-10 at 15 degC and 0 dbar: 999.103 and (S = 35) 1,025.976 kg/m3.
    assert water_density_kg_l("fresh") == pytest.approx(0.999103, abs=6e-7)
    assert water_density_kg_l("salt") == pytest.approx(1.025976, abs=6e-7)
    assert water_density_kg_l(practical_salinity=35.0) == water_density_kg_l("salt")
    # International handbook value (EOS-80 check table, UNESCO 1981): pure water at 5 degC 999.96675 kg/m3.
    assert water_density_kg_l("fresh", temperature_c=5.0) == pytest.approx(0.99996675, abs=2e-6)


def test_mass_of_ten_thousand_litres():
    # TEOS-10 at 15 degC, worked by hand: 9,991 kg fresh, 10,260 kg at S = 35 (+269 kg).
    fresh, salt = 10000 * water_density_kg_l("fresh"), 10000 * water_density_kg_l("salt")
    assert (round(fresh), round(salt), round(salt - fresh)) == (9991, 10260, 269)


def test_unknown_water_is_taken_as_the_heaviest_and_a_measurement_wins():
    assert water_density_kg_l() == water_density_kg_l("salt")
    assert water_density_kg_l("fresh") < water_density_kg_l("brackish") < water_density_kg_l("salt")
    assert water_density_kg_l("fresh", practical_salinity=20.0) == water_density_kg_l(practical_salinity=20.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: water_density_kg_l("sweet"),
        lambda: water_density_kg_l(practical_salinity=-1.0),
        lambda: water_density_kg_l(practical_salinity=math.nan),
        lambda: water_density_kg_l("fresh", temperature_c=80.0),
    ],
)
def test_bad_water_is_refused(call):
    with pytest.raises(BadArgument):
        call()
