"""The store as the rest of the program holds it: an up-to-date engine, and the verbs that most commands need."""

from pathlib import Path

from sqlalchemy import Engine

from geo.records.kept import KeptAnswer
from geo.records.survey import RegionSurvey, SurveySettings
from services.settings import Settings
from services.store import layers, rankings, surveys
from services.store.engine import open_engine, place
from services.store.upgrade import bring_up_to_date


class Store:
    """One database, opened per operation; one writer at a time, readers never wait.

    `engine` serves the verbs of the other modules here: sites, day, copying.
    """

    def __init__(self, engine: Engine) -> None:
        self.engine = engine

    def close(self) -> None:
        """Give up every connection; the file then stands alone, without its -wal."""
        self.engine.dispose()

    @property
    def where(self) -> str:
        """The path or address of the store, without a password."""
        return place(self.engine)

    def save_survey(self, made: surveys.SurveyRun) -> str:
        """Keep a survey; give its key."""
        return surveys.save(self.engine, made)

    def find_survey(self, fingerprint: str, settings: SurveySettings) -> RegionSurvey | None:
        """Give the stored survey of exactly these inputs, settings and code, or None."""
        return surveys.find(self.engine, surveys.survey_key(fingerprint, settings))

    def save_ranking(
        self,
        survey_key: str,
        question: dict,
        answer: dict,
        region_id: str | None = None,
        record: KeptAnswer | None = None,
    ) -> str:
        """Keep a question with its answer and its records; give the id under which all can be looked up."""
        return rankings.save(self.engine, survey_key, question, answer, region_id, record)

    def find_ranking(self, ranking_id: str) -> dict | None:
        """Give a stored question and answer, or None."""
        return rankings.find(self.engine, ranking_id)

    def find_record(self, ranking_id: str) -> KeptAnswer | None:
        """Give the records of a kept answer, or None."""
        return rankings.find_record(self.engine, ranking_id)

    def revision(self, name: str = "day") -> int:
        """Give how often something was changed: "day" (sites, closures, levels) or "survey" (the layers)."""
        return layers.revision(self.engine, name)


def open_store(settings: Settings) -> Store:
    """Open the store that the settings name; make it where there is none, migrate an older one after a backup copy.

    Raises: StoreTooNew, StoreBroken, StoreUnreachable; BadArgument for a bad address.
    """
    engine = open_engine(settings)
    try:
        bring_up_to_date(engine, settings.data_dir / "backups")
    except BaseException:
        engine.dispose()
        raise
    return Store(engine)


def embedded_store(folder: Path) -> Store:
    """Open the embedded store of a folder, whatever the settings say."""
    return open_store(Settings(data_dir=folder, store_url=None))
