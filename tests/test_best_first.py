"""The lazy ranking against working out every source, on regions made at random; the bounds against what is flown.

Everything is held against the same program's whole computation, which has its own tests: what is tested here is that
leaving sources out changes nothing.
"""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from geo import pipeline
from geo.base.errors import BadArgument
from geo.ingest.layers.aircraft import load_profile
from geo.records.conditions import Weather, WindProfile
from geo.records.extras import Target
from geo.records.region import Closure, Fire
from geo.search.flown_legs import FlightContext
from geo.search.rate_bounds import LeastLegs, RateBounds, out_and_back_s_m
from tests.ranking.random_regions import Recipe, made

HEAVY = load_profile("heavy_tank_helicopter")
LIGHT = load_profile("light_bucket_helicopter")
CALM = Weather(300.0, 4.0, 25.0, 1013.0, 0.0)
STRONG = Weather(120.0, 16.0, 38.0, 1005.0, 0.0)
SMALL = Recipe(14, cells=60, relief_m=300.0, twins=3)


def told(ranking, top: int | None = None) -> list:
    return [
        (s.body_id, s.cycle.method, s.cycle.litres_per_hour, s.fuel, s.reason) for s in ranking.sources[:top]
    ]


@pytest.mark.parametrize(
    ("seed", "profile", "weather", "target"),
    [
        (1, HEAVY, CALM, "centroid"),
        (2, HEAVY, STRONG, "centroid"),
        (3, LIGHT, CALM, "centroid"),
        (4, HEAVY, replace(CALM, wind_profile=WindProfile(exponent=0.14)), "centroid"),
        (5, HEAVY, CALM, "edge"),
    ],
)
def test_the_first_few_are_those_of_the_whole_ranking(seed, profile, weather, target):
    """Ties (twin waters), bad sources, partial loads and no-fly areas are among them."""
    region, survey = made(SMALL, seed)
    ask = {"target": Target(target)}
    whole = pipeline.rank(region, survey, region.fires[0], profile, weather, **ask)
    assert len(whole.sources) + len(whole.excluded) == len(region.bodies) and not whole.unrefined
    spared = 0
    for top in (1, 2, 5, 9, 50):
        few = pipeline.rank(region, survey, region.fires[0], profile, weather, top=top, **ask)
        assert told(few) == told(whole, top)
        ids = {s.body_id: s.fuel.sustained_litres_per_hour for s in whole.sources}
        assert [(e.body_id, e.reason) for e in few.excluded] == [
            (e.body_id, e.reason)
            for e in whole.excluded
            if e.body_id not in {u.body_id for u in few.unrefined}
        ]
        for one in few.unrefined:
            assert one.most_litres_per_hour >= ids.get(one.body_id, 0.0)
            assert len(few.sources) == top
        assert few.unrefined_count == len(few.unrefined)
        assert ("not worked out" in few.assumptions) == (few.unrefined_count > 0)
        if few.unrefined_count:
            assert f"can enter the first {top}," in few.assumptions["not worked out"]
        spared += few.unrefined_count
    assert spared > 0


def test_a_region_of_many_waters_gives_the_same_first_few():
    """Beyond 200 waters those out of reach are not even judged; nothing else changes."""
    region, survey = made(Recipe(260, cells=60, relief_m=150.0, good_share=0.1, twins=4), 11)
    whole = pipeline.rank(region, survey, region.fires[0], HEAVY, STRONG)
    few = pipeline.rank(region, survey, region.fires[0], HEAVY, STRONG, top=4)
    assert told(few) == told(whole, 4)
    assert few.unrefined_count + len(few.sources) + len(few.excluded) <= 260
    assert few.unrefined_count > 200


@pytest.mark.parametrize("profile", [HEAVY, LIGHT, load_profile("medium_tank_helicopter")])
@pytest.mark.parametrize("weather", [CALM, STRONG, replace(CALM, wind_ms=0.0, oat_c=45.0)])
def test_no_source_beats_its_bound(profile, weather):
    """300 waters of all sorts, judged by the assessment itself and flown over level ground with nothing in the way."""
    region, survey = made(Recipe(300, cells=80, relief_m=900.0, closed=0, good_share=0.4), 21)
    drop = shapely.Point(300.0, -500.0)
    bounds = RateBounds(region, survey, profile).most_rates(
        FlightContext(region, survey, profile, weather), drop
    )
    usable, reached = 0, 0.0
    for bound, (assessment, air) in zip(
        bounds, pipeline.assess(region, survey, profile, weather), strict=True
    ):
        for one in assessment.methods:
            if one.verdict != "usable" or air.elevation_m is None:
                continue
            usable += 1
            for route in (one, *one.alternatives):
                line = route.run_line if route.run_line is not None else route.fill_point
                near, far = (
                    shapely.get_point(line, i) if route.run_line is not None else line for i in (0, -1)
                )
                legs = _level_s(profile, weather, far, drop, loaded=True) + _level_s(
                    profile, weather, near, drop, loaded=False
                )
                home = region.base.point
                there, back = (_level_s(profile, weather, home, end, loaded=False) for end in (near, drop))
                assert bound >= _a_tank_of_loads(profile, route, legs, there + back)
                reached = max(reached, _a_tank_of_loads(profile, route, legs, there + back) / bound)
    assert reached > 0.8 or usable == 0, "a bound that nothing comes near to would spare no work"
    assert usable > 20 or (profile is LIGHT and weather is STRONG)  # above its wind limit
    assert (bounds == 0.0).sum() > 20


def _a_tank_of_loads(profile, one, legs_s, away_s) -> float:
    """Litres an hour over a tank of fuel and refuelling, load by load, written out here; the fuel of the transit is
    left aboard but for its time, so that loads are no larger than in the air."""
    spare_s = 3600.0 * profile.fuel_l / profile.fuel_burn_l_h - profile.reserve_s - away_s
    at_s = litres = 0.0
    while True:
        load_l = one.load.litres(profile.fuel_l - profile.fuel_burn_l_h * at_s / 3600.0)
        fill_s = one.fill_time_s * load_l / one.litres
        trip_s = profile.manoeuvre_source_s + fill_s + profile.drop_s + profile.manoeuvre_fire_s + legs_s
        if at_s + trip_s > spare_s:
            return 3600.0 * litres / (away_s + at_s + profile.refuel_turn_s)
        at_s, litres = at_s + trip_s, litres + load_l


def _level_s(profile, weather, place, drop, *, loaded: bool) -> float:
    """The wind triangle by components, written out here: heading such that wind and air vector give the track."""
    step = np.array([drop.x - place.x, drop.y - place.y]) * (1.0 if loaded else -1.0)
    length = np.hypot(*step)
    if length < 1e-6:
        return 0.0
    source = np.radians(weather.wind_from_true_deg)
    wind = -weather.wind_ms * np.array([np.sin(source), np.cos(source)])
    ahead = step / length
    along = float(wind @ ahead)
    across = float(np.hypot(*(wind - along * ahead)))
    tas = profile.cruise_loaded_ms if loaded else profile.cruise_empty_ms
    return length / (along + np.sqrt(tas**2 - across**2))


def test_the_best_round_trip_in_a_wind_has_its_closed_form():
    """Equal speeds: across the wind, 2 / sqrt(V^2 - W^2) a metre (Pythagoras); else no more than either way along."""
    assert out_and_back_s_m(50.0, 50.0, 20.0) == pytest.approx(2.0 / np.sqrt(50.0**2 - 20.0**2), rel=2e-5)
    assert out_and_back_s_m(50.0, 70.0, 0.0) == pytest.approx(1.0 / 50.0 + 1.0 / 70.0, rel=2e-5)
    assert out_and_back_s_m(30.0, 90.0, 25.0) <= 1.0 / 55.0 + 1.0 / 65.0


def test_more_wind_never_shortens_a_round_trip_at_equal_speeds_and_can_at_unequal_ones():
    """Issue's invariant, for the bound; geo/flight tests it for flown legs."""
    assert all(
        out_and_back_s_m(60.0, 60.0, w) <= out_and_back_s_m(60.0, 60.0, w + 5.0)
        for w in np.arange(0.0, 50.0, 5.0)
    )
    assert out_and_back_s_m(30.0, 90.0, 20.0) < out_and_back_s_m(30.0, 90.0, 0.0)


@pytest.mark.parametrize("seed", [31, 32])
def test_flown_round_trips_never_beat_the_least_time(seed):
    """On the ellipsoid, over terrain and round no-fly areas, at 60 degrees south: half a per cent covers it."""
    region, survey = made(SMALL, seed)
    seen = 0
    for weather in (CALM, STRONG):
        context = FlightContext(region, survey, HEAVY, weather)
        for source in pipeline.rank(region, survey, region.fires[0], HEAVY, weather).sources:
            ends = source.cycle.loaded_leg.route.coords[0], source.cycle.empty_leg.route.coords[-1]
            near, far = (shapely.Point(end) for end in ends)
            middle = shapely.Point(0.5 * (near.x + far.x), 0.5 * (near.y + far.y))
            flown = source.cycle.loaded_leg.time_s + source.cycle.empty_leg.time_s
            least = LeastLegs(context).seconds(middle.distance(source.drop_point), 0.5 * near.distance(far))
            assert 0.0 <= float(least) <= flown
            seen += 1
    assert seen >= 6


def test_adding_a_source_never_worsens_the_best():
    region, survey = made(SMALL, 41)
    best = 0.0
    for count in (6, 10, 14):
        part = replace(region, bodies=region.bodies[:count])
        seen = replace(survey, bodies=survey.bodies[:count])
        ranking = pipeline.rank(part, seen, region.fires[0], HEAVY, CALM)
        now = ranking.sources[0].cycle.litres_per_hour if ranking.sources else 0.0
        assert now >= best
        best = now
    assert best > 0.0


def test_a_fire_outside_the_terrain_a_closed_source_and_a_fire_over_the_only_source():
    """The first is refused with its fix; the others are left out with the reason, never given a number."""
    region, survey = made(replace(SMALL, good_share=1.0, closed=0, twins=0), 51)
    away = Fire("A", "away", shapely.Point(1e6, 0.0).buffer(100.0))
    for target in ("centroid", "edge"):
        with pytest.raises(BadArgument, match="terrain does not reach"):
            pipeline.rank(region, survey, away, HEAVY, CALM, target=Target(target), top=3)
    with pytest.raises(BadArgument, match="at least 1"):
        pipeline.rank(region, survey, region.fires[0], HEAVY, CALM, top=0)
    first = pipeline.rank(region, survey, region.fires[0], HEAVY, CALM, top=1).sources[0]
    number = next(i for i, body in enumerate(survey.bodies) if body.body_id == first.body_id)
    only = replace(region, bodies=(region.bodies[number],))
    seen = replace(survey, bodies=(survey.bodies[number],))
    covering = Fire("C", "covering", first.fill_point.buffer(1_500.0))
    inside = pipeline.rank(only, seen, covering, HEAVY, CALM, top=1)
    assert not inside.sources and "inside the fire's outline" in inside.excluded[0].reason
    shut = replace(
        only, closures=(Closure("C", "shut", "no flying", first.fill_point.buffer(900.0), "test"),)
    )
    closed = pipeline.rank(shut, seen, region.fires[0], HEAVY, CALM, top=1)
    assert not closed.sources and "shut" in closed.excluded[0].reason


def test_a_wind_above_the_airspeed_leaves_no_source():
    region, survey = made(replace(SMALL, good_share=1.0), 61)
    gale = Weather(300.0, 90.0, 25.0, 1013.0, 0.0)
    for top in (None, 3):
        ranking = pipeline.rank(region, survey, region.fires[0], HEAVY, gale, top=top)
        assert not ranking.sources and len(ranking.excluded) == len(region.bodies)
        assert any("wind" in one.reason for one in ranking.excluded)
