"""Flown legs keep what is printed: an independent checker over invented and real relief, and over the demo region.

Real relief: the sample elevations of Jacksboro that matplotlib ships (public SRTM-like heights every 3 arc-seconds,
344 x 403 cells, 236 to 1,076 m), taken as cells of 74.4 x 92.6 m in a plane; at their own and at three times their
heights. Lakes are made by flooding hollows.
"""

from dataclasses import replace
from pathlib import Path

import matplotlib
import numpy as np
import pytest
import shapely
from scipy.ndimage import minimum_filter

from geo import pipeline
from geo.base.errors import NotFlyable
from geo.base.geodesy import local_crs
from geo.base.grid import Grid
from geo.flight.legs.best_leg import LegCache
from geo.flight.legs.corridor import corridor
from geo.flight.legs.flight_state import FlightState, rule_of
from geo.flight.legs.leg import leg
from geo.flight.legs.no_fly_routes import airspace
from geo.flight.routing.dogleg_kernels import doglegs
from geo.flight.routing.route_ground import route_ground
from geo.flight.routing.terrain_legs import TerrainLegs
from geo.ingest.layers.aircraft import load_profile
from geo.records.flight import Endpoint, Leg
from geo.records.region import Obstacle
from services.core import quantities
from tests.flight.leg_checker import Promise, climb_on_a_day, faults

CRS = local_crs(150.0, -36.0).to_wkt()
# About the loaded heavy tank helicopter's figures, at one rate of climb, in 18 kt.
LOADED = FlightState(
    50.0, 38.6, 3.0, 4.06, 150.6, 150.0, 3600.0, 300.0, 9.26, error_m=0.6, end_half_width_m=26.0
)
EMPTY = replace(LOADED, tas_ms=55.6, climb_speed_ms=41.2, climb_ms=5.4)
LIFT_OFF_M, DROP_M = 30.0, 60.0


def promise_of(state, start, end):
    return Promise(
        state.clearance_m, state.error_m, state.half_width_m, state.end_half_width_m, state.climb_speed_ms,
        state.tas_ms, state.climb_ms, state.descent_ms, state.wind_ms, state.bank_deg, state.acceleration_ms2,
        start.speed_ms, start.above_ground_m, end.above_ground_m,
    )  # fmt: skip


def invented(seed, height=700.0):
    """Hills of a few kilometres over a plain, 24 km square, in cells of 60 m."""
    rng = np.random.default_rng(seed)
    middle = -12000.0 + (np.arange(400) + 0.5) * 60.0
    east, north = np.meshgrid(middle, -middle)
    total = 20.0 + 15.0 * np.sin(east / 2100.0) * np.sin(north / 1700.0)
    for _ in range(25):
        x, y, width, part = *rng.uniform(-11000, 11000, 2), rng.uniform(700, 2300), rng.uniform(0.3, 1.0)
        total = np.maximum(total, part * height * np.exp(-((east - x) ** 2 + (north - y) ** 2) / width**2))
    return Grid(total, -12000.0, 12000.0, 60.0, 60.0)


def real(times=1.0):
    sample = Path(matplotlib.get_data_path()) / "sample_data" / "jacksboro_fault_dem.npz"
    heights = times * np.load(sample)["elevation"].astype(float)
    return Grid(heights, 0.0, 344 * 92.6, 74.4, 92.6)


def flooded(grid, rise_m=25.0, reach_m=900.0):
    """Flood hollows; give the raster with lakes and a place with its level in each."""
    size = tuple(2 * int(reach_m / cell) + 1 for cell in (grid.cell_north_m, grid.cell_east_m))
    values, places = grid.values.copy(), []
    rows, columns = np.nonzero(grid.values == minimum_filter(grid.values, size))
    east, north = (
        grid.west_m + (columns + 0.5) * grid.cell_east_m,
        grid.north_m - (rows + 0.5) * grid.cell_north_m,
    )
    for row, column, x, y in zip(rows, columns, east, north, strict=True):
        a, b = max(row - size[0] // 2, 0), max(column - size[1] // 2, 0)
        window = values[a : row + size[0] // 2 + 1, b : column + size[1] // 2 + 1]
        level = grid.values[row, column] + rise_m
        np.copyto(window, level, where=window < level)
        if all(
            min(abs(edge - at) for edge in edges) > 3000.0
            for at, edges in ((x, grid.bounds[::2]), (y, grid.bounds[1::2]))
        ):
            places.append(((x, y), level))
    return replace(grid, values=values), places


def checked(grid, seed, wanted, state=LOADED, obstacles=(), most=4000):
    """Fly legs between random lakes and drops, straight and by corners about both ends, out or back, until so many were
    flown; give their count, how many circle, and the promises broken."""
    grid, lakes = flooded(grid)
    rng = np.random.default_rng(seed)
    surface, space = corridor(grid, state.half_width_m, obstacles), airspace([])
    ground = route_ground(surface, space)
    tops = [(shape.shape, shape.top_elevation_m) for shape in obstacles]
    flown, said, circled, tries = 0, [], 0, 0
    west, south, east, north = grid.bounds
    while flown < wanted and tries < most:
        tries += 1
        drop = rng.uniform([west + 4000.0, south + 4000.0], [east - 4000.0, north - 4000.0])
        hub = Endpoint(shapely.Point(drop), float(grid.bilinear(*drop)) + DROP_M, DROP_M)
        (place, level), outward = lakes[int(rng.integers(len(lakes)))], bool(rng.integers(2))
        water = Endpoint(shapely.Point(place), level + LIFT_OFF_M, 0.0, 0.0 if outward else None)
        start, end = (water, hub) if outward else (hub, water)
        used = state if outward else _empty_of(state)
        ends = np.array([start.xy, end.xy])
        rule = rule_of(start, end, used, used.wind_from_true_deg, ground.lowest_m)
        for route in [ends, *doglegs(ends[0], ends[1], ground.open, rule, 2)]:
            try:
                found = leg(start, end, used, surface, CRS, shapely.LineString(route), space)
            except NotFlyable:
                continue
            broken = faults(found, grid, tops, promise_of(used, start, end))
            flown, circled = flown + 1, circled + bool(found.circling)
            said += [f"{place} to {drop}: {text}" for text in broken[:3]]
    return flown, circled, said


def _empty_of(state):
    return replace(state, tas_ms=EMPTY.tas_ms, climb_speed_ms=EMPTY.climb_speed_ms, climb_ms=EMPTY.climb_ms)


def masts(seed, count=30):
    rng = np.random.default_rng(seed)
    places, tops = rng.uniform(-9000.0, 9000.0, (count, 2)), rng.uniform(60.0, 250.0, count)
    return [
        Obstacle(f"m{n}", f"mast {n}", "mast", shapely.Point(place), float(top), None, "test")
        for n, (place, top) in enumerate(zip(places, tops, strict=True))
    ]


RELIEFS = {
    "invented": lambda: (invented(1), masts(2)),
    "invented, steep": lambda: (invented(7, 1400.0), ()),
    "real": lambda: (real(), ()),
    "real, three times as high": lambda: (real(3.0), ()),
}


@pytest.mark.parametrize(("relief", "wanted"), [("invented", 30), ("real", 30)])
def test_no_leg_breaks_a_promise(relief, wanted):
    grid, obstacles = RELIEFS[relief]()
    flown, _, said = checked(grid, 3, wanted, obstacles=obstacles)
    assert flown >= wanted
    assert said == []


@pytest.mark.slow
@pytest.mark.parametrize("relief", RELIEFS)
def test_no_leg_breaks_a_promise_over_many(relief):
    grid, obstacles = RELIEFS[relief]()
    flown, circled, said = checked(grid, 4, 80, obstacles=obstacles)
    print(f"{relief}: {flown} legs, {circled} with circles, {len(said)} faults")
    assert flown >= 80
    assert said == []


def demo_promise(profile, region, leg_state, start_speed_ms, above, start_m):
    # Least at the top of the departure part, in 34 degC at sea level and 1009 hPa.
    least = climb_on_a_day(leg_state[2], profile.ceiling_m, start_m + 150.6 - above[0], 34.0, 1009.0)
    return Promise(
        profile.ground_clearance_m + region.counted_terrain_error_m, region.counted_terrain_error_m,
        profile.corridor_half_width_m, profile.surface_half_width_m, *leg_state, profile.descent_ms, 9.26,
        profile.circle_bank_deg, profile.acceleration_ms2, start_speed_ms, *above, least,
    )  # fmt: skip


def test_no_leg_of_the_demo_breaks_a_promise(demo_region, demo_survey):
    profile, region = load_profile("heavy_tank_helicopter"), demo_region
    tops = []
    for one in region.obstacles:
        top = one.top_elevation_m
        if top is None and one.height_above_ground_m is not None:
            # Stands on the ground of its place; a little less than the program counts is enough to see a fault.
            top = float(region.terrain.nearest(*(np.array(x) for x in one.shape.centroid.coords[0])))
            top += one.height_above_ground_m
            if one.shape.geom_type != "Point":
                continue  # a wire over hills has many tops; the invented relief checks obstacles
        if top is not None:
            tops.append((one.shape, top))
    said, count = [], 0
    weather = quantities.weather("300/18kt", "34C", "1009", "0m", None)
    for fire in region.fires:
        for source in pipeline.rank(region, demo_survey, fire, profile, weather).sources:
            cycle = source.cycle
            scoop = profile.ram_intake.speed_ms if cycle.method == "ram_intake" else 0.0
            loaded = profile.climb_speed_loaded_ms, profile.cruise_loaded_ms, profile.climb_loaded_ms
            empty = profile.climb_speed_empty_ms, profile.cruise_empty_ms, profile.climb_empty_ms
            drop = profile.drop_height_m
            for one, speeds, speed, above in (
                (cycle.loaded_leg, loaded, scoop, (0.0, drop)),
                (cycle.empty_leg, empty, None, (drop, 0.0)),
            ):
                count += 1
                promise = demo_promise(profile, region, speeds, speed, above, one.path_m[0][1])
                said += [
                    f"{source.name} {fire.name}: {x}"
                    for x in faults(one, region.flown_terrain, tops, promise)
                ]
    assert count >= 30
    assert said == []


# That the checker sees what it is for: a leg over a plain with one thing wrong each time.


def plain_leg(**change):
    grid = Grid(np.zeros((400, 400)), -12000.0, 12000.0, 60.0, 60.0)
    start = Endpoint(shapely.Point(-6000.0, 0.0), LIFT_OFF_M, 0.0, 0.0)
    end = Endpoint(shapely.Point(6000.0, 0.0), DROP_M, DROP_M)
    surface = corridor(grid, LOADED.half_width_m, ())
    found = TerrainLegs(airspace([]), LegCache(surface, CRS)).leg(end, start, LOADED, outward=True)
    assert isinstance(found, Leg)
    return replace(found, **change), grid, promise_of(LOADED, start, end)


def raised(grid, east, north, height):
    values = grid.values.copy()
    column, row = int((east - grid.west_m) / 60.0), int((grid.north_m - north) / 60.0)
    values[row, column] = height
    return replace(grid, values=values)


@pytest.mark.parametrize(
    ("east", "north", "height", "seen"),
    [
        (0.0, 0.0, 5.0, True),  # en route, under the track
        (0.0, 130.0, 5.0, True),  # at the corridor's edge
        (0.0, 250.0, 500.0, False),  # outside it
        (-5500.0, 0.0, 40.0, True),  # before it climbs
        (-5500.0, 130.0, 150.0, False),  # beside the surface
        (-4600.0, 130.0, 150.0, True),  # within it farther out
        (5500.0, 0.0, 130.0, True),  # on the way down to the drop
    ],
)
def test_the_checker_sees_ground_that_was_raised_after_the_flight(east, north, height, seen):
    flown, grid, promise = plain_leg()
    assert faults(flown, grid, [], promise) == []
    assert bool(faults(flown, raised(grid, east, north, height), [], promise)) == seen
    place = shapely.Point(east, north)
    assert bool(faults(flown, grid, [(place, height)], promise)) == seen


def test_the_checker_sees_a_flight_that_no_aircraft_flies():
    flown, grid, promise = plain_leg()
    steep = replace(flown, path_m=((0.0, 15.0), (0.0, 160.0), *flown.path_m[1:]))
    assert any("upright" in text for text in faults(steep, grid, [], promise))
    stretched = replace(flown, parts=(replace(flown.parts[0], to_m=9000.0), *flown.parts[1:]))
    assert any("at most" in text for text in faults(stretched, grid, [], promise))
