"""Another level for one water of a region: what changes, what stays apart, and what is refused."""

from dataclasses import replace

import pytest
import shapely

from geo.base.errors import BadInput
from geo.records.region import Region, RegionFrame, WaterBody
from geo.today.levels import with_level

FRAME = RegionFrame("", 0.0, 0.0, "Height datum 2024")
LOW = WaterBody(
    "R1",
    "Upper Water",
    "reservoir",
    shapely.box(0, 0, 100, 100),
    "water.gpkg",
    208.0,
    -4.0,
    depth_level_m=212.0,
)
TWIN = replace(LOW, body_id="R2", depth_level_m=None, surface_elevation_m=None, level_change_m=None)
REGION = Region("Test", FRAME, (LOW, TWIN), "fingerprint")


def test_level_replaces_surface_and_change_of_that_water_alone():
    changed = with_level(REGION, "R1", 210.5)
    first, second = changed.bodies
    assert (first.surface_elevation_m, first.level_change_m) == (210.5, -1.5)
    assert "given" in first.level_origin
    assert second == TWIN
    assert REGION.bodies[0].surface_elevation_m == 208.0


def test_unknown_level_of_today_can_be_given_where_the_outlines_level_is_known():
    unknown = replace(LOW, surface_elevation_m=None, level_change_m=None)
    changed = with_level(replace(REGION, bodies=(unknown,)), "Upper Water", 211.0)
    assert changed.bodies[0].level_change_m == -1.0


def test_every_level_has_its_own_fingerprint():
    prints = {with_level(REGION, "R1", level).fingerprint for level in (210.0, 210.1, 212.0)}
    assert len(prints | {REGION.fingerprint}) == 4
    twice = with_level(with_level(REGION, "R1", 210.0), "R1", 211.0).fingerprint
    assert twice not in prints


@pytest.mark.parametrize(
    ("body", "level_m", "words"),
    [
        ("R9", 210.0, "no water body"),
        ("Upper Water", 210.0, "2 have this name: R1, R2"),
        ("R2", 210.0, "depth_level"),
        ("R1", float("nan"), "not finite"),
        ("R1", 690.0, "478.0 m above"),
        ("R1", 20.0, "192.0 m below"),
    ],
)
def test_levels_that_cannot_be_meant_are_refused_with_a_cure(body, level_m, words):
    with pytest.raises(BadInput, match=words) as refused:
        with_level(REGION, body, level_m)
    assert refused.value.faults[0].cure
