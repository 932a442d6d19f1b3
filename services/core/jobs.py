"""Long surveys off the request: a worker process for each, one at a time, with progress, cancel and result."""

import logging
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from queue import Queue
from threading import Lock, Thread
from typing import Any

from pydantic import SecretStr

from services.errors import TooMany
from services.settings import PREFIX, Settings
from services.store import jobs
from services.store.store import Store

MOST_WAITING = 20
# A service beats for its jobs this often [s]; after three missed beats another takes them for lost.
BEAT_S = 20.0
log = logging.getLogger("fetchwater.jobs")


class JobRunner:
    """Starts, watches and ends the workers of one service. `done` is called after a survey of the region as it is."""

    def __init__(self, settings: Settings, store: Store, region_id: str, done: Callable[[], None]) -> None:
        self._settings, self._store, self._region_id, self._done = settings, store, region_id, done
        self._waiting: Queue[str | None] = Queue()
        self._mine: dict[str, subprocess.Popen[bytes] | None] = {}
        self._lock = Lock()
        self._thread: Thread | None = None

    def start(self, question: dict[str, Any], asked_by: str) -> str:
        """Take a survey on; give the job's id at once.

        Raises: TooMany when MOST_WAITING wait already.
        """
        with self._lock:
            if len(self._mine) >= MOST_WAITING:
                raise TooMany(f"{MOST_WAITING} jobs wait already. Fix: ask again later, or cancel one", 60)
            job_id = jobs.add(self._store.engine, self._region_id, "survey", question, asked_by)
            self._mine[job_id] = None
            if self._thread is None:
                self._thread = Thread(target=self._work, name="fetchwater-jobs", daemon=True)
                self._thread.start()
        self._waiting.put(job_id)
        return job_id

    def cancel(self, job_id: str) -> bool:
        """End a job now, its worker with it; False where it had ended already. Raises: NotKept."""
        jobs.get(self._store.engine, job_id)
        ended = jobs.cancel(self._store.engine, job_id)
        with self._lock:
            worker = self._mine.get(job_id)
        if ended and worker is not None:
            _kill(worker)
        return ended

    def settle_lost(self) -> None:
        """Say of jobs whose service is gone that they failed, and why."""
        for job_id in jobs.silent(self._store.engine, self._region_id, 3 * BEAT_S):
            jobs.fail(self._store.engine, job_id, _lost(job_id, "the service that ran it ended"))

    def close(self) -> None:
        """End every worker; jobs of this service that did not end are failed and say so."""
        with self._lock:
            mine = dict(self._mine)
        for job_id, worker in mine.items():
            jobs.fail(self._store.engine, job_id, _lost(job_id, "the service was stopped"))
            if worker is not None:
                _kill(worker)
        self._waiting.put(None)
        if self._thread is not None:
            self._thread.join(10.0)

    def _work(self) -> None:
        while (job_id := self._waiting.get()) is not None:
            try:
                self._one(job_id)
            # The thread serves the next job whatever befell this one.
            except Exception:
                log.exception("job %s", job_id)
            finally:
                with self._lock:
                    self._mine.pop(job_id, None)

    def _one(self, job_id: str) -> None:
        engine = self._store.engine
        if not jobs.begin(engine, job_id):
            return
        worker = subprocess.Popen(
            [sys.executable, "-m", "services.core.survey_worker", job_id],
            env=_environment(self._settings),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            start_new_session=True,
        )
        with self._lock:
            self._mine[job_id] = worker
        self._watch(worker)
        entry = jobs.get(engine, job_id)
        if entry.state == jobs.RUNNING:
            jobs.fail(engine, job_id, _lost(job_id, f"its worker {_ending(worker.returncode)}"))
        elif entry.state == jobs.SUCCEEDED and not entry.question.get("levels"):
            self._done()

    def _watch(self, worker: subprocess.Popen[bytes]) -> None:
        while True:
            try:
                worker.wait(BEAT_S)
                return
            except subprocess.TimeoutExpired:
                with self._lock:
                    mine = list(self._mine)
                jobs.beat(self._store.engine, mine)


def _environment(settings: Settings) -> dict[str, str]:
    """The service's own settings, wherever they came from; a worker needs no more."""
    kept = {name: value for name, value in os.environ.items() if not name.upper().startswith(PREFIX)}
    for name in Settings.model_fields:
        value = getattr(settings, name)
        if value is not None:
            kept[PREFIX + name.upper()] = (
                value.get_secret_value() if isinstance(value, SecretStr) else str(value)
            )
    # The survey takes the processor that nobody asks for.
    return kept | {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


def _kill(worker: subprocess.Popen[bytes]) -> None:
    # Its own children (the reader of user files) are in its group.
    with suppress(ProcessLookupError):
        os.killpg(worker.pid, signal.SIGKILL)


def _ending(code: int) -> str:
    return f"was ended by signal {-code}" if code < 0 else f"ended with code {code} and no result"


def _lost(job_id: str, reason: str) -> dict[str, Any]:
    return {
        "type": "about:blank",
        "title": "The job did not come to its end",
        "status": 500,
        "detail": f"{reason}; nothing of it was kept half done. Fix: ask for it again",
        "instance": f"/jobs/{job_id}",
    }
