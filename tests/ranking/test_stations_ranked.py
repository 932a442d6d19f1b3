"""Fill stations in a ranking: beside the waters in one list, exact under `top`, agents apart, kept off the water.

References: the whole computation for the best-first search; USDA Forest Service, WFCS, Guidelines for aerial
application of retardant or foam near waterways (300 ft = 91.44 m); else exact invented cases.
"""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
import shapely

from geo import pipeline
from geo.base.errors import BadArgument
from geo.export.layers.ranked_layer import ranked_frame
from geo.ingest.layers.aircraft import load_profile
from geo.ranking.extras.fleet import plan_fleet
from geo.records.conditions import Weather
from geo.records.extras import ExtrasRequest, Target
from geo.records.question import RankingQuestion
from geo.records.region import WaterBody
from geo.records.station import FillStation
from geo.search.drop_points import Drop, away_from_water, drop_for
from geo.search.extras import perimeter_supply
from tests.ranking.random_regions import Recipe, made

HEAVY, LIGHT = load_profile("heavy_tank_helicopter"), load_profile("light_bucket_helicopter")
PLAIN, SURVEY = made(Recipe(14, cells=60, relief_m=150.0, good_share=0.7, closed=0), 71)
WEATHER = Weather(260.0, 6.0, 25.0, 1010.0, 0.0, day=date(2026, 11, 20))


def stations(seed=3, count=9):
    """Stations of all kinds round the fire, most of them good."""
    rng = np.random.default_rng(seed)
    middle = PLAIN.fires[0].area.centroid
    kinds = ("hydrant", "tanker", "portable tank", "dip tank", "mixing plant")
    found = []
    for k in range(count):
        east, north = rng.uniform(-2_000.0, 2_000.0, 2)
        agent = ("water", "retardant", "foam")[k % 3] if k % 5 else "water"
        days = (date(2026, 11, 1), date(2026, 12, 1))
        place = shapely.Point(middle.x + east, middle.y + north)
        numbers = 15.0 * (1 + k % 4), 60.0, 20_000.0 * (1 + k), 5.0, 30.0, 0.02, 2.0
        of = FillStation(f"T{k}", f"station {k}", kinds[k % 5], place, "here", agent, *numbers)
        found.append(replace(of, permission="granted", valid_from=days[0], valid_to=days[1]))
    return tuple(found)


REGION = replace(PLAIN, stations=stations())


def ranked(region=REGION, profile=HEAVY, **ask):
    return pipeline.rank(region, SURVEY, region.fires[0], profile, WEATHER, **ask)


def order(ranking):
    return [(s.body_id, s.assessment.method, s.cycle.round_trip_s, s.cycle.litres) for s in ranking.sources]


def test_stations_stand_in_one_list_with_the_waters_and_change_none_of_them():
    with_them, without = ranked(), ranked(PLAIN)
    ids = {one.station_id for one in REGION.stations}
    assert len([one for one in with_them.sources if one.body_id in ids]) >= 3
    assert [row for row in order(with_them) if row[0] not in ids] == order(without)
    rates = [one.fuel.sustained_litres_per_hour for one in with_them.sources]
    assert rates == sorted(rates, reverse=True)
    assert ids <= {one.body_id for one in (*with_them.sources, *with_them.excluded)}


@pytest.mark.parametrize("profile", [HEAVY, LIGHT])
@pytest.mark.parametrize("target", ["edge", "centroid"])
def test_the_first_few_are_those_of_the_whole_ranking(profile, target):
    whole = order(ranked(profile=profile, target=Target(target)))
    for top in (1, 3, 6, len(whole) + 1):
        assert order(ranked(profile=profile, target=Target(target), top=top)) == whole[:top]


def test_a_station_s_round_trip_is_the_sum_of_its_parts_with_the_hose_inside():
    one = next(s for s in ranked().sources if s.cycle.method == "ground_hose")
    station = next(s for s in REGION.stations if s.station_id == one.body_id)
    by_hand_s = max(60.0, station.coupling_s) + one.cycle.litres / min(
        station.flow_l_s, HEAVY.ground_hose.most_flow_l_s
    )
    assert one.cycle.fill_s == pytest.approx(by_hand_s)
    ground_m = float(REGION.terrain.bilinear(np.asarray(station.point.x), np.asarray(station.point.y)))
    assert one.conditions.elevation_m == pytest.approx(ground_m)
    assert one.kind == station.kind and one.fill_point.equals(station.point)


def test_without_terrain_under_it_a_station_is_surveyed_first():
    far = replace(REGION.stations[0], station_id="far", point=shapely.Point(9e5, 9e5))
    left = ranked(replace(REGION, stations=(far,)))
    (out,) = [one for one in left.excluded if one.body_id == "far"]
    assert out.verdict == "survey first" and "the terrain does not reach it" in out.reason


def test_agents_are_never_summed():
    """Fleet and perimeter count water alone, whatever retardant would bring."""
    close = replace(
        REGION.stations[4], station_id="R", agent="retardant", flow_l_s=33.0, volume_l=1e7, coupling_s=0.0,
        point=shapely.Point(REGION.fires[0].area.centroid.x + 1_500.0, REGION.fires[0].area.centroid.y),
    )  # fmt: skip
    only = replace(PLAIN, stations=(close,))
    plan = pipeline.fleet(only, SURVEY, only.fires[0], [HEAVY, HEAVY], WEATHER)
    same = pipeline.fleet(PLAIN, SURVEY, PLAIN.fires[0], [HEAVY, HEAVY], WEATHER)
    assert (plan.members, plan.litres_per_hour) == (same.members, same.litres_per_hour)
    assert "never added" in plan.assumptions["agent"]
    line = pipeline.line_wanted(300.0, 18.0, 4.0)
    asked = RankingQuestion(
        only, SURVEY, only.fires[0], HEAVY, WEATHER, ExtrasRequest(line=line, perimeter=True)
    )
    listed, beside = pipeline.answer_question(asked)
    assert "R" in {one.body_id for one in listed.sources}
    assert "R" not in {one.body_id for one in beside.supply}
    assert {one.body_id: one.agent for one in beside.line.sources}["R"] == "retardant"
    assert {one.body_id for one in beside.certainty.sources} >= {"R"}


def test_the_best_source_serves_neither_fleet_nor_edge_once_it_holds_retardant():
    asked = RankingQuestion(PLAIN, SURVEY, PLAIN.fires[0], HEAVY, WEATHER, ExtrasRequest(perimeter=True))
    listed = pipeline.rank_question(asked)
    first, second = listed.sources[:2]
    other = replace(first, assessment=replace(first.assessment, agent="retardant"))
    changed = replace(listed, sources=(other, *listed.sources[1:]))
    for ranking, best in ((listed, first), (changed, second)):
        plan = plan_fleet(["heavy"], {"heavy": ranking.sources})
        assert [one.body_id for one in plan.members] == [best.body_id]
    assert first.body_id in {one.body_id for one in perimeter_supply(asked, listed)}
    assert first.body_id not in {one.body_id for one in perimeter_supply(asked, changed)}


POND = WaterBody("Q", "pond", "pond", shapely.Point(0.0, 0.0).buffer(150.0, quad_segs=64), "here")


def test_retardant_is_dropped_300_ft_or_more_from_every_water():
    """A fire round a pond: of a straight edge through its middle only what lies 91.44 m off the shore is left."""
    region = replace(PLAIN, bodies=(POND,))
    edge = shapely.LineString([(-1_000.0, 0.0), (1_000.0, 0.0)])
    left = away_from_water(Drop(edge), region.fires[0], region)
    gap = left.at(shapely.Point(10.0, 0.0))
    assert 150.0 + 91.44 <= gap.x <= 150.0 + 91.44 + 0.5
    for angle in np.linspace(
        0.0, 2.0 * np.pi, 90
    ):  # the limit is kept on curves too, where buffers cut corners
        ray = shapely.LineString([(0.0, 0.0), (900.0 * np.sin(angle), 900.0 * np.cos(angle))])
        at = away_from_water(Drop(ray), region.fires[0], region).at(shapely.Point(0.0, 0.0))
        assert 91.44 <= at.distance(POND.polygon) < 92.0
    for away_m, barred in ((91.0, True), (92.0, False)):
        point = Drop(shapely.Point(150.0 + away_m, 0.0))
        if barred:
            with pytest.raises(BadArgument, match=r"within 91 m \(300 ft\) of a water.*Fix"):
                away_from_water(point, region.fires[0], region)
        else:
            assert away_from_water(point, region.fires[0], region).whole.equals(point.whole)


def test_a_ranking_keeps_retardant_off_the_water_and_leaves_water_where_it_was():
    fire = REGION.fires[0]
    brook = replace(POND, polygon=shapely.buffer(shapely.LineString(fire.area.exterior.coords[:40]), 3.0))
    region = replace(REGION, bodies=(*REGION.bodies, brook))
    survey = replace(
        SURVEY,
        bodies=(*SURVEY.bodies, replace(SURVEY.bodies[0], body_id="Q", usable_runs=(), hover_point=None)),
    )
    listed = pipeline.rank(region, survey, fire, HEAVY, WEATHER)
    edge = drop_for(Target(), fire, region, WEATHER)
    agents = set()
    for one in listed.sources:
        agents.add(one.assessment.agent)
        if one.assessment.agent == "water":
            assert one.drop_point.distance(edge.at(one.fill_point)) < 1e-6
        else:
            assert min(one.drop_point.distance(body.polygon) for body in region.bodies) >= 91.44 - 1e-6
    assert len(agents) > 1


def test_the_ranked_layer_tells_what_is_filled():
    ranking = ranked()
    frame = ranked_frame(ranking, REGION.frame, REGION.bodies)
    told = dict(zip(frame["body_id"], frame["agent"], strict=True))
    for one in ranking.sources:
        assert told[one.body_id] == one.assessment.agent
    placed = frame.set_index("body_id").geometry
    assert all(
        placed[one.station_id] is not None for one in REGION.stations if one.station_id in placed.index
    )
