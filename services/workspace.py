"""What the command line and the service both need: a region, its stored or fresh survey, and questions asked of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from geo import pipeline
from geo.export.document import document
from geo.levels import with_level
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import Weather
from geo.records.ranking import Ranking
from geo.records.region import Fire, Region
from geo.records.supply import Asked, Further
from geo.records.survey import RegionSurvey
from services.store import Store, survey_key


@dataclass(frozen=True)
class Workspace:
    """A loaded region with its survey and the store that keeps both questions and answers."""

    region: Region
    survey: RegionSurvey
    store: Store

    @property
    def survey_key(self) -> str:
        """The data version: same inputs, settings and code give the same key."""
        return survey_key(self.survey.fingerprint, self.survey.settings)


def open_workspace(
    folder: Path,
    store: Store,
    progress: pipeline.Progress | None = None,
    levels: Sequence[tuple[str, float]] = (),
) -> Workspace:
    """Load a region and take its survey from the store, or survey it and keep the result.

    Parameters: levels, other levels of today [m] for water bodies by id or name; their survey is kept apart.
    Raises: BadInput with every fault of the region's files, or for a level that cannot be used.
    """
    region = pipeline.load(folder)
    for body, level_m in levels:
        region = with_level(region, body, level_m)
    survey = store.find_survey(region.fingerprint, pipeline.settings_of(region))
    if survey is None:
        survey = pipeline.survey(region, progress=progress)
        store.save_survey(survey)
    return Workspace(region, survey, store)


@dataclass(frozen=True)
class Answer:
    """A ranking with the id under which question and answer can be looked up again."""

    ranking: Ranking
    further: Further
    ranking_id: str
    document: dict


def ask(
    workspace: Workspace,
    fire: Fire,
    profile: AircraftProfile,
    weather: Weather,
    top: int | None,
    asked: Asked | None = None,
) -> Answer:
    """Rank the sources for a fire, with what else is asked; keep question and answer, and give both."""
    asked = asked if asked is not None else Asked()
    ranking, further = pipeline.answer(
        workspace.region, workspace.survey, fire, profile, weather, top=top, asked=asked
    )
    frame = workspace.region.frame
    answer, beside = document(ranking, frame), document(further, frame)
    assert isinstance(answer, dict) and isinstance(beside, dict)
    answer |= beside
    question = {
        "region": workspace.region.name,
        "fire": document(fire, workspace.region.frame),
        "aircraft": document(profile, workspace.region.frame),
        "weather": document(weather, workspace.region.frame),
        "top": top,
        "asked": document(asked, workspace.region.frame),
    }
    return Answer(
        ranking, further, workspace.store.save_ranking(workspace.survey_key, question, answer), answer
    )
