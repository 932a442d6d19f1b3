"""The compiled rule and the exact leg are two codes of one rule: same times, same refusals, over hills with lakes.

In the plane by cells and on the ellipsoid: the plane's scale and the legs' convergence make the difference in time.
"""

import numpy as np
import pytest
import shapely

from geo.base.errors import NotFlyable
from geo.flight.legs.corridor import corridor
from geo.flight.legs.flight_state import rule_of
from geo.flight.legs.leg import leg
from geo.flight.legs.no_fly_routes import airspace
from geo.flight.routing.route_ground import route_ground
from geo.flight.routing.route_kernels import route_seconds
from geo.records.flight import Endpoint
from tests.flight.test_legs_keep_heights import CRS, DROP_M, EMPTY, LIFT_OFF_M, LOADED, flooded, invented


@pytest.mark.parametrize("height", [300.0, 900.0])
def test_the_compiled_rule_agrees_with_the_leg_rule_on_times_and_refusals(height):
    grid, lakes = flooded(invented(5, height))
    surface = corridor(grid, LOADED.half_width_m)
    shut = airspace([shapely.box(-1500.0, -1500.0, 1500.0, 1500.0)])
    ground = route_ground(surface, shut)
    rng = np.random.default_rng(8)
    apart, refused, alike, circled = [], 0, 0, 0
    for number in range(60):
        (place, level), outward = lakes[number % len(lakes)], bool(number % 2)
        drop = rng.uniform(-8000.0, 8000.0, 2)
        hub = Endpoint(shapely.Point(drop), float(grid.bilinear(*drop)) + DROP_M, DROP_M)
        water = Endpoint(shapely.Point(place), level + LIFT_OFF_M, 0.0, 0.0 if outward else None)
        start, end = (water, hub) if outward else (hub, water)
        state = LOADED if outward else EMPTY
        points = np.array([start.xy, *rng.uniform(-9000.0, 9000.0, (1 + number % 2, 2)), end.xy])
        rule = rule_of(start, end, state, state.wind_from_true_deg, ground.lowest_m)
        line = shapely.LineString(points)
        if line.intersects(shut.areas[0]):
            continue
        seconds = route_seconds(points, ground.open, rule, np.inf)
        try:
            exact = leg(start, end, state, surface, CRS, line, shut)
        except NotFlyable:
            refused += 1
            alike += not np.isfinite(seconds)
            continue
        alike += np.isfinite(seconds)
        circled += bool(exact.circling)
        if np.isfinite(seconds):
            apart.append(seconds / exact.time_s - 1.0)
    assert len(apart) >= 8 and refused >= 3
    assert (
        alike >= len(apart) + refused - 1
    )  # by rounding a circle may just fit in one code and not in the other
    assert np.max(np.abs(apart)) < 1e-3
    assert abs(np.mean(apart)) < 2e-4
