"""Copies of a store's file: taken in one step while others read and write, checked, and put in place whole."""

import os
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from sqlalchemy import Engine

from services.errors import StoreBroken, StoreUnreachable


def copy_file(source: Path, target: Path) -> Path:
    """Copy a SQLite file with all that is confirmed in it, checked, under its name only when it is whole.

    Raises: StoreBroken where the source is damaged; StoreUnreachable where the copy cannot be written.
    """
    part = target.with_name(f"{target.name}.{os.getpid()}.part")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        part.unlink(missing_ok=True)
        # `VACUUM INTO` takes one state in one step; a copy by `cp` would miss what stands in the -wal file.
        # Opening to write rolls back what a killed writer left; a file that cannot be written has nothing to roll back.
        mode = "mode=rw" if os.access(source, os.W_OK) else "mode=ro&immutable=1"
        with closing(
            sqlite3.connect(f"{source.resolve().as_uri()}?{mode}", uri=True, timeout=10.0)
        ) as connection:
            connection.execute("VACUUM INTO ?", (str(part),))
        check_file(part)
        put_in_place(part, target)
    except sqlite3.OperationalError as problem:
        raise StoreUnreachable(
            f"{target}: the copy of {source} cannot be made ({problem}). Fix: see that there is room "
            "and leave to write"
        ) from problem
    except sqlite3.DatabaseError as problem:
        raise damaged(source, str(problem)) from problem
    except OSError as problem:
        raise StoreUnreachable(
            f"{target}: cannot be written ({problem.strerror}). Fix: name another file"
        ) from problem
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
    return target


def leave_alone(engine: Engine) -> None:
    """Turn a file that nobody else has open into one that stands alone, without a -wal beside it."""
    with engine.connect() as connection:
        driver = connection.connection.driver_connection
        assert driver is not None
        driver.execute("PRAGMA journal_mode=DELETE")


def damaged(path: Path, said: str) -> StoreBroken:
    """Give the error for a file that is damaged or none of ours."""
    return StoreBroken(
        f"{path}: the file is damaged or is no store of this program ({said}); nothing was taken from it. "
        "Fix: name another backup"
    )


def check_file(path: Path) -> None:
    """Read every page of a SQLite file. Raises: StoreBroken where one of them is damaged."""
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as connection:
            # An R*Tree's own check needs no function of ours.
            said = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
    except sqlite3.DatabaseError as problem:
        raise damaged(path, str(problem)) from problem
    if said != "ok":
        raise damaged(path, said)


def put_in_place(part: Path, target: Path) -> None:
    """Give a finished file its name, so that after a power cut there is the old file or the new one, never a part."""
    with part.open("rb") as stream:
        os.fsync(stream.fileno())
    part.replace(target)
    sync_folder(target.parent)


def sync_folder(folder: Path) -> None:
    """Make the names in a folder last through a power cut, where the system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
