"""Rankings that were asked: question and answer with the data version, so that both can be looked up afterwards."""

import json
import zlib
from hashlib import sha256
from importlib.metadata import version

from pydantic import TypeAdapter, ValidationError
from sqlalchemy import Engine, select

from geo.records.kept import KeptAnswer
from services.errors import StoreBroken
from services.store.column_types import instant_text, now
from services.store.engine import place, reading, writing
from services.store.tables import kept_answer, ranking

_KEPT = TypeAdapter(KeptAnswer)


def save(
    engine: Engine,
    survey_key: str,
    question: dict,
    answer: dict,
    region_id: str | None = None,
    record: KeptAnswer | None = None,
) -> str:
    """Keep a question with its answer; give the id under which both can be looked up.

    Parameters: record, the records of the answer, from which sheets are printed.
    """
    held = None if record is None else zlib.compress(_KEPT.dump_json(record))
    asked_at = now()
    with writing(engine) as connection:
        last = connection.scalar(select(ranking.c.fid).order_by(ranking.c.fid.desc()).limit(1)) or 0
        text = json.dumps([instant_text(asked_at), question, survey_key, last])
        ranking_id = sha256(text.encode()).hexdigest()[:16]
        connection.execute(
            ranking.insert().values(
                ranking_id=ranking_id,
                region_id=region_id,
                survey_key=survey_key,
                asked_at=asked_at,
                program=version("fetchwater"),
                question=question,
                answer=answer,
            )
        )
        if held is not None:
            connection.execute(kept_answer.insert().values(ranking_id=ranking_id, record=held))
    return ranking_id


def find_record(engine: Engine, ranking_id: str) -> KeptAnswer | None:
    """Give the records of a kept answer; None where none is kept, or only by a program whose records were others.

    Raises: StoreBroken where what is kept is damaged.
    """
    with reading(engine) as connection:
        held = connection.scalar(select(kept_answer.c.record).where(kept_answer.c.ranking_id == ranking_id))
    if held is None:
        return None
    try:
        text = zlib.decompress(held)
    except zlib.error as problem:
        raise StoreBroken(
            f"{place(engine)}: the records of ranking {ranking_id} are damaged. Fix: restore a backup"
        ) from problem
    try:
        return _KEPT.validate_json(text)
    except ValidationError:
        return None


def find(engine: Engine, ranking_id: str) -> dict | None:
    """Give a stored question and answer, or None."""
    with reading(engine) as connection:
        row = connection.execute(select(ranking).where(ranking.c.ranking_id == ranking_id)).one_or_none()
    if row is None:
        return None
    return {
        "ranking_id": row.ranking_id,
        "survey_key": row.survey_key,
        "asked_at": instant_text(row.asked_at),
        "question": row.question,
        "answer": row.answer,
    }
