"""The simplest question: from here, with this aircraft, which suitable source is reached first?

Joins the ranking and the region. It is the ranking for a place, in another order: by the time to get there.
"""

from dataclasses import dataclass

from geo import pipeline
from geo.base.errors import BadArgument
from geo.records.aircraft import AircraftProfile, FillMethod
from geo.records.conditions import Weather
from geo.records.geometry import PointM
from geo.records.region import Region
from geo.records.survey import RegionSurvey


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


def nearest(
    region: Region,
    survey: RegionSurvey,
    place_deg: tuple[float, float],
    profile: AircraftProfile,
    weather: Weather,
    *,
    top: int = 3,
) -> Nearest:
    """Give the usable sources that are reached soonest from a place.

    Parameters: place_deg, longitude and latitude [deg, WGS 84]; top, how many sources to give.
    Raises: BadArgument and BadInput as a ranking does for a place outside the region; BadArgument for top below 1.
    Notes: the way is that of the empty aircraft, at the clearance and in the wind of the ranking.
    """
    if top < 1:
        raise BadArgument(f"top is {top}: at least 1 source must be asked for")
    fire = pipeline.fire_asked({"type": "Point", "coordinates": list(place_deg)}, region)
    ranking = pipeline.rank(region, survey, fire, profile, weather)
    place = fire.area.centroid
    found = sorted(
        (
            NearSource(
                one.body_id,
                one.name,
                one.cycle.method,
                one.fill_point,
                one.cycle.empty_leg.distance_m,
                one.cycle.empty_leg.time_s,
                one.cycle.litres,
                one.rank,
                one.cautions,
            )
            for one in ranking.sources
        ),
        key=lambda one: (one.time_s, one.body_id),
    )[:top]
    shores = {body.body_id: body.polygon.distance(place) for body in region.bodies}
    within_m = min((shores[one.body_id] for one in found), default=float("inf"))
    left_out = (
        LeftOut(one.body_id, one.name, shores[one.body_id], one.verdict, one.reason)
        for one in ranking.excluded
        if shores[one.body_id] <= within_m
    )
    return Nearest(
        profile.name,
        place,
        tuple(found),
        tuple(sorted(left_out, key=lambda one: (one.distance_m, one.body_id))),
        ranking.cautions,
        ranking.assumptions,
    )
