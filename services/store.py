"""The embedded store: surveys and the rankings that were asked, in one SQLite file.

Only the `sqlite3` module opens this file; GDAL never does. Two SQLite libraries on one file in one process break its
locks and have lost a confirmed commit.
"""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

from pydantic import TypeAdapter

from geo.errors import FetchwaterError
from geo.records.survey import RegionSurvey, SurveySettings

SCHEMA_VERSION = 1
_SCHEMA = """
CREATE TABLE IF NOT EXISTS survey (
    key TEXT PRIMARY KEY, region_name TEXT NOT NULL, fingerprint TEXT NOT NULL, settings TEXT NOT NULL,
    program TEXT NOT NULL, made_at TEXT NOT NULL, record BLOB NOT NULL);
CREATE TABLE IF NOT EXISTS ranking (
    ranking_id TEXT PRIMARY KEY, survey_key TEXT NOT NULL, asked_at TEXT NOT NULL, question TEXT NOT NULL,
    answer TEXT NOT NULL);
"""
_SURVEY = TypeAdapter(RegionSurvey)
_SETTINGS = TypeAdapter(SurveySettings)


class StoreTooNew(FetchwaterError):
    """The store was written by a later version of the program and is left untouched."""


def code_fingerprint() -> str:
    """Give a digest of the survey code, so that a stored survey is never taken for one of other code."""
    root = Path(__file__).resolve().parent.parent / "geo"
    digest = sha256(version("fetchwater").encode())
    parts = (
        root.glob("*.py"),
        root.glob("records/*.py"),
        root.glob("survey/**/*.py"),
        root.glob("survey/**/*.json"),
    )
    for path in sorted(path for part in parts for path in part):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def survey_key(fingerprint: str, settings: SurveySettings) -> str:
    """Give the key of a survey: same inputs, same settings and same code give the same key."""
    text = "\n".join((fingerprint, _SETTINGS.dump_json(settings).decode(), code_fingerprint()))
    return sha256(text.encode()).hexdigest()[:24]


class Store:
    """One file, opened per operation; one writer at a time, readers never wait."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.path = folder / "fetchwater.sqlite"
        with self._connect() as connection:
            found = connection.execute("PRAGMA user_version").fetchone()[0]
            if found > SCHEMA_VERSION:
                raise StoreTooNew(
                    f"{self.path}: written by a newer program (store version {found}, this program knows "
                    f"{SCHEMA_VERSION}). Cure: install the newer program or set another FETCHWATER_DATA_DIR"
                )
            connection.executescript(_SCHEMA)
            connection.execute(f"PRAGMA user_version={SCHEMA_VERSION}")

    @contextmanager
    def _connect(self) -> Iterator[sqlite3.Connection]:
        connection = sqlite3.connect(self.path, timeout=5.0, isolation_level=None)
        try:
            for pragma in ("journal_mode=WAL", "synchronous=FULL", "trusted_schema=OFF"):
                connection.execute(f"PRAGMA {pragma}")
            yield connection
        finally:
            connection.close()

    @contextmanager
    def _write(self) -> Iterator[sqlite3.Connection]:
        with self._connect() as connection:
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
            except BaseException:
                connection.execute("ROLLBACK")
                raise
            connection.execute("COMMIT")

    def save_survey(self, survey: RegionSurvey) -> str:
        """Keep a survey; give its key."""
        key = survey_key(survey.fingerprint, survey.settings)
        with self._write() as connection:
            connection.execute(
                "INSERT OR REPLACE INTO survey VALUES (?, ?, ?, ?, ?, ?, ?)",
                (
                    key,
                    survey.region_name,
                    survey.fingerprint,
                    _SETTINGS.dump_json(survey.settings).decode(),
                    version("fetchwater"),
                    datetime.now(UTC).isoformat(timespec="seconds"),
                    _SURVEY.dump_json(survey),
                ),
            )
        return key

    def find_survey(self, fingerprint: str, settings: SurveySettings) -> RegionSurvey | None:
        """Give the stored survey of exactly these inputs, settings and code, or None."""
        with self._connect() as connection:
            row = connection.execute(
                "SELECT record FROM survey WHERE key = ?", (survey_key(fingerprint, settings),)
            ).fetchone()
        return _SURVEY.validate_json(row[0]) if row is not None else None

    def save_ranking(self, survey_key_: str, question: dict, answer: dict) -> str:
        """Keep a question with its answer; give the id under which both can be looked up."""
        asked_at = datetime.now(UTC).isoformat(timespec="microseconds")
        ranking_id = sha256(json.dumps([asked_at, question, survey_key_]).encode()).hexdigest()[:16]
        with self._write() as connection:
            connection.execute(
                "INSERT INTO ranking VALUES (?, ?, ?, ?, ?)",
                (ranking_id, survey_key_, asked_at, json.dumps(question), json.dumps(answer)),
            )
        return ranking_id

    def find_ranking(self, ranking_id: str) -> dict | None:
        """Give a stored question and answer, or None."""
        with self._connect() as connection:
            row = connection.execute(
                "SELECT survey_key, asked_at, question, answer FROM ranking WHERE ranking_id = ?",
                (ranking_id,),
            ).fetchone()
        if row is None:
            return None
        return {
            "ranking_id": ranking_id,
            "survey_key": row[0],
            "asked_at": row[1],
            "question": json.loads(row[2]),
            "answer": json.loads(row[3]),
        }
