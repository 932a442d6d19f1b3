"""Time fields that many legs share, and that never depend on which other legs are asked for.

A field is laid over a square about the hub whose size is one of a fixed row, the smallest that serves the leg, and
reaches from the lowest ground there to the ceiling. So every leg finds the same ways whether it is sought alone or with
a thousand others, and legs of like size pay for one field together. Where one field at the least spacing holds the
whole ground, that one serves every leg.
"""

import math
from dataclasses import replace
from threading import Lock

import numpy as np

from geo.flight.legs.flight_state import FlightState, blow_ms
from geo.flight.routing.field_route_kernels import served_m
from geo.flight.routing.route_ground import RouteGround
from geo.flight.routing.time_field import FieldSettings, Place, TimeField, reach_m, time_field

# Half the side of the smallest square [m], and the factor from one to the next.
SMALLEST_M, GROWTH = 3_000.0, 2.0
# A water may lie so far below all the ground that the terrain shows: a reservoir that was full when it was measured.
BELOW_GROUND_M = 100.0

Bounds = tuple[float, float, float, float]
# Places along a side at which it is asked whether a way can lead there.
_SAMPLES = 41


class SharedFields:
    """The time fields over one search ground, each computed once, at the first need; safe to ask from threads."""

    def __init__(self, ground: RouteGround, *, shared: bool = True) -> None:
        """shared: many legs have one hub; else a field is made for each leg alone, no larger than that leg needs."""
        self.ground, self.shared, self.computed = ground, shared, 0
        self._kept: dict[tuple, TimeField] = {}
        self._locks: dict[tuple, Lock] = {}

    def of(
        self,
        hub: Place,
        place: Place,
        state: FlightState,
        outward: bool,
        wind_from_grid_deg: float,
        limit_s: float,
        settings: FieldSettings,
    ) -> TimeField:
        """Give the field that serves a leg between a place and the hub [east, north, altitude m].

        Parameters: outward True for legs that end at the hub; limit_s the time [s] at which a way is of no more use,
        inf where any way is wanted: then the whole ground is searched.
        """
        # Homeward legs are flown the other way: the same ground is reached as by legs outward in the wind reversed.
        wind = wind_from_grid_deg if outward else (wind_from_grid_deg + 180.0) % 360.0
        half_m = math.inf if self.serves_all(settings) else self._half_m(hub, place, state, wind, limit_s)
        bounds = self._bounds(hub, half_m)
        if not self.shared:
            return self._made(
                hub, state, outward, wind_from_grid_deg, bounds, settings, place=place, limit_s=limit_s
            )
        key = (hub, state, outward, wind_from_grid_deg, bounds, settings)
        with self._locks.setdefault(key, Lock()):
            if key not in self._kept:
                self._kept[key] = self._made(hub, state, outward, wind_from_grid_deg, bounds, settings)
            return self._kept[key]

    def serves_all(self, settings: FieldSettings) -> bool:
        """True where one field at the least spacing holds the whole ground, so that no coarser one need bound it."""
        west, south, east, north = self.ground.bounds
        nodes = ((east - west) / settings.spacing_m + 1.0) * ((north - south) / settings.spacing_m + 1.0)
        return self.shared and nodes <= settings.most_nodes

    def _half_m(
        self, hub: Place, place: Place, state: FlightState, wind_from_grid_deg: float, limit_s: float
    ) -> float:
        """Give half the side of the smallest square of the row that holds every way within the limit [m]."""
        if not math.isfinite(limit_s):
            return math.inf
        away = np.array(place[:2]) - hub[:2]
        margin = reach_m(limit_s * state.fastest_ms(), float(np.hypot(*away)))
        # Straight to a node and on to the hub takes less than the limit only in a part of the box of that margin.
        low, high = np.minimum(away, 0.0) - margin, np.maximum(away, 0.0) + margin
        blow = blow_ms(state, wind_from_grid_deg)
        step = float(np.max(high - low)) / (_SAMPLES - 1)
        held = served_m(away, low, high, _SAMPLES, state.tas_ms, blow, limit_s) + step
        steps = math.ceil(math.log(max(held / SMALLEST_M, 1.0)) / math.log(GROWTH) - 1e-9)
        return SMALLEST_M * GROWTH**steps

    def _bounds(self, hub: Place, half_m: float) -> Bounds:
        """Give the square as far as there is ground: west, south, east, north [m]."""
        west, south, east, north = self.ground.bounds
        return (
            max(west, hub[0] - half_m),
            max(south, hub[1] - half_m),
            min(east, hub[0] + half_m),
            min(north, hub[1] + half_m),
        )

    def _made(
        self,
        hub: Place,
        state: FlightState,
        outward: bool,
        wind_from_grid_deg: float,
        bounds: Bounds,
        settings: FieldSettings,
        *,
        place: Place | None = None,
        limit_s: float = math.inf,
    ) -> TimeField:
        self.computed += 1
        return time_field(
            replace(self.ground, bounds=bounds),
            state,
            hub,
            outward,
            wind_from_grid_deg,
            [(hub[0], hub[1], min(self._lowest_m(bounds), hub[2])) if place is None else place],
            [limit_s],
            state.ceiling_m,  # so that layers lie at the same altitudes whatever the ground
            settings,
        )

    def _lowest_m(self, bounds: Bounds) -> float:
        """Give the lowest height at which a place of a square may lie [m]."""
        ground = self.ground.open
        west, south, east, north = bounds
        first, last = (int((x - ground.west_m) // ground.cell_east_m) for x in (west, east))
        top, bottom = (int((ground.north_m - y) // ground.cell_north_m) for y in (north, south))
        near = ground.near[max(top, 0) : bottom + 1, max(first, 0) : last + 1]
        near = near[np.isfinite(near)]
        return (float(near.min()) if near.size else self.ground.lowest_m) - BELOW_GROUND_M
