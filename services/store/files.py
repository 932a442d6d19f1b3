"""Copies of a store's file: taken in one step while others read and write, checked, and put in place whole."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy import Engine

from geo.base.whole_file import whole_file
from services.errors import StoreBroken, StoreUnreachable


def copy_file(source: Path, target: Path) -> Path:
    """Copy a SQLite file with all that is confirmed in it, checked, under its name only when it is whole.

    Raises: StoreBroken where the source is damaged; StoreUnreachable where the copy cannot be written.
    """
    try:
        with whole_file(target) as private:
            # `VACUUM INTO` takes one state in one step; a copy by `cp` would miss what stands in the -wal file.
            # Opening to write rolls back what a killed writer left; a file that cannot be written has nothing to roll
            # back.
            mode = "mode=rw" if os.access(source, os.W_OK) else "mode=ro&immutable=1"
            address = f"{source.resolve().as_uri()}?{mode}"
            with closing(sqlite3.connect(address, uri=True, timeout=10.0)) as connection:
                connection.execute("VACUUM INTO ?", (str(private),))
            check_file(private)
    except sqlite3.OperationalError as problem:
        raise StoreUnreachable(
            f"{target}: the copy of {source} cannot be made ({problem}). Fix: see that there is room "
            "and leave to write"
        ) from problem
    except sqlite3.DatabaseError as problem:
        raise damaged(source, str(problem)) from problem
    except OSError as problem:
        raise not_written(target, problem) from problem
    return target


def not_written(target: Path, problem: OSError) -> StoreUnreachable:
    """Give the error for a file that the disk does not take."""
    return StoreUnreachable(f"{target}: cannot be written ({problem.strerror}). Fix: name another file")


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
