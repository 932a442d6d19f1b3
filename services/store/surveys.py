"""Surveys in the store: each run with its inputs, parameters, program and time; each body's record kept once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

from pydantic import TypeAdapter
from sqlalchemy import Connection, Engine, func, select

from geo.records.region import WaterBody
from geo.records.survey import BodySurvey, RegionSurvey, SurveySettings
from services.store.column_types import now
from services.store.engine import pieces, reading, writing
from services.store.tables import body_survey, survey, survey_body

_BODY = TypeAdapter(BodySurvey)
_SETTINGS = TypeAdapter(SurveySettings)


@lru_cache(maxsize=1)
def code_fingerprint() -> str:
    """Give a digest of the survey code, so that a stored survey is never taken for one of other code."""
    root = Path(__file__).resolve().parents[2] / "geo"
    digest = sha256(version("fetchwater").encode())
    parts = (
        root.glob("base/*.py"),
        root.glob("records/*.py"),
        root.glob("ingest/**/*.py"),
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


def body_key(files_fingerprint: str, body: WaterBody, settings: SurveySettings) -> str:
    """Give the key of one body's record: the region's files, this body's level of today, settings and code.

    Parameters: files_fingerprint, that of the files alone, without the levels of other bodies.
    """
    of_today = repr((body.body_id, body.surface_elevation_m, body.level_change_m, body.level_origin))
    text = "\n".join(
        (files_fingerprint, of_today, _SETTINGS.dump_json(settings).decode(), code_fingerprint())
    )
    return sha256(text.encode()).hexdigest()[:32]


@dataclass(frozen=True)
class SurveyRun:
    """A survey with what it was made from: one body key per body in order, each input with its fingerprint, and the
    time that it took [s] (None: unknown)."""

    survey: RegionSurvey
    body_keys: tuple[str, ...]
    inputs: dict[str, str] = field(default_factory=dict)
    took_s: float | None = None

    @property
    def key(self) -> str:
        """The key under which the survey is kept."""
        return survey_key(self.survey.fingerprint, self.survey.settings)


def save(engine: Engine, made: SurveyRun) -> str:
    """Keep a survey and the records of its bodies that are not kept yet; give its key. A kept one stays as it is."""
    with writing(engine) as connection:
        if connection.scalar(select(func.count()).where(survey.c.survey_key == made.key)):
            return made.key
        moment = now()
        _save_bodies(connection, made, moment)
        connection.execute(
            survey.insert().values(
                survey_key=made.key,
                region_id=made.survey.region_name,
                input_fingerprint=made.survey.fingerprint,
                inputs=made.inputs,
                parameters=_SETTINGS.dump_python(made.survey.settings, mode="json"),
                program=version("fetchwater"),
                code_fingerprint=code_fingerprint(),
                made_at=moment,
                took_s=made.took_s,
                bodies=len(made.survey.bodies),
            )
        )
        rows = [
            {"survey_key": made.key, "ordinal": i, "body_key": key} for i, key in enumerate(made.body_keys)
        ]
        if rows:
            connection.execute(survey_body.insert(), rows)
    return made.key


def _save_bodies(connection: Connection, made: SurveyRun, moment: object) -> None:
    kept = set(_kept_keys(connection, made.body_keys))
    rows = [
        {
            "body_key": key,
            "region_id": made.survey.region_name,
            "body_id": body.body_id,
            "made_at": moment,
            "record": _BODY.dump_json(body),
        }
        for key, body in zip(made.body_keys, made.survey.bodies, strict=True)
        if key not in kept
    ]
    if rows:
        connection.execute(body_survey.insert(), rows)


def _kept_keys(connection: Connection, keys: Sequence[str]) -> list[str]:
    found: list[str] = []
    for piece in pieces(keys):
        asked = select(body_survey.c.body_key).where(body_survey.c.body_key.in_(piece))
        found += connection.scalars(asked).all()
    return found


def known_bodies(engine: Engine, keys: Mapping[str, str]) -> dict[str, BodySurvey]:
    """Give the kept records of bodies, by body id.

    Parameters: keys, the body key that is asked for of each body id.
    """
    by_key = {key: body_id for body_id, key in keys.items()}
    columns = body_survey.c.body_key, body_survey.c.record
    found = {}
    with reading(engine) as connection:
        for piece in pieces(list(by_key)):
            for row in connection.execute(select(*columns).where(body_survey.c.body_key.in_(piece))):
                found[by_key[row.body_key]] = _BODY.validate_json(row.record)
    return found


def any_known(engine: Engine, keys: Sequence[str]) -> bool:
    """True where the survey of a body is kept under one of these keys."""
    with reading(engine) as connection:
        return any(_kept_keys(connection, piece) for piece in pieces(keys))


def find(engine: Engine, fingerprint: str, settings: SurveySettings) -> RegionSurvey | None:
    """Give the kept survey of exactly these inputs, settings and today's code, bodies in their order, or None."""
    key = survey_key(fingerprint, settings)
    with reading(engine) as connection:
        head = connection.execute(select(survey).where(survey.c.survey_key == key)).one_or_none()
        if head is None:
            return None
        records = connection.scalars(
            select(body_survey.c.record)
            .join(survey_body, survey_body.c.body_key == body_survey.c.body_key)
            .where(survey_body.c.survey_key == key)
            .order_by(survey_body.c.ordinal)
        ).all()
    return RegionSurvey(
        head.region_id,
        head.input_fingerprint,
        _SETTINGS.validate_python(head.parameters),
        tuple(_BODY.validate_json(record) for record in records),
    )


def runs_of(engine: Engine, region_id: str | None = None) -> list[dict]:
    """Give every survey that was made, the newest first: inputs, parameters, program, time; without its bodies."""
    asked = select(survey).order_by(survey.c.made_at.desc(), survey.c.survey_key)
    if region_id is not None:
        asked = asked.where(survey.c.region_id == region_id)
    with reading(engine) as connection:
        return [dict(row) for row in connection.execute(asked).mappings()]
