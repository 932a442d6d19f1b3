"""Jobs as the store keeps them: what was asked, how far it is, how it ended. Survives the service that started them."""

from dataclasses import dataclass, fields
from datetime import datetime, timedelta
from secrets import token_hex
from typing import Any

from sqlalchemy import Engine, Select, select, update

from services.errors import NotKept
from services.store.column_types import now
from services.store.engine import reading, writing
from services.store.tables import job

WAITING, RUNNING, SUCCEEDED, FAILED, CANCELLED = "waiting", "running", "succeeded", "failed", "cancelled"
OPEN = (WAITING, RUNNING)


@dataclass(frozen=True)
class JobEntry:
    """One job. `problem` is a problem document where it failed; `result` what it gave where it succeeded."""

    job_id: str
    kind: str
    question: dict[str, Any]
    state: str
    progress_done: int | None
    progress_total: int | None
    progress_what: str | None
    result: dict[str, Any] | None
    problem: dict[str, Any] | None
    asked_by: str
    asked_at: datetime
    started_at: datetime | None
    ended_at: datetime | None
    cancel_asked: bool


def _entries() -> Select:
    return select(*(job.c[field.name] for field in fields(JobEntry)))


def add(engine: Engine, region_id: str, kind: str, question: dict[str, Any], asked_by: str) -> str:
    """Keep a new job, waiting; give its id."""
    job_id = token_hex(8)
    row = {"kind": kind, "question": question, "state": WAITING, "asked_by": asked_by, "asked_at": now()}
    with writing(engine) as connection:
        connection.execute(job.insert().values(job_id=job_id, region_id=region_id, cancel_asked=False, **row))
    return job_id


def get(engine: Engine, job_id: str) -> JobEntry:
    """Give a job. Raises: NotKept."""
    with reading(engine) as connection:
        row = connection.execute(_entries().where(job.c.job_id == job_id)).first()
    if row is None:
        raise NotKept(f"no job {job_id[:40]!r} is kept. Fix: /jobs lists them")
    return JobEntry(*row)


def listed(engine: Engine, region_id: str, most: int = 100) -> list[JobEntry]:
    """Give a region's jobs, the newest first."""
    asked = _entries().where(job.c.region_id == region_id).order_by(job.c.fid.desc()).limit(most)
    with reading(engine) as connection:
        return [JobEntry(*row) for row in connection.execute(asked)]


def begin(engine: Engine, job_id: str) -> bool:
    """Note that a waiting job runs; False where it was cancelled meanwhile."""
    values = {"state": RUNNING, "started_at": now(), "beat_at": now()}
    return _move(engine, job_id, (WAITING,), values)


def advance(engine: Engine, job_id: str, done: int, total: int, what: str) -> bool:
    """Note how far a job is; False where it shall end, because it was cancelled."""
    values = {"progress_done": done, "progress_total": total, "progress_what": what, "beat_at": now()}
    return _move(engine, job_id, (RUNNING,), values) and not get(engine, job_id).cancel_asked


def succeed(engine: Engine, job_id: str, result: dict[str, Any]) -> bool:
    """Note what a job gave; False where it had ended already."""
    return _move(engine, job_id, (RUNNING,), {"state": SUCCEEDED, "result": result, "ended_at": now()})


def fail(engine: Engine, job_id: str, problem: dict[str, Any]) -> bool:
    """Note why a job failed; False where it had ended already."""
    return _move(engine, job_id, OPEN, {"state": FAILED, "problem": problem, "ended_at": now()})


def cancel(engine: Engine, job_id: str) -> bool:
    """Note that a job was cancelled; False where it had ended already. A worker elsewhere sees it at its next step."""
    return _move(engine, job_id, OPEN, {"state": CANCELLED, "cancel_asked": True, "ended_at": now()})


def silent(engine: Engine, region_id: str, for_s: float) -> list[str]:
    """Give the ids of jobs that say they wait or run but were not heard of for so long [s]: their service is gone."""
    since = now() - timedelta(seconds=for_s)
    waited = job.c.beat_at.is_(None) & (job.c.asked_at < since)
    asked = select(job.c.job_id).where(
        job.c.region_id == region_id, job.c.state.in_(OPEN), waited | (job.c.beat_at < since)
    )
    with reading(engine) as connection:
        return list(connection.execute(asked).scalars())


def beat(engine: Engine, job_ids: list[str]) -> None:
    """Note that these jobs are in somebody's hands."""
    with writing(engine) as connection:
        connection.execute(update(job).where(job.c.job_id.in_(job_ids)).values(beat_at=now()))


def _move(engine: Engine, job_id: str, before: tuple[str, ...], values: dict[str, Any]) -> bool:
    with writing(engine) as connection:
        done = connection.execute(
            update(job).where(job.c.job_id == job_id, job.c.state.in_(before)).values(**values)
        )
        return done.rowcount == 1
