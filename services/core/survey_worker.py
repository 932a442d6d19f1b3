"""A survey in a process of its own, which may be killed at any moment: `python -m services.core.survey_worker JOB_ID`.

It reads the settings of the service from the environment and the question from the store, and writes progress and
result there. It ends by itself when the service that started it is gone, or when the job was cancelled from elsewhere.
"""

import os
import sys
import time

from geo.base.errors import FetchwaterError
from services.core import quantities
from services.core.problems import problem
from services.core.workspace import open_workspace
from services.errors import StoreUnreachable
from services.settings import read_settings
from services.store import jobs
from services.store.store import Store, open_store

STEP_S = 0.5


class Stopped(Exception):
    """The job was cancelled, or nobody waits for it any more."""


class Reporter:
    """Writes progress to the store, at most every STEP_S, and ends the work when it is no longer wanted."""

    def __init__(self, store: Store, job_id: str) -> None:
        self._store, self._job_id = store, job_id
        self._parent, self._next_s = os.getppid(), 0.0

    def __call__(self, done: int, total: int, what: str) -> None:
        """Take progress as the survey reports it. Raises: Stopped."""
        if os.getppid() != self._parent:
            raise Stopped
        if time.monotonic() >= self._next_s or done == total:
            self._next_s = time.monotonic() + STEP_S
            if not jobs.advance(self._store.engine, self._job_id, done, total, what):
                raise Stopped


def run(job_id: str) -> None:
    """Do the job; whatever goes wrong in a way that can be told is told in the store."""
    settings = read_settings()
    assert settings.region is not None
    store = open_store(settings)
    entry = jobs.get(store.engine, job_id)
    try:
        levels = [quantities.level(text) for text in entry.question.get("levels", [])]
        made = open_workspace(settings.region, store, Reporter(store, job_id), levels)
        if made.not_kept:
            # Its result is what the store holds: without it the job gave nothing.
            raise StoreUnreachable("; ".join(made.not_kept))
    except FetchwaterError as error:
        jobs.fail(store.engine, job_id, problem(error, f"/jobs/{job_id}"))
        return
    except Stopped:
        return
    jobs.succeed(
        store.engine,
        job_id,
        {
            "survey_key": made.survey_key,
            "region": made.region.name,
            "water_bodies": len(made.survey.bodies),
            "input_fingerprint": made.region.fingerprint,
            "levels": entry.question.get("levels", []),
        },
    )


if __name__ == "__main__":
    if hasattr(os, "nice"):
        os.nice(10)  # who asks the service goes before who waits for a survey
    run(sys.argv[1])
