"""The ranking against plain work: every method of every water is assessed, flown and sought, with its transits.

No source is left out there, no method is left unflown, nothing is done in threads. Fuel is cut short so that sources
near the top are out of reach of the base, and so that of one source only the method with less water is in reach.
"""

from dataclasses import replace
from functools import partial

import pytest
import shapely

from geo import pipeline
from geo.base.prepared import Prepared
from geo.ingest.layers.aircraft import load_profile
from geo.ranking.rank import rank
from geo.records.conditions import Weather
from geo.records.extras import Target
from geo.records.ranking import Candidate
from geo.records.region import Base, Closure
from geo.search.drop_points import drop_point
from geo.search.flown_legs import FlightContext, above_ground, in_fire, with_legs
from geo.search.refuelling import with_transits
from geo.search.terrain_routes import TerrainRoutes
from tests.ranking.random_regions import Recipe, made

HEAVY = load_profile("heavy_tank_helicopter")
WEATHER = Weather(120.0, 9.0, 34.0, 1009.0, 0.0)
SPARE_S = 60.0
MIDDLE = Target("centroid")
pytestmark = pytest.mark.early


def plainly(region, survey, profile, *, quick: bool):
    """Rank by evaluating everything."""
    fire = region.fires[0]
    context = FlightContext(region, survey, profile, WEATHER)
    drop = above_ground(region, drop_point(fire, region), profile.drop_height_m, "fire")
    routes, burning = TerrainRoutes(context), Prepared(fire.area)
    found = []
    for body, (assessment, air) in zip(
        survey.bodies, pipeline.assess(region, survey, profile, WEATHER), strict=True
    ):
        for method in assessment.methods:
            one = Candidate(body.body_id, body.name, body.kind, method, air, None, None, None, None, None)
            one = with_legs(context, burning, one, drop)
            barred = one.loaded_leg is None or one.empty_leg is None
            may = method.verdict == "usable" and not in_fire(one.assessment, burning)
            if may and (barred or not quick):
                one = routes.quicker(one, drop, brief=quick)
            if one.loaded_leg is not None:
                one = with_transits(context, one, drop, partial(routes.transit, brief=quick))
            found.append(one)
    return rank(found, profile)


def told(sources) -> list:
    return [
        (s.body_id, s.cycle.method, s.cycle.litres_per_hour, s.cycle.round_trip_s, s.fuel) for s in sources
    ]


def short_of_fuel(region, survey, *, spare_s: float, quick: bool):
    """An aircraft whose tank lasts for the median source, flown as asked, and a little more, not for the farthest."""
    sources, _ = plainly(region, survey, HEAVY, quick=quick)
    needs_s = sorted(
        one.cycle.round_trip_s + one.fuel.transit_to_s + one.fuel.transit_from_s for one in sources
    )
    middle_s = needs_s[len(needs_s) // 2]
    need_s = middle_s + min(spare_s, (needs_s[-1] - middle_s) / 2.0)
    return replace(HEAVY, fuel_l=HEAVY.fuel_burn_l_h * (need_s + HEAVY.reserve_s) / 3600.0)


@pytest.mark.parametrize("quick", [False, True])
@pytest.mark.parametrize("seed", [31, 32, 38])
def test_nothing_is_lost_by_working_on_the_best_first(seed, quick):
    region, survey = made(Recipe(16, cells=60, relief_m=300.0, twins=2, good_share=0.8), seed)
    if quick:
        # A base beside some waters and far from others, so that reach and rate do not go together.
        # A truck on the other side holds less than a tank and pumps slowly.
        truck = Base("truck", shapely.Point(-1500.0, -500.0), 700.0, 150.0)
        region = replace(
            region, base=replace(region.base, point=shapely.Point(2500.0, 2500.0)), bases=(truck,)
        )
    profile = short_of_fuel(region, survey, spare_s=SPARE_S, quick=quick)
    sources, excluded = plainly(region, survey, profile, quick=quick)
    out = {one.body_id for one in excluded if one.verdict == "out of fuel range"}
    assert len(sources) >= 3 and (out or quick)  # with a truck near by all may be in reach
    whole = pipeline.rank(region, survey, region.fires[0], profile, WEATHER, quick=quick, target=MIDDLE)
    assert told(whole.sources) == told(sources)
    assert {one.body_id for one in whole.excluded if one.verdict == "out of fuel range"} == out
    for top in (1, 3, len(sources)):
        few = pipeline.rank(
            region, survey, region.fires[0], profile, WEATHER, top=top, quick=quick, target=MIDDLE
        )
        assert told(few.sources) == told(sources[:top])


def test_where_the_method_with_more_water_is_out_of_reach_the_other_one_is_ranked():
    """A full tank takes longer to fill: with fuel between both round trips only the smaller load fits."""
    region, survey = made(Recipe(16, cells=60, relief_m=100.0, good_share=0.9, closed=0), 41)
    both = [
        one
        for one in pipeline.rank(
            region, survey, region.fires[0], HEAVY, WEATHER, quick=True, target=MIDDLE
        ).sources
        if any(other.verdict == "usable" for other in one.other_methods)
    ]
    assert both
    seen = 0
    for source in both:
        for cut_s in (0.5, 5.0, 15.0, 40.0):
            need_s = source.cycle.round_trip_s + source.fuel.transit_to_s + source.fuel.transit_from_s - cut_s
            profile = replace(HEAVY, fuel_l=HEAVY.fuel_burn_l_h * (need_s + HEAVY.reserve_s) / 3600.0)
            sources, _ = plainly(region, survey, profile, quick=True)
            ranking = pipeline.rank(
                region, survey, region.fires[0], profile, WEATHER, quick=True, target=MIDDLE
            )
            assert told(ranking.sources) == told(sources)
            mine = [one for one in ranking.sources if one.body_id == source.body_id]
            seen += sum(one.cycle.method != source.cycle.method for one in mine)
    assert seen > 0


@pytest.mark.parametrize("quick", [False, True])
def test_a_base_in_a_no_fly_area_is_named_as_what_bars_all(quick):
    region, survey = made(Recipe(6, cells=60, relief_m=100.0, good_share=1.0, closed=0), 43)
    shut = Closure("SHUT", "range", "no flying", region.base.point.buffer(400.0), "firing", None, None)
    region = replace(region, closures=(shut,))
    ranking = pipeline.rank(region, survey, region.fires[0], HEAVY, WEATHER, quick=quick)
    barred = [one for one in ranking.excluded if one.verdict == "no route"]
    assert barred and not ranking.sources
    assert all("base test base" in one.reason and "'range'" in one.reason for one in barred)
