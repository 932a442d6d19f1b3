"""Two waters of the demo region that once passed: a dam with a wire round it, a lake under a ring of cliffs."""

from dataclasses import replace

import pytest
import shapely

from geo import pipeline
from geo.base.units import METRE_PER_FOOT
from geo.ingest.layers.aircraft import load_profile
from geo.records.conditions import Weather
from geo.records.region import Obstacle

HEAVY = load_profile("heavy_tank_helicopter")
CALM = Weather(300.0, 1.0, 15.0, 1013.0, 0.0)


def pump_at(region, name: str, stands: tuple[Obstacle, ...] = ()):
    """The verdict on the hover pump at one water with more standing round it."""
    water = next(one for one in region.bodies if one.name == name)
    alone = replace(region, bodies=(water,), obstacles=(*region.obstacles, *stands))
    ((judged, _),) = pipeline.assess(alone, pipeline.survey(alone), HEAVY, CALM)
    return next(one for one in judged.methods if one.method == "hover_pump")


def test_a_wire_all_round_a_dam_bars_every_way(demo_region):
    """200 ft of wire 12 m off the shore of Ash Farm Dam; without it the dam is usable. The load with full fuel,
    by the profile's weights: 21,000 - 9,500 - 200 - 300 - 4,500 L x 0.80 = 7,400 kg, at 0.9991 kg/L (water of 15 degC:
    CRC Handbook)."""
    dam = next(one for one in demo_region.bodies if one.name == "Ash Farm Dam")
    ring = dam.polygon.buffer(12.0).exterior
    wire = Obstacle("R1", "ring line", "wire", ring, None, 200.0 * METRE_PER_FOOT, "invented")
    before, after = pump_at(demo_region, "Ash Farm Dam"), pump_at(demo_region, "Ash Farm Dam", (wire,))
    assert before.verdict == "usable" and before.litres == pytest.approx(7400.0 / 0.9991, rel=1e-4)
    assert after.verdict == "not usable" and "way in" in after.reason and "way out" in after.reason
    assert "ring line" in after.reason
    assert any("ring line, 61 m above ground" in text for text in after.cautions)
    unknown = pump_at(demo_region, "Ash Farm Dam", (replace(wire, height_above_ground_m=None),))
    assert unknown.verdict == "survey first" and "ring line" in unknown.reason


def test_a_gap_in_the_wire_is_enough_where_the_way_ahead_is_open_too(demo_region):
    """Half the ring: in over the open side is barred, for a balked approach would meet the wire; calm air."""
    dam = next(one for one in demo_region.bodies if one.name == "Ash Farm Dam")
    middle = dam.polygon.centroid
    half = shapely.box(middle.x - 9e3, middle.y, middle.x + 9e3, middle.y + 9e3)
    arc = dam.polygon.buffer(12.0).exterior.intersection(half)
    wire = Obstacle("R1", "ring line", "wire", arc, None, 200.0 * METRE_PER_FOOT, "invented")
    found = pump_at(demo_region, "Ash Farm Dam", (wire,))
    assert found.verdict == "usable"
    # Only the open south serves.
    assert all(90.0 < direction < 270.0 for direction in found.ways.out_to_true_deg)


@pytest.mark.parametrize("method", ["ram_intake", "hover_pump"])
def test_cliffs_bar_the_hover_as_they_bar_the_run(demo_region, demo_survey, method):
    judged = pipeline.assess(demo_region, demo_survey, HEAVY, CALM)
    lake = next(body for body, _ in judged if body.name == "Cragfoot Water")
    found = next(one for one in lake.methods if one.method == method)
    assert found.verdict == "not usable"
