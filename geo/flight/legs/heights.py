"""The heights that a leg needs: ground in the corridor, obstacle tops, clearance, and what is unknown."""

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from geo.base.errors import NotFlyable
from geo.flight.legs.corridor import Corridor, ObstacleTop, obstacle_spans, profile
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.track import Track
from geo.flight.legs.walk_kernels import bases, required

# Close to the leg's ends an obstacle counts only when the track passes this near; the pilot sees and avoids the rest.
EXEMPT_REACH_M = 60.0


@dataclass(frozen=True, eq=False)
class Needs:
    """Heights needed along the leg: distance_m (n,), required_m (n,) [-inf: none], ruling (n,) index into obstacles, or
    -1 where the terrain rules."""

    distance_m: np.ndarray
    required_m: np.ndarray
    ruling: np.ndarray
    obstacles: tuple[ObstacleTop, ...]
    cautions: tuple[str, ...]
    highest_m: float

    @cached_property
    def greatest(self) -> int | None:
        """Index of the greatest needed height, None where nothing is known."""
        if not len(self.required_m) or not np.any(np.isfinite(self.required_m)):
            return None
        return int(np.argmax(self.required_m))


def _spans(track: Track, surface: Corridor, state: FlightState) -> list[tuple[float, float, ObstacleTop]]:
    """Give the stretches of the leg at which an obstacle counts, in distance along the leg [m]."""
    if surface.tree is None:
        return []
    spans: list[tuple[float, float, ObstacleTop]] = []
    inner, outer = state.exempt_m, track.length_m - state.exempt_m
    reaches = [(state.half_width_m, inner, outer)]
    close = min(state.half_width_m, EXEMPT_REACH_M)
    reaches += [(close, 0.0, min(inner, track.length_m)), (close, max(outer, 0.0), track.length_m)]
    for line in _lines(track):
        for reach, low, high in reaches:
            for first, last, top in obstacle_spans(surface, line.start, line.end, reach):
                begin, stop = (line.offset_m + at * line.scale for at in (first, last))
                clipped = max(begin, low), min(stop, high)
                if clipped[0] <= clipped[1]:
                    spans.append((*clipped, top))
    return spans


@dataclass(frozen=True)
class _Line:
    """A straight plane line of the leg: its ends [m], the distance before it [m], ellipsoidal per plane metre."""

    start: tuple[float, float]
    end: tuple[float, float]
    offset_m: float
    scale: float


def _lines(track: Track) -> list[_Line]:
    corners, distances = track.corners_m.tolist(), track.corner_distance_m.tolist()
    return [
        _Line((ax, ay), (bx, by), before, (after - before) / math.hypot(bx - ax, by - ay))
        for ((ax, ay), (bx, by)), (before, after) in zip(pairwise(corners), pairwise(distances), strict=True)
    ]


def _walk(track: Track, surface: Corridor, cuts_m: list[float]) -> tuple[np.ndarray, ...]:
    """Walk all lines: from, to [m along the leg], ground, surface [m], known, one row per cell crossed."""
    parts = []
    for line in _lines(track):
        offset, scale = line.offset_m, line.scale
        length = math.hypot(line.end[0] - line.start[0], line.end[1] - line.start[1])
        inside = [(cut - offset) / scale for cut in cuts_m if 0.0 < cut - offset < length * scale]
        cells = profile(surface, line.start, line.end, inside)
        first, last = offset + cells.from_m * scale, offset + cells.to_m * scale
        parts.append((first, last, cells.ground_m, cells.surface_m, cells.known))
    return tuple(np.concatenate(column) for column in zip(*parts, strict=True))


def needs_of(track: Track, surface: Corridor, state: FlightState, rise_m: float, fall_m: float) -> Needs:
    """Find the heights needed along the leg, and say what is unknown."""
    length, exempt = track.length_m, state.exempt_m
    spans = _spans(track, surface, state)
    meet = length * rise_m / (rise_m + fall_m) if rise_m + fall_m > 0.0 else 0.0
    cuts = [exempt, length - exempt, rise_m, length - fall_m, meet, *(x for span in spans for x in span[:2])]
    first, last, ground, near, known = _walk(track, surface, cuts)
    ends = np.array([exempt, length - exempt])
    base, blind, highest, beside = bases(first, last, ground, near, known, ends)
    if blind.any():
        middle = 0.5 * (first + last)
        open_blind = blind & (middle >= ends[0]) & (middle <= ends[1])
        if surface.ground is not None and open_blind.any():
            _refuse_blind(track, first, last, open_blind)
        base = np.where(np.isnan(base), -np.inf, base)
    ruling = np.full(len(base), -1)
    for index, (begin, stop, top) in enumerate(spans):
        if top.top_m is not None:
            # A mere point still counts in the cells that it touches.
            touch = -1e-6 if stop - begin < 1e-3 else 1e-6
            ruled = (last > begin + touch) & (first < stop - touch) & (base < top.top_m)
            base[ruled], ruling[ruled] = top.top_m, index
    distance, needed = required(first, last, base, state.clearance_m, rise_m, fall_m, length)
    cautions = _unknowns(surface, float(np.sum((last - first)[blind])), highest, spans)
    peak = max(beside, float(base.max()))
    return Needs(distance, needed, np.repeat(ruling, 2), tuple(span[2] for span in spans), cautions, peak)


def _refuse_blind(track: Track, first: np.ndarray, last: np.ndarray, blind: np.ndarray) -> None:
    """Refuse a leg over ground that nobody knows: an unknown height never counts as low.

    Raises: NotFlyable with the length and the middle of the unknown stretch.
    """
    index = np.flatnonzero(blind)
    place = track.position(0.5 * float(first[index[0]] + last[index[-1]]))
    raise NotFlyable(
        f"terrain unknown over {max(float(np.sum((last - first)[blind])) / 1000.0, 0.1):.1f} km of the leg, about "
        f"easting {place[0]:.0f} m, northing {place[1]:.0f} m: it cannot be cleared. "
        "Fix: fill the hole in the terrain, or give a terrain that covers the route"
    )


def _unknowns(
    surface: Corridor, blind_m: float, highest: float, spans: list[tuple[float, float, ObstacleTop]]
) -> tuple[str, ...]:
    cautions = []
    if surface.ground is None or not np.isfinite(highest):
        cautions.append("terrain unknown: not cleared; the time is that of flat ground")
    elif blind_m > 0.0:
        cautions.append(
            f"terrain unknown over {max(blind_m / 1000.0, 0.1):.1f} km close to an end of the leg"
        )
    for what in sorted({top.what for _, _, top in spans if top.top_m is None}):
        cautions.append(f"height of {what} by the leg unknown: not cleared")
    return tuple(cautions)
