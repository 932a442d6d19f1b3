"""The heights that a leg needs: ground in the corridor, obstacle tops, clearance, and what is unknown."""

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely

from geo.base.errors import NotFlyable
from geo.flight.legs.corridor import Corridor, obstacle_spans, profile
from geo.flight.legs.flight_state import DIVERGENCE, FlightState
from geo.flight.legs.obstacle_heights import ObstacleTop
from geo.flight.legs.room_kernels import end_tops, turn_top
from geo.flight.legs.track import Track


@dataclass(frozen=True)
class EndParts:
    """Where along a leg [m] its departure part ends and its approach part begins; they overlap on a short hop."""

    departure_to_m: float
    approach_from_m: float
    length_m: float

    @property
    def cuts_m(self) -> tuple[float, float]:
        """Where the rule changes [m]."""
        return self.departure_to_m, self.approach_from_m

    def en_route(self, at_m: float) -> bool:
        """True at a place outside both parts, where the clearance holds."""
        return self.departure_to_m <= at_m <= self.approach_from_m

    def half_width_m(self, first: np.ndarray, last: np.ndarray, state: FlightState) -> np.ndarray:
        """Give half the width of the surface that counts on stretches (n,) [m]: NaN en route, where the corridor does;
        in both parts that of the nearer end."""
        widest, narrow = state.half_width_m, state.end_half_width_m
        leaving, coming = first < self.departure_to_m, last > self.approach_from_m
        off = narrow + DIVERGENCE * np.minimum(
            np.where(leaving, last, np.inf), np.where(coming, self.length_m - first, np.inf)
        )
        return np.where(leaving | coming, np.minimum(off, widest), np.nan)


@dataclass(frozen=True, eq=False)
class Stretches:
    """What stands along a leg, cell by cell (n,): from first to last [m along the leg]; half_width_m of the surface
    there, NaN en route; ground_m the highest terrain in the width that counts, top_m the same with the obstacles
    raised (NaN en route); corridor_m the highest terrain in the whole corridor; known: nothing of it unknown."""

    first: np.ndarray
    last: np.ndarray
    half_width_m: np.ndarray
    ground_m: np.ndarray
    top_m: np.ndarray
    corridor_m: np.ndarray
    known: np.ndarray


@dataclass(frozen=True)
class Span:
    """A stretch of the leg [m along it] beside which an obstacle stands within the corridor, and how far off [m]."""

    first: float
    last: float
    top: ObstacleTop
    away_m: float


@dataclass(frozen=True, eq=False)
class Needs:
    """Heights needed along the leg: distance_m (n,), required_m (n,) [-inf: none], ruling (n,) index into spans, or -1
    where the terrain rules. highest_m: the highest ground or obstacle in the whole corridor."""

    distance_m: np.ndarray
    required_m: np.ndarray
    ruling: np.ndarray
    spans: tuple[Span, ...]
    stretches: Stretches
    cautions: tuple[str, ...]
    highest_m: float

    @cached_property
    def greatest(self) -> int | None:
        """Index of the greatest needed height, None where nothing is known."""
        if not len(self.required_m) or not np.any(np.isfinite(self.required_m)):
            return None
        return int(np.argmax(self.required_m))


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


def _spans(track: Track, surface: Corridor, state: FlightState) -> list[Span]:
    """Give the stretches of the leg beside which obstacles stand."""
    if surface.tree is None:
        return []
    found = []
    for line in _lines(track):
        way = shapely.LineString([line.start, line.end])
        for first, last, top in obstacle_spans(surface, line.start, line.end, state.half_width_m):
            begin, stop = (line.offset_m + at * line.scale for at in (first, last))
            found.append(Span(begin, stop, top, float(shapely.distance(way, top.shape))))
    return found


def _walk(
    track: Track, surface: Corridor, state: FlightState, parts: EndParts, cuts: list[float]
) -> Stretches:
    """Walk all lines, every cell that is crossed, cut where the rule changes and where obstacles begin and end."""
    rows = []
    for line in _lines(track):
        offset, scale = line.offset_m, line.scale
        length = math.hypot(line.end[0] - line.start[0], line.end[1] - line.start[1])
        inside = [(cut - offset) / scale for cut in cuts if 0.0 < cut - offset < length * scale]
        cells = profile(surface, line.start, line.end, inside)
        first, last = offset + cells.from_m * scale, offset + cells.to_m * scale
        width = parts.half_width_m(first, last, state)
        ground, tops = cells.surface_m.copy(), np.full(len(first), np.nan)
        if surface.layers is not None:
            over = np.stack((cells.from_m, cells.to_m), axis=1), width, state.half_width_m
            ends, frame = np.array([line.start, line.end]), surface.frame
            near, far, bare, highest = surface.layers
            tops = end_tops(*over, ends, near, far, frame)
            ground = np.where(np.isnan(width), ground, end_tops(*over, ends, bare, highest, frame))
            if offset > 0.0 and width[0] < state.half_width_m:
                turn = *line.start, float(width[0])
                tops[0] = max(tops[0], turn_top(near, frame, *turn))
                ground[0] = max(ground[0], turn_top(bare, frame, *turn))
        rows.append((first, last, width, ground, tops, cells.surface_m, cells.known))
    return Stretches(*(np.concatenate(column) for column in zip(*rows, strict=True)))


def needs_of(track: Track, surface: Corridor, state: FlightState, parts: EndParts) -> Needs:
    """Find the heights needed along the leg, and say what is unknown.

    Raises: NotFlyable over terrain of unknown height, or with an obstacle of unknown height in a surface at an end.
    """
    spans = _spans(track, surface, state)
    cuts = [*parts.cuts_m, *(x for span in spans for x in (span.first, span.last))]
    found = _walk(track, surface, state, parts, cuts)
    ending = ~np.isnan(found.half_width_m)
    _refuse_unknown(track, surface, found, ending)
    base = np.where(np.isnan(found.ground_m), -np.inf, found.ground_m)
    ruling = np.full(len(base), -1)
    for index, span in enumerate(spans):
        if span.top.top_m is not None:
            # A mere point still counts in the cells that it touches.
            touch = -1e-6 if span.last - span.first < 1e-3 else 1e-6
            ruled = (found.last > span.first + touch) & (found.first < span.last - touch)
            ruled &= (base < span.top.top_m) & (~ending | (span.away_m <= np.nan_to_num(found.half_width_m)))
            base[ruled], ruling[ruled] = span.top.top_m, index
    # In the parts at the ends the raised heights count, which the search for routes reads too.
    base = np.where(ending & ~np.isnan(found.top_m), np.fmax(base, found.top_m), base)
    needed = np.repeat(base + np.where(ending, state.error_m, state.clearance_m), 2)
    distance = np.stack((found.first, found.last), axis=1).ravel()
    tops = [span.top.top_m for span in spans if span.top.top_m is not None]
    highest = max((float(np.nanmax(found.corridor_m, initial=-np.inf)), *tops))
    cautions = _unknowns(surface, highest, spans)
    return Needs(distance, needed, np.repeat(ruling, 2), tuple(spans), found, cautions, highest)


def _refuse_unknown(track: Track, surface: Corridor, found: Stretches, ending: np.ndarray) -> None:
    """Refuse a leg over ground that nobody knows: an unknown height never counts as low.

    Raises: NotFlyable with the length and the middle of the unknown stretch.
    """
    if surface.ground is None:
        return
    blind = np.where(ending, np.isinf(found.top_m), ~found.known)
    if not blind.any():
        return
    index = np.flatnonzero(blind)
    middle_m = 0.5 * float(found.first[index[0]] + found.last[index[-1]])
    east, north = track.position(middle_m)
    where = f"about easting {east:.0f} m, northing {north:.0f} m"
    tall = _unknown_obstacles(surface, found, index, track)
    if tall:
        raise NotFlyable(
            f"height of {' and '.join(tall)} unknown, in the surface that must be clear at the leg's end, {where}: it "
            "cannot be cleared. Fix: give its height, or another source"
        )
    length_m = float(np.sum((found.last - found.first)[blind]))
    raise NotFlyable(
        f"terrain unknown over {max(length_m / 1000.0, 0.1):.1f} km of the leg, {where}: it cannot be cleared. "
        "Fix: fill the hole in the terrain, or give a terrain that covers the route"
    )


def _unknown_obstacles(surface: Corridor, found: Stretches, index: np.ndarray, track: Track) -> list[str]:
    """Name the obstacles of unknown height beside unknown stretches; none where the terrain is unknown there too."""
    if surface.tree is None or not all(found.known[index]):
        return []
    ends = np.array([found.first[index[0]], found.last[index[-1]]])
    stretch = shapely.LineString(np.transpose(track.positions(ends)))
    reach = float(np.nanmax(found.half_width_m[index])) + 2.0 * sum(surface.frame[2:])
    near = surface.tree.query(stretch, predicate="dwithin", distance=reach)
    return sorted({surface.obstacles[i].what for i in near.tolist() if surface.obstacles[i].top_m is None})


def _unknowns(surface: Corridor, highest: float, spans: list[Span]) -> tuple[str, ...]:
    cautions = []
    if surface.ground is None or not np.isfinite(highest):
        cautions.append("terrain unknown: not cleared; the time is that of flat ground")
    for what in sorted({span.top.what for span in spans if span.top.top_m is None}):
        cautions.append(f"height of {what} by the leg unknown: not cleared")
    return tuple(cautions)
