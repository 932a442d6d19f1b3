"""Brings a store to the schema of this program by Alembic, after a backup copy; refuses one of a newer program."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, inspect, text

from services.errors import StoreBroken, StoreTooNew
from services.store.column_types import now
from services.store.engine import place, reading, writing
from services.store.files import copy_file
from services.store.geopackage import add_to_contents, geometry_column, make_geopackage
from services.store.tables import metadata, state

_LOCK = 4_702_111_394_233  # of our choice: two programs that start at once must not both migrate
# Where the migrations lie; a test adds a folder of its own.
VERSION_FOLDERS = ["services.store:migrations/versions"]


def _config(connection: Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", "services.store:migrations")
    config.set_main_option("path_separator", "newline")
    config.set_main_option("version_locations", "\n".join(VERSION_FOLDERS))
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
        backup = copy_file(Path(place(engine)), _backup_name(backups, found))
    with writing(engine) as connection:
        if connection.dialect.name != "sqlite":
            connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
        # Another program may have migrated it since.
        found = checked_revision(connection)
        if found is None:
            make_store(connection)
        elif found != newest_revision():
            if connection.dialect.name != "sqlite":
                _copy_schema(connection, found)
            command.upgrade(_config(connection), "head")
    return backup


def checked_revision(connection: Connection) -> str | None:
    """Give the revision of a store. Raises: StoreTooNew for one that this program does not know."""
    found = present_revision(connection)
    if found is not None and found not in known_revisions():
        raise StoreTooNew(
            f"{place(connection.engine)}: store version {found}, this program knows {newest_revision()}. Fix: where a "
            "newer program wrote it, install that; else set another FETCHWATER_DATA_DIR or FETCHWATER_STORE_URL"
        )
    return found


def make_store(connection: Connection) -> None:
    """Make every table of today in an empty database and mark it with the newest revision."""
    embedded = connection.dialect.name == "sqlite"
    if embedded:
        make_geopackage(connection)
    else:
        connection.execute(text("CREATE EXTENSION IF NOT EXISTS postgis"))
    for table in metadata.sorted_tables:
        table.create(connection)
        column = geometry_column(table)
        if embedded:
            add_to_contents(connection, table, table.info["layer"] or table.name.replace("_", " "))
        elif column is not None:
            connection.execute(
                text(f"CREATE INDEX {table.name}_{column} ON {table.name} USING gist ({column})")
            )
    connection.execute(state.insert().values(name="day", revision=0))
    command.stamp(_config(connection), "head")


def _names(connection: Connection) -> set[str]:
    return set(inspect(connection).get_table_names())


def _copy_schema(connection: Connection, found: str) -> None:
    """Copy every table as it is into a schema of its own, in the migration's own transaction."""
    schema = f"backup_{found}_{now():%Y%m%d%H%M%S}"
    connection.execute(text(f'CREATE SCHEMA "{schema}"'))
    for name in sorted(_names(connection) - {"spatial_ref_sys"}):
        connection.execute(text(f'CREATE TABLE "{schema}"."{name}" AS TABLE "{name}"'))


def _backup_name(backups: Path, revision: str) -> Path:
    return backups / f"before-migration-of-{revision}-{now():%Y%m%dT%H%M%S}Z.gpkg"
