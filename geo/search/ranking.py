"""A question's sources evaluated, and the record of its ranking: what is left out and why, what was assumed."""

from dataclasses import replace

from shapely.geometry.base import BaseGeometry

from geo.flight.legs.best_leg import grid_bearing_deg
from geo.ranking.statements import GENERAL_CAUTIONS, assumptions
from geo.records.question import RankingQuestion
from geo.records.ranking import Exclusion, RankedSource, Ranking
from geo.records.site_status import unplaced
from geo.search.assessments import obstacles_near
from geo.search.assumptions import assumed
from geo.search.best_first import Shortlist, shortlist
from geo.search.drop_points import drop_for, share_on_water
from geo.search.ranking_work import ranking_work
from geo.suitability.near_obstacles import named_near

QUICK_ROUTES = (
    "straight or round no-fly areas, and where that is barred by the quickest of a few plain ways; better routes round "
    "high ground were not sought for this quick answer"
)


def shortlist_of(asked: RankingQuestion, *, quick: bool = False) -> Shortlist:
    """Evaluate the sources of a question: all, or those that can be among the first `top`.

    Parameters: quick, no best routes round high ground are sought.
    Raises: BadArgument where no place of the drop has known ground or may be flown to, the weather is out of range, or
    top is below 1.
    """
    drop = drop_for(asked.target, asked.fire, asked.region, asked.weather)
    return shortlist(ranking_work(asked, drop, quick=quick), asked.top)


def ranking_of(
    asked: RankingQuestion,
    listed: Shortlist,
    sources: tuple[RankedSource, ...],
    excluded: tuple[Exclusion, ...],
    quick: bool = False,
    shown: int | None = None,
) -> Ranking:
    """Give the ranking that answers a question.

    Parameters: listed, what was evaluated; sources and excluded, as `geo.ranking.rank` gives them; quick, whether
    routes round high ground were left out; shown, how many sources will be listed where more compete.
    """
    region, fire, profile = asked.region, asked.fire, asked.aircraft
    wet = share_on_water(fire, region)
    on_water = (wet,) if wet else ()
    cautions = (*fire.cautions, *on_water, *_near_ends(asked), *unplaced(region.sites), *GENERAL_CAUTIONS)
    stated = assumptions(profile, asked.hours) | assumed(region, profile, asked.weather, asked.target)
    stated |= listed.words(shown if shown is not None else asked.top)
    stated |= {"routes": QUICK_ROUTES} if quick else {}
    question = region.name, asked.survey.fingerprint, fire.fire_id, fire.name
    told = cautions, stated, listed.passed, listed.passed_count
    made = Ranking(*question, profile.profile_id, profile.name, asked.weather, sources, excluded, *told)
    return replace(made, profile=profile)


def _near_ends(asked: RankingQuestion) -> list[str]:
    """Name the known wires and masts within 1 km of the other ends of the legs: the fire's outline, and the base."""
    region, base = asked.region, asked.region.base
    ends: list[tuple[BaseGeometry, str]] = [(asked.fire.area, f"fire {asked.fire.name}")]
    if base is not None:
        ends.append((base.point, f"base {base.name}"))
    found = []
    for shape, what in ends:
        middle = (shape.centroid.x, shape.centroid.y)
        turn_deg = -grid_bearing_deg(region.frame.crs_wkt, middle, 0.0)
        found += named_near(obstacles_near(region, shape), shape, what, turn_deg)
    return found
