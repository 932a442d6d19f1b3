"""Laws that no figure of a ranking may break, over questions drawn at random: legs as flown, and whole rankings.

Reference: the issue's own invariants; each follows from the leg rule (a longer way or a later release is never sooner).
Rankings of the first few against the whole: tests/test_best_first.py.
"""

from dataclasses import replace

import numpy as np
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from geo import pipeline
from geo.base.geodesy import local_crs
from geo.base.grid import Grid
from geo.flight.legs.corridor import corridor
from geo.flight.legs.flight_state import FlightState
from geo.ingest.layers.aircraft import load_profile
from geo.records.conditions import Weather
from geo.records.extras import Target
from tests.flight.flying import leg
from tests.ranking.random_regions import Recipe, made

CRS = local_crs(-120.0, -47.0).to_wkt()
FREE = settings(max_examples=40, suppress_health_check=list(HealthCheck))
FEW = settings(max_examples=12, suppress_health_check=list(HealthCheck))
HEAVY = load_profile("heavy_tank_helicopter")
REGION, SURVEY = made(Recipe(16, cells=60, relief_m=250.0, good_share=0.7), 71)


def state(tas_ms, climb_speed_ms, wind_from_deg, wind_ms):
    return FlightState(tas_ms, climb_speed_ms, 4.0, 4.0, 150.0, 150.0, 3000.0, wind_from_deg, wind_ms)


def level(height_m):
    return Grid(np.full((40, 40), height_m), -20_000.0, 20_000.0, 1000.0, 1000.0)


def both_ways_s(place, states, grid, height_m=0.0):
    """Out and back between the origin and a place [m] over level ground."""
    out, back = states
    surface = corridor(grid, 150.0)
    there = leg((0.0, 0.0), place, CRS, height_m, height_m, out, surface).time_s
    return there + leg(place, (0.0, 0.0), CRS, height_m, height_m, back, surface).time_s


@FREE
@given(
    angle=st.floats(0.0, 6.28),
    distance=st.floats(7_000.0, 15_000.0),
    wind_from=st.floats(0.0, 360.0),
    wind=st.floats(0.0, 25.0),
    more=st.floats(0.1, 10.0),
)
def test_more_wind_never_shortens_a_round_trip_at_equal_airspeeds(angle, distance, wind_from, wind, more):
    """On level ground, cruising: with the climb's own airspeed equal to that of the cruise the climb costs nothing."""
    place = (distance * np.sin(angle), distance * np.cos(angle))
    calm, windy = (state(55.0, 55.0, wind_from, speed) for speed in (wind, wind + more))
    grid = level(0.0)
    assert both_ways_s(place, (calm, calm), grid) <= both_ways_s(place, (windy, windy), grid) + 1e-6


@FREE
@given(distance=st.floats(7_000.0, 15_000.0), wind=st.floats(1.0, 12.0))
def test_a_tail_wind_on_the_slower_leg_can_shorten_it(distance, wind):
    """d/da (1/(V1 + a) + 1/(V2 - a)) < 0 while V1 + a < V2 - a: by differentiation."""
    assume(40.0 + wind < 70.0 - wind)
    grid, place = level(0.0), (0.0, distance)
    behind = [state(tas, tas, 180.0, wind) for tas in (40.0, 70.0)]
    calm = [state(tas, tas, 180.0, 0.0) for tas in (40.0, 70.0)]
    assert both_ways_s(place, behind, grid) < both_ways_s(place, calm, grid)


@FREE
@given(
    low=st.floats(0.0, 1500.0),
    more=st.floats(0.0, 1000.0),
    at=st.integers(6, 33),
    wind_from=st.floats(0.0, 360.0),
)
def test_a_higher_ridge_never_shortens_a_leg(low, more, at, wind_from):
    times = []
    for height in (low, low + more):
        grid = level(0.0)
        grid.values[:, at] = height
        flown = state(50.0, 40.0, wind_from, 9.0)
        surface = corridor(grid, 150.0)
        times.append(leg((-18_000.0, 100.0), (18_000.0, -50.0), CRS, 0.0, 0.0, flown, surface).time_s)
    assert times[0] <= times[1] + 1e-6


@FEW
@given(
    left_out=st.sets(st.integers(0, 15), min_size=1, max_size=12),
    wind_from=st.sampled_from([0.0, 130.0, 260.0]),
)
def test_adding_sources_never_worsens_the_best_nor_changes_the_others(left_out, wind_from):
    weather = Weather(wind_from, 8.0, 30.0, 1010.0, 0.0)
    # One place of drops for all: the nearest edge on land moves where a water that the fire meets is left out.
    one_place = {"target": Target("centroid")}
    whole = pipeline.rank(REGION, SURVEY, REGION.fires[0], HEAVY, weather, **one_place)
    kept = [index for index in range(16) if index not in left_out]
    part = replace(REGION, bodies=tuple(REGION.bodies[i] for i in kept))
    seen = replace(SURVEY, bodies=tuple(SURVEY.bodies[i] for i in kept))
    fewer = pipeline.rank(part, seen, REGION.fires[0], HEAVY, weather, **one_place)
    rates = {one.body_id: one.cycle.litres_per_hour for one in whole.sources}
    assert max(rates.values(), default=0.0) >= max(
        (s.cycle.litres_per_hour for s in fewer.sources), default=0.0
    )
    assert {s.body_id: s.cycle.litres_per_hour for s in fewer.sources} == {
        name: rate for name, rate in rates.items() if name in {body.body_id for body in part.bodies}
    }


@FEW
@given(
    top=st.integers(1, 20),
    wind_from=st.floats(0.0, 359.0),
    wind=st.floats(0.6, 15.0),
    oat=st.floats(5.0, 42.0),
    target=st.sampled_from(["middle", "edge", "head", "flank"]),
)
def test_the_first_few_are_those_of_the_whole_ranking(top, wind_from, wind, oat, target):
    weather = Weather(wind_from, wind, oat, 1010.0, 0.0)
    ask = {"target": pipeline.target(target, REGION)}
    whole = pipeline.rank(REGION, SURVEY, REGION.fires[0], HEAVY, weather, **ask)
    few = pipeline.rank(REGION, SURVEY, REGION.fires[0], HEAVY, weather, top=top, **ask)
    assert [(s.body_id, s.cycle.round_trip_s) for s in few.sources] == [
        (s.body_id, s.cycle.round_trip_s) for s in whole.sources[:top]
    ]
