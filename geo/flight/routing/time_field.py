"""The least time between one place (the hub) and all others, by the altitude reached: built once, read at every leg.

Climb is never charged per cell: a layer is the altitude reached so far, and moving up a layer takes the climb's time
whether the aircraft moves or circles. The field only finds routes; their times are computed by the leg rule.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geo.base.wind import blow_of, displacement_s, seconds_over, speed_on_track
from geo.flight.legs.flight_state import FlightState, rule_of
from geo.flight.routing.field_kernels import MOVES, Air, Lattice, MoveNeeds, Useful, edge_heights, solve
from geo.flight.routing.field_route_kernels import (
    Apart,
    approach,
    best_by_side,
    nodes_near,
    positions,
    roll_out,
    speeds_to,
)
from geo.flight.routing.route_ground import RouteGround
from geo.flight.routing.route_kernels import Rule
from geo.records.flight import Endpoint

# Times of the field lie above those of the routes read from it by up to about this factor.
FIELD_ERROR = 1.06


@dataclass(frozen=True)
class FieldSettings:
    """How fine the search is: least spacing of the lattice, greatest number of nodes, least step between layers."""

    spacing_m: float
    most_nodes: int
    layer_m: float


@dataclass(frozen=True)
class HubLegs:
    """What all legs between one place (the hub) and others share while routes are sought.

    state: the aircraft in the wind of the hub, the same everywhere. outward: the legs end at the hub; else they start
    there. wind_from_grid_deg: that wind against grid north.
    """

    hub: Endpoint
    state: FlightState
    outward: bool
    wind_from_grid_deg: float

    @property
    def blow_ms(self) -> tuple[float, float]:
        """Where the wind blows to, east and north in the plane [m/s]."""
        east, north = blow_of(self.wind_from_grid_deg, self.state.wind_ms)
        return float(east), float(north)

    def ends(self, place: Endpoint) -> tuple[Endpoint, Endpoint]:
        """Give start and end of the leg of a place."""
        return (place, self.hub) if self.outward else (self.hub, place)

    def rule(self, place: Endpoint, lowest_m: float) -> Rule:
        """Give the numbers of the leg of a place as the compiled code takes them."""
        return rule_of(*self.ends(place), self.state, self.wind_from_grid_deg, lowest_m)


@dataclass(frozen=True, eq=False)
class TimeField:
    """times_s (layers + 1, nodes) between each node and the hub; what reading it needs."""

    legs: HubLegs
    ground: RouteGround
    lattice: Lattice
    heights_m: np.ndarray
    air: Air
    apart: Apart
    times_s: np.ndarray

    def routes_from(self, place: Endpoint, most: int) -> list[np.ndarray]:
        """Give up to `most` promising routes (n, 2) from a place towards the hub.

        Notes: the best straight first piece in each of eight sectors, then on by the field; the best route first.
        """
        lattice, state = self.lattice, self.legs.state
        here = np.array((*place.xy, place.altitude_m), dtype=float)
        # A straight first piece is tried within the reach of the end's own rules.
        own_m = min(max(self.apart.exempt_m, self.apart.grow_m), 0.7 * place.away_m(self.legs.hub))
        nodes = nodes_near(lattice, here[0], here[1], max(own_m, 2.0 * lattice.spacing_m))
        if not len(nodes):
            return []
        sense = 1.0 if self.legs.outward else -1.0
        change = state.climb_speed_ms if self.legs.outward else state.tas_ms
        speeds = speeds_to(nodes, lattice, here, change, state.tas_ms, self.legs.blow_ms, sense)
        ends = approach(nodes, lattice, self.times_s, self.air, self.ground.barred, here, speeds, self.apart)
        routes = []
        for index in best_by_side(nodes, lattice, here, ends)[:most].tolist():
            node, altitude_m = int(nodes[index]), float(ends[index, 1])
            found = roll_out(lattice, self.times_s, self.heights_m, self.air, node, altitude_m)
            if len(found):
                routes.append(positions(found, lattice, here))
        return routes


def reach_m(longest_m: float, direct_m: float) -> float:
    """Give how far a route of at most longest_m can lead off the box about its two ends: half an ellipse's width."""
    return 0.5 * math.sqrt(max(longest_m**2 - direct_m**2, 0.0))


def _lattice(ground: RouteGround, hub: Endpoint, window: np.ndarray, settings: FieldSettings) -> Lattice:
    """Lay nodes over a window [west, south, east, north m] clipped to the raster, one of them on the hub."""
    low = np.maximum(window[:2], ground.bounds[:2])
    high = np.minimum(window[2:], ground.bounds[2:])
    area = float(np.prod(np.maximum(high - low, 1.0)))
    spacing = max(settings.spacing_m, math.sqrt(area / settings.most_nodes))
    before = np.floor((np.array(hub.xy) - low) / spacing).astype(int)
    after = np.floor((high - np.array(hub.xy)) / spacing).astype(int)
    columns, rows = (before + after + 1).tolist()
    west, south = np.array(hub.xy) - before * spacing
    hub_node = int(before[1]) * columns + int(before[0])
    return Lattice(float(west), float(south), spacing, columns, rows, hub_node)


def _moves_s(lattice: Lattice, legs: HubLegs) -> tuple[np.ndarray, np.ndarray]:
    """Give the seconds of the 16 moves in cruise and while changing layer."""
    state = legs.state
    length = np.hypot(MOVES[:, 0], MOVES[:, 1]) * lattice.spacing_m
    track = (np.degrees(np.arctan2(MOVES[:, 0], MOVES[:, 1])) + (0.0 if legs.outward else 180.0)) % 360.0
    wind = (legs.wind_from_grid_deg, state.wind_ms)
    cruise, change = (
        seconds_over(length, speed_on_track(track, tas_ms, *wind))
        for tas_ms in (state.tas_ms, state.climb_speed_ms)
    )
    return cruise, change if legs.outward else cruise


def _layers_m(hub_m: float, lowest_m: float, highest_m: float, least_step_m: float) -> np.ndarray:
    """Give evenly spaced altitudes that hold the hub's and end at the highest, from the lowest or just below it."""
    span = max(highest_m - hub_m, least_step_m)
    step = span / max(1, math.floor(span / least_step_m))
    below = math.ceil(max(hub_m - lowest_m, 0.0) / step - 1e-9)
    return hub_m + step * np.arange(-below, round(span / step) + 1)


def _air(legs: HubLegs, moves_s: tuple[np.ndarray, np.ndarray], altitudes: np.ndarray) -> Air:
    """Give moves and layers; no layer is passed faster than by the longest move, which must end within the next one."""
    state, step = legs.state, altitudes[1] - altitudes[0]
    if legs.outward:
        between = np.diff(state.climb_s(0.0, np.append(altitudes, altitudes[-1] + step)))
    else:
        between = np.full(len(altitudes), step / state.descent_ms)
    return Air(*moves_s, altitudes, np.maximum(between, _longest_s(moves_s[1])))


def _longest_s(change_s: np.ndarray) -> float:
    return float(change_s[np.isfinite(change_s)].max(initial=0.0)) * 1.001


def _apart(legs: HubLegs, start_m: float) -> Apart:
    """Give how the clearance grows from the ends of the legs; start_m: the lowest altitude at which one starts [m]."""
    state = legs.state
    rise = (state.climb_speed_ms + state.wind_ms) * state.clearing_s(start_m)
    fall = state.clearance_m * state.fastest_ms() / state.descent_ms
    rise, fall = max(rise, state.exempt_m), max(fall, state.exempt_m)
    grow, grow_hub = (rise, fall) if legs.outward else (fall, rise)
    return Apart(state.exempt_m, state.clearance_m, grow, grow_hub, *legs.hub.xy)


def _useful(
    lattice: Lattice, legs: HubLegs, air: Air, places: Sequence[Endpoint], limits_s: Sequence[float]
) -> Useful:
    """Give the greatest times at each node, and in each layer, that can still serve a place within its limit."""
    nodes = np.arange(lattice.columns * lattice.rows)
    east = lattice.west_m + (nodes % lattice.columns) * lattice.spacing_m
    north = lattice.south_m + (nodes // lattice.columns) * lattice.spacing_m
    slack = np.full(len(nodes), -np.inf)
    sense = 1.0 if legs.outward else -1.0
    blow = (sense * legs.blow_ms[0], sense * legs.blow_ms[1])
    clock = np.concatenate(([0.0], np.cumsum(air.between_s[:-1])))
    left = []
    for place, limit in zip(places, limits_s, strict=True):
        straight = displacement_s(east - place.xy[0], north - place.xy[1], legs.state.tas_ms, blow)
        slack = np.maximum(slack, FIELD_ERROR * limit - straight)
        # Reaching a layer from a place takes its own time.
        before = np.interp(place.altitude_m, air.altitude_m, clock)
        left.append(FIELD_ERROR * limit - np.maximum(clock - before, 0.0))
    longest_s = air.between_s.max()
    return Useful(slack + longest_s, np.max(left, axis=0) + longest_s)


def time_field(
    ground: RouteGround,
    legs: HubLegs,
    places: Sequence[Endpoint],
    limits_s: Sequence[float],
    settings: FieldSettings,
) -> TimeField:
    """Compute the field for the legs between some places and the hub, up to the ceiling.

    Parameters: places, their other ends; limits_s the time [s] at which a route is of no more use for each, inf where
    any route is wanted.
    """
    state, hub = legs.state, legs.hub
    pairs = zip(places, limits_s, strict=True)
    reach = (reach_m(limit * state.fastest_ms(), place.away_m(hub)) for place, limit in pairs)
    margin = max(*reach, 4.0 * settings.spacing_m)
    corners = np.array([place.xy for place in (*places, hub)])
    window = np.concatenate((corners.min(axis=0) - margin, corners.max(axis=0) + margin))
    lattice = _lattice(ground, hub, window, settings)
    moves_s = _moves_s(lattice, legs)
    rate = state.fastest_climb_ms if legs.outward else state.descent_ms
    step = min(max(settings.layer_m, rate * _longest_s(moves_s[1])), 2.0 * settings.layer_m)
    lowest = min(place.altitude_m for place in places)
    # Up to the ceiling, so that layers lie at the same altitudes whatever the ground.
    altitudes = _layers_m(hub.altitude_m, lowest, state.ceiling_m, step)
    air = _air(legs, moves_s, altitudes)
    apart = _apart(legs, lowest if legs.outward else hub.altitude_m)
    heights = edge_heights(lattice, ground.barred, apart)
    seeds = _seeds_s(altitudes, legs)
    needs = MoveNeeds(heights, _releases_s(heights, legs), bool(seeds[-1] > 0.0))
    times = solve(lattice, needs, air, seeds, _useful(lattice, legs, air, places, limits_s))
    return TimeField(legs, ground, lattice, heights, air, apart, times)


def _releases_s(heights: np.ndarray, legs: HubLegs) -> np.ndarray:
    """Give the least time [s] between a place that needs a height and the hub: to sink from it, or to climb to it."""
    hub_m = legs.hub.altitude_m
    if legs.outward:
        return (heights - hub_m) / legs.state.descent_ms
    return np.where(np.isfinite(heights), legs.state.climb_s(hub_m, heights), np.inf)


def _seeds_s(altitudes: np.ndarray, legs: HubLegs) -> np.ndarray:
    """Give the time at the hub by layer [s]: homeward what the climb to the layer adds to the cruise, in still air."""
    state, hub_m = legs.state, legs.hub.altitude_m
    at_hub = np.where(altitudes >= hub_m - 1e-6, 0.0, np.inf)
    if legs.outward:
        return at_hub
    climb = np.maximum(state.climb_s(hub_m, altitudes), 0.0)
    return at_hub + climb * (1.0 - min(1.0, state.climb_speed_ms / state.tas_ms))
