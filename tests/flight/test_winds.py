"""Legs in winds that change by height and place: closed-form integrals, a published Zermelo problem, unknown winds.

Closed forms are worked beside each check. The plane lies on the equator, where grid north is true north and a track due
east is a geodesic.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from scipy.integrate import cumulative_simpson, quad

from geo.base.errors import BadArgument, NotFlyable
from geo.base.geodesy import local_crs
from geo.base.grid import Grid
from geo.flight.legs.corridor import corridor
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.no_fly_routes import airspace
from geo.flight.winds import POWER_LAW_TOP_M, Nodes, winds_of
from geo.records.conditions import Weather, WindField, WindProfile, WindRow
from geo.records.flight import Leg
from tests.flight.flying import TerrainLegs, best_leg, leg

CRS = local_crs(150.0, 0.0).to_wkt()
TAS, CLIMBING, C, D = 50.0, 40.0, 4.0, 5.0
STILL = FlightState(TAS, CLIMBING, C, D, 150.0, 180.0, 3000.0, 0.0, 0.0)
FLAT = Grid(np.zeros((3, 3)), -300000.0, 300000.0, 200000.0, 200000.0)


def weather(source=270.0, speed=10.0, **more):
    return Weather(source, speed, 20.0, 1013.25, 0.0, **more)


def field_of(east, north, half=60000.0, cell=2000.0):
    """A field from two functions of easting and northing [m], blowing towards [m/s]."""
    count = int(2 * half / cell)
    middle = -half + (np.arange(count) + 0.5) * cell
    x, y = np.meshgrid(middle, -middle)
    parts = (np.broadcast_to(part(x, y), x.shape).astype(float) for part in (east, north))
    return WindField("test", "0" * 64, *(Grid(values, -half, half, cell, cell) for values in parts))


def in_field(east, north=lambda x, y: 0.0 * x, **size):
    return replace(STILL, winds=winds_of(weather(wind_field=field_of(east, north, **size))))


def fly(start, end, state, low=0.0, high=0.0, terrain=None, route=None):
    return leg(start, end, CRS, low, high, state, terrain, route=route)


# The wind by height


@pytest.mark.parametrize(
    ("surface", "exponent", "height", "expected", "tolerance"),
    [
        # windpowerlib (PyPI), its own test of the Hellmann law: 5 m/s at 10 m, 1 / ln(100 / 0.15), 100 m (from memory).
        (5.0, 1.0 / math.log(100.0 / 0.15), 100.0, 7.12462, 1e-5),
        # Air-pollution text, exercise: 2 m/s at 10 m, level ground with little cover 0.15; 2 x 10^0.15 and 2 x 30^0.15.
        (2.0, 0.15, 100.0, 2.825, 5e-4),
        (2.0, 0.15, 300.0, 3.331, 5e-4),
        # The seventh-root profile (American Meteorological Society, Glossary, "power-law profile"): 8^(1/7) = 1.3459.
        (1.0, 1.0 / 7.0, 80.0, 1.3459, 1e-4),
        (10.0, 0.3, 10.0, 10.0, 1e-12),
        (10.0, 0.3, 0.0, 10.0, 1e-12),  # nobody flies a leg below 10 m; the surface wind holds there
    ],
)
def test_the_power_law(surface, exponent, height, expected, tolerance):
    winds = winds_of(weather(270.0, surface, wind_profile=WindProfile(exponent)))
    one = np.array([700.0 + height])
    east, north = winds.blow_ms(Nodes(one, one, one, np.array([700.0])))
    assert east[0] == pytest.approx(expected, rel=tolerance)
    assert north[0] == pytest.approx(0.0, abs=1e-12)
    assert winds.greatest_ms == pytest.approx(surface * (POWER_LAW_TOP_M / 10.0) ** exponent)


def test_a_table_is_read_by_its_parts():
    # 350 at 10 m/s and 010 at 10 m/s: half-route the wind is from north at 10 cos 10, not from south.
    rows = WindRow(500.0, 350.0, 10.0), WindRow(1500.0, 10.0, 10.0)
    winds = winds_of(weather(wind_profile=WindProfile(rows=rows, above_ground=False)))
    heights = np.array([0.0, 1000.0, 9000.0])
    east, north = winds.blow_ms(Nodes(heights, heights, heights, np.full(3, np.nan)))
    assert east == pytest.approx([10 * math.sin(math.radians(10)), 0.0, -10 * math.sin(math.radians(10))])
    assert north == pytest.approx([-10 * math.cos(math.radians(10))] * 3)
    assert winds.greatest_ms == pytest.approx(10.0)


@pytest.mark.parametrize(("wind_from", "sign"), [(270.0, 1.0), (90.0, -1.0)])
def test_cruise_over_flat_ground_in_the_power_law(wind_from, sign):
    # From 300 m to 300 m above flat ground: nothing to climb; V +- 10 (300/10)^0.2 all the route.
    state = replace(STILL, winds=winds_of(weather(wind_from, 10.0, wind_profile=WindProfile(0.2))))
    flown = fly((-15000.0, 0.0), (15000.0, 0.0), state, 300.0, 300.0, FLAT)
    wind = 10.0 * 30.0**0.2
    assert flown.time_s == pytest.approx(30000.0 / (TAS + sign * wind), rel=1e-8)
    assert all(piece.wind_ms == pytest.approx(wind, rel=1e-9) for piece in flown.segments)
    assert all(piece.wind_from_true_deg == pytest.approx(wind_from) for piece in flown.segments)


@pytest.mark.parametrize("shear", [0.01, -0.01, 0.02])
def test_a_climb_through_constant_shear(shear):
    # Wind k z along the track. Climbing at c: x = Vy t + k c t^2 / 2 after t; then the rest at V + k H, all level or
    # the end at H, so nothing is lost in the descent.
    top, length = 1000.0, 30000.0
    source = 270.0 if shear > 0 else 90.0
    rows = WindRow(0.0, source, 0.0), WindRow(2000.0, source, abs(shear) * 2000.0)
    state = replace(STILL, winds=winds_of(weather(wind_profile=WindProfile(rows=rows, above_ground=False))))
    flown = fly((-15000.0, 0.0), (15000.0, 0.0), state, 0.0, top)
    duration = top / C
    covered = CLIMBING * duration + 0.5 * shear * C * duration**2
    expected = duration + (length - covered) / (TAS + shear * top)
    assert flown.climb.covered_m == pytest.approx(
        covered, rel=1e-3
    )  # the climb ends within a piece of up to 1 km
    # Where the climb ends within a piece its two winds are taken together: 0.1 s.
    assert flown.time_s == pytest.approx(expected, abs=0.1)


def test_a_descent_through_constant_shear():
    # Sinking at d while flying at V + k z: the route needed is the integral of (V + k z) / d from 0 to the start's
    # height; before it the cruise is at V + k H, and nothing waits.
    top, length, k = 1000.0, 30000.0, 0.01
    rows = WindRow(0.0, 270.0, 0.0), WindRow(2000.0, 270.0, k * 2000.0)
    state = replace(STILL, winds=winds_of(weather(wind_profile=WindProfile(rows=rows, above_ground=False))))
    flown = fly((-15000.0, 0.0), (15000.0, 0.0), state, top, 0.0)
    sinking = quad(lambda z: (TAS + k * z) / D, 0.0, top)[0]
    assert flown.time_s == pytest.approx(top / D + (length - sinking) / (TAS + k * top), rel=2e-5)
    assert flown.descent_extra_s == 0.0


def test_height_above_ground_needs_the_ground():
    state = replace(STILL, winds=winds_of(weather(wind_profile=WindProfile(0.14))))
    with pytest.raises(NotFlyable, match=r"needs the ground.*Fix"):
        fly((-15000.0, 0.0), (15000.0, 0.0), state, 300.0, 300.0)


def test_a_table_above_the_ground_starts_with_the_wind_asked_with():
    profile = WindProfile(rows=(WindRow(310.0, 270.0, 20.0),))
    winds = winds_of(weather(270.0, 10.0, wind_profile=profile))
    heights = np.array([5.0, 160.0, 900.0])
    east, _ = winds.blow_ms(Nodes(heights, heights, heights, np.zeros(3)))
    assert east == pytest.approx([10.0, 15.0, 20.0])


@pytest.mark.parametrize(
    "wrong",
    [
        {},
        {"exponent": 0.1, "rows": (WindRow(500.0, 0.0, 5.0),)},
        {"exponent": -0.1},
        {"exponent": math.nan},
        {"rows": (WindRow(10.0, 0.0, 5.0),)},
        {"rows": (WindRow(900.0, 0.0, 5.0), WindRow(500.0, 0.0, 5.0))},
        {"rows": (WindRow(500.0, 0.0, math.nan),)},
        {"rows": (WindRow(500.0, math.inf, 5.0),)},
        {"rows": (WindRow(500.0, 0.0, -5.0),)},
        {"rows": (WindRow(500.0, 0.0, 500.0),)},
    ],
)
def test_bad_profiles_are_refused(wrong):
    with pytest.raises(BadArgument, match="wind profile"):
        WindProfile(**wrong)


def test_a_profile_and_a_field_together_are_refused():
    with pytest.raises(BadArgument, match="one of them"):
        weather(wind_profile=WindProfile(0.14), wind_field=field_of(lambda x, y: 0 * x, lambda x, y: 0 * x))


# The wind by place


def test_a_field_that_is_the_same_everywhere_is_the_uniform_wind():
    state = in_field(lambda x, y: 6.0 + 0 * x, lambda x, y: -8.0 + 0 * x)
    even = replace(STILL, wind_from_true_deg=math.degrees(math.atan2(-6.0, 8.0)) % 360.0, wind_ms=10.0)
    ends = (-20000.0, 5000.0), (13000.0, -9000.0)
    for one, other in (ends, ends[::-1]):
        found, expected = fly(one, other, state, 0.0, 400.0), fly(one, other, even, 0.0, 400.0)
        assert found.time_s == pytest.approx(expected.time_s, rel=1e-8)
        assert found.climb_extra_s == pytest.approx(expected.climb_extra_s, rel=1e-6)


@pytest.mark.parametrize("b", [2e-4, -2e-4])
def test_a_wind_that_grows_along_the_track(b):
    # u = a + b x along the track: T = ln((V + a + b x1) / (V + a + b x0)) / b.
    a, x0, x1 = 4.0, -20000.0, 25000.0
    flown = fly((x0, 0.0), (x1, 0.0), in_field(lambda x, y: a + b * x))
    expected = math.log((TAS + a + b * x1) / (TAS + a + b * x0)) / b
    assert flown.time_s == pytest.approx(expected, rel=1e-7)
    # The mean wind of the whole leg would be wrong by far more than that.
    mean = (x1 - x0) / (TAS + a + b * (x0 + x1) / 2)
    assert abs(mean / expected - 1.0) > 1e-3


def test_a_wind_that_grows_across_the_track():
    # v = b x across the track: GS = sqrt(V^2 - b^2 x^2), T = (asin(b x1 / V) - asin(b x0 / V)) / b.
    b, x0, x1 = 8e-4, -20000.0, 40000.0
    flown = fly((x0, 0.0), (x1, 0.0), in_field(lambda x, y: 0 * x, lambda x, y: b * x))
    assert flown.time_s == pytest.approx((math.asin(b * x1 / TAS) - math.asin(b * x0 / TAS)) / b, rel=1e-6)


def test_zermelos_problem_in_a_linear_current():
    """Bryson and Ho, Applied Optimal Control (1975), section 2.7: current u = -V y / h, minimum time to the origin.

    Along the optimum tan(heading) grows by V t / h, so the time between headings is (tan b - tan a) h / V. Their
    answer: from (3.66 h, -1.86 h), headings 105 to 240 degrees from east, 5.46 h / V. The current there passes the
    airspeed; flown here is the part of the same path from 115 degrees on, as a route of 400 corners.
    """
    h = 20000.0
    first, last = math.radians(105.0), math.radians(240.0)
    assert math.tan(last) - math.tan(first) == pytest.approx(5.46, abs=0.005)
    rise = np.linspace(math.tan(math.radians(115.0)), math.tan(last), 4001)
    heading = math.pi + np.arctan(rise)
    y = h * (1.0 / np.cos(heading) - 1.0 / math.cos(last))
    speed = h * (np.cos(heading) - y / h)  # metres per unit of V t / h
    x = cumulative_simpson(speed, x=rise, initial=0.0)
    x -= x[-1]
    state = in_field(lambda x, y: -TAS * y / h, half=120000.0)
    route = shapely.LineString(np.column_stack((x, y))[::10])
    start, end = route.coords[0], route.coords[-1]
    optimum = (rise[-1] - rise[0]) * h / TAS
    assert fly(start, end, state, route=route).time_s == pytest.approx(optimum, rel=2e-4)
    assert fly(start, end, state).time_s > 1.001 * optimum  # straight is never quicker than the optimum


def test_unknown_wind_is_never_flown():
    holed = field_of(lambda x, y: 5.0 + 0 * x, lambda x, y: 0 * x)
    holed.east.values[:, 40:43] = np.nan  # eastings 20 to 26 km
    state = replace(STILL, winds=winds_of(weather(wind_field=holed)))
    fly((-20000.0, 0.0), (15000.0, 0.0), state)
    with pytest.raises(NotFlyable, match=r"wind is unknown over .* km .*longitude 150\.17.*Fix"):
        fly((-20000.0, 0.0), (30000.0, 0.0), state)
    with pytest.raises(
        NotFlyable, match=r"wind is unknown over .*longitude 150\.5.*field that covers the route"
    ):
        fly((0.0, 0.0), (70000.0, 0.0), in_field(lambda x, y: 5.0 + 0 * x))


def test_wind_above_the_airspeed_somewhere_is_refused_with_its_place():
    gusty = in_field(lambda x, y: np.where((x > 9000.0) & (x < 13000.0), -60.0, 0.0))
    fly((-20000.0, 0.0), (5000.0, 0.0), gusty)
    with pytest.raises(
        NotFlyable, match=r"wind of \d\d\.\d m/s from 90 deg true near longitude 150\.09.*too strong"
    ):
        fly((-20000.0, 0.0), (20000.0, 0.0), gusty)
    # Down that wind the same place is passed.
    assert fly((20000.0, 0.0), (-20000.0, 0.0), gusty).time_s < 800.0


def test_no_leg_beats_the_bound_of_the_greatest_wind():
    state = in_field(lambda x, y: 10.0 + 5.0 * np.sin(x / 8000.0), lambda x, y: 4.0 * np.cos(y / 5000.0))
    rng = np.random.default_rng(3)
    for _ in range(20):
        start, end = rng.uniform(-40000.0, 40000.0, (2, 2))
        length = math.hypot(*(end - start))
        assert fly(tuple(start), tuple(end), state).time_s > 0.999 * length / state.fastest_ms()


# Routes in such winds


def test_no_fly_routes_round_no_fly_areas_are_flown_in_the_field():
    shut = airspace([shapely.box(-1000.0, -3000.0, 1000.0, 9000.0)])
    state = in_field(lambda x, y: 8.0 + x / 4000.0, lambda x, y: y / 4000.0)
    found = best_leg((-20000.0, 0.0), (20000.0, 0.0), CRS, 500.0, 500.0, state, FLAT, (), shut)
    assert list(found.route.coords)[1:-1] == [(-1000.0, -3000.0), (1000.0, -3000.0)]
    again = fly((-20000.0, 0.0), (20000.0, 0.0), state, 500.0, 500.0, FLAT, found.route)
    assert found == again
    even = replace(STILL, wind_from_true_deg=270.0, wind_ms=8.0)
    other = best_leg((-20000.0, 0.0), (20000.0, 0.0), CRS, 500.0, 500.0, even, FLAT, (), shut)
    assert found.time_s != pytest.approx(other.time_s, rel=1e-4)


@pytest.mark.parametrize("kind", ["field", "profile"])
def test_no_fly_routes_round_high_ground_are_flown_in_the_changing_wind(kind):
    middle = -12000.0 + (np.arange(400) + 0.5) * 60.0
    east, north = np.meshgrid(middle, -middle)
    wall = (np.abs(east) < 500.0) & ~((north > 5000.0) & (north < 7000.0))
    ground = corridor(Grid(np.where(wall, 2000.0, 0.0), -12000.0, 12000.0, 60.0, 60.0), 180.0)
    if kind == "field":
        state = in_field(lambda x, y: 8.0 + y / 2000.0, lambda x, y: x / 3000.0, half=30000.0)
    else:
        state = replace(STILL, winds=winds_of(weather(300.0, 6.0, wind_profile=WindProfile(0.2))))
    for method, ends in (
        ("legs_to", ((7000.0, 0.0), (-7000.0, 0.0))),
        ("legs_from", ((-7000.0, 0.0), (7000.0, 0.0))),
    ):
        hub, other = ends
        sought = TerrainLegs(ground, airspace([]), CRS)
        found = getattr(sought, method)(hub, 0.0, [(other, 0.0)], state)[0]
        assert isinstance(found, Leg) and found.detour
        start, end = (other, hub) if method == "legs_to" else (hub, other)
        again = leg(start, end, CRS, 0.0, 0.0, state, ground, route=found.route)
        assert found.time_s == again.time_s
        assert found.time_s < leg(start, end, CRS, 0.0, 0.0, state, ground).time_s


def test_a_leg_that_the_wind_forbids_is_not_led_round():
    ground = corridor(FLAT, 180.0)
    holed = field_of(lambda x, y: 5.0 + 0 * x, lambda x, y: 0 * x)
    holed.east.values[30, 30] = np.nan
    state = replace(STILL, winds=winds_of(weather(wind_field=holed)))
    found = TerrainLegs(ground, airspace([]), CRS).legs_to(
        (20000.0, 0.0), 0.0, [((-20000.0, 0.0), 0.0)], state
    )[0]
    assert isinstance(found, NotFlyable) and "wind is unknown" in str(found)
