"""The legs between one place and many others, each by the quickest way found: direct, or round what is in the way.

The direct leg (or the exact way round closed areas) is flown first. Where it takes hardly longer than over flat ground
as low as the lowest that any quicker way could reach, nothing can be gained and it stands. For the others a time field
is computed, first coarse, then fine as far as the coarse ways leave room; ways are read from it, straightened and bent
by the leg rule on the full terrain, and the best is flown exactly. The quicker of both is given. What is found for one
leg does not depend on the others (see `geo.flight.routing.shared_fields`).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from threading import Lock

import numpy as np
import shapely

from geo.base.errors import NotFlyable
from geo.flight.legs.best_leg import LegCache, grid_bearing_deg, state_between, way_among
from geo.flight.legs.corridor import Corridor, corridor, crop
from geo.flight.legs.flight_state import FlightState, rule_of
from geo.flight.legs.leg import Position, leg, slow_climb_cautions, xy
from geo.flight.legs.no_fly_routes import Airspace, is_clear
from geo.flight.routing.route_ground import RouteGround, route_ground
from geo.flight.routing.route_kernels import Ground, way_seconds
from geo.flight.routing.route_search import WaySearch
from geo.flight.routing.shared_fields import SharedFields
from geo.flight.routing.time_field import FieldSettings, Place, reach_m
from geo.records.flight import Leg

# A leg within this share of its time over flat ground is left as it is.
WORTH_SEEKING = 0.005
# Times over flat ground are those of the plane, which differ from the ellipsoid's by less than this within 200 km of a
# region's middle (see geo.base.geodesy.local_crs).
PLANE_SHARE = 1.0 - 5e-4
# The library that draws closed areas onto the raster must not be entered by two threads at once.
_PREPARING = Lock()
COARSE = FieldSettings(240.0, 15_000, 100.0)
FINE = FieldSettings(150.0, 45_000, 50.0)


@dataclass(frozen=True)
class _Flown:
    """The first answer for one leg: the leg flown or refused, and its way. even_s: its time in the even wind, in which
    ways are compared, inf where it is refused; least_s: the time there below which no way can be."""

    place: Place
    way: np.ndarray
    first: Leg | NotFlyable
    even_s: float
    least_s: float


@dataclass(frozen=True)
class _Question:
    """What all legs of one call share. outward: they end at the hub; else they start there. even: the state in the wind
    of the hub, the same everywhere, in which ways are sought; they are flown in state."""

    hub: Place
    state: FlightState
    even: FlightState
    outward: bool
    wind_from_grid_deg: float

    def ends(self, place: Place) -> tuple[Place, Place]:
        return (place, self.hub) if self.outward else (self.hub, place)


class TerrainLegs:
    """Best legs over one prepared terrain in one airspace. The search ground is prepared once, at the first need."""

    def __init__(
        self,
        surface: Corridor,
        closed: Airspace,
        frame_crs_wkt: str,
        stages: Sequence[FieldSettings] = (COARSE, FINE),
        book: LegCache | None = None,
        *,
        shared: bool = True,
        prepare: Callable[[Corridor, Airspace], RouteGround | None] = route_ground,
    ) -> None:
        """book: direct legs already flown over this surface, so that none is flown twice; shared: many legs have one
        hub, so that fields are worth sharing; prepare: gives the search ground, if it is kept somewhere."""
        self._shared, self._prepare = shared, prepare
        self.surface, self.closed, self.frame_crs_wkt, self.stages = surface, closed, frame_crs_wkt, stages
        self.book = book if book is not None else LegCache(surface, frame_crs_wkt)
        self._ground: RouteGround | None = None
        self._fields: SharedFields | None = None
        self._lock = Lock()

    def legs_to(
        self,
        hub: Position,
        hub_altitude_m: float,
        starts: Sequence[tuple[Position, float]],
        state: FlightState,
    ) -> list[Leg | NotFlyable]:
        """Give the best leg from each start (position, altitude m) to the hub, in order.

        Returns: for each a Leg, or the NotFlyable that says why there is none (not raised: the others stand).
        Raises: BadArgument as `geo.flight.legs.leg.leg`.
        """
        return self._legs(hub, hub_altitude_m, starts, state, True)

    def legs_from(
        self, hub: Position, hub_altitude_m: float, ends: Sequence[tuple[Position, float]], state: FlightState
    ) -> list[Leg | NotFlyable]:
        """Give the best leg from the hub to each end (position, altitude m); otherwise as `legs_to`."""
        return self._legs(hub, hub_altitude_m, ends, state, False)

    def _legs(
        self,
        hub: Position,
        hub_altitude_m: float,
        others: Sequence[tuple[Position, float]],
        state: FlightState,
        outward: bool,
    ) -> list[Leg | NotFlyable]:
        centre: Place = (*xy(hub), float(hub_altitude_m))
        even = state_between(state, centre[:2], centre[:2], centre[2], self.surface.ground)
        wind = grid_bearing_deg(self.frame_crs_wkt, centre[:2], even.wind_from_true_deg)
        question = _Question(centre, state, even, outward, wind)
        flown = [self._first((*xy(place), float(height)), question) for place, height in others]
        wanted = [index for index, one in enumerate(flown) if self._worth(one, question)]
        answers = [one.first for one in flown]
        if wanted and self._prepared() is not None:
            for index, answer in zip(wanted, self._seek([flown[i] for i in wanted], question), strict=True):
                answers[index] = answer
        return answers

    @property
    def fields_computed(self) -> int:
        """How many time fields were computed so far."""
        return 0 if self._fields is None else self._fields.computed

    def _prepared(self) -> RouteGround | None:
        with self._lock:
            if self._ground is None:
                with _PREPARING:
                    self._ground = self._prepare(self.surface, self.closed)
                self._fields = (
                    SharedFields(self._ground, shared=self._shared) if self._ground is not None else None
                )
            return self._ground

    def _fly(
        self, place: Place, question: _Question, way: np.ndarray, surface: Corridor, state: FlightState
    ) -> Leg:
        start, end = question.ends(place)
        line = shapely.LineString(way) if len(way) > 2 else None
        return leg(start[:2], end[:2], self.frame_crs_wkt, start[2], end[2], state, surface, route=line)

    def _try(self, place: Place, question: _Question, state: FlightState) -> Leg | NotFlyable:
        start, end = question.ends(place)
        try:
            return self.book.fly(start[:2], start[2], end[:2], end[2], state, self.closed)
        except NotFlyable as refusal:
            return refusal

    def _first(self, place: Place, question: _Question) -> _Flown:
        """Fly the direct leg, or the exact way round closed areas; where refused, ask whether any height helps."""
        first = even = self._try(place, question, question.state)
        if question.even is not question.state:
            even = self._try(place, question, question.even)
        if isinstance(even, Leg):
            way = shapely.get_coordinates(even.route)
            if isinstance(first, NotFlyable):
                return _Flown(place, way, first, even.time_s, np.inf)  # it is the wind that forbids it
            return _Flown(place, way, first, even.time_s, self._least_s(place, question, way, even))
        start, end = question.ends(place)
        way = np.array([start[:2], end[:2]])
        try:
            if self.closed.areas:
                found = way_among(self.closed, start[:2], end[:2], self.frame_crs_wkt, question.even)
                way = shapely.get_coordinates(found)
            self._fly(place, question, way, corridor(None, self.surface.half_width_m), question.even)
        except NotFlyable:
            return _Flown(place, way, first, np.inf, np.inf)  # no way at any height
        return _Flown(place, way, first, np.inf, 0.0)

    def _least_s(self, place: Place, question: _Question, way: np.ndarray, first: Leg) -> float:
        """Give the time of the same way over flat ground, as low as the lowest within reach of any quicker way [s]."""
        surface = self.surface.surface
        if surface is None:
            return first.time_s
        state, corners = question.even, np.array([place[:2], question.hub[:2]])
        direct = float(np.hypot(*(corners[1] - corners[0])))
        reach = reach_m(first.time_s * state.fastest_ms(), direct)
        window = (*corners.min(axis=0), *corners.max(axis=0))
        near = crop(surface, window, reach).values
        if not np.any(np.isfinite(near)):
            return first.time_s
        lowest_m = float(np.nanmin(near))
        start, end = question.ends(place)
        rule = rule_of(state, start[2], end[2], question.wind_from_grid_deg, lowest_m)
        seconds = way_seconds(np.ascontiguousarray(way), _level(lowest_m), rule, np.inf)
        return PLANE_SHARE * seconds if np.isfinite(seconds) else 0.0

    def _worth(self, one: _Flown, question: _Question) -> bool:
        """True where another way may be quicker, or may exist at all."""
        if not np.isfinite(one.least_s) or max(one.place[2], question.hub[2]) > question.state.ceiling_m:
            return False
        if one.place[:2] == question.hub[:2] or not question.even.wind_ms < question.even.tas_ms:
            return False
        return one.even_s > (1.0 + WORTH_SEEKING) * one.least_s

    def _seek(self, wanted: list[_Flown], question: _Question) -> list[Leg | NotFlyable]:
        """Seek ways stage by stage; what one stage finds bounds the next. Give the best leg of each."""
        ground, fields = self._prepared(), self._fields
        if ground is None or fields is None:
            raise AssertionError("ways are sought only over known terrain")
        searches = [self._search(one, question, ground) for one in wanted]
        for settings in self.stages:
            for one, search in zip(wanted, searches, strict=True):
                search.take(
                    fields.of(
                        question.hub,
                        one.place,
                        question.even,
                        question.outward,
                        question.wind_from_grid_deg,
                        search.best_s,
                        settings,
                    )
                )
        return [self._better(one, s, question) for one, s in zip(wanted, searches, strict=True)]

    def _search(self, one: _Flown, question: _Question, ground: RouteGround) -> WaySearch:
        start, end = question.ends(one.place)
        rule = rule_of(question.even, start[2], end[2], question.wind_from_grid_deg, ground.lowest_m)
        return WaySearch(one.place, rule, ground.open, question.outward, one.way, one.even_s)

    def _better(self, one: _Flown, search: WaySearch, question: _Question) -> Leg | NotFlyable:
        """Give the quicker of the first answer and the best way found, both flown exactly."""
        for way in search.finished():
            if not is_clear(self.closed, way):
                continue
            try:
                found = self._fly(one.place, question, way, self.surface, question.state)
            except NotFlyable:
                continue
            if isinstance(one.first, NotFlyable) or found.time_s < one.first.time_s:
                return _settled(found)
        if isinstance(one.first, Leg):
            return _settled(one.first)
        least = min(settings.spacing_m for settings in self.stages)
        return NotFlyable(f"{one.first}. No way round was found (sought every {least:.0f} m or wider)")


def _level(height_m: float) -> Ground:
    """Give flat ground of one height [m] without an end."""
    height = np.array([[height_m]])
    return Ground(height, height, np.empty((0, 4)), -5e7, 5e7, 1e8, 1e8)


def _settled(flown: Leg) -> Leg:
    """Take away the hint that a way round may be quicker: it was sought."""
    hints = slow_climb_cautions(flown.climb_extra_s, flown.time_s)
    return replace(flown, cautions=tuple(text for text in flown.cautions if text not in hints))
