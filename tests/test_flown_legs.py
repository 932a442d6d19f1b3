"""What is unknown or on fire never helps: whole rankings of the demo region with one fact taken away.

The demo region is invented; checked here are directions (worse or out, never better), not figures.
"""

import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from PIL import Image
from pyproj import Geod

from geo import pipeline
from geo.base.errors import BadArgument
from geo.base.grid import Grid
from geo.ingest.layers.aircraft import load_profile
from geo.records.conditions import WindField
from geo.records.document import document
from geo.records.extras import Target
from geo.records.region import Closure, Fire, Obstacle
from geo.search.drop_points import drop_for, drop_point, share_on_water
from geo.search.flown_legs import FlightContext, cycle_sides
from services.core import quantities

WEATHER = quantities.weather("300/18kt", "34C", "1009", "0m", None)


@pytest.fixture(scope="module")
def region(demo_region):
    return demo_region


@pytest.fixture(scope="module")
def survey(demo_survey):
    return demo_survey


@pytest.fixture(scope="module")
def plain(region, survey):
    """The ranking of the region as it is, with which the changed ones are compared."""
    profile, middle = load_profile("heavy_tank_helicopter"), Target("centroid")
    return pipeline.rank(region, survey, region.fires[0], profile, WEATHER, target=middle)


@pytest.fixture(scope="module")
def before(plain):
    """Its round trip [s] of each ranked source."""
    return {source.body_id: source.cycle.round_trip_s for source in plain.sources}


def ranked(region, survey, fire=None):
    """Round trip [s] per ranked source, and the reasons of the others."""
    profile = load_profile("heavy_tank_helicopter")
    middle = Target("centroid")
    ranking = pipeline.rank(region, survey, fire or region.fires[0], profile, WEATHER, target=middle)
    return {s.body_id: s.cycle.round_trip_s for s in ranking.sources}, {
        e.body_id: e.reason for e in ranking.excluded
    }


@pytest.mark.xfail(reason="open: the hole takes a source of the example away", strict=False)
def test_a_hole_in_the_terrain_helps_nobody(region, survey, plain, before):
    """The high ground is made unknown, and 600 m round the middle of a leg: no source may come nearer by it."""
    grid, crossed = region.terrain, plain.sources[2]
    middle = crossed.cycle.loaded_leg.route.interpolate(0.5, normalized=True)
    rows, columns = grid.values.shape
    east = grid.west_m + (np.arange(columns) + 0.5) * grid.cell_east_m
    north = grid.north_m - (np.arange(rows) + 0.5) * grid.cell_north_m
    near = np.hypot(east[None, :] - middle.x, north[:, None] - middle.y) < 600.0
    holed = replace(grid, values=np.where(near | (grid.values > 700.0), np.nan, grid.values))
    after, out = ranked(replace(region, terrain=holed), survey)
    # The search for routes round is no proof: its answers scatter by up to 0.3 % (measured), more is a fault.
    assert all(seconds >= 0.997 * before[body] for body, seconds in after.items())
    lost = set(before) - set(after)
    assert all("terrain unknown" in out[body] for body in lost)
    assert crossed.body_id in lost or after[crossed.body_id] > 1.005 * before[crossed.body_id]


def test_a_hole_over_known_water_is_filled_with_its_level(region, survey, before):
    """A survey raster without the lakes' cells is common; the lake's own level is known, so legs over it stay."""
    lake = next(body for body in region.bodies if body.kind == "lake" and body.polygon.area > 1e6)
    grid = region.terrain
    rows, columns = grid.values.shape
    east = grid.west_m + (np.arange(columns) + 0.5) * grid.cell_east_m
    north = grid.north_m - (np.arange(rows) + 0.5) * grid.cell_north_m
    held = shapely.contains_xy(lake.polygon, *np.meshgrid(east, north))
    assert held.sum() > 100
    holed = replace(region, terrain=replace(grid, values=np.where(held, np.nan, grid.values)))
    after, _ = ranked(holed, survey)
    assert after.keys() == before.keys()
    assert after[lake.body_id] == pytest.approx(before[lake.body_id], rel=0.02)


@pytest.mark.xfail(reason="open: a leg close to its end passes nearer than the half-width", strict=False)
def test_an_obstacle_of_unknown_height_is_flown_round(region, survey, plain):
    """A mast of unknown height in the middle of the best source's route may not be flown over as if it were absent."""
    profile = load_profile("heavy_tank_helicopter")
    first = plain.sources[0]
    middle = first.cycle.loaded_leg.route.interpolate(0.5, normalized=True)
    mast = Obstacle("X1", "new mast", "mast", middle, None, None, "test")
    changed = replace(region, obstacles=(*region.obstacles, mast))
    again = pipeline.rank(
        changed, survey, region.fires[0], profile, WEATHER, target=Target("centroid")
    ).sources
    assert first.body_id in {source.body_id for source in again}
    for source in again:
        for leg in (source.cycle.loaded_leg, source.cycle.empty_leg):
            assert leg.route.distance(middle) > 0.97 * profile.corridor_half_width_m


def test_water_inside_the_fire_is_left_out(region, survey, before):
    best = min(before, key=before.get)
    lake = next(body for body in region.bodies if body.body_id == best)
    after, out = ranked(region, survey, Fire("F", "over the water", lake.polygon.buffer(300.0)))
    assert best not in after
    assert "inside the fire" in out[best]


def test_loads_are_not_dropped_on_water(region):
    lake = next(body for body in region.bodies if body.polygon.area > 1e6).polygon
    ring = Fire("F", "round the lake", lake.buffer(200.0))
    assert not lake.covers(drop_point(ring, region)) and ring.area.covers(drop_point(ring, region))
    with pytest.raises(BadArgument, match="wholly on water"):
        drop_point(Fire("F", "on the lake", lake.buffer(-50.0)), region)


def test_a_fire_in_a_no_fly_area_is_refused_once_before_any_water_is_tried(region, survey, monkeypatch):
    shut = next(one for one in region.closures if one.kind == "no flying")
    inside = Fire("F", "among the terns", shut.area.buffer(-200.0))
    monkeypatch.setattr("geo.search.ranking.shortlist", lambda *_: pytest.fail("a water was tried"))
    edge = Target("edge")
    middle = inside.area.centroid
    flank = Target("flank", shapely.LineString([(middle.x - 50.0, middle.y), (middle.x + 50.0, middle.y)]))
    profile = load_profile("heavy_tank_helicopter")
    for target in (Target("centroid"), edge, flank):
        with pytest.raises(BadArgument, match=f"{shut.name}.*Fix: get clearance"):
            pipeline.rank(region, survey, inside, profile, WEATHER, target=target)


def test_a_fire_partly_in_a_no_fly_area_is_served_where_flying_is_allowed(region):
    shut = next(one for one in region.closures if one.kind == "no flying")
    fire = Fire("F", "round the terns", shut.area.buffer(400.0))
    barred = replace(region, closures=(shut,))
    for target in (Target("centroid"), Target("edge")):
        for place in (fire.area.centroid, shut.area.centroid):
            drop = drop_for(target, fire, barred, WEATHER).at(place)
            assert fire.area.buffer(1e-6).covers(drop) and not shut.area.contains(drop)
    lapsed = replace(region, closures=(replace(shut, kind="no filling"),))
    middle = drop_for(Target("centroid"), fire, lapsed, WEATHER).at(fire.area.centroid)
    assert middle.equals(drop_point(fire, region))


def test_a_fire_over_a_lake_says_so_and_drops_on_its_largest_land(region):
    lake = next(body for body in region.bodies if body.polygon.area > 1e6).polygon
    west, south, east, north = lake.bounds
    over = Fire("F", "over the lake", shapely.box(west - 50.0, south - 50.0, east + 900.0, north + 50.0))
    assert re.fullmatch(
        r"\d+% of the outline of fire over the lake lies on water: .*", share_on_water(over, region)
    )
    assert not lake.covers(drop_point(over, region)) and over.area.covers(drop_point(over, region))
    dry = Fire("F", "dry", shapely.box(west - 1.0, south - 1.0, west, south))
    assert share_on_water(dry, region) == ""


def test_an_unknown_level_or_kind_helps_no_stored_water(region, survey):
    """A reservoir six metres down must not gain by forgetting its gauge, nor a reservoir by forgetting its kind."""
    down = next(b for b in region.bodies if b.level_change_m is not None and b.level_change_m < -3.0)
    blind = replace(down, level_change_m=None, level_origin=None)
    changed = replace(region, bodies=(blind,))
    after, out = ranked(changed, pipeline.survey(changed))
    assert down.body_id not in after and "level today unknown" in out[down.body_id]
    unnamed = replace(region, bodies=(replace(blind, kind="unknown"),))
    after, out = ranked(unnamed, pipeline.survey(unnamed))
    assert down.body_id not in after and "level today unknown" in out[down.body_id]


@pytest.mark.xfail(reason="open: the example lies elsewhere since turns count", strict=False)
def test_legs_keep_off_no_fly_areas_but_from_a_place_beside_it(region, survey, plain):
    """The corridor's half-width is kept (one area nearer to an end is only not entered, which a caution says)."""
    profile = load_profile("heavy_tank_helicopter")
    best = plain.sources[0]
    route = best.cycle.loaded_leg.route
    middle = route.interpolate(0.5, normalized=True)
    shut = Closure("X", "new range", "no flying", middle.buffer(300.0, quad_segs=2), "test")
    changed = replace(region, closures=(*region.closures, shut))
    again = pipeline.rank(changed, survey, region.fires[0], profile, WEATHER, target=Target("centroid"))
    passing = []
    for other in again.sources:
        for leg in (other.cycle.loaded_leg, other.cycle.empty_leg):
            away, ends = leg.route.distance(shut.area), leg.route.boundary.distance(shut.area)
            if ends < profile.corridor_half_width_m:
                assert away > 0.0
                assert any("from new range: keep outside it" in caution for caution in other.cautions)
            elif away < 1000.0:
                passing.append(away)
    assert passing and min(passing) >= profile.corridor_half_width_m
    # Beside the lift-off itself the outline alone counts, and that is said.
    start, ahead = (np.array(route.coords[i]) for i in (0, 1))
    aside = np.array([-1.0, 1.0]) * (ahead - start)[::-1] / np.hypot(*(ahead - start))
    beside = shapely.Point(start + 170.0 * aside).buffer(60.0)
    near = replace(region, closures=(replace(shut, area=beside),))
    found = pipeline.rank(near, survey, region.fires[0], profile, WEATHER, target=Target("centroid"))
    source = next((s for s in found.sources if s.body_id == best.body_id), None)
    assert source is not None
    assert any("from new range: keep outside it" in caution for caution in source.cautions)


def test_a_source_that_unknown_wind_surrounds_is_left_out(region, survey, plain):
    profile = load_profile("heavy_tank_helicopter")
    last = plain.sources[-1]
    west, south, east, north = region.terrain.bounds
    cell, rows, columns = 500.0, int((north - south) / 500.0) + 2, int((east - west) / 500.0) + 2
    u, v = np.full((rows, columns), 8.0), np.full((rows, columns), -4.6)
    row, column = int((north - last.fill_point.y) / cell), int((last.fill_point.x - west) / cell)
    u[row - 2 : row + 3, column - 2 : column + 3] = np.nan
    field = WindField("test", "0" * 64, *(Grid(part, west, north, cell, cell) for part in (u, v)))
    given = replace(WEATHER, wind_field=field)
    found = pipeline.rank(region, survey, region.fires[0], profile, given)
    assert last.body_id not in {source.body_id for source in found.sources}
    reason = next(e.reason for e in found.excluded if e.body_id == last.body_id)
    assert "the wind is unknown over" in reason and "Fix" in reason
    assert "the field of test" in found.assumptions["wind"]


# What an outsider needs to redo a printed leg: plain arithmetic, nothing of the program's.


def ground_speed_ms(track_deg, tas_ms, from_deg, wind_ms):
    angle = math.radians(from_deg - track_deg)
    return math.sqrt(tas_ms**2 - (wind_ms * math.sin(angle)) ** 2) - wind_ms * math.cos(angle)


def over_s(leg, begin_m, end_m, tas_ms):
    """Time over a part of a printed leg's route at an airspeed, by the wind triangle of each printed piece."""
    total, at = 0.0, 0.0
    for piece in leg["segments"]:
        part = min(end_m, at + piece["distance_m"]) - max(begin_m, at)
        at += piece["distance_m"]
        if part > 0.0:
            wind = piece["wind_from_true_deg"], piece["wind_ms"]
            total += part / ground_speed_ms(piece["track_true_deg"], tas_ms, *wind)
    return total


def climbing_s(low_m, high_m, rate_ms, ceiling_m):
    """The climb's time: the rate falls in a straight line from density altitude 0 to 0.508 m/s at the ceiling, never
    above its first; standard atmosphere (ISO 2533) at the demo's 34 degC at 0 m and QNH 1009."""
    height = np.linspace(low_m, high_m, 2001)
    kelvin = 34.0 - 0.0065 * height + 273.15
    pressure_altitude = height + 288.15 / 0.0065 * (1.0 - (1009.0 / 1013.25) ** 0.190263)
    pressure = 101325.0 * (1.0 - 0.0065 * pressure_altitude / 288.15) ** 5.25588
    density = pressure / (287.05287 * kelvin)
    altitude = 288.15 / 0.0065 * (1.0 - (density / 1.225) ** (1.0 / 4.25588))
    rate = rate_ms + (min(0.508, rate_ms) - rate_ms) * np.clip(altitude / ceiling_m, 0.0, 1.0)
    return float(np.trapezoid(1.0 / rate, height))


def turning_s(degrees, climb_speed_ms, wind_ms, profile):
    """What the turns of a printed route take that are sharper than 60 degrees (those cost nothing): by half the climb
    speed at g tan bank / V, with slowing down and speeding up in proportion up to 30 degrees more. Corners within the
    radius of a circle at the climb speed are one turn. The rate is plain kinematics (FAA-H-8083-25); the rest is common
    practice, no source."""
    tracks, back, lengths = Geod(ellps="WGS84").inv(*degrees[:-1].T, *degrees[1:].T)
    at, turns = np.cumsum(lengths)[:-1], (tracks[1:] - np.array(back)[:-1]) % 360.0 - 180.0
    pull_ms2 = 9.80665 * math.tan(math.radians(profile.circle_bank_deg))
    radius_m, total, first = (climb_speed_ms + wind_ms) ** 2 / pull_ms2, 0.0, 0
    while first < len(turns):
        near = at[first:] - at[first] <= radius_m
        beyond = np.abs(np.cumsum(turns[first:][near])) - 60.0
        sharpest = int(np.argmax(beyond))
        if beyond[sharpest] > 1e-3:
            slow_s = climb_speed_ms / (4.0 * profile.acceleration_ms2) * min(1.0, beyond[sharpest] / 30.0)
            total += slow_s + math.radians(beyond[sharpest]) * 0.5 * climb_speed_ms / pull_ms2
            first += sharpest
        first += 1
    return total


@pytest.mark.parametrize("profile_text", [None, "power:0.14"])
def test_every_printed_leg_can_be_redone_by_hand(region, survey, profile_text):
    """From the JSON document and the aircraft profile alone. In winds aloft the pieces carry their mean wind."""
    weather = quantities.weather("300/18kt", "34C", "1009", "0m", None, profile_text)
    profile = load_profile("heavy_tank_helicopter")
    ranking = pipeline.rank(region, survey, region.fires[0], profile, weather)
    printed = json.loads(json.dumps(document(ranking, region.frame)))
    exact = 2e-5 if profile_text is None else 2e-3
    waits = turned = 0
    for source in printed["sources"]:
        cycle = source["cycle"]
        for leg, rate, climb_speed_ms in (
            (cycle["loaded_leg"], profile.climb_loaded_ms, profile.climb_speed_loaded_ms),
            (cycle["empty_leg"], profile.climb_empty_ms, profile.climb_speed_empty_ms),
        ):
            length, tas_ms = leg["distance_m"], leg["segments"][0]["true_airspeed_ms"]
            degrees = np.array(leg["route"]["coordinates"])
            assert Geod(ellps="WGS84").line_length(*degrees.T) == pytest.approx(length, abs=0.5)
            cruise_s = over_s(leg, 0.0, length, tas_ms)
            assert cruise_s == pytest.approx(sum(piece["time_s"] for piece in leg["segments"]), rel=exact)
            extra = 0.0
            if leg["climb"] is not None:
                up = leg["climb"]
                takes_s = up["level_s"] + climbing_s(up["from_m"], up["to_m"], rate, profile.ceiling_m)
                assert takes_s == pytest.approx(up["duration_s"], rel=1e-3, abs=2e-3)  # 0.8 ms measured
                flown_s = over_s(leg, 0.0, up["covered_m"], up["airspeed_ms"])
                if up["wait_at_m"] is None:
                    assert up["waited_s"] == 0.0
                else:
                    waits += 1
                    to_height = up["level_s"]
                    to_height += climbing_s(up["from_m"], up["wait_height_m"], rate, profile.ceiling_m)
                    circled = to_height - over_s(leg, 0.0, up["wait_at_m"], up["airspeed_ms"])
                    assert up["waited_s"] == pytest.approx(circled, abs=0.5)
                assert up["duration_s"] == pytest.approx(
                    flown_s + up["waited_s"], rel=exact, abs=0.2 * (exact > 1e-3)
                )
                extra = takes_s - over_s(leg, 0.0, up["covered_m"], tas_ms)
            down, sunk = leg["descent"], 0.0
            if down is not None:
                sink_s = (down["from_m"] - down["to_m"]) / down["rate_ms"]
                assert sink_s > 0.0
                sunk = max(0.0, sink_s - over_s(leg, down["at_m"], length, tas_ms))
            windiest_ms = max(piece["wind_ms"] for piece in leg["segments"])
            turns_s = turning_s(degrees, climb_speed_ms, windiest_ms, profile)
            turned += turns_s > 1.0
            assert leg["turns_s"] == pytest.approx(turns_s, abs=0.1)
            assert leg["time_s"] == pytest.approx(cruise_s + extra + sunk + turns_s, rel=2e-3)
            assert leg["climb_extra_s"] == pytest.approx(extra, abs=0.5)
            assert leg["descent_extra_s"] == pytest.approx(sunk, abs=0.5)
        parts = ("fill_s", "manoeuvre_source_s", "drop_s", "manoeuvre_fire_s")
        whole = (
            sum(cycle[name] for name in parts) + cycle["loaded_leg"]["time_s"] + cycle["empty_leg"]["time_s"]
        )
        assert cycle["round_trip_s"] == pytest.approx(whole, abs=1e-4)
    # In winds aloft no leg of the example has a sharp turn.
    assert waits > 2 and (turned or profile_text)


def test_the_round_trip_of_a_source_is_drawn(region, survey, plain, tmp_path):
    profile = load_profile("heavy_tank_helicopter")
    source = plain.sources[-1]
    sides = cycle_sides(FlightContext(region, survey, profile, WEATHER), source)
    for side, leg in zip(sides, (source.cycle.loaded_leg, source.cycle.empty_leg), strict=True):
        assert side.distance_m[-1] == pytest.approx(leg.distance_m)
        assert np.all(side.altitude_m[1:-1] >= side.needed_m[1:-1] - 0.1)
        assert np.all(np.diff(side.distance_m) >= 0.0)
    path = pipeline.plot_cycle(tmp_path, region, survey, plain, profile, source.name)
    with Image.open(path) as picture:
        assert picture.size == (1600, 1100)
    with pytest.raises(BadArgument, match="no listed source"):
        pipeline.plot_cycle(tmp_path, region, survey, plain, profile, "nowhere")
