"""Quicker ways round high ground for all legs of a ranking at once; the third page of `geo/pipeline.py`.

Every leg of the candidates is offered to the search together, because a time field serves many sources. A leg that the
search does not shorten stays as it is.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely

from geo.errors import NotFlyable
from geo.flight.terrain_ways import TerrainWays
from geo.flight.ways import Airspace
from geo.records.flight import Leg
from geo.records.ranking import Candidate
from geo.records.region import Fire
from geo.sorties import Sky, ends, ground_m, in_fire


@dataclass(frozen=True)
class Hub:
    """The place that all legs of one call share: position and altitude [m]."""

    point: shapely.Point
    altitude_m: float


# A target that gives every source its own drop point would need a search per source; beyond so many none is made.
MOST_HUBS = 3


def quicker_ways(
    candidates: Sequence[Candidate], hubs: Sequence[Hub], sky: Sky, fire: Fire
) -> tuple[list[Candidate], bool]:
    """Give the candidates, in order, with the quickest legs found and with legs where only the direct way was blocked.

    Parameters: hubs, where each candidate drops. Where a usable source has no leg, `leg_problem` says why.
    Returns: the candidates, and whether ways were sought (False for more than MOST_HUBS different drop points).
    """
    groups: dict[tuple[float, float], list[int]] = {}
    for i, hub in enumerate(hubs):
        if _may_fly(candidates[i], fire):
            groups.setdefault((hub.point.x, hub.point.y), []).append(i)
    if len(groups) > MOST_HUBS:
        return list(candidates), False
    search = _Search(sky)
    done = list(candidates)
    for members in groups.values():
        for i, found in zip(members, _to_one(search, candidates, members, hubs[members[0]]), strict=True):
            done[i] = found
    return done, True


def _to_one(
    search: "_Search", candidates: Sequence[Candidate], members: list[int], hub: Hub
) -> list[Candidate]:
    """Fly all candidates of one drop point."""
    places = [(*ends(candidates[i].assessment), candidates[i].conditions.elevation_m) for i in members]
    near = [(touch_down, height) for touch_down, _, height in places]
    far = [(lift_off, height) for _, lift_off, height in places]
    loaded = search.legs(hub, far, outward=True, loaded=True)
    empty = search.legs(hub, near, outward=False, loaded=False)
    to_water, home = _transits(search, near, hub)
    return [_with(candidates[i], loaded[k], empty[k], to_water[k], home) for k, i in enumerate(members)]


def _may_fly(one: Candidate, fire: Fire) -> bool:
    method = one.assessment
    known = one.conditions.elevation_m is not None and method.fill_point is not None
    return method.verdict == "usable" and known and not in_fire(method, fire)


def _transits(
    search: "_Search", near: list[tuple[shapely.Point, float]], hub: Hub
) -> tuple[list[Leg | NotFlyable | None], Leg | NotFlyable | None]:
    sky = search.sky
    base = sky.region.base
    if base is None:
        return [None] * len(near), None
    there = Hub(base.point, ground_m(sky.region, base.point, f"base {base.name}"))
    to_water = search.legs(there, near, outward=False, loaded=False)
    home = search.legs(hub, [(there.point, there.altitude_m)], outward=False, loaded=False)[0]
    return list(to_water), home


def _with(
    one: Candidate,
    loaded: Leg | NotFlyable,
    empty: Leg | NotFlyable,
    to_water: Leg | NotFlyable | None,
    home: Leg | NotFlyable | None,
) -> Candidate:
    refused = next((leg for leg in (loaded, empty, to_water, home) if isinstance(leg, NotFlyable)), None)
    if refused is not None:
        return replace(
            one, loaded_leg=None, empty_leg=None, transit_to=None, transit_from=None, leg_problem=str(refused)
        )
    return replace(
        one, loaded_leg=loaded, empty_leg=empty, transit_to=to_water, transit_from=home, leg_problem=None
    )


class _Search:
    """One search ground per closed air: obstacles of unknown height bar the way but at a leg's own ends."""

    def __init__(self, sky: Sky) -> None:
        self.sky = sky
        self._ways: dict[int, TerrainWays] = {}

    def _ways_in(self, closed: Airspace) -> TerrainWays:
        key = id(closed)  # Sky keeps one object per set of closed areas for as long as it lives
        if key not in self._ways:
            self._ways[key] = TerrainWays(self.sky.surface, closed, self.sky.region.frame.crs_wkt)
        return self._ways[key]

    def legs(
        self, hub: Hub, others: list[tuple[shapely.Point, float]], *, outward: bool, loaded: bool
    ) -> list[Leg | NotFlyable]:
        """Give the best leg from each other place to the hub (outward), or from the hub to each, in order."""
        groups: dict[int, tuple[Airspace, list[int]]] = {}
        for index, (point, _) in enumerate(others):
            closed = self.sky.closed_for(point, hub.point)
            groups.setdefault(id(closed), (closed, []))[1].append(index)
        answers: dict[int, Leg | NotFlyable] = {}
        for closed, members in groups.values():
            ways = self._ways_in(closed)
            fly = ways.legs_to if outward else ways.legs_from
            legs = fly(hub.point, hub.altitude_m, [others[i] for i in members], self.sky.state(loaded=loaded))
            answers.update(zip(members, (self._said(leg) for leg in legs), strict=True))
        return [answers[i] for i in range(len(others))]

    def _said(self, leg: Leg | NotFlyable) -> Leg | NotFlyable:
        """Add a caution for each closed area that the leg passes within the corridor's half-width."""
        if isinstance(leg, NotFlyable):
            return leg
        near = self.sky.profile.corridor_half_width_m
        said = tuple(
            f"passes {leg.route.distance(area):.0f} m from {name}: keep outside it"
            for area, name in self.sky.closed_near(leg.route, near)
        )
        return replace(leg, cautions=leg.cautions + said) if said else leg
