"""The record of a ranking: its sources, what is left out and why, and what was assumed."""

from geo.ranking.statements import GENERAL_CAUTIONS, assumptions
from geo.records.question import RankingQuestion
from geo.records.ranking import Exclusion, RankedSource, Ranking
from geo.records.site_status import unplaced
from geo.search.assumptions import assumed
from geo.search.best_first import Shortlist

QUICK_ROUTES = (
    "straight or round no-fly areas; routes round high ground were not sought for this quick answer"
)


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
    return Ranking(
        region.name,
        asked.survey.fingerprint,
        fire.fire_id,
        fire.name,
        profile.profile_id,
        profile.name,
        asked.weather,
        sources,
        excluded,
        (*fire.cautions, *unplaced(region.sites), *GENERAL_CAUTIONS),
        assumptions(profile)
        | assumed(region, profile, asked.weather, asked.target)
        | listed.words(shown if shown is not None else asked.top)
        | ({"routes": QUICK_ROUTES} if quick else {}),
        listed.passed,
        listed.passed_count,
    )
