"""A question's sources evaluated, and the record of its ranking: what is left out and why, what was assumed."""

from dataclasses import replace

from geo.ranking.statements import GENERAL_CAUTIONS, assumptions
from geo.records.question import RankingQuestion
from geo.records.ranking import Exclusion, RankedSource, Ranking
from geo.records.site_status import unplaced
from geo.search.assumptions import assumed
from geo.search.best_first import Shortlist, shortlist
from geo.search.drop_points import drop_for
from geo.search.ranking_work import ranking_work

QUICK_ROUTES = (
    "straight or round no-fly areas; routes round high ground were not sought for this quick answer"
)


def shortlist_of(asked: RankingQuestion, *, quick: bool = False) -> Shortlist:
    """Evaluate the sources of a question: all, or those that can be among the first `top`.

    Parameters: quick, no routes round high ground are sought.
    Raises: BadArgument where no place of the drop has known ground, the weather is out of range, or top is below 1.
    """
    drop = drop_for(asked.target, asked.fire, asked.region)
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
    cautions = (*fire.cautions, *unplaced(region.sites), *GENERAL_CAUTIONS)
    stated = assumptions(profile, asked.hours) | assumed(region, profile, asked.weather, asked.target)
    stated |= listed.words(shown if shown is not None else asked.top)
    stated |= {"routes": QUICK_ROUTES} if quick else {}
    question = region.name, asked.survey.fingerprint, fire.fire_id, fire.name
    told = cautions, stated, listed.passed, listed.passed_count
    made = Ranking(*question, profile.profile_id, profile.name, asked.weather, sources, excluded, *told)
    return replace(made, profile=profile)
