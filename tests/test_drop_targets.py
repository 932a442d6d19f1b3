"""Where and how loads are dropped: sides of a fire by the wind, safe edges, and the drop run of a line.

References: NWCG Glossary for head and flanks; the wind triangle by components for ground speeds; else exact shapes.
"""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from geo import pipeline
from geo.base.errors import BadArgument
from geo.base.units import MS_PER_KNOT
from geo.ingest.layers.aircraft import load_profile
from geo.records.conditions import Weather
from geo.records.extras import ExtrasRequest, Target
from geo.records.question import RankingQuestion
from geo.records.region import Closure, Fire
from geo.search.drop_points import drop_for
from geo.search.drop_runs import drop_run_of, with_drop_run
from geo.search.flown_legs import FlightContext
from geo.search.rate_bounds import RateBounds
from tests.ranking.random_regions import Recipe, made

HEAVY = load_profile("heavy_tank_helicopter")
REGION, SURVEY = made(Recipe(12, cells=60, relief_m=100.0, good_share=0.8, closed=0), 5)
DRY = replace(REGION, bodies=(), closures=())
ROUND = Fire("round", "round fire", shapely.Point(0.0, 0.0).buffer(500.0, quad_segs=64))
WEST = Weather(270.0, 9.0, 30.0, 1010.0, 0.0)


def place(kind, from_deg, away=(3_000.0, 0.0), region=DRY, flank=None):
    weather = replace(WEST, wind_from_true_deg=from_deg)
    point = drop_for(Target(kind, flank), ROUND, region, weather).at(shapely.Point(away))
    return point.x, point.y


@pytest.mark.parametrize(
    ("kind", "from_deg", "bearing_deg"),
    [
        ("edge", 270.0, 90.0),
        # The head lies downwind: 90 degrees in a west wind; in an east wind its nearest end lies 45 degrees off west.
        ("head", 270.0, 90.0),
        ("head", 180.0, 45.0),
        ("head", 0.0, 135.0),
        # The flanks lie across the wind: nearest end 45 degrees off the direction of the water.
        ("flank", 180.0, 90.0),
        ("flank", 225.0, 90.0),
    ],
)
def test_the_sides_of_a_round_fire(kind, from_deg, bearing_deg):
    """A circle of 500 m round the plane's origin, a water far to the east; by hand."""
    x, y = place(kind, from_deg)
    assert np.hypot(x, y) == pytest.approx(500.0, abs=1.0)
    off = (np.degrees(np.arctan2(x, y)) - bearing_deg + 180.0) % 360.0 - 180.0
    assert abs(off) < 0.7 or (kind == "flank" and from_deg == 225.0)


def test_the_head_of_a_fire_is_downwind_wherever_the_water_lies():
    for from_deg in range(0, 360, 30):
        for away in ((3_000.0, 0.0), (0.0, 3_000.0), (-3_000.0, -2_000.0)):
            x, y = place("head", float(from_deg), away)
            off = (np.degrees(np.arctan2(x, y)) - (from_deg + 180.0) + 180.0) % 360.0 - 180.0
            assert abs(off) <= 45.7
            x, y = place("flank", float(from_deg), away)
            off = (np.degrees(np.arctan2(x, y)) - from_deg + 180.0) % 360.0 - 180.0
            assert 44.3 <= abs(off) <= 135.7


def test_each_part_of_a_fire_has_its_own_head():
    far = shapely.Point(9_000.0, 0.0).buffer(500.0)
    two = replace(ROUND, area=shapely.MultiPolygon([ROUND.area, far]))
    drop = drop_for(Target("head"), two, DRY, WEST)
    assert drop.at(shapely.Point(3_000.0, 0.0)).x == pytest.approx(500.0, abs=1.0)
    assert drop.at(shapely.Point(12_000.0, 0.0)).x == pytest.approx(9_500.0, abs=1.0)


def test_in_a_calm_there_is_no_head():
    calm = replace(WEST, wind_ms=0.4)  # below 1 kt
    for kind in ("head", "flank"):
        with pytest.raises(BadArgument, match=r"calm.*Fix: choose edge or middle"):
            drop_for(Target(kind), ROUND, DRY, calm)
    assert drop_for(Target("edge"), ROUND, DRY, calm).at(shapely.Point(3_000.0, 0.0)).x == pytest.approx(
        500.0
    )


def test_a_safe_edge_lies_outside_what_nobody_may_fly_through():
    half = shapely.box(0.0, -2_000.0, 2_000.0, 2_000.0)
    shut = replace(DRY, closures=(Closure("C1", "camp", "no flying", half, "people"),))
    assert place("edge", 270.0, region=shut)[0] == pytest.approx(0.0, abs=1e-6)
    filling = replace(DRY, closures=(Closure("C1", "camp", "no filling", half, "people"),))
    assert place("edge", 270.0, region=filling)[0] == pytest.approx(500.0)
    with pytest.raises(BadArgument, match=r"its head on land lies wholly inside 'camp'.*Fix"):
        place("head", 270.0, region=shut)


def test_the_words_of_a_target():
    kinds = {"edge": "edge", "head": "head", "flank": "flank", "middle": "centroid", "centroid": "centroid"}
    assert {word: pipeline.target(word, REGION).kind for word in kinds} == kinds
    assert Target().kind == "edge"
    with pytest.raises(BadArgument, match="Fix: edge, head, flank, middle"):
        pipeline.target("tail", REGION)


def asked(weather=WEST, level=4.0, target=None, profile=HEAVY):
    line = pipeline.line_wanted(400.0, 18.0, level)
    wanted = ExtrasRequest(line=line, target=target or Target())
    return RankingQuestion(REGION, SURVEY, REGION.fires[0], profile, weather, wanted)


def test_the_drop_run_is_flown_into_the_wind():
    """50 kt of airspeed against 9 m/s: 25.722 - 9 = 16.722 m/s; by hand 1.62983 L/m2 x 18 m x 16.722 m/s / 0.48394."""
    run = drop_run_of(asked())
    assert run.ground_speed_ms == pytest.approx(50.0 * MS_PER_KNOT - 9.0) and run.heading_true_deg == 270.0
    assert run.flow_l_s == pytest.approx(1.62983 * 18.0 * 16.7222 / 0.48394, rel=1e-4)
    assert run.door_share == pytest.approx(run.flow_l_s / (700.0 * 3.785411784)) and run.level_laid == 4.0


def test_along_a_drawn_flank_the_drop_run_goes_into_the_wind():
    """A flank north to south, wind from 330 true at 9 m/s: northward, by components, V cos(drift) - 9 cos(30)."""
    flank = shapely.LineString([(0.0, 0.0), (0.0, -800.0)])
    run = drop_run_of(asked(replace(WEST, wind_from_true_deg=330.0), target=Target("flank", flank)))
    airspeed_ms = 50.0 * MS_PER_KNOT
    along_ms = np.sqrt(airspeed_ms**2 - (9.0 * np.sin(np.radians(30.0))) ** 2) - 9.0 * np.cos(
        np.radians(30.0)
    )
    assert run.ground_speed_ms == pytest.approx(along_ms, rel=1e-3)
    assert min(run.heading_true_deg, 360.0 - run.heading_true_deg) < 1.0


def test_no_drop_run_against_a_wind_as_fast_as_the_aircraft():
    with pytest.raises(BadArgument, match=r"wind 51 kt.*Fix"):
        drop_run_of(asked(replace(WEST, wind_ms=51.0 * MS_PER_KNOT)))


def test_without_doors_or_line_the_profile_s_time_counts():
    assert drop_run_of(asked(profile=load_profile("light_bucket_helicopter"))) is None
    assert with_drop_run(replace(asked(), extras=ExtrasRequest())).aircraft is HEAVY
    assert HEAVY.drop_time_s(4_000.0) == HEAVY.drop_s


def test_the_drop_s_time_in_a_ranking_is_the_load_by_the_flow_and_no_bound_is_passed():
    ranked, beside = pipeline.answer_question(asked())
    run = beside.line.drop
    assert len(ranked.sources) > 3 and run.words == ranked.assumptions["drop"]
    by_id = {one.body_id: one for one in beside.line.sources}
    for one in ranked.sources:
        assert one.cycle.drop_s == pytest.approx(one.cycle.litres / run.flow_l_s)
        row = by_id[one.body_id]
        # The strip is as long as the flight with the doors open.
        assert row.drop_run_m == pytest.approx(run.ground_speed_ms * one.cycle.drop_s)
        assert row.line_per_load_m == pytest.approx(row.drop_run_m)
    heavier = pipeline.rank_question(asked(level=8.0))
    assert {s.body_id: s.cycle.drop_s for s in heavier.sources} == {
        s.body_id: pytest.approx(s.cycle.drop_s / 2.0) for s in ranked.sources
    }
    question = with_drop_run(asked())
    drop = drop_for(question.target, question.fire, REGION, WEST)
    context = FlightContext(REGION, SURVEY, question.aircraft, WEST)
    bounds = RateBounds(REGION, SURVEY, question.aircraft).most_rates(context, drop.whole)
    most = dict(zip((body.body_id for body in SURVEY.bodies), bounds, strict=True))
    assert all(most[one.body_id] >= one.cycle.litres_per_hour for one in ranked.sources)


def test_doors_that_cannot_let_out_less_make_a_shorter_line():
    thin = pipeline.answer_question(asked(level=0.25))[1].line
    run = thin.drop
    assert run.level_laid > 0.25 and "cannot let out less" in run.words
    for row in thin.sources:
        assert row.line_per_load_m == pytest.approx(row.drop_run_m)
    thick = pipeline.answer_question(asked(level=20.0))[1].line
    assert thick.drop.level_laid < 20.0 and "fly slower" in thick.drop.words
    # One drop flies farther than the line that it makes: it lies too thin, so drops are laid over one another.
    assert all(row.line_per_load_m < row.drop_run_m for row in thick.sources)
