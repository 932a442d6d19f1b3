"""Routes round high ground and no-fly areas against closed-form detours, an independent search and the leg rule."""

import heapq
import math
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from scipy.ndimage import maximum_filter

from geo.base.errors import NotFlyable
from geo.base.geodesy import local_crs
from geo.base.grid import Grid
from geo.flight.legs.corridor import corridor
from geo.flight.legs.flight_state import FlightState, rule_of
from geo.flight.legs.no_fly_routes import airspace
from geo.flight.routing.dogleg_kernels import opened
from geo.flight.routing.route_ground import route_ground
from geo.flight.routing.route_kernels import route_seconds
from geo.flight.routing.route_search import RouteSearch
from geo.records.flight import Leg
from geo.records.region import Obstacle
from tests.flight.flying import TerrainLegs, at, leg

CRS = local_crs(150.0, -36.0).to_wkt()
STATE = FlightState(50.0, 40.0, 4.0, 4.0, 150.0, 150.0, 3000.0, 300.0, 9.0)
EMPTY = airspace([])
CELL = 60.0
HALF = 12000.0


def terrain(height_at):
    """A raster of 24 km by 24 km about the origin, heights from a function of easting and northing."""
    count = int(2 * HALF / CELL)
    middle = -HALF + (np.arange(count) + 0.5) * CELL
    east, north = np.meshgrid(middle, -middle)
    return Grid(np.broadcast_to(height_at(east, north), east.shape).astype(float), -HALF, HALF, CELL, CELL)


def routes(grid, closed=EMPTY, obstacles=()):
    return TerrainLegs(corridor(grid, STATE.half_width_m, obstacles), closed, CRS)


def fly(start, end, start_m, end_m, state, grid, route=None):
    """The leg rule itself, along a given route."""
    line = None if route is None or len(route) == 2 else shapely.LineString(route)
    ground = corridor(grid, state.half_width_m)
    return leg(start, end, CRS, start_m, end_m, state, ground, route=line)


def flown_or_refused(*asked):
    """The leg, or why it cannot be flown."""
    try:
        return fly(*asked)
    except NotFlyable as refusal:
        return refusal


def answer_of(found):
    """All that must be the same in two answers, to the last digit."""
    if isinstance(found, NotFlyable):
        return "not flyable", str(found)
    return found.time_s.hex(), found.route.wkb_hex


def wall(height, gap=(5000.0, 7000.0), first=-500.0, last=500.0):
    """Flat ground at 0 with a wall across the whole raster, open between two northings."""
    return terrain(
        lambda e, n: np.where((e > first) & (e < last) & ~((n > gap[0]) & (n < gap[1])), height, 0.0)
    )


START, END = (-7000.0, 0.0), (7000.0, -500.0)


def both(sought, start_m=0.0, end_m=0.0, state=STATE):
    """The leg from START to END, once with the hub at its end and once with the hub at its start."""
    return (
        sought.legs_to(END, end_m, [(START, start_m)], state)[0],
        sought.legs_from(START, start_m, [(END, end_m)], state)[0],
    )


def test_flat_ground_is_flown_direct_and_nothing_is_sought():
    grid = terrain(lambda e, n: 20.0 + 0.0 * e)
    sought, direct = routes(grid), fly(START, END, 25.0, 25.0, STATE, grid)
    for found in both(sought, 25.0, 25.0):
        assert found.time_s == direct.time_s
        assert not found.detour
    assert sought.legs_sought == 0


@pytest.mark.parametrize("gap_to", [7000.0, 5900.0])
def test_a_wall_is_passed_through_its_gap(gap_to):
    # Closed answer: the shortest route from START to END past the gap's near edge, kept away from it by the corridor's
    # half-width and by less than two cells more (a cell counts when any part of it is within the half-width); on flat
    # ground at that, so its time is the leg rule's over no terrain.
    grid = wall(2000.0, (5000.0, gap_to))
    for found in both(routes(grid)):
        bounds = []
        for off in (STATE.half_width_m, STATE.half_width_m + 2 * CELL):
            past = [START, (-500.0, 5000.0 + off), (500.0, 5000.0 + off), END]
            bounds.append(fly(START, END, 0.0, 0.0, STATE, terrain(lambda e, n: 0.0 * e), past).time_s)
        assert bounds[0] * 0.995 < found.time_s < bounds[1] * 1.005
        assert found.detour
        assert found.highest_what.startswith("terrain, 150 m")


def test_a_wedge_is_rounded_at_its_tip():
    # Closed answer: round the tip of a wedge (0, 3000) that widens southward, kept off by the corridor; see above.
    grid = terrain(lambda e, n: np.where((n < 3000.0) & (np.abs(e) < 0.5 * (3000.0 - n)), 2500.0, 0.0))
    flat = terrain(lambda e, n: 0.0 * e)
    low = fly(START, END, 0.0, 0.0, STATE, flat, [START, (0.0, 3000.0), END]).time_s
    high = fly(START, END, 0.0, 0.0, STATE, flat, [START, (0.0, 3000.0 + 150.0 + 3 * CELL), END]).time_s
    for found in both(routes(grid)):
        assert low < found.time_s < 1.003 * high


def test_a_plateau_to_be_climbed_anyway_is_flown_straight():
    # The end stands on the plateau, so the climb is due on every route; the direct route is the shortest.
    grid = terrain(lambda e, n: np.where(e > 2000.0, 600.0, 0.0))
    direct = fly(START, END, 0.0, 750.0, STATE, grid)
    found = routes(grid).legs_to(END, 750.0, [(START, 0.0)], STATE)[0]
    assert found.time_s <= direct.time_s
    assert found.time_s == pytest.approx(direct.time_s, rel=0.004)


def test_no_detour_is_hinted_at_where_none_can_gain():
    # Over flat ground to an end 1,500 m up the climb is due on every route, and the direct leg knows that. Over a wall
    # without a gap it does not: a route round may be quicker until one was sought.
    hint, high_m = "a route round the high ground may be quicker", 1500.0
    grid = terrain(lambda e, n: 0.0 * e)
    direct = fly(START, END, 0.0, high_m, STATE, grid)
    sought = routes(grid)
    found = sought.legs_to(END, high_m, [(START, 0.0)], STATE)[0]
    assert found.time_s == direct.time_s and direct.cautions == found.cautions == ()
    assert sought.legs_sought == 0
    grid = terrain(lambda e, n: np.where(np.abs(e) < 500.0, 1200.0, 0.0))
    assert any(hint in caution for caution in fly(START, END, 0.0, 0.0, STATE, grid).cautions)
    for found in both(routes(grid)):
        assert found.climb_m > 700.0 and found.cautions == ()


def test_a_low_wall_is_crossed_and_a_higher_one_never_shortens_the_leg():
    # Invariant; the search's own scatter of 0.1 % is allowed for.
    last = [0.0, 0.0]
    for height in (0.0, 100.0, 300.0, 600.0, 900.0, 1400.0, 2200.0):
        found = both(routes(wall(height)))
        for side in range(2):
            assert found[side].time_s >= last[side] * 0.999
            last[side] = max(last[side], found[side].time_s)
        if height <= 100.0:
            assert found[0].distance_m < 14100.0  # hardly longer than the straight line of 14,009 m
        if height >= 900.0:
            assert found[0].distance_m > 17000.0


def test_the_ceiling_blocks_the_wall_but_not_its_gap():
    low = replace(STATE, ceiling_m=1500.0)
    with pytest.raises(NotFlyable):
        fly(START, END, 0.0, 0.0, low, wall(2000.0))
    for found in both(routes(wall(2000.0)), state=low):
        assert isinstance(found, Leg)
        assert found.detour
        assert found.safe_altitude_m < 200.0


def test_no_route_at_all_names_what_blocks_and_where():
    low = replace(STATE, ceiling_m=1500.0)
    for found in both(routes(wall(2000.0, (0.0, 0.0))), state=low):
        assert isinstance(found, NotFlyable)
        assert "2150 m" in str(found)
        assert "longitude" in str(found)
        assert "ceiling is 1500 m" in str(found)
        assert "No detour" in str(found)


def two_gaps(height):
    open_ = lambda n: ((n > 2500.0) & (n < 4000.0)) | ((n > -8000.0) & (n < -6500.0))  # noqa: E731
    return terrain(lambda e, n: np.where((np.abs(e) < 400.0) & ~open_(n), height, 0.0))


@pytest.mark.parametrize("ceiling_m", [3000.0, 1200.0])
def test_high_ground_and_a_closed_area_together(ceiling_m):
    # The nearer gap is shut by a no-fly area, so the route leads through the farther one and round nothing else.
    state = replace(STATE, ceiling_m=ceiling_m)
    shut = shapely.box(-600.0, 2000.0, 200.0, 4500.0)
    free = both(routes(two_gaps(2300.0)), state=state)
    barred = both(routes(two_gaps(2300.0), airspace([shut])), state=state)
    for one, other in zip(free, barred, strict=True):
        assert max(y for _, y in one.route.coords) > 2400.0
        assert min(y for _, y in other.route.coords) < -6400.0
        assert not other.route.crosses(shut.buffer(-1.0))
        assert other.time_s > one.time_s


def test_a_route_round_high_ground_is_not_straightened_through_a_closed_area():
    # The route through the gap, taken alone, crosses the box; it must be rounded before.
    box = shapely.box(-4500.0, 800.0, -2500.0, 4200.0)
    flat = terrain(lambda e, n: 0.0 * e)
    for one, other in zip(
        both(routes(wall(2300.0))), both(routes(wall(2300.0), airspace([box]))), strict=True
    ):
        assert one.route.crosses(box.buffer(-1.0))
        assert not other.route.crosses(box.buffer(-1.0))
        # Round the box's corner and on as without it.
        past = [START, (-4500.0, 4200.0), *[c for c in one.route.coords if c[1] > 4500.0], END]
        assert one.time_s < other.time_s < 1.005 * fly(START, END, 0.0, 0.0, STATE, flat, past).time_s


def test_a_closed_area_alone_gives_the_exact_route_of_the_corner_graph():
    shut = shapely.box(-300.0, -4000.0, 300.0, 3000.0)
    sought = routes(terrain(lambda e, n: 0.0 * e), airspace([shut]))
    for found in both(sought):
        assert list(found.route.coords)[1:-1] == [(-300.0, 3000.0), (300.0, 3000.0)]
    assert sought.legs_sought == 0


def test_a_closed_area_shut_in_by_high_ground_leaves_no_route():
    low = replace(STATE, ceiling_m=1200.0)
    shut = airspace([shapely.box(-600.0, 4000.0, 600.0, 8000.0)], ["Range"])
    for found in both(routes(wall(2000.0), shut), state=low):
        assert isinstance(found, NotFlyable)
        assert "No detour" in str(found)


def test_unknown_ground_and_things_of_unknown_height_never_open_a_route():
    gap = wall(1200.0)
    hidden = gap.values.copy()
    column = np.abs(-HALF + (np.arange(hidden.shape[1]) + 0.5) * CELL) < 200.0
    row = np.abs(HALF - (np.arange(hidden.shape[0]) + 0.5) * CELL - 6000.0) < 1500.0
    hidden[np.ix_(row, column)] = np.nan
    hedge = Obstacle("h", "hedge", "trees", shapely.LineString([(0, 4500), (0, 7500)]), None, None, "test")
    through = both(routes(gap))
    for sought in (routes(Grid(hidden, -HALF, HALF, CELL, CELL)), routes(gap, obstacles=[hedge])):
        for found, easy in zip(both(sought), through, strict=True):
            assert found.time_s > 1.05 * easy.time_s
            assert max(y for _, y in found.route.coords) < 4500.0 + 1.0


def test_unknown_ground_in_the_nearer_gap_leads_through_the_farther():
    grid = two_gaps(2300.0)
    hidden = grid.values.copy()
    middle = -HALF + (np.arange(hidden.shape[1]) + 0.5) * CELL
    hidden[np.ix_(np.abs(-middle - 3250.0) < 900.0, np.abs(middle) < 200.0)] = np.nan
    for found in both(routes(Grid(hidden, -HALF, HALF, CELL, CELL))):
        assert min(y for _, y in found.route.coords) < -6400.0


def test_a_known_obstacle_in_the_gap_is_cleared_or_passed():
    hedge = Obstacle("h", "cable", "wire", shapely.LineString([(0, 4800), (0, 7200)]), 400.0, None, "test")
    for found in both(routes(wall(2000.0), obstacles=[hedge])):
        assert found.safe_altitude_m == pytest.approx(550.0)
        assert found.highest_what.startswith("wire 'cable'")


def hills(seed, height=900.0):
    rng = np.random.default_rng(seed)
    peaks = rng.uniform(-9000.0, 9000.0, (25, 2)), rng.uniform(600.0, 2500.0, 25), rng.uniform(0.3, 1.0, 25)

    def height_at(e, n):
        total = 0.0 * e
        for (x, y), width, part in zip(*peaks, strict=True):
            total = np.maximum(total, part * height * np.exp(-((e - x) ** 2 + (n - y) ** 2) / width**2))
        return total

    return terrain(height_at)


def ends_on(grid, seed, count):
    rng = np.random.default_rng(seed)
    places = rng.uniform(-10000.0, 10000.0, (count, 2))
    return [((float(x), float(y)), float(grid.bilinear(x, y))) for x, y in places]


def test_never_slower_than_direct_and_flown_exactly_along_its_route():
    grid = hills(1)
    sought = routes(grid)
    hub = (500.0, 700.0)
    hub_m = float(grid.bilinear(*hub)) + 150.0
    others = ends_on(grid, 2, 12)
    detours = freed = 0
    for outward in (True, False):
        given = (sought.legs_to if outward else sought.legs_from)(hub, hub_m, others, STATE)
        for (place, height), found in zip(others, given, strict=True):
            ends = (place, hub, height, hub_m) if outward else (hub, place, hub_m, height)
            direct = flown_or_refused(*ends, STATE, grid)
            if isinstance(found, NotFlyable):
                assert isinstance(direct, NotFlyable)
                continue
            again = fly(*ends, STATE, grid, list(found.route.coords))
            assert found.time_s == again.time_s
            assert isinstance(direct, NotFlyable) or found.time_s <= direct.time_s
            detours += found.detour
            freed += isinstance(direct, NotFlyable)
    assert detours >= 8 and freed >= 2
    alone = routes(grid)
    for (place, height), found in list(zip(others, given, strict=True))[:3]:
        (single,) = alone.legs_from(hub, hub_m, [(place, height)], STATE)
        assert answer_of(single) == answer_of(found)  # what else is asked is no matter


@pytest.mark.parametrize("cell_m", [CELL, 250.0, 900.0])
def test_the_compiled_rule_agrees_with_the_leg_rule(cell_m):
    # Two codes of one rule: in the plane by cells, and on the ellipsoid; the plane's scale and the legs' convergence
    # make the difference. Coarse cells straddle the places where the rule changes, and both must cut them there.
    grid = hills(3, 250.0)
    if cell_m != CELL:
        middle = -HALF + (np.arange(int(2 * HALF / cell_m)) + 0.5) * cell_m
        grid = Grid(grid.bilinear(*np.meshgrid(middle, -middle)), -HALF, HALF, cell_m, cell_m)
    ground = route_ground(corridor(grid, STATE.half_width_m), EMPTY)
    rng = np.random.default_rng(4)
    apart, agreed = [], 0
    for (start, start_m), (end, end_m) in zip(ends_on(grid, 5, 40), ends_on(grid, 6, 40), strict=True):
        points = np.array([start, *rng.uniform(-9000.0, 9000.0, (2, 2)), end])
        exact = flown_or_refused(start, end, start_m, end_m + 100.0, STATE, grid, points)
        rule = rule_of(
            at((0.0, 0.0), start_m),
            at((0.0, 0.0), end_m + 100.0),
            STATE,
            STATE.wind_from_true_deg,
            ground.lowest_m,
        )
        seconds = route_seconds(points, ground.open, rule, math.inf)
        if isinstance(exact, NotFlyable) or seconds == math.inf:
            agreed += isinstance(exact, NotFlyable) and seconds == math.inf
        else:
            apart.append(seconds / exact.time_s - 1.0)
    # Where a circle has room only just, the plane and the ellipsoid may differ.
    assert agreed + len(apart) >= 39 and len(apart) >= 7
    assert np.median(np.abs(apart)) < 1e-4
    # A surface that just touches a coarse cell, or just does not, jumps by the height of that cell: seen on one leg in
    # seven, by 0.86 %.
    assert np.max(np.abs(apart)) < (3e-4 if cell_m == CELL else 0.01)
    assert np.mean(np.abs(apart) < 3e-4) >= 0.85


def edge_needs(grid, wide, start, ends, state):
    """Independent: heights needed every 20 m of an edge, and how far along it. En route the clearance over the whole
    corridor (wide holds the highest in it); in the departure part, as long as the climb takes to gain it, what stands
    in 25 m to each side, one in ten more on the way, must only lie below."""
    (ax, ay), (bx, by) = ends
    length = math.hypot(bx - ax, by - ay)
    share = np.linspace(0.0, 1.0, 2 + int(length / 20.0))
    x, y = ax + share * (bx - ax), ay + share * (by - ay)
    off = np.hypot(x - start[0], y - start[1])
    # A little shorter, because a way from the start to here is a little longer than the straight line.
    leaving = off < 0.95 * state.clearance_m * state.climb_speed_ms / state.climb_ms
    if not leaving.any():
        return wide.nearest(x, y) + state.clearance_m, share * length
    needed = np.full(len(x), -np.inf)
    width = np.where(leaving, np.minimum(25.0 + 0.1 * off, state.half_width_m), state.half_width_m)
    for part in (0.0, 0.5, 1.0):
        for angle in np.linspace(0.0, 2.0 * math.pi, 8, endpoint=False):
            beside = x + part * width * math.sin(angle), y + part * width * math.cos(angle)
            needed = np.maximum(needed, grid.nearest(*beside))
    return needed + np.where(leaving, 0.0, state.clearance_m), share * length


def capped_search_s(grid, start, start_m, end, spacing, state):
    """Independent: for each climb cap, a search in the order of time over 16 moves; calm, a descent without a limit.

    Written apart from the lattice: forward from the start, one altitude cap at a time, heights sampled every 20 m. An
    edge is entered only when all of it is cleared by the climb at that hour; it is waited for only where a circle on
    either side has room at the height reached. So the time can be flown: the best route is never slower.
    """
    count = round(2 * 10000.0 / spacing)
    moves = [(i, j) for i in range(-2, 3) for j in range(-2, 3) if math.gcd(i, j) == 1]
    radius = state.climb_speed_ms**2 / (9.80665 * math.tan(math.radians(state.bank_deg)))
    reach = math.ceil((2.0 * radius + state.half_width_m) / CELL) + 1
    disc = np.hypot(*np.mgrid[-reach : reach + 1, -reach : reach + 1]) <= reach
    about = replace(grid, values=maximum_filter(grid.values, footprint=disc))

    wide = corridor(grid, state.half_width_m).surface

    def edge(node, other):
        ends = [[-10000.0 + spacing * value for value in one] for one in (node, other)]
        needed, along = edge_needs(grid, wide, start, ends, state)
        earliest = (needed - start_m) / state.climb_ms - along / state.climb_speed_ms
        return float(needed.max()), float(earliest.max())

    edges = {}
    goal = (round((end[0] + 10000.0) / spacing), round((end[1] + 10000.0) / spacing))
    first = (round((start[0] + 10000.0) / spacing), round((start[1] + 10000.0) / spacing))
    best = math.inf
    for cap in np.arange(start_m + 150.0, 1300.0, 100.0):
        climb_until = (cap - start_m) / state.climb_ms
        times, queue = {first: 0.0}, [(0.0, first)]
        while queue:
            now, node = heapq.heappop(queue)
            if node == goal or now > times[node]:
                continue
            place = [np.array(-10000.0 + spacing * value) for value in node]
            height = min(cap, start_m + state.climb_ms * now)
            may_wait = float(about.nearest(*place)) + state.clearance_m <= height
            for i, j in moves:
                other = node[0] + i, node[1] + j
                if not (0 <= other[0] <= count and 0 <= other[1] <= count):
                    continue
                if (node, other) not in edges:
                    edges[node, other] = edge(node, other)
                needed, earliest = edges[node, other]
                if needed > cap or (earliest > now and not may_wait):
                    continue
                length = spacing * math.hypot(i, j)
                leave = max(now, earliest)
                slow = min(length / state.climb_speed_ms, max(0.0, climb_until - leave))
                arrive = leave + slow + (length - slow * state.climb_speed_ms) / state.tas_ms
                if arrive < times.get(other, math.inf):
                    times[other] = arrive
                    heapq.heappush(queue, (arrive, other))
        best = min(best, max(times.get(goal, math.inf), climb_until))
    return best


@pytest.mark.parametrize("seed", [11, 18])
def test_no_slower_than_an_independent_search_over_climb_caps(seed):
    # The reference can be flown, on a coarse lattice at that, so the route found must not be slower.
    calm = replace(STATE, wind_ms=0.0, descent_ms=1000.0)
    grid = hills(seed, 1000.0)
    start, end = (-7500.0, -1500.0), (7500.0, 1500.0)
    start_m, end_m = float(grid.bilinear(*start)) + 30.0, float(grid.bilinear(*end)) + 150.0
    reference = capped_search_s(grid, start, start_m, end, 500.0, calm)
    assert reference < math.inf
    sought = routes(grid)
    direct = flown_or_refused(start, end, start_m, end_m, calm, grid)
    out = sought.legs_to(end, end_m, [(start, start_m)], calm)[0]
    back = sought.legs_from(start, start_m, [(end, end_m)], calm)[0]
    for found in (out, back):
        assert found.time_s <= 1.001 * reference
        assert isinstance(direct, NotFlyable) or found.time_s < 0.97 * direct.time_s
    # The same leg, asked with the hub at its end and with the hub at its start.
    assert out.time_s == back.time_s


def scene(seed):
    """Hills with a hub on them, and legs to it and from it."""
    grid, hub = hills(40 + seed, 1200.0), (400.0, -300.0)
    return grid, hub, float(grid.bilinear(*hub)) + 30.0, ends_on(grid, 60 + seed, 5)


def times_of(grid, hub, hub_m, others, state):
    sought = routes(grid)
    given = [*sought.legs_to(hub, hub_m, others, state), *sought.legs_from(hub, hub_m, others, state)]
    assert sought.legs_sought > len(others), "the scene must have legs for which routes are sought"
    times = np.array([math.inf if isinstance(found, NotFlyable) else found.time_s for found in given])
    assert np.mean(np.isfinite(times)) >= 0.5, "half the legs of a scene can be flown"
    return times, given


def changes_s(one, other):
    """How much times differ [s]; the same legs must be refused."""
    flown = np.isfinite(one)
    assert np.array_equal(flown, np.isfinite(other))
    return np.abs(np.subtract(other, one, where=flown, out=np.zeros(len(one))))


@pytest.mark.parametrize("seed", range(2))
def test_equal_questions_get_equal_answers_and_near_ones_near_answers(seed):
    # The project's own bars: inputs changed by 1e-9 change no time by more than 0.05 %; a hub moved by half a metre by
    # no more than that takes plus 0.1 %. tests/bench/bench_routes.py measures how many of many legs keep it.
    grid, hub, hub_m, others = scene(seed)
    asked, _ = times_of(grid, hub, hub_m, others, STATE)
    share = 1.0 + 1e-9
    near = replace(STATE, wind_ms=STATE.wind_ms * share, wind_from_true_deg=STATE.wind_from_true_deg * share)
    shifted = [((x * share, y * share), height * share) for (x, y), height in others]
    again, _ = times_of(grid, hub, hub_m * share, shifted, near)
    assert np.max(changes_s(asked, again) / asked) <= 0.0005
    moved, _ = times_of(grid, (hub[0] + 0.3, hub[1] + 0.4), hub_m, others, STATE)
    slowest_ms = STATE.climb_speed_ms - STATE.wind_ms
    assert np.max((changes_s(asked, moved) - 0.5 / slowest_ms) / asked) <= 0.001


@pytest.mark.parametrize("seed", [2])
def test_no_slower_than_an_independent_search_with_via_points(seed):
    # The independent search of the bench; its bars are for many legs (0.3 % mean, 1.0 % at the 95th percentile, 2.5 %
    # worst), so that few legs here are held to the worst and to twice the mean.
    from tests.bench.bench_routes import Scene, plain_leg

    grid, hub, hub_m, others = scene(seed)
    others = others[:3]
    _, given = times_of(grid, hub, hub_m, others, STATE)
    one = Scene("hills", grid, corridor(grid, STATE.half_width_m), EMPTY, at(hub, hub_m), ())
    asked = [(place, outward) for outward in (True, False) for place in others]
    over = np.array(
        [
            found.time_s / plain_leg(one, at(*place), STATE, outward, [found]) - 1.0
            for found, (place, outward) in zip(given, asked, strict=True)
        ]
    )
    assert np.mean(over) <= 0.006 and np.max(over) <= 0.025


ALONE = """
import sys
from tests.flight.test_terrain_legs import STATE, answer_of, scene, times_of
for seed in (0,):
    for found in times_of(*scene(seed), STATE)[1]:
        print(*answer_of(found))
"""


def told_alone(folder, processor):
    """What a process of its own answers; for a named processor the kernels are compiled there."""
    own = (
        {"NUMBA_CPU_NAME": processor, "NUMBA_CPU_FEATURES": "", "NUMBA_CACHE_DIR": str(folder)}
        if processor
        else {}
    )
    held = {k: v for k, v in os.environ.items() if k not in ("NUMBA_CPU_NAME", "NUMBA_CPU_FEATURES")}
    held |= {"PYTHONPATH": str(Path(__file__).resolve().parents[2])} | own
    command = [sys.executable, "-c", ALONE]
    return subprocess.run(command, env=held, capture_output=True, text=True, check=True).stdout


def test_a_way_shut_close_to_its_start_is_opened_beside_it():
    # A tower of ground above the ceiling 400 m from the start: the straight way cannot be flown, one with a corner can.
    low = replace(STATE, ceiling_m=1200.0)
    grid = terrain(lambda e, n: np.where((np.abs(e + 6500.0) < 100.0) & (np.abs(n) < 500.0), 2000.0, 0.0))
    ground = route_ground(corridor(grid, low.half_width_m), EMPTY)
    rule = rule_of(at(START, 0.0), at(END, 0.0), low, low.wind_from_true_deg, ground.lowest_m)
    search = RouteSearch(np.array([START, END]), rule, ground)
    assert search.seconds(search.ends) == math.inf
    found = opened(search.ends, ground.open, rule, math.inf)
    takes_s = search.seconds(found)
    assert takes_s < math.inf and len(found) == 4
    # What takes longer than is of use is not given.
    assert np.array_equal(opened(search.ends, ground.open, rule, takes_s), search.ends)


@pytest.mark.slow
def test_the_answer_is_the_same_compiled_for_any_processor(tmp_path):
    # To the last digit; for x86-64 without anything newer than SSE2 against whatever this machine has.
    here, plain = told_alone(tmp_path, None), told_alone(tmp_path, "generic")
    assert here == plain and here.count("\n") == 10


def test_no_kernel_may_reorder_sums():
    # What `fastmath` allows differs from processor to processor (numba, "Fast-math").
    folder = Path(__file__).resolve().parents[2] / "geo" / "flight"
    assert [
        path.name for path in folder.rglob("*.py") if "fastmath" in path.read_text(encoding="utf-8")
    ] == []


def test_the_answer_is_the_same_with_any_number_of_threads():
    grid, hub, hub_m, others = scene(1)
    _, alone = times_of(grid, hub, hub_m, others, STATE)
    sought = routes(grid)
    with ThreadPoolExecutor(4) as pool:
        there = pool.map(lambda other: sought.legs_to(hub, hub_m, [other], STATE)[0], others)
        back = pool.map(lambda other: sought.legs_from(hub, hub_m, [other], STATE)[0], others)
        beside = [*there, *back]
    for one, other in zip(alone, beside, strict=True):
        assert answer_of(one) == answer_of(other)
