"""The parent's side of the worker: start it, send it one task at a time, kill it when it takes too long."""

import contextlib
import os
import selectors
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from geo.ingest.files.messages import read_frame, write_frame
from geo.ingest.files.sandbox import worker_environment

START_LIMIT_S = 60.0


@dataclass(frozen=True)
class Limits:
    """How long the worker may take: for opening and reading one file, for repairing one shape [s]."""

    file_s: float = 60.0
    repair_s: float = 5.0


class WorkerFailed(Exception):
    """The worker could not do a task; `reason` is a plain sentence, `kind` one of time, crash, error, mistake.

    A mistake is one of the program's, whatever the file; its reason is the exception's name and the line.
    """

    def __init__(self, kind: str, reason: str) -> None:
        super().__init__(reason)
        self.kind = kind
        self.reason = reason


def shared(worker: "Worker | None") -> "contextlib.AbstractContextManager[Worker]":
    """Give a context with the given worker, which lives on after it, or with a new one that ends with it."""
    return Worker() if worker is None else contextlib.nullcontext(worker)


class Worker:
    """One worker process, started on first use and again after each kill. Use as a context manager.

    Every task has a time limit; what the worker was doing when it was killed or died is what the caller just asked,
    so a kill is always put down to the file or shape in hand.
    """

    def __init__(self, limits: Limits | None = None) -> None:
        self.limits = limits if limits is not None else Limits()
        self._process: subprocess.Popen[bytes] | None = None
        self._scratch = tempfile.TemporaryDirectory(prefix="fetchwater-ingest-", ignore_cleanup_errors=True)

    def __enter__(self) -> "Worker":
        return self

    def __exit__(self, *_: object) -> None:
        self._stop()
        self._scratch.cleanup()

    def call(self, task: str, limit_s: float | None = None, **arguments: Any) -> dict[str, Any]:
        """Give the worker's answer to one task.

        Parameters: task is a name of `geo.ingest.files.worker.TASKS`; limit_s defaults to the limit per file.

        Raises: WorkerFailed on time-out, on a crash, and on an error inside the task.
        """
        limit_s = self.limits.file_s if limit_s is None else limit_s
        process = self._running()
        try:
            incoming, _ = _streams(process)
            write_frame(incoming, {"task": task, "arguments": arguments, "limit_s": limit_s})
            answer = self._answer(process, limit_s)
        except TimeoutError:
            self._stop()
            raise WorkerFailed("time", f"not done within the limit of {limit_s:g} s") from None
        except (EOFError, OSError, ValueError):
            code = self._stop()
            raise WorkerFailed("crash", f"the reading process died (exit status {code})") from None
        if "mistake" in answer:
            raise WorkerFailed("mistake", str(answer["mistake"]))
        if "error" in answer:
            raise WorkerFailed("error", str(answer["error"]))
        return answer["result"]

    def _running(self) -> subprocess.Popen[bytes]:
        if self._process is not None and self._process.poll() is None:
            return self._process
        scratch = Path(self._scratch.name)
        self._process = subprocess.Popen(
            [sys.executable, "-m", "geo.ingest.files.worker"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=worker_environment(scratch),
            cwd=scratch,
        )
        try:
            self._answer(self._process, START_LIMIT_S)
        except (TimeoutError, EOFError, OSError, ValueError):
            code = self._stop()
            raise WorkerFailed("crash", f"the reading process did not start (exit status {code})") from None
        return self._process

    @staticmethod
    def _answer(process: subprocess.Popen[bytes], limit_s: float) -> dict[str, Any]:
        deadline = time.monotonic() + limit_s
        _, outgoing = _streams(process)
        with selectors.DefaultSelector() as selector:
            selector.register(outgoing, selectors.EVENT_READ)

            def read_in_time(count: int) -> bytes:
                """Give what has come. Raises: TimeoutError at the limit."""
                remaining = deadline - time.monotonic()
                if remaining <= 0 or not selector.select(remaining):
                    raise TimeoutError
                return os.read(outgoing.fileno(), count)

            return read_frame(read_in_time)

    def _stop(self) -> int | None:
        process, self._process = self._process, None
        if process is None:
            return None
        process.kill()
        code = process.wait()
        incoming, outgoing = _streams(process)
        with contextlib.suppress(OSError):
            incoming.close()
        outgoing.close()
        return code


def _streams(process: subprocess.Popen[bytes]) -> tuple[IO[bytes], IO[bytes]]:
    """Give what the process reads and what it writes, both of which are pipes."""
    assert process.stdin is not None and process.stdout is not None
    return process.stdin, process.stdout
