"""Brings a store to the schema of this program by Alembic, after a backup copy; refuses one of a newer program."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, inspect, text

from services.store.column_types import now
from services.store.engine import file_engine, place, reading, writing
from services.store.errors import StoreBroken, StoreTooNew
from services.store.files import copy_file, sync_folder

FIRST_FILE_NAME = "fetchwater.sqlite"
_FIRST_TABLES = {"survey", "ranking"}
_LOCK = 4_702_111_394_233  # of our choice: two programs that start at once must not both migrate


def _config(connection: Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", "services.store:migrations")
    config.attributes["connection"] = connection
    return config


def newest_revision() -> str:
    """Give the schema revision that this program writes."""
    return ScriptDirectory.from_config(_config()).get_current_head() or ""


def known_revisions() -> tuple[str, ...]:
    """Give every schema revision that this program can read or migrate, the newest first."""
    return tuple(one.revision for one in ScriptDirectory.from_config(_config()).walk_revisions())


def present_revision(connection: Connection) -> str | None:
    """Give the revision of a store; None where the database is empty.

    Raises: StoreBroken where the database holds something else.
    """
    if connection.dialect.name == "sqlite":
        names = set(connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type='table'").scalars())
    else:
        names = set(inspect(connection).get_table_names())
    if "alembic_version" in names:
        return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    if connection.dialect.name == "sqlite" and names == _FIRST_TABLES:
        mark = connection.exec_driver_sql("PRAGMA user_version").scalar()
        return "0001" if mark == 1 else f"of user_version {mark}"
    if not names - {"spatial_ref_sys"}:
        return None
    raise StoreBroken(
        f"{place(connection.engine)}: holds other tables ({', '.join(sorted(names)[:3])}) and is no store of this "
        "program. Fix: set another FETCHWATER_DATA_DIR or FETCHWATER_STORE_URL"
    )


def bring_up_to_date(engine: Engine, backups: Path) -> Path | None:
    """Migrate a store to the newest revision, all or nothing; make it where there is none.

    Parameters: backups, the folder for the copy of an older file that is made first.
    Returns: where the backup copy is, None where none was needed.
    Raises: StoreTooNew for a store of a newer program; StoreBroken; StoreUnreachable.
    """
    with reading(engine) as connection:
        found = checked_revision(connection)
    if found == newest_revision():
        return None
    backup = None
    if found is not None and engine.dialect.name == "sqlite":
        backup = copy_file(Path(place(engine)), _backup_name(backups, found, ".gpkg"))
    with writing(engine) as connection:
        if connection.dialect.name != "sqlite":
            connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
        # Another program may have migrated it since.
        found = checked_revision(connection)
        if found != newest_revision():
            if found is not None and connection.dialect.name != "sqlite":
                _copy_schema(connection, found)
            _run(connection, found)
    return backup


def checked_revision(connection: Connection) -> str | None:
    """Give the revision of a store. Raises: StoreTooNew for one that this program does not know."""
    found = present_revision(connection)
    if found is not None and found not in known_revisions():
        raise StoreTooNew(
            f"{place(connection.engine)}: written by a newer program (store version {found}, this program knows "
            f"{newest_revision()}). Fix: install the newer program, or set another FETCHWATER_DATA_DIR or "
            "FETCHWATER_STORE_URL"
        )
    return found


def _run(connection: Connection, found: str | None) -> None:
    config = _config(connection)
    if found == "0001" and "alembic_version" not in _names(connection):
        command.stamp(config, "0001")
    command.upgrade(config, "head")


def _names(connection: Connection) -> set[str]:
    return set(inspect(connection).get_table_names())


def _copy_schema(connection: Connection, found: str) -> None:
    """Copy every table as it is into a schema of its own, in the migration's own transaction."""
    schema = f"backup_{found}_{now():%Y%m%d%H%M%S}"
    connection.execute(text(f'CREATE SCHEMA "{schema}"'))
    for name in sorted(_names(connection) - {"spatial_ref_sys"}):
        connection.execute(text(f'CREATE TABLE "{schema}"."{name}" AS TABLE "{name}"'))


def _backup_name(backups: Path, revision: str, ending: str) -> Path:
    return backups / f"before-migration-of-{revision}-{now():%Y%m%dT%H%M%S}Z{ending}"


def adopt_first_file(folder: Path, file_name: str) -> Path | None:
    """Turn the file of the first store in a folder into the store of today; give where the old file is kept.

    Nothing happens where there is no such file, or where today's store is there already. The new file is made beside
    and put in place whole; the old one moves to the folder backups and is never changed.
    Raises: StoreTooNew, StoreBroken, StoreUnreachable.
    """
    old, new = folder / FIRST_FILE_NAME, folder / file_name
    if not old.is_file() or new.exists():
        return None
    made = folder / f"{file_name}.{os.getpid()}.part"
    try:
        copy_file(old, made)
        engine = file_engine(made)
        try:
            with writing(engine) as connection:
                _run(connection, checked_revision(connection))
        finally:
            engine.dispose()
        with closing(sqlite3.connect(made, isolation_level=None)) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            connection.execute("VACUUM")
        kept = _backup_name(folder / "backups", "0001", ".sqlite")
        copy_file(old, kept)
        made.replace(new)
        sync_folder(folder)
    finally:
        for ending in ("", "-wal", "-shm", "-journal"):
            made.with_name(made.name + ending).unlink(missing_ok=True)
    for ending in ("", "-wal", "-shm"):
        old.with_name(old.name + ending).unlink(missing_ok=True)
    return kept
