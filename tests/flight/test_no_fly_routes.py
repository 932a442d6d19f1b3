"""Routes round no-fly areas against closed-form detours and a brute force over all corner sequences."""

import itertools
import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
import shapely
from shapely.affinity import rotate

from geo.base.errors import BadArgument, NotFlyable
from geo.base.geodesy import local_crs
from geo.base.grid import Grid
from geo.flight.legs.best_leg import grid_bearing_deg
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.no_fly_routes import airspace, find_route, widened
from geo.records.region import Closure
from tests.flight.flying import best_leg, leg, route_round

TAS = 50.0


def seconds(points, wind_from=0.0, wind=0.0, tas=TAS):
    """Independent time of a polyline: solve |d/t - w| = tas for each piece (quadratic in 1/t)."""
    blow = -wind * np.array([math.sin(math.radians(wind_from)), math.cos(math.radians(wind_from))])
    total = 0.0
    for step in np.diff(np.asarray(points, float), axis=0):
        along = blow @ step
        q = tas**2 - wind**2
        total += (math.sqrt(along**2 + q * (step @ step)) - along) / q
    return total


def test_free_route_is_straight():
    route = route_round((0, 0), (9000, 100), [shapely.box(0, 500, 9000, 900)], 300, 10, TAS)
    assert list(route.coords) == [(0, 0), (9000, 100)]
    assert list(route_round((0, 0), (9000, 100), [], 300, 10, TAS).coords) == [(0, 0), (9000, 100)]


@pytest.mark.parametrize("offset", [0.0, 400.0, -1100.0])
def test_detour_round_a_disc(offset):
    # Closed form, calm: tangents sqrt(d^2 - r^2) at both ends and the arc between, the shorter side.
    radius, start, end = 3000.0, np.array([-9000.0, offset]), np.array([12000.0, offset])
    disc = shapely.Point(0, 0).buffer(radius, quad_segs=90)
    route = route_round(tuple(start), tuple(end), [disc], 0, 0, TAS)
    d1, d2 = np.hypot(*start), np.hypot(*end)
    between = math.acos(start @ end / (d1 * d2)) - math.acos(radius / d1) - math.acos(radius / d2)
    exact = math.sqrt(d1**2 - radius**2) + math.sqrt(d2**2 - radius**2) + radius * between
    # The polygon has its corners on the circle: never longer, shorter by at most the sagitta's share (pi/360)^2 / 6 of
    # the arc and two tangent errors of the same order.
    assert exact * (1 - 1e-4) <= route.length <= exact + 1e-6


@pytest.mark.parametrize(("wind_from", "wind"), [(0, 0), (250, 12), (20, 30), (90, 45)])
def test_detour_round_a_wall_passes_its_nearer_end_exactly(wind_from, wind):
    wall = shapely.box(-10, -2000, 10, 5000)
    route = route_round((-8000, 0), (6000, 0), [wall], wind_from, wind, TAS)
    low = [(-8000, 0), (-10, -2000), (10, -2000), (6000, 0)]
    high = [(-8000, 0), (-10, 5000), (10, 5000), (6000, 0)]
    best = min((low, high), key=lambda points: seconds(points, wind_from, wind))
    assert list(route.coords) == best


def test_detour_round_a_wedge_is_exact():
    wedge = shapely.Polygon([(0, 1000), (3000, -4000), (-3000, -4000)])
    route = route_round((-7000, 0), (5000, -500), [wedge], 0, 0, TAS)
    # Only the tip is passed: sqrt(7000^2 + 1000^2) + sqrt(5000^2 + 1500^2).
    assert list(route.coords) == [(-7000, 0), (0, 1000), (5000, -500)]
    assert route.length == pytest.approx(math.hypot(7000, 1000) + math.hypot(5000, 1500), rel=1e-12)


def test_slanting_wall_in_strong_wind_from_every_side():
    # Both ways round are nearly alike; the ellipse of the wind's metric decides between them.
    wall = rotate(shapely.box(-50, -3000, 50, 3000), 40, origin=(0, 0))
    for wind_from in range(0, 360, 30):
        route = route_round((-9000, 500), (9000, -300), [wall], wind_from, 35, TAS)
        sides = brute_force((-9000, 500), (9000, -300), [wall], wind_from, 35)
        assert seconds(route.coords, wind_from, 35) == pytest.approx(sides, rel=1e-9)


def crosses(first, second, polygon):
    """Independent visibility: proper crossing of an edge, or a point of the line strictly inside."""
    line = np.array([first, second], float)
    ring = shapely.get_coordinates(polygon.exterior)

    def side(p, q, r):
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    for p, q in itertools.pairwise(ring):
        scale = 1e-9 * np.hypot(*(line[1] - line[0])) * np.hypot(*(q - p))
        a, b = side(line[0], line[1], p), side(line[0], line[1], q)
        c, d = side(p, q, line[0]), side(p, q, line[1])
        if min(a, b) < -scale and max(a, b) > scale and min(c, d) < -scale and max(c, d) > scale:
            return True
    core = polygon.buffer(-1e-3)
    return any(
        core.contains(shapely.Point(line[0] + t * (line[1] - line[0])))
        for t in np.linspace(0.0005, 0.9995, 200)
    )


def brute_force(start, end, areas, wind_from, wind):
    """Least time over every sequence of distinct corners (all corners, reflex ones too), by exhaustion."""
    nodes = [start, *(tuple(p) for area in areas for p in shapely.get_coordinates(area.exterior)[:-1]), end]
    count = len(nodes)
    cost = np.full((count, count), np.inf)
    for i, j in itertools.combinations(range(count), 2):
        if not any(crosses(nodes[i], nodes[j], area) for area in areas):
            cost[i, j] = seconds([nodes[i], nodes[j]], wind_from, wind)
            cost[j, i] = seconds([nodes[j], nodes[i]], wind_from, wind)
    best, stack = math.inf, [((0,), 0.0)]
    while stack:  # depth-first over all simple sequences, cut where already slower than the best complete one
        path, spent = stack.pop()
        if path[-1] == count - 1:
            best = min(best, spent)
            continue
        for j in range(1, count):
            if j not in path and spent + cost[path[-1], j] < best:
                stack.append(((*path, j), spent + cost[path[-1], j]))
    return best


@pytest.mark.parametrize("seed", range(10))
def test_equals_brute_force_over_all_corner_sequences(seed):
    rng = np.random.default_rng(seed)
    areas = []
    while len(areas) < 3:
        corners = rng.uniform(-1500, 1500, (4, 2)) + rng.uniform([-5000, -3500], [5000, 3500])
        hull = shapely.MultiPoint(corners).convex_hull
        shape = shapely.Polygon(corners) if seed % 2 else hull  # odd seeds may be dented
        if shape.is_valid and shape.area > 4e5 and all(shape.distance(other) > 50 for other in areas):
            areas.append(shape)
    wind_from, wind = float(rng.uniform(0, 360)), float(rng.uniform(0, 35)) * (seed > 2)
    start, end = (-9000.0, float(rng.uniform(-1500, 1500))), (9000.0, float(rng.uniform(-1500, 1500)))
    route = route_round(start, end, areas, wind_from, wind, TAS)
    assert seconds(route.coords, wind_from, wind) == pytest.approx(
        brute_force(start, end, areas, wind_from, wind), rel=1e-9
    )
    for area in areas:
        assert route.intersection(area.buffer(-1.0)).length == 0.0


def test_the_path_depends_on_the_wind_but_out_and_back_take_the_same_one():
    # Theory: time = a symmetric norm + a term of the end points, so the best route back is the route out reversed.
    rng = np.random.default_rng(3)
    areas = [shapely.Point(*rng.uniform(-20000, 20000, 2)).buffer(2500, quad_segs=3) for _ in range(14)]
    prepared = airspace(areas)
    start, end = (-26000.0, -3000.0), (26000.0, 2000.0)
    out = find_route(prepared, start, end, 210, 28, TAS)
    back = find_route(prepared, end, start, 210, 28, TAS)
    assert len(out.coords) > 2
    assert list(out.coords) == list(back.coords)[::-1]


def test_ends_inside_an_area_are_refused_by_name():
    areas, names = [shapely.box(0, 0, 1000, 1000), shapely.box(5000, 0, 6000, 1000)], ["Range A", "Range B"]
    with pytest.raises(NotFlyable, match=r"start .* inside 'Range A'"):
        route_round((500, 500), (9000, 0), areas, 0, 0, TAS, names)
    with pytest.raises(NotFlyable, match=r"end .* inside 'Range B'"):
        route_round((-500, 500), (5500, 500), areas, 0, 0, TAS, names)
    # On the edge is outside.
    assert len(route_round((0, 500), (-900, 0), areas, 0, 0, TAS, names).coords) == 2


def test_no_route_is_refused():
    ring = shapely.Point(0, 0).buffer(5000) - shapely.Point(0, 0).buffer(3000)
    with pytest.raises(NotFlyable, match=r"no route .*\(Ring\)"):
        route_round((0, 0), (9000, 0), [ring], 0, 0, TAS, ["Ring"])
    # Inside the ring's hole it is free.
    assert len(route_round((0, 0), (2000, 0), [ring], 0, 0, TAS).coords) == 2


def test_route_out_of_a_gapped_ring_goes_through_the_gap():
    ring = (
        shapely.Point(0, 0).buffer(5000) - shapely.Point(0, 0).buffer(3000) - shapely.box(-100, 0, 100, 9000)
    )
    route = route_round((0, 0), (0, -9000), [ring], 0, 0, TAS)
    assert max(y for _, y in route.coords) > 4900
    assert route.intersection(ring.buffer(-1.0)).length == 0.0


def test_areas_that_touch_or_all_but_touch_leave_no_route_between():
    for gap in (0.0, 1.0):
        areas = [shapely.box(0, gap / 2, 100, 4000), shapely.box(0, -6000, 100, -gap / 2)]
        route = route_round((-3000, 0), (3000, 0), areas, 0, 0, TAS)
        assert (0, 4000) in list(route.coords)
    corner = [shapely.box(-4000, 0, 0, 100), shapely.box(0, -100, 6000, 0)]  # touch in one point
    assert len(route_round((-100, -50), (100, 50), corner, 0, 0, TAS).coords) > 2
    open_gap = [shapely.box(0, 5, 100, 4000), shapely.box(0, -6000, 100, -5)]
    assert route_round((-3000, 0), (3000, 0), open_gap, 0, 0, TAS).length == 6000.0


def test_overlapping_areas_are_one():
    areas = [shapely.box(0, -3000, 1000, 1000), shapely.box(500, 500, 1500, 5000)]
    route = route_round((-4000, 0), (5000, 0), areas, 0, 0, TAS)
    best = [(-4000, 0), (0, -3000), (1000, -3000), (5000, 0)]
    assert list(route.coords) == best


def test_very_detailed_outlines_are_thinned_outward_only():
    disc = shapely.Point(0, 0).buffer(3000, quad_segs=400)
    prepared = airspace([disc])
    assert len(prepared.corners_m) < 200
    route = find_route(prepared, (-9000, 0), (9000, 10), 0, 0, TAS)
    assert route.intersection(disc.buffer(-0.5)).length == 0.0
    exact = 2 * math.sqrt(9000**2 - 3000**2) + 3000 * (math.pi - 2 * math.acos(1 / 3))
    assert exact - 1 < route.length < exact * 1.005


def test_wind_at_or_above_the_airspeed_is_refused():
    with pytest.raises(NotFlyable, match=r"50\.0 m/s is not below the true airspeed of 50\.0 m/s"):
        route_round((0, 0), (1000, 0), [shapely.box(0, 500, 100, 600)], 0, 50, TAS)


@pytest.mark.parametrize(
    "areas",
    [[shapely.Polygon()], [shapely.Point(0, 0)], [shapely.Polygon([(0, 0), (9, 9), (9, 0), (0, 9)])]],
)
def test_bad_areas_are_refused(areas):
    with pytest.raises(BadArgument, match="valid polygon"):
        route_round((0, 0), (1000, 0), areas, 0, 5, TAS)


CRS = local_crs(171.0, -42.0).to_wkt()
STATE = FlightState(TAS, 40.0, 4.0, 5.0, 150.0, 180.0, 2000.0, 310.0, 12.0)
FLIGHT = {
    "frame_crs_wkt": CRS,
    "start_altitude_m": 500.0,
    "end_altitude_m": 500.0,
    "state": STATE,
    "terrain": Grid(np.zeros((300, 300)), -15000.0, 15000.0, 100.0, 100.0),
    "obstacles": (),
}


def closure(area, kind="no flying", name="Firing Ground"):
    return Closure("c1", name, kind, area, "live firing", date(2024, 1, 1), None)


def test_best_leg_is_straight_where_that_is_free():
    aside = closure(shapely.box(-1000, 4000, 1000, 6000))
    flown = best_leg((-9000.0, 0.0), (9000.0, 0.0), no_fly=[aside], **FLIGHT)
    assert flown == leg((-9000.0, 0.0), (9000.0, 0.0), **FLIGHT)
    across = closure(shapely.box(-1000, -4000, 1000, 6000), kind="no filling")
    assert best_leg((-9000.0, 0.0), (9000.0, 0.0), no_fly=[across], **FLIGHT) == flown


def test_best_leg_flies_round_and_takes_longer():
    across = closure(shapely.box(-1000, -2000, 1000, 6000))
    straight = best_leg((-9000.0, 0.0), (9000.0, 0.0), no_fly=[], **FLIGHT)
    flown = best_leg((-9000.0, 0.0), (9000.0, 0.0), no_fly=[across], **FLIGHT)
    assert flown.detour
    assert list(flown.route.coords) == [(-9000, 0), (-1000, -2000), (1000, -2000), (9000, 0)]
    assert flown.time_s > straight.time_s
    # The plane's uniform wind and the ellipsoid's true wind differ by the convergence along the leg: parts in 1e4.
    assert flown.time_s == pytest.approx(seconds(flown.route.coords, 310.0, 12.0), rel=2e-3)


def test_best_leg_into_a_closed_area_names_it():
    with pytest.raises(NotFlyable, match="Firing Ground"):
        best_leg(
            (-9000.0, 0.0), (0.0, 0.0), no_fly=[closure(shapely.box(-1000, -2000, 1000, 6000))], **FLIGHT
        )


@pytest.mark.parametrize("easting", [-300000.0, 300000.0])
def test_best_leg_turns_the_true_wind_to_the_grid(easting):
    # A wall across the leg, the same both ways: a wind straight along the leg ties, the least turn decides the side.
    # Far from the centre grid north differs by over 2 deg from true north, so the turn's sign depends on it.
    start, end = (easting - 9000.0, 0.0), (easting + 3000.0, 0.0)
    wall = closure(shapely.box(easting - 10, -3000, easting + 10, 3000))
    turn = (grid_bearing_deg(CRS, (easting, 0.0), 0.0) + 180) % 360 - 180
    air = {
        **FLIGHT,
        "terrain": None,
        "state": replace(STATE, wind_ms=35.0, wind_from_true_deg=270.0 - turn / 2),
    }
    flown = best_leg(start, end, no_fly=[wall], **air)
    sides = []
    for side in (-3000.0, 3000.0):
        corners = [start, (easting - 10, side), (easting + 10, side), end]
        sides.append((seconds(corners, 270.0 + turn / 2, 35.0), corners))
    assert abs(turn) > 2.0
    assert abs(sides[0][0] - sides[1][0]) > 0.1
    assert list(flown.route.coords) == min(sides)[1]


def test_grid_bearing_at_the_centre_and_aside():
    # At the centre of the projection grid north is true north; aside the convergence is about
    # (longitude difference) x sin(latitude) (spherical formula, any map projection text).
    assert grid_bearing_deg(CRS, (0.0, 0.0), 310.0) == pytest.approx(310.0, abs=1e-6)
    away = 50000.0
    turn = math.degrees(away / 6378000.0 / math.cos(math.radians(42))) * math.sin(math.radians(42)) / 2
    assert abs(grid_bearing_deg(CRS, (away, 0.0), 0.0)) > 0
    shift = (grid_bearing_deg(CRS, (away, 0.0), 0.0) + 180) % 360 - 180
    assert shift > 0  # south of the equator, east of the centre, meridians lean to the east of grid north
    assert shift == pytest.approx(2 * turn, rel=0.03)


def test_margin_keeps_the_route_off_a_closed_area():
    shut = shapely.box(-300.0, -4000.0, 300.0, 3000.0)
    route = find_route(airspace([widened(shut, 500.0)]), (-8000.0, 0.0), (6000.0, 0.0), 0.0, 0.0, TAS)
    assert route.distance(shut) == pytest.approx(500.0)
    with pytest.raises(BadArgument, match="margin_m"):
        widened(shut, -1.0)
