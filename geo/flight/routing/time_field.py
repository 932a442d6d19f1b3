"""The least time between one place (the hub) and all others, by the altitude reached: built once, read at every leg.

Climb is never charged per cell: a layer is the altitude reached so far, and moving up a layer takes the climb's time
whether the aircraft moves or circles. The field only finds ways; their times are computed by the leg rule.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geo.flight.legs.flight_state import FlightState, blow_ms
from geo.flight.routing.field_kernels import MOVES, Air, Lattice, edge_heights, solve
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
from geo.flight.wind import leg_time

Place = tuple[float, float, float]

# Times of the field lie above those of the ways read from it by up to about this factor.
FIELD_ERROR = 1.06


@dataclass(frozen=True)
class FieldSettings:
    """How fine the search is: least spacing of the lattice, greatest number of nodes, least step between layers."""

    spacing_m: float
    most_nodes: int
    layer_m: float


@dataclass(frozen=True, eq=False)
class TimeField:
    """times_s (layers + 1, nodes) between each node and the hub; what reading it needs."""

    state: FlightState
    outward: bool
    hub: Place
    wind_from_grid_deg: float
    ground: RouteGround
    lattice: Lattice
    heights_m: np.ndarray
    air: Air
    apart: Apart
    times_s: np.ndarray

    def ways_from(self, place: Place, most: int) -> list[np.ndarray]:
        """Give up to `most` promising ways (n, 2) from a place [east, north, altitude m] towards the hub.

        Notes: the best straight first piece in each of eight sectors, then on by the field; the best way first.
        """
        here, lattice, state = np.array(place, dtype=float), self.lattice, self.state
        nodes = nodes_near(lattice, place[0], place[1], self._first_reach_m(place))
        if not len(nodes):
            return []
        sense = 1.0 if self.outward else -1.0
        blow = blow_ms(state, self.wind_from_grid_deg)
        change = state.climb_speed_ms if self.outward else state.tas_ms
        speeds = speeds_to(nodes, lattice, here, change, state.tas_ms, blow, sense)
        ends = approach(nodes, lattice, self.times_s, self.air, self.ground.barred, here, speeds, self.apart)
        ways = []
        for index in best_by_side(nodes, lattice, here, ends)[:most].tolist():
            way = roll_out(
                lattice, self.times_s, self.heights_m, self.air, int(nodes[index]), float(ends[index, 1])
            )
            if len(way):
                ways.append(positions(way, lattice, here))
        return ways

    def _first_reach_m(self, place: Place) -> float:
        """Give how far a straight first piece is tried: within the reach of the end's own rules [m]."""
        away = math.hypot(place[0] - self.hub[0], place[1] - self.hub[1])
        own = max(self.apart.exempt_m, self.apart.grow_m)
        return max(min(own, 0.7 * away), 2.0 * self.lattice.spacing_m)


def reach_m(longest_m: float, direct_m: float) -> float:
    """Give how far a way no longer than longest_m can lead off the box about its two ends: half an ellipse's width."""
    return 0.5 * math.sqrt(max(longest_m**2 - direct_m**2, 0.0))


def _lattice(
    ground: RouteGround, hub: Place, window: tuple[float, float, float, float], settings: FieldSettings
) -> Lattice:
    """Lay nodes over a window [west, south, east, north m] clipped to the raster, one of them on the hub."""
    low = np.maximum(window[:2], ground.bounds[:2])
    high = np.minimum(window[2:], ground.bounds[2:])
    area = float(np.prod(np.maximum(high - low, 1.0)))
    spacing = max(settings.spacing_m, math.sqrt(area / settings.most_nodes))
    before = np.floor((np.array(hub[:2]) - low) / spacing).astype(int)
    after = np.floor((high - np.array(hub[:2])) / spacing).astype(int)
    columns, rows = (before + after + 1).tolist()
    west, south = np.array(hub[:2]) - before * spacing
    return Lattice(
        float(west), float(south), spacing, columns, rows, int(before[1]) * columns + int(before[0])
    )


def _moves_s(
    lattice: Lattice, state: FlightState, wind_from_grid_deg: float, outward: bool
) -> tuple[np.ndarray, np.ndarray]:
    """Give the seconds of the 16 moves in cruise and while changing layer."""
    length = np.hypot(MOVES[:, 0], MOVES[:, 1]) * lattice.spacing_m
    track = (np.degrees(np.arctan2(MOVES[:, 0], MOVES[:, 1])) + (0.0 if outward else 180.0)) % 360.0
    wind = (wind_from_grid_deg, state.wind_ms)
    cruise = np.asarray(leg_time(length, track, state.tas_ms, *wind))
    change = np.asarray(leg_time(length, track, state.climb_speed_ms, *wind)) if outward else cruise
    return cruise, change


def _layers_m(hub_m: float, lowest_m: float, highest_m: float, least_step_m: float) -> np.ndarray:
    """Give evenly spaced altitudes that hold the hub's and end at the highest, from the lowest or just below it."""
    span = max(highest_m - hub_m, least_step_m)
    step = span / max(1, math.floor(span / least_step_m))
    below = math.ceil(max(hub_m - lowest_m, 0.0) / step - 1e-9)
    return hub_m + step * np.arange(-below, round(span / step) + 1)


def _air(
    state: FlightState, moves_s: tuple[np.ndarray, np.ndarray], altitudes: np.ndarray, outward: bool
) -> Air:
    """Give moves and layers; no layer is passed faster than by the longest move, which must end within the next one."""
    step = altitudes[1] - altitudes[0]
    edges = np.append(altitudes, altitudes[-1] + step)
    between = (
        np.diff(state.climb_s(0.0, edges)) if outward else np.full(len(altitudes), step / state.descent_ms)
    )
    return Air(*moves_s, altitudes, np.maximum(between, _longest_s(moves_s[1])))


def _longest_s(change_s: np.ndarray) -> float:
    return float(change_s[np.isfinite(change_s)].max(initial=0.0)) * 1.001


def _growths_m(state: FlightState, start_m: float, outward: bool) -> tuple[float, float]:
    """Give the distances [m] over which the clearance grows from the other end and from the hub."""
    cleared_s = float(state.climb_s(start_m, start_m + state.clearance_m))
    rise = (state.climb_speed_ms + state.wind_ms) * cleared_s
    fall = state.clearance_m * state.fastest_ms() / state.descent_ms
    rise, fall = max(rise, state.exempt_m), max(fall, state.exempt_m)
    return (rise, fall) if outward else (fall, rise)


def _slack(
    lattice: Lattice,
    state: FlightState,
    wind_from_grid_deg: float,
    outward: bool,
    places: Sequence[Place],
    limits_s: Sequence[float],
) -> np.ndarray:
    """Give the greatest time between each node and the hub that can still serve any of the places within its limit."""
    nodes = np.arange(lattice.columns * lattice.rows)
    if not np.all(np.isfinite(limits_s)):
        return np.full(len(nodes), np.inf)
    east = lattice.west_m + (nodes % lattice.columns) * lattice.spacing_m
    north = lattice.south_m + (nodes // lattice.columns) * lattice.spacing_m
    slack = np.full(len(nodes), -np.inf)
    blow = np.array(blow_ms(state, wind_from_grid_deg)) * (1.0 if outward else -1.0)
    left = state.tas_ms**2 - float(blow @ blow)
    for place, limit in zip(places, limits_s, strict=True):
        step = east - place[0], north - place[1]
        along = step[0] * blow[0] + step[1] * blow[1]
        straight = (np.sqrt(along**2 + left * (step[0] ** 2 + step[1] ** 2)) - along) / left
        slack = np.maximum(slack, FIELD_ERROR * limit - straight)
    return slack


def _slack_at(air: Air, places: Sequence[Place], limits_s: Sequence[float]) -> np.ndarray:
    """Give the same by layer: reaching a layer from a place takes its own time."""
    clock = np.concatenate(([0.0], np.cumsum(air.between_s[:-1])))
    before = [np.interp(place[2], air.altitude_m, clock) for place in places]
    left = [
        FIELD_ERROR * limit - np.maximum(clock - b, 0.0) for b, limit in zip(before, limits_s, strict=True)
    ]
    return np.max(left, axis=0) + air.between_s.max()


def time_field(
    ground: RouteGround,
    state: FlightState,
    hub: Place,
    outward: bool,
    wind_from_grid_deg: float,
    places: Sequence[Place],
    limits_s: Sequence[float],
    highest_m: float,
    settings: FieldSettings,
) -> TimeField:
    """Compute the field for the legs between some places and the hub.

    Parameters: outward True for legs that end at the hub, False for legs that start there; places [east, north,
    altitude m] of their other ends; limits_s the time [s] at which a way is of no more use for each, inf where any way
    is wanted; highest_m the greatest altitude tried.
    """
    reach = [
        reach_m(limit * state.fastest_ms(), math.hypot(place[0] - hub[0], place[1] - hub[1]))
        for place, limit in zip(places, limits_s, strict=True)
    ]
    margin = max(max(reach, default=0.0), 4.0 * settings.spacing_m)
    corners = np.array([place[:2] for place in (*places, hub)])
    window = (*(corners.min(axis=0) - margin), *(corners.max(axis=0) + margin))
    lattice = _lattice(ground, hub, window, settings)
    moves_s = _moves_s(lattice, state, wind_from_grid_deg, outward)
    rate = state.fastest_climb_ms if outward else state.descent_ms
    step = min(max(settings.layer_m, rate * _longest_s(moves_s[1])), 2.0 * settings.layer_m)
    lowest = min(place[2] for place in places)
    altitudes = _layers_m(hub[2], lowest, highest_m, step)
    air = _air(state, moves_s, altitudes, outward)
    grow, grow_hub = _growths_m(state, lowest if outward else hub[2], outward)
    heights = edge_heights(lattice, ground.barred, hub[:2], state.exempt_m, state.clearance_m, grow_hub)
    slack = _slack(lattice, state, wind_from_grid_deg, outward, places, limits_s) + air.between_s.max()
    slack_at = _slack_at(air, places, limits_s)
    releases = _releases_s(heights, state, hub[2], outward)
    seeds = _seeds_s(altitudes, state, hub[2], outward)
    times = solve(lattice, heights, releases, air, seeds, slack, slack_at)
    apart = Apart(state.exempt_m, state.clearance_m, grow, grow_hub, hub[0], hub[1])
    return TimeField(state, outward, hub, wind_from_grid_deg, ground, lattice, heights, air, apart, times)


def _releases_s(heights: np.ndarray, state: FlightState, hub_m: float, outward: bool) -> np.ndarray:
    """Give the least time [s] between a place that needs a height and the hub: to sink from it, or to climb to it."""
    if outward:
        return (heights - hub_m) / state.descent_ms
    return np.where(np.isfinite(heights), state.climb_s(hub_m, heights), np.inf)


def _seeds_s(altitudes: np.ndarray, state: FlightState, hub_m: float, outward: bool) -> np.ndarray:
    """Give the time at the hub by layer [s]: homeward what the climb to the layer adds to the cruise, in still air."""
    at_hub = np.where(altitudes >= hub_m - 1e-6, 0.0, np.inf)
    if outward:
        return at_hub
    climb = np.maximum(state.climb_s(hub_m, altitudes), 0.0)
    return at_hub + climb * (1.0 - min(1.0, state.climb_speed_ms / state.tas_ms))
