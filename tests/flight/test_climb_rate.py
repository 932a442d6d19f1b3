"""The climb's clock against the closed integral in the standard atmosphere, and what it does to legs."""

import math

import numpy as np
import pytest

from geo.base.errors import BadArgument
from geo.base.geodesy import local_crs
from geo.base.grid import Grid
from geo.flight.legs.climb_rate import CEILING_RATE_MS, climb_clock, climb_gradient, climb_seconds
from geo.flight.legs.corridor import corridor
from geo.flight.legs.flight_state import FlightState, rule_of
from geo.flight.legs.no_fly_routes import airspace
from geo.flight.routing.route_ground import route_ground
from geo.flight.routing.route_kernels import route_seconds
from tests.flight.flying import TerrainLegs, at, leg

CRS = local_crs(150.0, -36.0).to_wkt()
STANDARD = (15.0, 0.0, 1013.25)


@pytest.mark.parametrize(("low", "high"), [(0.0, 500.0), (100.0, 2600.0), (1500.0, 3600.0)])
def test_standard_day_is_the_closed_integral(low, high):
    # In the standard atmosphere density altitude is the height, so the rate is c0 - k z and the time
    # ln((c0 - k z0) / (c0 - k z1)) / k. The table is linear over 25 m.
    clock = climb_clock(3.3, 3657.6, *STANDARD)
    k = (3.3 - CEILING_RATE_MS) / 3657.6
    exact = math.log((3.3 - k * low) / (3.3 - k * high)) / k
    assert climb_seconds(clock, low, high) == pytest.approx(exact, rel=1e-4)
    assert clock.top_m == pytest.approx(3657.6, abs=0.1)


def test_a_constant_rate_is_a_division():
    assert climb_seconds(4.0, 100.0, 500.0) == 100.0


def test_hot_low_pressure_air_slows_the_climb_and_lowers_the_ceiling():
    cool, hot = climb_clock(3.3, 3657.6, *STANDARD), climb_clock(3.3, 3657.6, 34.0, 0.0, 995.0)
    assert climb_seconds(hot, 200.0, 1200.0) > 1.2 * climb_seconds(cool, 200.0, 1200.0)
    # Common rule of thumb: 120 ft of density altitude per degree above standard; 19 degC and 18 hPa (30 ft each) give
    # about 2,800 ft. The ceiling falls by less, as geometric height counts less than density altitude.
    assert 600.0 < cool.top_m - hot.top_m < 900.0


def test_air_denser_than_standard_does_not_raise_the_rate():
    cold = climb_clock(3.3, 3657.6, -10.0, 0.0, 1030.0)
    assert cold.fastest_ms == pytest.approx(3.3)
    assert climb_seconds(cold, 0.0, 33.0) == pytest.approx(10.0, rel=1e-9)


@pytest.mark.parametrize(
    "change", [{"climb_ms": 0.0}, {"ceiling_m": -1.0}, {"oat_c": 95.0}, {"qnh_hpa": 29.9}]
)
def test_values_out_of_range_are_refused(change):
    plain = {
        "climb_ms": 3.3,
        "ceiling_m": 3657.6,
        "oat_c": 30.0,
        "station_elevation_m": 0.0,
        "qnh_hpa": 1009.0,
    }
    with pytest.raises(BadArgument):
        climb_clock(**{**plain, **change})


def hill():
    grid = Grid(np.zeros((300, 300)), -9000.0, 9000.0, 60.0, 60.0)
    grid.values[60:240, 140:160] = 1200.0
    return grid


def state(climb):
    return FlightState(50.0, 40.0, climb, 5.0, 150.0, 150.0, 3000.0, 0.0, 0.0)


def fly(climb, points=((-8000.0, 0.0), (8000.0, 0.0))):
    ground = corridor(hill(), 150.0)
    return leg(points[0], points[-1], CRS, 0.0, 0.0, state(climb), ground)


def test_the_climb_of_a_leg_takes_the_clocks_time():
    # The hill is near enough that the climb ends in circles before it: the clock's time less the cruise time over the
    # ground covered while climbing, up to where the hill's corridor starts.
    clock = climb_clock(4.0, 4000.0, 34.0, 0.0, 1009.0)
    constant, slowed = fly(4.0), fly(clock)
    more = float(climb_seconds(clock, 0.0, 1350.0)) - 1350.0 / 4.0
    assert more > 60.0
    assert slowed.climb_extra_s - constant.climb_extra_s == pytest.approx(more, rel=1e-6)


def test_no_fly_routes_are_sought_by_the_clock():
    clock = climb_clock(4.0, 4000.0, 34.0, 0.0, 1009.0)
    prepared, direct = corridor(hill(), 150.0), fly(clock)
    for method, places in (("legs_to", (8000.0, -8000.0)), ("legs_from", (-8000.0, 8000.0))):
        sought = TerrainLegs(prepared, airspace([]), CRS)
        hub, other = places
        found = getattr(sought, method)((hub, 0.0), 0.0, [((other, 0.0), 0.0)], state(clock))[0]
        assert found.detour
        assert found.time_s < 0.85 * direct.time_s
    ground = route_ground(prepared, airspace([]))
    straight = np.array([(-8000.0, 0.0), (8000.0, 0.0)])
    rule = rule_of(at((0.0, 0.0), 0.0), at((0.0, 0.0), 0.0), state(clock), 0.0, ground.lowest_m)
    assert route_seconds(straight, ground.open, rule, math.inf) == pytest.approx(direct.time_s, rel=2e-3)


def test_the_hottest_day_asked_for_has_a_clock_below_its_station_too():
    """59 degC at a station of 0 m would be 62 degC at -500 m, out of every formula's range; nothing flies there."""
    clock = climb_clock(8.0, 4000.0, 59.0, 0.0, 1013.25)
    assert np.all(np.diff(clock.seconds) > 0.0) and 0.0 < clock.top_m < 4000.0


def test_gradient_of_a_climb_is_its_rise_over_its_way():
    """Trigonometry: 650 ft/min at 75 kt rises 3.302 m in a second and covers sqrt(38.583^2 - 3.302^2) m of ground."""
    still = climb_gradient(650 * 0.00508, 3657.6, 75 * 0.514444, 0.0)
    assert still == pytest.approx(3.302 / math.sqrt(38.5833**2 - 3.302**2), rel=1e-6)
    # At 796 m of a ceiling of 3,657.6 m: 3.302 - (3.302 - 0.508) x 0.21763 = 2.694 m/s.
    thin = climb_gradient(650 * 0.00508, 3657.6, 75 * 0.514444, 796.0)
    assert thin == pytest.approx(2.694 / math.sqrt(38.5833**2 - 2.694**2), rel=1e-3)
