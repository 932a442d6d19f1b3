"""Legs against closed-form times, an independent integration on the ellipsoid, and the rules for ground and wires."""

import math
from dataclasses import fields, replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod
from scipy.integrate import quad

from geo.base.errors import BadArgument, NotFlyable
from geo.base.geodesy import local_crs, to_degrees
from geo.base.grid import Grid
from geo.flight.legs.corridor import corridor
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.leg import leg as flown_leg
from geo.records.region import Obstacle
from tests.flight.flying import at, leg, surface_of

CRS = local_crs(150.0, -36.0).to_wkt()
STATE = FlightState(50.0, 40.0, 4.0, 5.0, 150.0, 180.0, 3000.0, 0.0, 0.0)
OF_STATE = {field.name for field in fields(FlightState)}
BASE = {
    "frame_crs_wkt": CRS,
    "start_altitude_m": 0.0,
    "end_altitude_m": 0.0,
    "terrain": None,
    "obstacles": (),
}


def fly(start, end, **change):
    state = replace(STATE, **{name: change.pop(name) for name in OF_STATE & set(change)})
    return leg(start, end, state=state, **{**BASE, **change})


def level(height=0.0, half_size=25000.0, cell=100.0):
    count = int(2 * half_size / cell)
    return Grid(np.full((count, count), height), -half_size, half_size, cell, cell)


def ridge(height, first_m, last_m):
    """Flat ground at 0 with a north-south ridge between two eastings."""
    grid = level()
    middle = grid.west_m + (np.arange(grid.values.shape[1]) + 0.5) * grid.cell_east_m
    grid.values[:, (middle > first_m) & (middle < last_m)] = height
    return grid


def mast(east, north, top=None, height=None, name="Old Mast"):
    return Obstacle(name, name, "mast", shapely.Point(east, north), top, height, "test")


def integrated_s(start, end, tas, wind_from, wind):
    """Independent: adaptive quadrature of 1 / ground speed along the geodesic, by vectors instead of sines."""
    geod = Geod(ellps="WGS84")
    (lon0, lon1), (lat0, lat1) = to_degrees(CRS, np.array([start[0], end[0]]), np.array([start[1], end[1]]))
    azimuth, _, length = geod.inv(lon0, lat0, lon1, lat1)
    blow = wind * np.array([-math.sin(math.radians(wind_from)), -math.cos(math.radians(wind_from))])

    def slowness(s):
        track = math.radians(geod.fwd(lon0, lat0, azimuth, s)[2] + 180.0)
        along = blow @ [math.sin(track), math.cos(track)]
        across = blow @ [math.cos(track), -math.sin(track)]
        return 1.0 / (along + math.sqrt(tas**2 - across**2))

    return quad(slowness, 0.0, length, epsabs=1e-12, epsrel=1e-13)[0], length


@pytest.mark.parametrize("wind", [0.0, 9.0, 30.0])
@pytest.mark.parametrize("end", [(12000.0, 9000.0), (-30000.0, 400.0), (100.0, -41000.0), (350.0, 20.0)])
def test_flat_time_is_the_wind_triangle_along_the_ellipsoid(end, wind):
    start = (-5000.0, 3000.0)
    flown = fly(start, end, wind_from_true_deg=305.0, wind_ms=wind)
    expected, length = integrated_s(start, end, 50.0, 305.0, wind)
    assert flown.time_s == pytest.approx(expected, rel=1e-9)
    assert flown.distance_m == pytest.approx(length, rel=1e-12)
    if wind == 0.0:
        assert flown.time_s == pytest.approx(length / 50.0, rel=1e-12)


def test_a_leg_can_be_redone_by_hand():
    flown = fly(
        (-9000.0, 0.0), (14000.0, 5000.0), wind_from_true_deg=200.0, wind_ms=12.0, terrain=ridge(700, 0, 900)
    )
    parts = 0.0
    for piece in flown.segments:
        angle = math.radians(200.0 - piece.track_true_deg)
        speed = math.sqrt(50.0**2 - (12.0 * math.sin(angle)) ** 2) - 12.0 * math.cos(angle)
        assert piece.ground_speed_ms == pytest.approx(speed, rel=2e-6)  # the track turns within the piece
        assert piece.time_s == pytest.approx(piece.distance_m / piece.ground_speed_ms, rel=1e-12)
        parts += piece.time_s
    assert flown.time_s == pytest.approx(parts + flown.climb_extra_s + flown.descent_extra_s, rel=1e-12)
    assert flown.distance_m == pytest.approx(sum(piece.distance_m for piece in flown.segments), rel=1e-12)


# Plain kinematics, worked by hand: 180 / 200 km/h, 45 s fill, 10 s drop, 90 s manoeuvre; (one way km, round trip s).
@pytest.mark.parametrize(("km", "round_trip"), [(2, 221), (5, 335), (10, 525), (20, 905)])
def test_legs_of_the_hand_worked_cycle(km, round_trip):
    out = fly((0.0, 0.0), (0.0, km * 1000.0), tas_ms=180 / 3.6)
    back = fly((0.0, km * 1000.0), (0.0, 0.0), tas_ms=200 / 3.6)
    assert out.time_s + back.time_s + 45 + 10 + 90 == pytest.approx(round_trip, abs=0.01)


@pytest.mark.parametrize(("wind_from", "round_trip"), [(0.0, 541.5), (180.0, 528.2)])
def test_legs_of_the_hand_worked_cycle_in_wind(wind_from, round_trip):
    # Worked by hand: 30 km/h along the 10 km leg, head wind when loaded 541.5 s, tail wind 528.2 s.
    wind = {"wind_from_true_deg": wind_from, "wind_ms": 30 / 3.6}
    out = fly((0.0, 0.0), (0.0, 10000.0), tas_ms=180 / 3.6, **wind)
    back = fly((0.0, 10000.0), (0.0, 0.0), tas_ms=200 / 3.6, **wind)
    assert out.time_s + back.time_s + 145 == pytest.approx(round_trip, abs=0.051)


def test_flat_ground_below_the_flight_costs_nothing():
    flown = fly((0.0, 0.0), (0.0, 15000.0), terrain=level(), start_altitude_m=200.0, end_altitude_m=200.0)
    assert flown.time_s == pytest.approx(15000.0 / 50.0, rel=1e-9)
    assert (flown.climb_m, flown.climb_extra_s, flown.descent_extra_s) == (0.0, 0.0, 0.0)
    assert flown.safe_altitude_m == pytest.approx(200.0)  # never below the ends, 150 m over the ground


@pytest.mark.parametrize(("wind_from", "wind"), [(0.0, 0.0), (0.0, 10.0), (180.0, 10.0)])
def test_climb_over_flat_ground_is_the_closed_form(wind_from, wind):
    # No terrain ahead: T_c + (dz / c)(1 - Vg_y / Vg_c); along a meridian the ground speeds are TAS -+ wind.
    flown = fly((0.0, 0.0), (0.0, 15000.0), terrain=level(), wind_from_true_deg=wind_from, wind_ms=wind)
    along = -wind if wind_from == 0.0 else wind
    climbing = 150.0 / 4.0 * (1.0 - (40.0 + along) / (50.0 + along))
    assert flown.climb_m == pytest.approx(150.0)
    assert flown.climb_extra_s == pytest.approx(climbing, rel=1e-9)
    assert flown.descent_extra_s == pytest.approx(0.0, abs=1e-9)
    assert flown.time_s == pytest.approx(15000.0 / (50.0 + along) + climbing, rel=1e-9)


def test_a_short_hop_is_all_departure_and_approach():
    # 730 m: the clearance would take 1,500 m of climb; until then nothing but the surfaces must be clear.
    flown = fly((0.0, 0.0), (0.0, 730.0), terrain=level())
    assert flown.climb_m == 0.0
    assert flown.safe_altitude_m == pytest.approx(150.0)  # level over all of it with the whole clearance
    assert flown.time_s == pytest.approx(730 / 50, rel=1e-9)
    assert [part.name for part in flown.parts] == ["departure and approach"]


def test_an_aircraft_from_the_hover_speeds_up_before_it_climbs():
    # Worked by hand: 40 m/s at 1.0 m/s2 take 40 s and 800 m, which at the climb speed take 20 s; then 150 m at 4 m/s.
    # So the departure part is (20 + 37.5) x 40 m long, and nothing is climbed over its first 800 m.
    start = replace(at((0.0, 0.0)), speed_ms=0.0)
    flown = flown_leg(start, at((0.0, 15000.0)), STATE, surface_of(level(), STATE), CRS)
    level_s = 0.5 * 40.0 / 1.0
    assert flown.climb.level_s == pytest.approx(level_s)
    assert flown.climb.duration_s == pytest.approx(level_s + 37.5)
    assert flown.climb_extra_s == pytest.approx((level_s + 37.5) * (1.0 - 40.0 / 50.0))
    assert flown.parts[0].to_m == pytest.approx((level_s + 37.5) * 40.0)
    along, height = np.array(flown.path_m).T
    assert np.interp([0.0, 799.0, 1200.0], along, height) == pytest.approx([0.0, 0.0, 40.0], abs=0.15)


def test_the_surface_widens_on_the_way_and_ends_where_the_clearance_is_gained():
    # A pillar of 90 m, too high for the climb at 800 m (80 m), beside the track: the surface there is 25 + 80 m wide to
    # each side. Cells of 20 m, so what lies a cell farther out does not count.
    wide = Grid(np.zeros((400, 400)), -4000.0, 4000.0, 20.0, 20.0)

    def beside(off):
        grid = Grid(wide.values.copy(), *(-4000.0, 4000.0, 20.0, 20.0))
        grid.values[int((4000.0 - off) / 20.0), int((4000.0 - 3000.0 + 800.0) / 20.0)] = 90.0
        return grid

    free = fly((-3000.0, 0.0), (3900.0, 0.0), terrain=wide).time_s
    assert fly((-3000.0, 0.0), (3900.0, 0.0), terrain=beside(150.0)).time_s == free
    higher = fly((-3000.0, 0.0), (3900.0, 0.0), terrain=beside(95.0))
    assert higher.time_s > free + 2.0 and len(higher.circling) == 1
    assert higher.circling[0].radius_m == pytest.approx(40.0**2 / (9.80665 * math.tan(math.radians(25.0))))
    # Beyond the departure part (1,500 m) the whole corridor counts, with the whole clearance.
    far = Grid(wide.values.copy(), -4000.0, 4000.0, 20.0, 20.0)
    far.values[int((4000.0 - 150.0) / 20.0), int(2600.0 / 20.0)] = 90.0
    assert fly((-3000.0, 0.0), (3900.0, 0.0), terrain=far).climb_m == pytest.approx(240.0)


def test_no_circle_over_the_drop():
    # A wall 1,000 m before the drop: between them a circle fits only within its radius of the drop.
    state = replace(STATE, descent_ms=2.0)
    grid, drop = ridge(400.0, 18000.0, 19000.0), replace(at((20000.0, 0.0), 60.0), above_ground_m=60.0)
    prepared = surface_of(grid, state)
    with pytest.raises(NotFlyable, match=r"too high: 400 m .* has room behind it"):
        flown_leg(at((0.0, 0.0)), drop, state, prepared, CRS)
    free = flown_leg(at((0.0, 0.0)), replace(drop, above_ground_m=0.0), state, prepared, CRS)
    assert len(free.circling) == 1 and free.circling[0].from_m > free.circling[0].to_m


def test_a_wall_before_the_end_is_left_more_slowly_where_that_is_enough():
    # 400 m over the wall's foot at 5 m/s take 80 s; its cells count until 16,200 m: 76 s at cruise, 95 s at climb
    # speed. No circle is due, and none would have room behind a wall with another beside it.
    flown = fly((0.0, 0.0), (20000.0, 0.0), terrain=ridge(250.0, 15000.0, 16000.0))
    assert flown.descent_extra_s == pytest.approx(80.0 - 76.0, rel=1e-6)
    assert flown.circling == ()


def test_a_descent_never_rises():
    assert fly((0.0, 0.0), (0.0, 10000.0), end_altitude_m=300.0).descent is None
    sunk = fly((0.0, 0.0), (0.0, 10000.0), terrain=level(), end_altitude_m=100.0).descent
    assert sunk.from_m > sunk.to_m


def test_another_route_is_hinted_at_only_where_ground_asks_for_the_climb():
    # 1,500 m up to the end is due on every route; a ridge between two low ends is not.
    plain = fly((0.0, 0.0), (20000.0, 0.0), terrain=level(), end_altitude_m=1500.0)
    assert plain.climb_extra_s > 0.15 * plain.time_s and plain.cautions == ()
    over = fly((0.0, 0.0), (20000.0, 0.0), terrain=ridge(1500.0, 4000.0, 5000.0))
    assert any("route round the high ground may be quicker" in caution for caution in over.cautions)


def test_the_parts_of_a_leg_say_what_they_keep_and_where():
    flown = fly((0.0, 0.0), (20000.0, 0.0), terrain=level(), obstacles=[mast(10000.0, 100.0, top=40.0)])
    leaving, between, coming = flown.parts
    assert (leaving.name, between.name, coming.name) == ("departure", "en route", "approach")
    assert (leaving.to_m, coming.from_m) == pytest.approx((1500.0, 18500.0), rel=1e-3)
    assert between.obstacle == "mast 'Old Mast'" and between.least_obstacle_m == pytest.approx(150.0, abs=0.5)
    assert between.obstacle_place.x == pytest.approx(10000.0, abs=250.0)
    assert between.least_ground_m == pytest.approx(150.0, abs=0.5)
    assert leaving.least_ground_m == pytest.approx(0.0, abs=0.01)


def test_ridge_ahead_makes_the_aircraft_wait():
    # Ridge of 1,000 m from 4 km on, corridor 180 m; cells of 100 m, so it counts from 3,800 m (one more cell and the
    # half-width). (1,000 + 150) / 4 = 287.5 s to climb; then cruise; the far side is 8 km from the end, not binding.
    flown = fly((0.0, 0.0), (20000.0, 0.0), terrain=ridge(1000.0, 4000.0, 5000.0))
    assert flown.safe_altitude_m == pytest.approx(1150.0)
    assert flown.time_s == pytest.approx(287.5 + (20000.0 - 3800.0) / 50.0, rel=1e-6)
    assert flown.descent_extra_s == pytest.approx(0.0, abs=1e-9)
    assert any("route round the high ground may be quicker" in caution for caution in flown.cautions)
    assert "terrain" in flown.highest_what
    assert "latitude -35.9999" in flown.highest_what


def test_ridge_before_the_end_makes_it_wait_on_the_route_down():
    # Mirror image: ridge until 16 km (counts until 16,200 m): 1,150 / 5 = 230 s needed, 3,800 / 50 = 76 s available;
    # the climb (287.5 s) ends long before the ridge and costs 287.5 x (1 - 40/50).
    flown = fly((0.0, 0.0), (20000.0, 0.0), terrain=ridge(1000.0, 15000.0, 16000.0))
    assert flown.descent_extra_s == pytest.approx(230.0 - 76.0, rel=1e-6)
    assert flown.climb_extra_s == pytest.approx(287.5 * 0.2, rel=1e-6)


def test_a_wall_in_the_departure_part_is_passed_only_below_the_flight():
    # 1,000 m from the start the climb has gained 100 m: a wall of 90 m lies below it and costs nothing.
    free = fly((0.0, 0.0), (20000.0, 0.0), terrain=level())
    passed = fly((0.0, 0.0), (20000.0, 0.0), terrain=ridge(90.0, 1000.0, 1100.0))
    assert passed.climb_extra_s == pytest.approx(free.climb_extra_s, rel=1e-6)
    # One of 300 m close to the start leaves no room for a circle.
    with pytest.raises(NotFlyable, match="no circle"):
        fly((0.0, 0.0), (20000.0, 0.0), terrain=ridge(300.0, 500.0, 600.0))


@settings(max_examples=40)
@given(st.floats(0, 1800), st.floats(0, 1000), st.integers(5, 170), st.floats(0, 360), st.floats(0, 20))
def test_a_higher_ridge_never_shortens_a_leg(height, more, where, wind_from, wind):
    times = []
    for top in (height, height + more):
        grid = level(cell=200.0)
        grid.values[:, 125 + where // 2 : 128 + where // 2] = top
        flown = fly(
            (-1000.0, 0.0), (20000.0, 3000.0), terrain=grid, wind_from_true_deg=wind_from, wind_ms=wind
        )
        times.append(flown.time_s)
    assert times[1] >= times[0] - 1e-9


@settings(max_examples=40)
@given(st.floats(0, 360), st.floats(0.5, 30), st.floats(0, 360), st.floats(500, 40000))
def test_wind_lengthens_there_and_back_at_equal_speeds(wind_from, wind, bearing, distance):
    end = distance * math.sin(math.radians(bearing)), distance * math.cos(math.radians(bearing))
    both = sum(
        fly(a, b, wind_from_true_deg=wind_from, wind_ms=wind).time_s
        for a, b in (((0, 0), end), (end, (0, 0)))
    )
    assert both > 2 * fly((0, 0), end).time_s


def test_tail_wind_on_the_slower_leg_can_shorten_the_round_trip():
    def round_trip(wind):
        air = {"wind_from_true_deg": 180.0, "wind_ms": wind}
        out = fly((0, 0), (0, 10000.0), tas_ms=50.0, **air)
        return out.time_s + fly((0, 10000.0), (0, 0), tas_ms=200 / 3.6, **air).time_s

    # Closed form: 10,000/51 + 10,000/(55.556 - 1) against 10,000/50 + 10,000/55.556.
    assert round_trip(1.0) == pytest.approx(10000 / 51 + 10000 / (200 / 3.6 - 1), rel=1e-6)
    assert round_trip(1.0) < round_trip(0.0)


def test_mast_near_the_track_is_cleared_and_named():
    free = fly((0.0, 0.0), (20000.0, 0.0), terrain=level())
    flown = fly((0.0, 0.0), (20000.0, 0.0), terrain=level(), obstacles=[mast(10000.0, 170.0, height=200.0)])
    assert flown.safe_altitude_m == pytest.approx(350.0)
    assert "mast 'Old Mast', top 200 m" in flown.highest_what
    assert flown.time_s == pytest.approx(free.time_s + 200 / 4 * 0.2, rel=1e-9)
    aside = fly((0.0, 0.0), (20000.0, 0.0), terrain=level(), obstacles=[mast(10000.0, 185.0, height=200.0)])
    assert aside.time_s == free.time_s


def test_mast_of_unknown_height_is_said_and_not_cleared():
    flown = fly((0.0, 0.0), (20000.0, 0.0), terrain=level(), obstacles=[mast(10000.0, 100.0)])
    assert flown.cautions == ("height of mast 'Old Mast' by the leg unknown: not cleared",)


def test_no_terrain_is_said():
    flown = fly((0.0, 0.0), (0.0, 10000.0))
    assert flown.safe_altitude_m is None
    assert flown.cautions == ("terrain unknown: not cleared; the time is that of flat ground",)
    climbing = fly((0.0, 0.0), (0.0, 10000.0), end_altitude_m=400.0)
    assert climbing.time_s == pytest.approx(200.0 + 400 / 4 * 0.2, rel=1e-9)


def test_a_leg_over_unknown_ground_is_refused():
    """An unknown height never counts as low, whatever the known ground of the leg is."""
    grid = ridge(600.0, 14000.0, 15000.0)
    fly((0.0, 0.0), (20000.0, 0.0), terrain=grid)
    grid.values[:, 280:320] = np.nan  # eastings 3 to 7 km
    with pytest.raises(
        NotFlyable, match=r"terrain unknown over 4\.4 km .* easting 5000 m, northing 0 m.*Fix"
    ):
        fly((0.0, 0.0), (20000.0, 0.0), terrain=grid)


def test_a_leg_off_the_raster_is_refused():
    with pytest.raises(NotFlyable, match=r"terrain unknown over 5\.[0-9] km"):
        fly((20000.0, 0.0), (30000.0, 0.0), terrain=level())


def test_ceiling_is_kept_and_the_place_named():
    with pytest.raises(
        NotFlyable, match=r"needs 2150 m .* longitude 150\.1.*latitude -35\.9999.*ceiling is 2000 m"
    ):
        fly((0.0, 0.0), (20000.0, 0.0), terrain=ridge(2000.0, 12000.0, 13000.0), ceiling_m=2000.0)
    with pytest.raises(NotFlyable, match=r"end lies at 2100 m .* ceiling of 2000 m"):
        fly((0.0, 0.0), (20000.0, 0.0), end_altitude_m=2100.0, ceiling_m=2000.0)
    assert (
        fly((0.0, 0.0), (20000.0, 0.0), terrain=ridge(1850.0, 12000.0, 13000.0), ceiling_m=2000.0).climb_m
        == 2000
    )


def test_wind_above_airspeed_cannot_be_flown():
    with pytest.raises(NotFlyable, match="wind"):
        fly((0.0, 0.0), (0.0, 10000.0), wind_ms=55.0)


def test_wind_above_the_climb_speed_matters_only_when_climbing():
    level_flight = fly((0.0, 0.0), (0.0, 10000.0), wind_ms=42.0)
    assert level_flight.time_s == pytest.approx(10000.0 / 8.0, rel=1e-9)
    with pytest.raises(NotFlyable, match="must climb 300 m"):
        fly((0.0, 0.0), (0.0, 10000.0), wind_ms=42.0, end_altitude_m=300.0)


def test_route_is_flown_along_its_corners():
    route = shapely.LineString([(0.0, 0.0), (0.0, 6000.0), (8000.0, 6000.0)])
    flown = fly((0.0, 0.0), (8000.0, 6000.0), route=route)
    first = fly((0.0, 0.0), (0.0, 6000.0))
    second = fly((0.0, 6000.0), (8000.0, 6000.0))
    # The corner is 30 degrees sharper than a gentle turn of 60. Slowing from 40 to 20 m/s and speeding up again at
    # 1.0 m/s2 takes 40 s over 1,200 m, which 40 m/s fly in 30 s; the turn is flown at g tan 25 / 20 m/s.
    turn_s = 10.0 + math.radians(30.0) / (9.80665 * math.tan(math.radians(25.0)) / 20.0)
    assert flown.turns_s == pytest.approx(turn_s, rel=1e-9)
    assert flown.time_s == pytest.approx(first.time_s + second.time_s + turn_s, rel=1e-9)
    assert flown.detour
    assert not first.detour
    with pytest.raises(BadArgument, match="route"):
        fly((0.0, 0.0), (8000.0, 6100.0), route=route)


def test_leg_across_the_antimeridian():
    crs = local_crs(179.98, -17.0).to_wkt()
    flown = fly((-8000.0, 0.0), (12000.0, 0.0), frame_crs_wkt=crs)
    assert flown.distance_m == pytest.approx(20000.0, abs=0.01)
    assert flown.time_s == pytest.approx(400.0, abs=0.001)
    assert all(abs(piece.track_true_deg - 90.0) < 0.1 for piece in flown.segments)


def test_one_place_and_two_altitudes():
    up = fly((10.0, 20.0), (10.0, 20.0), start_altitude_m=100.0, end_altitude_m=300.0)
    assert (up.time_s, up.distance_m, up.segments) == (50.0, 0.0, ())
    down = fly(shapely.Point(10.0, 20.0), (10.0, 20.0), start_altitude_m=300.0, end_altitude_m=100.0)
    assert down.time_s == 40.0


@pytest.mark.parametrize(
    "change",
    [
        {"tas_ms": math.nan},
        {"tas_ms": 0.0},
        {"climb_ms": 0.0},
        {"descent_ms": -1.0},
        {"clearance_m": -1.0},
        {"half_width_m": math.inf},
        {"start_altitude_m": math.nan},
        {"end_altitude_m": math.inf},
        {"wind_ms": math.nan},
        {"wind_from_true_deg": math.nan},
        {"terrain": corridor(None, 90.0)},
    ],
)
def test_bad_values_are_refused(change):
    with pytest.raises(BadArgument):
        fly((0.0, 0.0), (0.0, 10000.0), **change)


@pytest.mark.parametrize("place", [(math.nan, 0.0), (0.0, math.inf), shapely.Point()])
def test_bad_positions_are_refused(place):
    with pytest.raises(BadArgument, match="position"):
        fly((0.0, 0.0), place)
