"""Copies between stores without loss: backup to a file, restore from one, import from another store.

Every copy is one transaction on the side that is written: all rows or none. A backup is a GeoPackage store itself, of
either database, so that it opens in a GIS and restores into either.
"""

import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, Table, delete, func, select, text
from sqlalchemy.exc import DBAPIError, StatementError

from geo.base.errors import BadArgument, BadInput
from geo.base.fault import Fault
from geo.base.whole_file import whole_file
from services.errors import StoreBroken, StoreTooNew
from services.store.column_types import now
from services.store.engine import file_engine, place, postgis_engine, reading, writing
from services.store.files import check_file, copy_file, damaged, leave_alone, not_written
from services.store.geopackage import geometry_column, rtree_statements
from services.store.tables import metadata
from services.store.tables import state as state_table
from services.store.upgrade import bring_up_to_date, checked_revision, newest_revision

# Rows that are held in memory at once; photos and survey records are large.
_PIECE = 200
# Made anew from files and code at any time: where both stores hold such a record, that of the target stays.
_DERIVED = {"region", "survey", "body_survey", "survey_body", "water_body", "run", "hover_point", "evidence"}
# The counters of changes belong to a store, not to what it holds.
TABLES: tuple[Table, ...] = tuple(one for one in metadata.sorted_tables if one is not state_table)


@dataclass(frozen=True)
class Copied:
    """How many rows were copied, and how many the target held already, by table."""

    rows: dict[str, int]
    held: dict[str, int]


def backup(engine: Engine, target: Path) -> Copied:
    """Write the whole store into a GeoPackage file, of one state and checked, under its name only when it is whole.

    Raises: BadArgument for a target that is a store in use, or no file; StoreUnreachable where it cannot be written.
    """
    _refuse_taken(engine, target)
    if engine.dialect.name == "sqlite":
        copy_file(Path(place(engine)), target)
        with reading(engine) as connection:
            return Copied(_counts(connection), {})
    try:
        with whole_file(target) as private:
            made = file_engine(private)
            try:
                bring_up_to_date(made, target.parent)
                copied = copy_rows(engine, made, replace=True)
                leave_alone(made)
            finally:
                made.dispose()
            check_file(private)
    except OSError as problem:
        raise not_written(target, problem) from problem
    return copied


def _refuse_taken(engine: Engine, target: Path) -> None:
    """A store put under the name of one that is open would be read together with the other's -wal file, and broken."""
    own = engine.dialect.name == "sqlite" and target.resolve() == Path(place(engine)).resolve()
    journals = [target.with_name(target.name + ending) for ending in ("-wal", "-shm", "-journal")]
    if own or any(one.exists() for one in journals):
        raise BadArgument(f"{target}: this is a store in use. Fix: write the backup under another name")
    if target.exists() and not target.is_file():
        raise BadArgument(f"{target}: this is no file. Fix: name the file to be written")


def restore(engine: Engine, source: Path, backups: Path) -> tuple[Copied, Path]:
    """Put what a backup holds in the place of all that the store holds, after a backup of the present.

    Returns: what was copied, and where the backup of what was there before is.
    Raises: StoreBroken for a file that is damaged or none of ours, StoreTooNew; nothing was changed then.
    """
    with opened(str(source)) as other:
        before = backups / f"before-restore-{now():%Y%m%dT%H%M%S}Z.gpkg"
        backup(engine, before)
        return copy_rows(other, engine, replace=True), before


def import_from(engine: Engine, source: str) -> Copied:
    """Take every row of another store that this one does not hold; all or none.

    Parameters: source, a file or the address of a PostGIS store.
    Raises: BadInput where both hold a record of the same key with other contents, each named; StoreBroken, StoreTooNew.
    """
    with opened(source) as other:
        return copy_rows(other, engine, replace=False)


@contextmanager
def opened(source: str) -> Iterator[Engine]:
    """Open another store to be read, a file as a private copy in the present schema; the original is not touched.

    Parameters: source, a file or the address of a PostGIS store.
    Raises: StoreBroken for what is damaged or no store of ours; StoreTooNew.
    """
    if "://" in source:
        engine = postgis_engine(source)
        try:
            with reading(engine) as connection:
                if checked_revision(connection) != newest_revision():
                    raise StoreBroken(
                        f"{place(engine)}: holds no store of today's schema. Fix: open it once with this program"
                    )
            yield engine
        finally:
            engine.dispose()
        return
    path = Path(source)
    if not path.is_file():
        raise damaged(path, "there is no such file")
    check_file(path)
    with tempfile.TemporaryDirectory(prefix="fetchwater-") as folder:
        copy = Path(folder) / "copy.gpkg"
        engine = file_engine(copy_file(path, copy))
        try:
            with reading(engine) as connection:
                if checked_revision(connection) is None:
                    raise damaged(path, "it holds no tables")
            bring_up_to_date(engine, Path(folder))
            _refuse_foreign_parts(engine, path)
            yield engine
        except (StoreBroken, StoreTooNew) as problem:
            # Nobody can repair the private copy: the message names the file that was given.
            raise type(problem)(str(problem).replace(str(copy), str(path))) from problem
        finally:
            engine.dispose()


def _refuse_foreign_parts(engine: Engine, source: Path) -> None:
    """A file may bring triggers and views that would run inside our own statements: only our own may be there."""
    own = {
        _plain(statement)
        for table in metadata.sorted_tables
        if (column := geometry_column(table)) is not None
        for statement in rtree_statements(table.name, column)
    }
    with reading(engine) as connection:
        found = connection.exec_driver_sql(
            "SELECT name, tbl_name, type, sql FROM sqlite_master WHERE type IN ('trigger', 'view')"
        ).all()
    for name, table, kind, sql in found:
        if (kind == "view" and name in metadata.tables) or (
            kind == "trigger" and table in metadata.tables and _plain(sql) not in own
        ):
            raise damaged(source, f"the {kind} {name!r} is none of ours")


def _plain(sql: str) -> str:
    return " ".join(sql.split())


def copy_rows(source: Engine, target: Engine, *, replace: bool) -> Copied:
    """Copy every row, in one transaction on the target and of one state of the source.

    Parameters: replace, whether all that the target holds goes first.
    Raises: StoreBroken for a row that cannot be read; BadInput where both hold a record with other contents.
    """
    rows, held = {}, {}
    try:
        with reading(source) as from_, writing(target) as to:
            if replace:
                for table in TABLES:
                    to.execute(delete(table))
            for table in TABLES:
                rows[table.name], held[table.name] = _copy_table(from_, to, table)
            _count_on(to)
    except (StatementError, ValueError) as problem:
        raise StoreBroken(
            f"{place(source)}: a row cannot be read or does not fit ({_first_line(problem)}); nothing was taken. "
            "Fix: name another backup"
        ) from problem
    return Copied(rows, held)


def _first_line(problem: Exception) -> str:
    said = problem.orig if isinstance(problem, DBAPIError) else problem
    return str(said).strip().splitlines()[0][:200]


def _pieces(connection: Connection, table: Table) -> Iterator[list[dict[str, Any]]]:
    last = -(2**31)
    while True:
        asked = select(table).where(table.c.fid > last).order_by(table.c.fid).limit(_PIECE)
        rows = [dict(row) for row in connection.execute(asked).mappings()]
        if not rows:
            return
        last = rows[-1]["fid"]
        yield rows


def _copy_table(from_: Connection, to: Connection, table: Table) -> tuple[int, int]:
    empty = to.scalar(select(func.count()).select_from(table)) == 0
    copied, held = 0, 0
    for rows in _pieces(from_, table):
        new = rows if empty else _unknown_rows(to, table, rows)
        if not empty:
            # Other rows may have these numbers already.
            new = [{name: value for name, value in row.items() if name != "fid"} for row in new]
        if new:
            to.execute(table.insert(), new)
        copied, held = copied + len(new), held + len(rows) - len(new)
    if empty and to.dialect.name == "postgresql":
        to.execute(
            text(
                f"SELECT setval(pg_get_serial_sequence('{table.name}', 'fid'), "
                f"coalesce(max(fid), 0) + 1, false) FROM {table.name}"
            )
        )
    return copied, held


def _unknown_rows(to: Connection, table: Table, rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Give the rows whose key the target does not hold. Raises: BadInput where it holds one with other contents."""
    new, differing = [], []
    for row in rows:
        key = [table.c[name] == row[name] for name in table.info["key"]]
        present = to.execute(select(table).where(*key)).mappings().one_or_none()
        if present is None:
            new.append(row)
        elif table.name not in _DERIVED and any(present[name] != row[name] for name in row if name != "fid"):
            differing.append(row)
    if differing:
        raise BadInput([_differs(table, row) for row in differing[:20]])
    return new


def _differs(table: Table, row: dict[str, Any]) -> Fault:
    key = ", ".join(f"{name} {row[name]}" for name in table.info["key"])
    return Fault(
        "refuse",
        "import",
        "both stores hold this record, with other contents",
        "import into an empty store, or restore instead, which replaces everything",
        layer=table.name,
        feature=key,
    )


def _counts(connection: Connection) -> dict[str, int]:
    return {table.name: connection.scalar(select(func.count()).select_from(table)) or 0 for table in TABLES}


def _count_on(connection: Connection) -> None:
    """Say that everything changed."""
    connection.execute(state_table.update().values(revision=state_table.c.revision + 1))
