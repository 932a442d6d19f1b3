"""Rankings that were asked: question and answer with the data version, so that both can be looked up afterwards."""

import json
from hashlib import sha256
from importlib.metadata import version

from sqlalchemy import Engine, select

from services.store.column_types import instant_text, now
from services.store.engine import reading, writing
from services.store.tables import ranking


def save(engine: Engine, survey_key: str, question: dict, answer: dict, region_id: str | None = None) -> str:
    """Keep a question with its answer; give the id under which both can be looked up."""
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
    return ranking_id


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
