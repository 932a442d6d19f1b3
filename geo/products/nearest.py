"""The simplest question: from here, with this aircraft, which suitable source is reached first?

It is the ranking for a fire at that place, in another order: by the time to get there.
"""

from dataclasses import dataclass

from geo.base.errors import BadArgument
from geo.records.aircraft import FillMethod
from geo.records.geometry import PointM
from geo.records.ranking import RankedSource, Ranking
from geo.records.region import Region


@dataclass(frozen=True)
class NearSource:
    """A usable source: how it is reached from the place, what it gives, and its place in the ranking by litres."""

    body_id: str
    name: str
    method: FillMethod
    fill_point: PointM
    distance_m: float
    time_s: float
    litres: float
    rank_by_litres_per_hour: int
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class LeftOut:
    """A water nearer than the first usable one, and why it does not count. distance_m is to its shore, straight."""

    body_id: str
    name: str
    distance_m: float
    verdict: str
    reason: str


@dataclass(frozen=True)
class Nearest:
    """The usable sources, the soonest first, and what lies nearer but does not count."""

    aircraft: str
    place: PointM
    sources: tuple[NearSource, ...]
    left_out: tuple[LeftOut, ...]
    cautions: tuple[str, ...]
    assumptions: dict[str, str]


def nearest(region: Region, ranking: Ranking, place: PointM, *, top: int = 3) -> Nearest:
    """Give the usable sources that are reached soonest from a place.

    Parameters: ranking, of a fire at that place; top, how many sources to give.
    Raises: BadArgument for top below 1.
    Notes: the route is that of the empty aircraft, at the clearance and in the wind of the ranking.
    """
    if top < 1:
        raise BadArgument(f"top is {top}: at least 1 source must be asked for")
    found = sorted(map(_near_source, ranking.sources), key=lambda one: (one.time_s, one.body_id))[:top]
    shores = {body.body_id: body.polygon.distance(place) for body in region.bodies}
    shores |= {one.station_id: one.point.distance(place) for one in region.stations}
    within_m = min((shores[one.body_id] for one in found), default=float("inf"))
    left_out = (
        LeftOut(one.body_id, one.name, shores[one.body_id], one.verdict, one.reason)
        for one in ranking.excluded
        if shores[one.body_id] <= within_m
    )
    return Nearest(
        ranking.aircraft,
        place,
        tuple(found),
        tuple(sorted(left_out, key=lambda one: (one.distance_m, one.body_id))),
        ranking.cautions,
        ranking.assumptions,
    )


def _near_source(source: RankedSource) -> NearSource:
    cycle = source.cycle
    return NearSource(
        source.body_id,
        source.name,
        cycle.method,
        source.fill_point,
        cycle.empty_leg.distance_m,
        cycle.empty_leg.time_s,
        cycle.litres,
        source.rank,
        source.cautions,
    )
