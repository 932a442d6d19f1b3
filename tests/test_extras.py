"""What is answered beside the order, on the whole demo region: laziness against brute force, and directions.

The demo region is invented; no figure of it is checked, only what must hold for any.
"""

import json
from dataclasses import replace
from datetime import UTC, datetime

import pytest
import shapely

from geo import pipeline
from geo.base.errors import BadArgument, BadInput
from geo.export.layers.supply_layer import supply_frame
from geo.ingest.layers.aircraft import load_profile
from geo.records.document import document, geojson_geometry
from geo.records.extras import ExtrasRequest, Target
from geo.records.question import RankingQuestion
from geo.records.region import Fire
from geo.search import extras as supply
from geo.search.drop_points import dry_edge
from geo.search.flown_legs import FlightContext, above_ground
from geo.search.terrain_routes import TerrainRoutes
from services.core import quantities

WEATHER = quantities.weather("300/18kt", "34C", "1009", "0m", None)
PROFILE = load_profile("heavy_tank_helicopter")


@pytest.fixture(scope="module")
def region(demo_region):
    return demo_region


@pytest.fixture(scope="module")
def survey(demo_survey):
    return demo_survey


@pytest.fixture(scope="module")
def wide(region):
    """A fire large enough to have several best sources round it."""
    return Fire("wide", "wide fire", region.fires[0].area.centroid.buffer(4_000.0))


@pytest.fixture(scope="module")
def ranking(region, survey, wide):
    return pipeline.rank(region, survey, wide, PROFILE, WEATHER)


@pytest.fixture(scope="module")
def stretches(region, survey, wide, ranking):
    return supply.perimeter_supply(RankingQuestion(region, survey, wide, PROFILE, WEATHER), ranking)


def test_the_lazy_perimeter_is_that_of_flying_every_source(region, survey, ranking):
    """Brute force: all ranked sources flown to a lattice of 60 places over the region, more varied than one edge."""
    routes = TerrainRoutes(FlightContext(region, survey, PROFILE, WEATHER))
    of_water = [one for one in ranking.sources if one.assessment.agent == "water"]
    assert len(of_water) > 5
    wet = [body.polygon for body in region.bodies]
    east, north, far_east, far_north = shapely.union_all(wet).bounds
    winners, dry, before = set(), 0, None
    for k in range(60):
        point = shapely.Point(
            east + (far_east - east) * (k % 10 + 0.5) / 10, north + (far_north - north) * (k // 10 + 0.5) / 6
        )
        lazy = supply._serve(routes, of_water, point, wet, before)
        before = lazy.body_id
        if any(polygon.covers(point) for polygon in wet):
            assert lazy.body_id is None and "on water" in lazy.reason
            continue
        dry += 1
        drop = above_ground(region, point, PROFILE.drop_height_m, "test")
        trips = [(s, supply._round_trip_s(routes, s, drop)) for s in of_water]
        rates = {s.body_id: 3600.0 * s.cycle.litres / trip_s for s, trip_s in trips if trip_s is not None}
        assert (lazy.litres_per_hour is None) == (not rates)
        if rates:
            assert lazy.litres_per_hour == pytest.approx(max(rates.values()), rel=1e-12)
            winners.add(lazy.body_id)
    assert dry > 30 and len(winners) > 5


def test_the_stretches_are_the_whole_edge(region, wide, stretches):
    assert len({one.body_id for one in stretches}) > 1
    assert sum(one.length_m for one in stretches) == pytest.approx(wide.area.exterior.length)
    assert [one.number for one in stretches] == list(range(1, len(stretches) + 1))
    frame = supply_frame(stretches, region.frame)
    assert len(frame) == len(stretches) and frame.crs.to_epsg() == 4326
    assert frame["reason"].isna().tolist() == [one.body_id is not None for one in stretches]


def test_a_point_at_the_ranking_s_own_drop_gives_its_own_round_trip(region, survey, wide, ranking):
    """The edge is served by plain ways: to the drop of a quick ranking, which flies the same, in exactly its time, and
    never sooner than by the best routes of the whole ranking."""
    routes = TerrainRoutes(FlightContext(region, survey, PROFILE, WEATHER))

    def flown_again_s(source):
        drop = above_ground(region, source.drop_point, PROFILE.drop_height_m, "test")
        return supply._round_trip_s(routes, source, drop)

    quick = pipeline.rank(region, survey, wide, PROFILE, WEATHER, quick=True)
    assert len(quick.sources) > 5
    for source in quick.sources:
        assert flown_again_s(source) == pytest.approx(source.cycle.round_trip_s, abs=1e-6), source.name
    for source in ranking.sources:
        again_s = flown_again_s(source)
        assert again_s is None or again_s >= source.cycle.round_trip_s - 1e-6, source.name
        if not (source.cycle.loaded_leg.detour or source.cycle.empty_leg.detour):
            assert again_s == pytest.approx(source.cycle.round_trip_s, abs=1e-6), source.name


def test_the_nearest_edge_is_on_land_and_nearest(region, survey, wide):
    ranked = pipeline.rank(region, survey, wide, PROFILE, WEATHER, target=Target("edge"))
    edge = dry_edge(wide, region)
    assert "edge" in ranked.assumptions["drop point"]
    judged = {
        (m.body_id, m.method): m.fill_point
        for body, _ in pipeline.assess(region, survey, PROFILE, WEATHER)
        for m in body.methods
    }
    stations = {one.station_id: one.point for one in region.stations}
    for source in ranked.sources:
        assert edge.distance(source.drop_point) < 1e-6
        place = stations.get(source.body_id) or judged[source.body_id, source.cycle.method]
        assert place.distance(source.drop_point) == pytest.approx(place.distance(edge), abs=1e-6)
    lake = max(region.bodies, key=lambda body: body.polygon.area).polygon
    with pytest.raises(BadArgument, match="on water"):
        dry_edge(Fire("F", "on water", lake.representative_point().buffer(1.0)), region)


def test_a_drawn_flank_is_the_drop_and_the_line_supplied(region, survey, wide, tmp_path):
    line = shapely.LineString(list(wide.area.exterior.coords)[:12])
    file = tmp_path / "flank.geojson"
    file.write_text(
        json.dumps({"type": "Feature", "properties": {}, "geometry": geojson_geometry(line, region.frame)})
    )
    target = pipeline.target(str(file), region, files=True)
    assert target.flank.length == pytest.approx(line.length, rel=1e-3)
    answered, beside = pipeline.answer(
        region, survey, wide, PROFILE, WEATHER, top=2, asked=ExtrasRequest(target=target, perimeter=True)
    )
    middle = target.flank.interpolate(0.5, normalized=True)
    assert all(source.drop_point.distance(middle) < 1e-6 for source in answered.sources)
    assert sum(one.length_m for one in beside.supply) == pytest.approx(target.flank.length)


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ({"type": "Point", "coordinates": [0, 0]}, "LineString"),
        ({"type": "LineString", "coordinates": [[0, 0]]}, "positions"),
        ({"type": "LineString", "coordinates": [[0, 0], [0, 95]]}, "longitude, latitude"),
        ({"type": "LineString", "coordinates": [[0, 0], [0, float("nan")]]}, "longitude, latitude"),
        ({"type": "LineString", "coordinates": [[52, 10], [52, 11]]}, "far"),
        ({"type": "LineString", "coordinates": [[-128, -47], [-128, -47]]}, "no length"),
        ({"type": "LineString", "coordinates": "x"}, "positions"),
        ({"type": "FeatureCollection", "features": []}, "one line"),
        ([], "LineString"),
    ],
)
def test_a_bad_flank_is_refused(region, tmp_path, body, said):
    file = tmp_path / "flank.geojson"
    file.write_text(json.dumps(body))
    with pytest.raises(BadInput, match=said):
        pipeline.target(str(file), region, files=True)


def test_no_file_is_opened_where_files_are_not_allowed(region, tmp_path):
    with pytest.raises(BadArgument, match="not known"):
        pipeline.target(str(tmp_path / "flank.geojson"), region)
    with pytest.raises(BadInput, match="cannot be read"):
        pipeline.target(str(tmp_path / "absent.geojson"), region, files=True)


def test_few_asked_for_still_have_their_rivals(region, survey, wide, ranking):
    """Asking for one source must not make it sure: its rivals compete all the same."""
    answered, beside = pipeline.answer(region, survey, wide, PROFILE, WEATHER, top=1)
    assert len(answered.sources) == 1
    assert len(beside.certainty.sources) == min(10, len(ranking.sources))
    assert beside.line is None and beside.daylight is None and beside.supply is None
    assert answered.sources[0].body_id == ranking.sources[0].body_id
    if answered.unrefined_count:
        assert "none can enter the first 1," in answered.assumptions["not worked out"]
    json.dumps(document(beside, region.frame), allow_nan=False)


def test_the_chance_of_depth_is_the_surveys_own(region, survey, ranking):
    """Every ranked water finds the run or hover point that it uses, and its chance meets what the verdict asked."""
    bodies = {body.body_id: body for body in survey.bodies}
    waters = [source for source in ranking.sources if source.body_id in bodies]
    assert len(waters) > 5
    for source in waters:
        body = bodies[source.body_id]
        assert supply.least_depth_of(source.assessment, body) is not None, source.name
        one = supply.contender(source, body, PROFILE, region)
        needed = getattr(PROFILE, source.cycle.method).depth_probability
        assert needed - 1e-9 <= one.depth_chance <= 1.0


def test_daylight_needs_a_day_or_a_time(region, survey, wide, ranking):
    def told(ranking_, **asked):
        extras_ = ExtrasRequest(**asked)
        question = RankingQuestion(region, survey, wide, replace(PROFILE, **rule), ranking_.weather, extras_)
        return supply.daylight_of(question, ranking_)

    rule = {}
    assert told(ranking) is None
    at = datetime(2026, 2, 1, 3, 30, tzinfo=UTC)
    light = told(ranking, at=at)
    # 128 W lies 8.5 h behind: 03:30Z is still 31 January there, and dusk is on the coming evening, not a day later.
    assert 0.0 < (light.dusk - at).total_seconds() < 6 * 3600
    dated = replace(ranking, weather=replace(WEATHER, day=datetime(2026, 1, 31).date()))
    assert told(dated).dusk == light.dusk
    # The question's rule goes before the profile's, and that before the earliest.
    assert told(dated).rule == "sunset" and told(dated).end < light.dusk
    rule = {"end_of_day": "sunset+30min"}
    assert told(dated).rule == "sunset+30min" and "profile" in told(dated).rule_origin
    asked_for = told(dated, end_of_day="civil dusk")
    assert asked_for.end == asked_for.dusk and asked_for.rule_origin == "as asked"


def test_a_fleet_of_one_takes_the_best_source(region, survey, wide, ranking):
    plan = pipeline.fleet(region, survey, wide, [PROFILE], WEATHER)
    assert plan.members[0].body_id == ranking.sources[0].body_id
    # A fleet's rates count refuelling, as the order of the ranking does.
    assert plan.litres_per_hour == pytest.approx(ranking.sources[0].fuel.sustained_litres_per_hour)
    with pytest.raises(BadArgument, match="share the id"):
        pipeline.fleet(region, survey, wide, [PROFILE, replace(PROFILE, tank_l=1.0)], WEATHER)


def test_the_layer_carries_the_shares_and_the_edge(region, survey, wide, tmp_path):
    answered, beside = pipeline.answer(
        region, survey, wide, PROFILE, WEATHER, top=3, asked=ExtrasRequest(perimeter=True)
    )
    pipeline.export_ranking(tmp_path, region, survey, answered, ("geojson", "csv"), beside)
    rows = json.loads((tmp_path / "ranked.geojson").read_text())["features"]
    told = {one.body_id: one for one in beside.certainty.sources}
    for row in rows:
        place, body = row["properties"]["rank"], row["properties"]["body_id"]
        share = row["properties"]["best_share"]
        assert share is None if place is None else share == pytest.approx(told[body].best, abs=1e-6)
    edge = json.loads((tmp_path / "supply.geojson").read_text())["features"]
    assert [e["properties"]["body_id"] for e in edge] == [one.body_id for one in beside.supply]
