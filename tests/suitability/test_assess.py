"""Whole assessments: verdicts, loads, choice of run, vetoes, cautions, and what missing evidence does."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
import shapely
import shapely.affinity
from example_waters import (
    AIR,
    HEAVY,
    body,
    clear_end,
    criterion_of,
    hover_point,
    known_depth,
    run,
    survey,
    unknown_depth,
)
from hypothesis import given
from hypothesis import strategies as st

from geo.base.errors import BadArgument
from geo.base.units import MS_PER_KNOT
from geo.ingest.layers.aircraft import load_profile
from geo.records.region import AnnotatedSite, Closure, StatedDepth
from geo.records.survey import Measure
from geo.suitability.assess import ASSESSORS, assess_body
from geo.suitability.criteria import sentence
from geo.suitability.facts import Facts
from geo.suitability.verdict import ORDER

NO_FILLING = Closure("C1", "Town Water", "no filling", shapely.box(-50, 500, 50, 600), "drinking water")


def judge(method="ram_intake", surveyed=None, owned=None, air=AIR, closures=(), sites=(), profile=HEAVY):
    """The assessment of one method at one made water."""
    whole = assess_body(
        survey() if surveyed is None else surveyed,
        body() if owned is None else owned,
        profile,
        air,
        closures,
        sites,
    )
    (found,) = [m for m in whole.methods if m.method == method]
    return found


def test_a_good_lake_is_usable_both_ways():
    ram, pump = judge(), judge("hover_pump")
    assert (ram.verdict, pump.verdict) == ("usable", "usable")
    assert (ram.litres, pump.litres) == (10_000.0, 10_000.0)
    assert (ram.fill_time_s, pump.fill_time_s) == (45.0, 60.0)
    assert (ram.litres_ruled_by, pump.litres_ruled_by) == ("tank", "tank")
    assert (
        ram.reason == "usable: full load of 10,000 L on a 2,000 m run, heading 360°T"
    )  # wind from the north: flown northward
    assert pump.reason == "usable: full load of 10,000 L from the hover, rotor clearance 60 m"


def test_score_is_the_weighted_mean_of_its_breakdown():
    for method in ("ram_intake", "hover_pump"):
        judged = judge(method)
        total = sum(c.weight for c in judged.criteria)
        assert judged.score == pytest.approx(sum(c.weight * c.score for c in judged.criteria) / total)
        assert 0.0 < judged.score <= 100.0


def test_only_the_methods_of_the_aircraft_are_judged():
    bucket = load_profile("light_bucket_helicopter")
    whole = assess_body(survey(), body(), bucket, replace(AIR, liftable_kg=900.0))
    assert [m.method for m in whole.methods] == ["bucket_dip"]
    assert whole.verdict == "usable"
    with pytest.raises(BadArgument, match="has no ram intake"):
        ASSESSORS["ram_intake"](Facts(survey(), body(), bucket, AIR, (), ()))


def test_a_run_too_short_gives_its_figures():
    judged = judge(surveyed=survey(longest_run=run(390.0)))
    assert (judged.verdict, judged.score, judged.litres) == ("not usable", 0.0, None)
    assert judged.reason == "run length 390 m, too short: half a load needs 408 m, a full load 720 m"


@pytest.mark.parametrize(
    ("water", "verdict"),
    [
        (shapely.box(0, 0, 5_000, 59), "not usable"),  # long, but nowhere 60 m wide
        (
            shapely.box(0, 0, 280, 280),
            "not usable",
        ),  # wide, but its inside has a diagonal of 311 m of 407.5 m
        (shapely.box(0, 0, 2_000, 2_000), "survey first"),  # a run fits, the survey just has none
    ],
)
def test_no_run_from_the_survey(water, verdict):
    surveyed = survey(longest_run=None, remarks=("longest run could not be computed",))
    judged = judge(surveyed=surveyed, owned=body(polygon=water))
    assert (judged.verdict, judged.litres) == (verdict, None)
    assert "720 m needed" in judged.reason


def test_partial_load_on_a_short_run():
    # (563.75 - 95) / 625 = 0.75 of the tank in 0.75 of the time
    judged = judge(surveyed=survey(longest_run=run(563.75)))
    assert judged.verdict == "usable"
    assert judged.litres == pytest.approx(7_500.0)
    assert judged.fill_time_s == pytest.approx(33.75)
    assert judged.litres_ruled_by == "run"
    assert any("partial load: 7,500 L" in text for text in judged.cautions)


def test_salt_water_is_heavier_so_the_structure_limits():
    # 10,000 L at S = 35 and 15 degC weigh 10,260 kg; the profile carries 10,000 kg: 10,000 / 1.026 = 9,746.6 L
    sea = survey(kind="sea", salinity_class="salt", salinity_reason="salt: a sea")
    judged = judge(surveyed=sea, air=replace(AIR, water_density_kg_l=1.026))
    assert judged.verdict == "usable"
    assert judged.litres == pytest.approx(9_746.6, abs=0.1)
    assert judged.litres_ruled_by == "maximum water load"
    assert any("wash the aircraft down" in text for text in judged.cautions)


def test_hot_and_high_limits_the_hover_load():
    # The heavy profile's invented table: 9,000 kg at 1,500 m, 6,500 kg at 3,000 m.
    judged = judge("hover_pump", air=replace(AIR, liftable_kg=6_500.0, water_density_kg_l=1.0))
    assert judged.verdict == "usable"
    assert judged.litres == pytest.approx(6_500.0)
    assert judged.litres_ruled_by == "hover payload"
    assert judged.fill_time_s == pytest.approx(39.0)
    none = judge("hover_pump", air=replace(AIR, liftable_kg=4_900.0, water_density_kg_l=1.0))
    assert none.verdict == "not usable"
    assert "hover payload 4,900 kg" in none.reason
    ram = judge(air=replace(AIR, liftable_kg=4_900.0, scoop_kg=9_000.0, scoop_by="low-speed power"))
    assert ram.verdict == "usable" and ram.litres_ruled_by == "low-speed power"
    assert any("cannot hover with this load" in text for text in ram.cautions)


def test_unknown_elevation_means_survey_first_for_the_hover():
    judged = judge("hover_pump", air=replace(AIR, liftable_kg=None, reason="elevation unknown"))
    assert (judged.verdict, judged.litres, judged.fill_time_s) == ("survey first", None, None)
    assert "hover payload unknown: elevation unknown" in judged.reason


def test_depth_unknown_is_never_usable_whatever_the_size():
    judged = judge(surveyed=survey(longest_run=run(50_000.0, depth=unknown_depth())))
    assert judged.verdict == "survey first"
    assert judged.reason == "survey first: depth unknown along the run: no depth evidence"
    guessed = judge(surveyed=survey(longest_run=run(50_000.0, depth=known_depth(80.0, 90.0, "none"))))
    assert guessed.verdict == "survey first"


def test_a_measured_shoal_is_not_usable():
    judged = judge(surveyed=survey(longest_run=run(depth=known_depth(0.5, 1.5))))
    assert judged.verdict == "not usable"
    assert judged.reason.startswith("depth not enough along the run")


def test_reservoir_of_unknown_level():
    surveyed = survey(kind="reservoir", level_change_m=Measure(None, "no level given"))
    assert judge(surveyed=surveyed).verdict == "survey first"
    pump = judge("hover_pump", surveyed=surveyed)
    assert pump.verdict == "survey first"
    assert "level today unknown" in pump.reason


def test_the_direction_with_the_head_wind_is_flown():
    south_wind = replace(AIR, wind_from_grid_deg=180.0, wind_ms=8.0)
    judged = judge(air=south_wind)
    assert judged.run_heading_true_deg == pytest.approx(180.0)
    assert judged.run_line.coords[-1] == (0.0, 0.0)  # the line runs the way it is flown
    assert criterion_of(judged, "tail wind").measured == pytest.approx(-8.0)


def test_a_ridge_beyond_one_end_stops_both_directions():
    """Down over it is as wrong as up over it: one surface for both, common practice of heliport surfaces."""
    judged = judge(
        surveyed=survey(
            longest_run=run(
                end_end=clear_end(0.0, 38.0, what="ridge 400 m beyond the end, 38.0 m above the surface")
            )
        )
    )
    assert judged.verdict == "not usable"
    assert "ridge 400 m beyond the end, 38.0 m above the surface (12.5% slope)" in judged.reason


def test_the_ends_are_judged_for_the_direction_flown():
    # The climb-out is judged by the least slope that clears everything, against the day's climb.
    south, north = clear_end(180.0, -7.0, steepest_slope=0.07), clear_end(0.0, -21.0, steepest_slope=0.02)
    judged = judge(surveyed=survey(longest_run=run(start_end=south, end_end=north)))
    assert judged.run_heading_true_deg == 0.0
    assert criterion_of(judged, "approach clearance").measured == pytest.approx(7.0)
    assert criterion_of(judged, "climb-out clearance").measured == pytest.approx(0.02)


def test_a_shorter_run_into_the_wind_beats_a_longer_one_across_it():
    cross = replace(AIR, wind_from_grid_deg=90.0, wind_ms=20.0 * MS_PER_KNOT)
    two = survey(longest_run=run(3_000.0, 0.0), heading_runs=(run(900.0, 90.0, search="heading"),))
    judged = judge(surveyed=two, air=cross)
    assert judged.verdict == "usable"
    assert judged.run_heading_true_deg == pytest.approx(90.0)
    alone = judge(surveyed=replace(two, heading_runs=()), air=cross)
    assert alone.verdict == "not usable"
    assert "crosswind 20.0 kt on the run, limit 15.0 kt" in alone.reason


def test_a_full_load_beats_a_better_score():
    full_but_poor = run(720.0, 0.0, start_end=clear_end(180.0, -0.1), end_end=clear_end(0.0, -0.1))
    partial_but_clear = run(700.0, 10.0, search="heading")
    judged = judge(surveyed=survey(longest_run=full_but_poor, heading_runs=(partial_but_clear,)))
    assert judged.litres == pytest.approx(10_000.0)


def test_the_reason_speaks_of_the_longest_run_when_all_are_out():
    shoal = run(2_500.0, 0.0, depth=known_depth(0.2, 1.0))
    blocked = run(900.0, 10.0, search="heading", end_end=clear_end(10.0, 5.0))
    for longest, other in ((shoal, blocked), (blocked, shoal)):
        assert judge(surveyed=survey(longest_run=longest, heading_runs=(other,))).reason.startswith(
            "depth not enough"
        )


def test_a_closed_area_takes_the_run_out_and_leaves_another():
    assert "Town Water (drinking water)" in judge(closures=(NO_FILLING,)).reason
    assert judge(closures=(NO_FILLING,)).verdict == "not usable"
    aside = run(1_500.0, 90.0, search="heading")
    judged = judge(
        surveyed=survey(heading_runs=(aside,)), closures=(NO_FILLING,), air=replace(AIR, wind_ms=0.0)
    )
    assert judged.verdict == "usable"
    assert judged.run_heading_true_deg in (90.0, 270.0)
    near = replace(
        NO_FILLING, area=shapely.box(29.0, 500.0, 90.0, 600.0)
    )  # 29 m from the line, the corridor needs 30
    assert judge(closures=(near,)).verdict == "not usable"
    past = replace(NO_FILLING, area=shapely.box(30.5, 500.0, 90.0, 600.0))
    assert judge(closures=(past,)).verdict == "usable"


@pytest.mark.parametrize(
    ("permission", "verdict"),
    [("refused", "not usable"), ("granted", "usable"), ("not needed", "usable"), (None, "usable")],
)
@pytest.mark.parametrize("method", ["ram_intake", "hover_pump"])
def test_permission(method, permission, verdict):
    judged = judge(method, owned=body(permission=permission))
    assert judged.verdict == verdict
    assert ("permission unknown" in judged.cautions) == (permission is None)


def site(status="closed", method=None, body_id="L1", point=(0.0, 0.0), note="wires across the bay"):
    """An annotated site at the made lake."""
    return AnnotatedSite(
        "S1", "North Bay", shapely.Point(point), body_id, method, status, note, date(2025, 1, 9)
    )


def test_a_closed_site_vetoes_with_its_note():
    judged = judge(sites=(site("open"), site("closed")))
    assert judged.verdict == "not usable"
    assert "wires across the bay" in judged.reason
    assert judge(sites=(site(body_id="OTHER"),)).verdict == "usable"
    assert judge(sites=(site(body_id=None),)).verdict == "not usable"
    assert judge(sites=(site(body_id=None, point=(9_000.0, 0.0)),)).verdict == "usable"


def test_a_site_of_one_method_leaves_the_other_alone():
    only_pump = (site(method="hover pump"),)
    assert judge("hover_pump", sites=only_pump).verdict == "not usable"
    assert judge("ram_intake", sites=only_pump).verdict == "usable"
    assert (
        judge("ram_intake", sites=(site(method="scooping"),)).verdict == "not usable"
    )  # not ours: warns for all


def test_an_open_site_is_mentioned():
    assert "inspected 2025-01-09" in criterion_of(judge(sites=(site("open"),)), "site notes").reason


def test_salt_and_hover():
    sea = survey(kind="sea", salinity_class="salt", salinity_reason="salt: a sea")
    assert judge("hover_pump", surveyed=sea).verdict == "not usable"
    assert judge("ram_intake", surveyed=sea).verdict == "usable"
    estuary = survey(kind="estuary", salinity_class=None, salinity_reason="unknown: no evidence")
    assert judge("hover_pump", surveyed=estuary).verdict == "survey first"
    dam = survey(kind="dam", salinity_class=None, salinity_reason="unknown: no evidence")
    judged = judge("hover_pump", surveyed=dam)
    assert judged.verdict == "usable"
    assert any("salt unknown" in text for text in judged.cautions)


# US Army TM 1-1520-240-10, 8-4-41: light winds of about 5 to 16 kt carry the heaviest spray.
@pytest.mark.parametrize(("wind_kt", "warned"), [(4.0, False), (6.0, True), (15.5, True), (20.0, False)])
def test_spray_caution_in_light_wind(wind_kt, warned):
    brackish = survey(salinity_class="brackish", salinity_reason="brackish: stated")
    windy = replace(AIR, wind_ms=wind_kt * MS_PER_KNOT)
    allowing = replace(HEAVY, hover_pump=replace(HEAVY.hover_pump, salt_allowed=True))
    judged = judge("hover_pump", surveyed=brackish, air=windy, profile=allowing)
    assert judged.verdict == "usable"
    assert judge("hover_pump", surveyed=brackish, air=windy).verdict == "not usable"
    assert any("spray is worst" in text for text in judged.cautions) == warned


def test_a_small_dam_warns_and_an_empty_one_is_out():
    # Cone of 200 m2 with 3 m trusted depth: 200 m3, 26/27 of it usable, 19.3 loads of 10,000 L; 60 m2: 5.8; 9 m2: 0.87
    dam = survey(kind="dam", hover_point=hover_point(depth=known_depth(3.0, 3.0)))
    assert judge("hover_pump", surveyed=replace(dam, area_m2=200.0)).loads_available == pytest.approx(
        19.26, abs=0.01
    )
    few = judge("hover_pump", surveyed=replace(dam, area_m2=60.0))
    assert few.verdict == "usable"
    assert any("a cone of 5.8 loads" in text for text in few.cautions)
    assert judge("hover_pump", surveyed=replace(dam, area_m2=9.0)).verdict == "not usable"


def test_no_hover_point_is_unknown():
    assert judge("hover_pump", surveyed=survey(hover_point=None)).verdict == "survey first"


@pytest.mark.parametrize("listed", [True, False])
@pytest.mark.parametrize("method", ["ram_intake", "hover_pump"])
def test_wires_are_warned_of_on_every_result(method, listed):
    for surveyed in (survey(), survey(longest_run=None, hover_point=None), survey(salinity_class="salt")):
        judged = judge(method, surveyed=replace(surveyed, obstacles_listed=listed))
        assert any("wires and masts" in text for text in judged.cautions)
        assert any("no obstacle data" in text for text in judged.cautions) == (not listed)


LACK_ON_RUN = {
    "depth": lambda r: replace(r, depth=unknown_depth()),
    "start": lambda r: replace(r, start_end=clear_end(180.0, None)),
    "end": lambda r: replace(r, end_end=clear_end(0.0, None)),
    "heights": lambda r: replace(r, end_end=replace(r.end_end, unknown_heights=("mast",))),
}


def losing(surveyed, lack):
    """The survey without one piece of evidence."""
    if lack in LACK_ON_RUN:
        runs = tuple(LACK_ON_RUN[lack](r) for r in surveyed.runs)
        return replace(surveyed, longest_run=runs[0], heading_runs=runs[1:])
    unknown = Measure(None, "taken away")
    spot = surveyed.hover_point
    return {
        "level": lambda: replace(surveyed, level_change_m=unknown),
        "salt": lambda: replace(surveyed, salinity_class=None, salinity_reason="taken away"),
        "spot": lambda: replace(surveyed, hover_point=None),
        "spot depth": lambda: replace(surveyed, hover_point=replace(spot, depth=unknown_depth())),
        "volume": lambda: replace(surveyed, volume_m3=unknown),
    }[lack]()


def standing(judged):
    """Verdict, load and score as a key that grows with how good they are."""
    litres = judged.litres if judged.litres is not None else 0.0
    return -ORDER.index(judged.verdict), litres, judged.score


GOOD_SURVEYS = st.builds(
    lambda kind, runs, level, salt, radius, area: survey(
        kind=kind,
        longest_run=runs[0],
        heading_runs=tuple(runs[1:]),
        level_change_m=Measure(level, "gauge"),
        salinity_class=salt,
        hover_point=hover_point(radius),
        area_m2=area,
    ),
    kind=st.sampled_from(["lake", "reservoir", "dam", "pond", "river", "estuary"]),
    runs=st.lists(
        st.builds(
            lambda length, heading, low, clear: run(
                length, heading, depth=known_depth(low, low + 2.0), end_end=clear_end(heading, -clear)
            ),
            st.floats(420.0, 3_000.0),
            st.sampled_from([0.0, 30.0, 60.0]),
            st.floats(1.95, 8.0),
            st.floats(0.0, 60.0),
        ),
        min_size=1,
        max_size=3,
    ),
    level=st.floats(-3.0, 3.0),
    salt=st.just("fresh"),  # brackish is no good evidence: it rules a hover out
    radius=st.floats(17.0, 60.0),
    area=st.floats(1_000.0, 1e6),
)


@pytest.mark.parametrize("lack", ["depth", "start", "end", "heights", "level", "salt", "spot", "spot depth"])
@pytest.mark.parametrize("method", ["ram_intake", "hover_pump"])
@given(surveyed=GOOD_SURVEYS)
def test_losing_good_evidence_never_raises_verdict_load_or_score(method, lack, surveyed):
    before, after = judge(method, surveyed=surveyed), judge(method, surveyed=losing(surveyed, lack))
    assert standing(after) <= standing(before)


# A measured shoal, a measured obstacle: forgetting them turns "not usable" into "survey first" at most.
@pytest.mark.parametrize(
    ("bad", "lack"),
    [
        (run(depth=known_depth(0.2, 1.0)), "depth"),
        (run(start_end=clear_end(180.0, 25.0)), "start"),
        (run(end_end=clear_end(0.0, 25.0)), "end"),
    ],
)
def test_losing_bad_evidence_never_makes_a_run_usable(bad, lack):
    surveyed = survey(longest_run=bad)
    assert judge(surveyed=surveyed).verdict == "not usable"
    assert judge(surveyed=losing(surveyed, lack)).verdict == "survey first"


@given(st.floats(50.0, 5_000.0), st.floats(0.0, 3_000.0))
def test_a_longer_run_never_stands_lower(length_m, more_m):
    shorter = judge(surveyed=survey(longest_run=run(length_m)))
    longer = judge(surveyed=survey(longest_run=run(length_m + more_m)))
    assert standing(longer) >= standing(shorter)
    assert longer.score >= shorter.score - 1e-9


@given(
    st.lists(st.tuples(st.floats(100.0, 3_000.0), st.floats(0.0, 350.0)), min_size=2, max_size=5),
    st.floats(0.0, 12.0),
)
def test_one_more_run_never_stands_lower(shapes, wind_ms):
    runs = [run(length_m, heading_deg) for length_m, heading_deg in shapes]
    air = replace(AIR, wind_ms=wind_ms)
    fewer = judge(surveyed=survey(longest_run=runs[0], heading_runs=tuple(runs[1:-1])), air=air)
    more = judge(surveyed=survey(longest_run=runs[0], heading_runs=tuple(runs[1:])), air=air)
    assert standing(more) >= standing(fewer)


def test_two_passes_are_said_and_not_counted():
    # A run of 563.75 m takes 7,500 L. Turn: 30 s of manoeuvre and 563.75 m at 180 km/h = 11.275 s; 11.25 s of filling.
    judged = judge(surveyed=survey(longest_run=run(563.75)))
    assert judged.litres == pytest.approx(7_500.0)
    assert judged.fill_time_s == pytest.approx(33.75)
    assert judged.two_passes.litres == pytest.approx(10_000.0)
    assert judged.two_passes.extra_s == pytest.approx(30.0 + 11.275 + 11.25)
    assert judged.two_passes.text in judged.cautions
    assert judge().two_passes is None
    assert judge(surveyed=survey(longest_run=run(390.0))).two_passes is None


def moved(made, east_m, north_m):
    """The run at another place."""
    return replace(made, line=shapely.affinity.translate(made.line, east_m, north_m))


def test_alternatives_are_the_other_runs_with_the_same_load():
    calm = replace(AIR, wind_ms=0.0)
    near = moved(run(1_000.0, 0.0), 300.0, 0.0)
    turned = run(1_000.0, 45.0)
    far = moved(run(1_000.0, 0.0), 900.0, 0.0)
    partial = moved(run(600.0, 0.0), -2_000.0, 0.0)  # less load
    shoal = moved(run(1_000.0, 0.0, depth=known_depth(0.2, 1.0)), 2_000.0, 0.0)  # not usable
    best = run(1_000.0, 0.0, start_end=clear_end(180.0, -90.0), end_end=clear_end(0.0, -90.0))
    judged = judge(
        surveyed=survey(longest_run=best, heading_runs=(near, turned, far, partial, shoal)), air=calm
    )
    assert judged.fill_point.distance(best.line) < 1e-6
    wanted = {one.line.centroid.wkt for one in (near, far, turned)}
    assert {one.fill_point.wkt for one in judged.alternatives} == wanted
    for one in judged.alternatives:
        assert (one.verdict, one.litres, one.alternatives) == ("usable", 10_000.0, ())
        assert one.criteria and one.reason.startswith("usable: full load of 10,000 L")


def test_every_run_of_a_row_is_offered():
    """So that for a fire on any side the nearest one can be taken."""
    row = tuple(moved(run(1_000.0, 0.0), 600.0 * k, 0.0) for k in range(1, 12))
    judged = judge(surveyed=survey(longest_run=run(1_000.0, 0.0), heading_runs=row))
    assert sorted(one.fill_point.x for one in (judged, *judged.alternatives)) == [
        600.0 * k for k in range(12)
    ]


def test_the_approach_is_judged_on_its_own_surface_where_there_is_one():
    # Flown northward into the wind the aircraft comes down over the start: its approach surface is blocked there.
    ends = clear_end(180.0, steepest_slope=0.03), clear_end(0.0, steepest_slope=0.02)
    made = run(
        start_end=ends[0],
        end_end=ends[1],
        start_approach=clear_end(180.0, 12.0),
        end_approach=clear_end(0.0, -30.0),
    )
    north = judge(surveyed=survey(longest_run=made), air=replace(AIR, wind_ms=8.0))
    assert north.verdict == "not usable"
    calm = judge(surveyed=survey(longest_run=made), air=replace(AIR, wind_ms=0.0))
    assert calm.verdict == "usable"
    assert calm.run_heading_true_deg == pytest.approx(180.0)
    assert criterion_of(calm, "approach clearance").measured == pytest.approx(30.0)
    # Lifted off southward: against the day's climb, the least slope that clears what stands beyond the start.
    assert criterion_of(calm, "climb-out clearance").measured == pytest.approx(0.03)


def test_no_criterion_says_its_name_twice():
    surveys = (
        survey(),
        survey(kind="sea", salinity_class="salt", salinity_reason="salt: a sea"),
        survey(longest_run=run(50_000.0, depth=unknown_depth())),
    )
    for surveyed in surveys:
        for method in ("ram_intake", "hover_pump"):
            for one in judge(method, surveyed=surveyed, closures=(NO_FILLING,)).criteria:
                # "salt water" is a class of water, not the name of the criterion.
                assert not one.reason.removeprefix("salt water").startswith(one.name), one
                assert sentence(one).endswith(f" {one.reason}") and sentence(one).count(one.reason) == 1


@pytest.mark.parametrize("method", ["ram_intake", "hover_pump"])
def test_a_level_below_the_bed_is_not_usable(method):
    fallen = survey(
        longest_run=None,
        hover_point=None,
        level_change_m=Measure(-12.0, "gauge"),
        area_today_m2=Measure(0.0, "inside the waterline"),
    )
    judged = judge(method, surveyed=fallen)
    assert judged.verdict == "not usable" and "no water is left" in judged.reason
    stated = body(stated_depth=StatedDepth(9.0, 0.5, "water.csv row 2", None))
    # 9.0 m and twice 0.5 m: a fall of 10.1 m leaves nothing, one of 9.9 m perhaps something.
    for fall_m, verdict in ((10.1, "not usable"), (9.9, "usable")):
        surveyed = survey(level_change_m=Measure(-fall_m, "gauge"))
        judged = judge(method, surveyed=surveyed, owned=stated)
        assert (judged.verdict, "below the bed" in judged.reason) == (verdict, verdict == "not usable")


def test_a_heading_is_said_true_and_where_the_variation_is_known_magnetic():
    # "East is least": 27 degrees east of true north, a run towards 360 true is flown on 333 by compass.
    assert "heading 360°T 333°M" in judge(air=replace(AIR, variation_deg=27.0)).reason
    assert "heading 360°T" in judge().reason and "M" not in judge().reason.partition("heading")[2]


def test_the_scoop_lifts_no_more_than_the_power_of_the_day():
    """High and hot: 6,285 kg in the hover. The scoop's load is that too, unless a table for its speed says more."""
    high = replace(AIR, liftable_kg=6_285.0, water_density_kg_l=1.0)
    ram = judge(air=high)
    assert (ram.litres, ram.litres_ruled_by) == (pytest.approx(6_285.0), "hover payload")
    assert any("no table of power at the scoop's speed" in text for text in ram.cautions)
    assert ram.score < judge(air=AIR).score
    faster = judge(air=replace(high, scoop_kg=7_100.0, scoop_by="low-speed power"))
    assert (faster.litres, faster.litres_ruled_by) == (pytest.approx(7_100.0), "low-speed power")
    heavy = judge(air=replace(high, scoop_kg=9_000.0, gross_kg=7_400.0, fuel_gain_kg_l=0.8))
    assert (heavy.litres, heavy.litres_ruled_by) == (pytest.approx(7_400.0), "gross weight")
    assert heavy.litres_with(HEAVY.fuel_l - 1_000.0) == pytest.approx(7_400.0 + 800.0)
    assert "with full fuel" in heavy.reason


def test_a_short_run_leaves_no_room_to_gather_speed():
    """By hand: 720 m for a full tank leave 280 m of a run of 1,000 m; of 648 m to gather speed, 368 m lie beyond."""
    end = clear_end(0.0, steepest_slope=0.02, later_slopes=(0.02, 0.02, 0.02, 0.9))
    judged = judge(surveyed=survey(longest_run=run(1_000.0, end_end=end, start_end=end)))
    found = criterion_of(judged, "climb-out clearance")
    assert found.state == "not met" and "after 368 m to gather speed" in found.reason
    longer = judge(surveyed=survey(longest_run=run(1_100.0, end_end=end, start_end=end)))
    assert criterion_of(longer, "climb-out clearance").state == "met"


def test_every_score_can_be_read_off_its_points():
    """The printed points and the printed figure give the printed score, by straight lines (numpy.interp)."""
    seen = set()
    for method in ("ram_intake", "hover_pump"):
        for criterion in judge(method).criteria:
            if criterion.score_points and criterion.state == "met":
                across, up = zip(*criterion.score_points, strict=True)
                assert criterion.score == pytest.approx(np.interp(criterion.measured, across, up))
                seen.add(criterion.name)
    assert seen >= {"run length", "load", "depth", "tail wind", "rotor clearance", "hover payload"}
