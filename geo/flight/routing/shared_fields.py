"""Time fields that many legs share, and that never depend on which other legs are asked for.

A field is laid over a square about the hub whose size is one of a fixed row, the smallest that serves the leg, and
reaches from the lowest ground there to the ceiling. So every leg finds the same routes whether it is sought alone or
with a thousand others, and legs of like size pay for one field together. Where one field at the least spacing holds the
whole ground, that one serves every leg.
"""

import math
from dataclasses import replace

import numpy as np

from geo.base.recent import Recent
from geo.flight.routing.field_route_kernels import served_m
from geo.flight.routing.route_ground import RouteGround
from geo.flight.routing.time_field import FieldSettings, HubLegs, TimeField, reach_m, time_field
from geo.records.flight import Endpoint

# Half the side of the smallest square [m], and the factor from one to the next.
SMALLEST_M, GROWTH = 3_000.0, 2.0
# A water may lie so far below all the ground that the terrain shows: a reservoir that was full when it was measured.
BELOW_GROUND_M = 100.0

Bounds = tuple[float, float, float, float]
# Places along a side at which it is asked whether a route can lead there.
_SAMPLES = 41


class SharedFields:
    """The time fields over one search ground, each computed once, at the first need; safe to ask from threads."""

    def __init__(self, ground: RouteGround, *, shared: bool = True) -> None:
        """shared: many legs have one hub; else a field is made for each leg alone, no larger than that leg needs."""
        self.ground, self.shared, self.computed = ground, shared, 0
        self._kept: Recent[TimeField] = Recent()

    def of(self, legs: HubLegs, place: Endpoint, limit_s: float, settings: FieldSettings) -> TimeField:
        """Give the field that serves the leg of a place.

        Parameters: limit_s the time [s] at which a route is of no more use, inf where any route is wanted: then the
        whole ground is searched.
        """
        half_m = math.inf if self.serves_all(settings) else self._half_m(legs, place, limit_s)
        bounds = self._bounds(legs.hub, half_m)
        if not self.shared:
            return self._made(legs, bounds, place, limit_s, settings)

        def made() -> TimeField:
            hub = legs.hub
            lowest = Endpoint(hub.point, min(self._lowest_m(bounds), hub.altitude_m))
            return self._made(legs, bounds, lowest, math.inf, settings)

        return self._kept.get((), (legs, bounds, settings), made)

    def serves_all(self, settings: FieldSettings) -> bool:
        """True where one field at the least spacing holds the whole ground, so that no coarser one need bound it."""
        west, south, east, north = self.ground.bounds
        nodes = ((east - west) / settings.spacing_m + 1.0) * ((north - south) / settings.spacing_m + 1.0)
        return self.shared and nodes <= settings.most_nodes

    def _half_m(self, legs: HubLegs, place: Endpoint, limit_s: float) -> float:
        """Give half the side of the smallest square of the row that holds every route within the limit [m]."""
        if not math.isfinite(limit_s):
            return math.inf
        state, away = legs.state, np.array(place.xy) - legs.hub.xy
        margin = reach_m(limit_s * state.fastest_ms(), float(np.hypot(*away)))
        # Straight to a node and on to the hub takes less than the limit only in a part of the box of that margin.
        low, high = np.minimum(away, 0.0) - margin, np.maximum(away, 0.0) + margin
        # Homeward legs are flown the other way: the same ground is reached as by legs outward in the wind reversed.
        reversed_ = replace(legs, wind_from_grid_deg=(legs.wind_from_grid_deg + 180.0) % 360.0)
        blow = (legs if legs.outward else reversed_).blow_ms
        step = float(np.max(high - low)) / (_SAMPLES - 1)
        held = served_m(away, low, high, _SAMPLES, state.tas_ms, blow, limit_s) + step
        steps = math.ceil(math.log(max(held / SMALLEST_M, 1.0)) / math.log(GROWTH) - 1e-9)
        return SMALLEST_M * GROWTH**steps

    def _bounds(self, hub: Endpoint, half_m: float) -> Bounds:
        """Give the square as far as there is ground: west, south, east, north [m]."""
        west, south, east, north = self.ground.bounds
        x, y = hub.xy
        return max(west, x - half_m), max(south, y - half_m), min(east, x + half_m), min(north, y + half_m)

    def _made(
        self, legs: HubLegs, bounds: Bounds, place: Endpoint, limit_s: float, settings: FieldSettings
    ) -> TimeField:
        self.computed += 1
        return time_field(replace(self.ground, bounds=bounds), legs, [place], [limit_s], settings)

    def _lowest_m(self, bounds: Bounds) -> float:
        """Give the lowest height at which a place of a square may lie [m]."""
        ground = self.ground.open
        west, south, east, north = bounds
        first, last = (int((x - ground.west_m) // ground.cell_east_m) for x in (west, east))
        top, bottom = (int((ground.north_m - y) // ground.cell_north_m) for y in (north, south))
        near = ground.near[max(top, 0) : bottom + 1, max(first, 0) : last + 1]
        near = near[np.isfinite(near)]
        return (float(near.min()) if near.size else self.ground.lowest_m) - BELOW_GROUND_M
