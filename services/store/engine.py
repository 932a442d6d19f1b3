"""Opens the store's database: one GeoPackage file, or PostGIS where FETCHWATER_STORE_URL names one.

The file is opened by `sqlite3` alone. GDAL in the same process on the same file breaks its locks and has lost a
confirmed commit.
"""

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeout
from sqlalchemy.pool import ConnectionPoolEntry

from geo.base.errors import BadArgument
from services.errors import StoreBroken, StoreUnreachable
from services.settings import Settings
from services.store.geometry import register_functions
from services.store.text_match import register_lower

FILE_NAME = "fetchwater.gpkg"
BUSY_S = 10.0
_PIECE = 500
# A server must neither hold a lock nor run a query for ever (common practice, no source).
POSTGRES_OPTIONS = (
    "-c timezone=UTC -c synchronous_commit=on -c statement_timeout=60000 -c lock_timeout=10000 "
    "-c idle_in_transaction_session_timeout=300000"
)
_NO_POSTGIS = (
    "the database cannot hold a store",
    "install PostGIS and let an administrator run CREATE EXTENSION postgis in it; the user must be allowed to make "
    "tables",
)
# By the server's code: a server that only follows another; insufficient_privilege, undefined_file and
# feature_not_supported, which are a server without PostGIS or a user without rights.
_REFUSALS = {"25006": ("the server takes no writes", "name the server that does")} | dict.fromkeys(
    ("42501", "58P01", "0A000"), _NO_POSTGIS
)
# What SQLite says of a disk that is full, read-only or closed to us: FULL, READONLY, IOERR, CANTOPEN.
_NO_ROOM = (sqlite3.SQLITE_FULL, sqlite3.SQLITE_READONLY)
_NO_WRITES = (*_NO_ROOM, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN)
_WRITES = {"fetchwater_writes": True}
_WRITER = 4_702_111_394_234  # of our choice: the number of the lock that a server's writers wait for


def open_engine(settings: Settings) -> Engine:
    """Give the engine of the store that the settings name. Makes the folder of the embedded store, no tables.

    Raises: BadArgument for an address that is not one of PostgreSQL; StoreUnreachable where the folder cannot be made.
    """
    if settings.store_url is not None:
        password = None if settings.store_password_file is None else _password(settings.store_password_file)
        return postgis_engine(settings.store_url.get_secret_value(), password)
    try:
        settings.data_dir.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise StoreUnreachable(
            f"{settings.data_dir}: the folder of the store cannot be made ({problem.strerror}). Fix: set "
            "FETCHWATER_DATA_DIR to a folder that can be written"
        ) from problem
    return file_engine(settings.data_dir / FILE_NAME)


def _password(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as problem:
        raise StoreUnreachable(
            f"{file}: the password of the store cannot be read. Fix: correct FETCHWATER_STORE_PASSWORD_FILE"
        ) from problem


def postgis_engine(address: str, password: str | None = None) -> Engine:
    """Give an engine on PostGIS.

    Parameters: password, in place of the address's own.
    Raises: BadArgument for an address that is not one of PostgreSQL. The message never repeats a password.
    """
    try:
        url = make_url(address)
    except ArgumentError as problem:
        raise BadArgument(_address_rule("it cannot be read")) from problem
    if url.get_backend_name() not in ("postgresql", "postgres"):
        raise BadArgument(_address_rule(f"it names {url.get_backend_name()!r}"))
    url = url.set(drivername="postgresql+psycopg")
    engine = create_engine(
        url if password is None else url.set(password=password),
        pool_pre_ping=True,
        pool_size=8,
        max_overflow=24,
        connect_args={"connect_timeout": 5, "options": POSTGRES_OPTIONS},
    )
    event.listen(engine, "begin", _server_begin)
    return engine


def _address_rule(rule: str) -> str:
    return (
        f"FETCHWATER_STORE_URL is no address of a PostgreSQL database: {rule}. "
        "Fix: postgresql://user@host:5432/database; keep the password in a PGPASSFILE"
    )


class _AsItStands(sqlite3.Connection):
    """A connection to a store that nobody here can write, as the file stands."""


def file_engine(path: Path, *, readonly: bool = False) -> Engine:
    """Give an engine on one GeoPackage file through `sqlite3`; readonly opens a file that must not change.

    Notes: a store on a full or read-only disk is still read; a write then raises StoreUnreachable.
    """
    database = f"file:{path.resolve()}?mode=ro" if readonly else str(path)
    engine = create_engine(
        URL.create("sqlite", database=database, query={"uri": "true"} if readonly else {}),
        pool_size=8,
        max_overflow=56,
        **({"connect_args": {"timeout": BUSY_S}} if readonly else {"creator": lambda: _connected(path)}),
    )
    event.listen(engine, "connect", _prepare_readonly if readonly else _prepare)
    event.listen(engine, "checkin", _forget)
    event.listen(engine, "begin", _file_begin)
    return engine


def _connected(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, timeout=BUSY_S, check_same_thread=False)
    try:
        # Needs a file of shared memory beside the store.
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("SELECT count(*) FROM sqlite_master")
        return connection
    except sqlite3.OperationalError as problem:
        connection.close()
        if problem.sqlite_errorcode & 0xFF not in _NO_WRITES or not _whole_by_itself(path):
            raise
    address = f"{path.resolve().as_uri()}?mode=ro&immutable=1"
    return sqlite3.connect(address, uri=True, check_same_thread=False, factory=_AsItStands)


def _whole_by_itself(path: Path) -> bool:
    """True where nothing of the store stands in its -wal: no program writes it now, none was killed while it did."""
    beside = path.with_name(f"{path.name}-wal")
    try:
        return path.stat().st_size > 0 and (not beside.exists() or beside.stat().st_size == 0)
    except OSError:
        return False


def _forget(connection: sqlite3.Connection | None, record: ConnectionPoolEntry) -> None:
    # The next transaction looks again whether the file stands still.
    if isinstance(connection, _AsItStands):
        record.invalidate()


def _prepare_readonly(connection: sqlite3.Connection, _: object) -> None:
    # SQLAlchemy begins transactions itself (`_file_begin`); the driver must not begin others.
    connection.isolation_level = None
    register_functions(connection)
    register_lower(connection)
    connection.execute("PRAGMA cell_size_check=ON")


def _prepare(connection: sqlite3.Connection, record: object) -> None:
    _prepare_readonly(connection, record)
    if isinstance(connection, _AsItStands):
        return
    # The R*Tree's triggers call functions of ours, which an untrusted schema may not: it must stay trusted.
    for pragma in ("synchronous=FULL", "foreign_keys=ON"):
        connection.execute(f"PRAGMA {pragma}")


def _file_begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get("fetchwater_writes", False)
    # A transaction that reads first and writes later ignores the busy timeout, so that one that writes says so at once.
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _server_begin(connection: Connection) -> None:
    if connection.get_execution_options().get("fetchwater_writes", False):
        # One writer at a time, as in the file: who looks before it writes is not overtaken by another service.
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_WRITER})")
    if connection.get_execution_options().get("fetchwater_snapshot", False):
        connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Give a connection in one transaction that sees one state of the store and never waits for a writer.

    Raises: StoreUnreachable, StoreBroken.
    """
    with (
        translated(engine),
        engine.connect().execution_options(fetchwater_snapshot=True) as connection,
        connection.begin(),
    ):
        yield connection


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Give a connection in one transaction: kept as a whole at the end, or not at all after an exception.

    Raises: StoreUnreachable where other writers do not come to an end; StoreBroken.
    """
    with (
        translated(engine),
        engine.connect().execution_options(**_WRITES) as connection,
        connection.begin(),
    ):
        yield connection


@contextmanager
def translated(engine: Engine) -> Iterator[None]:
    """Turn the database's own errors into ours; a password is never repeated.

    Raises: StoreUnreachable, StoreBroken.
    """
    where = place(engine)
    try:
        yield
    except PoolTimeout as problem:
        raise StoreUnreachable(f"{where}: too many requests at once. Fix: ask again in a moment") from problem
    except OperationalError as problem:
        said = str(problem.orig).strip().splitlines()
        if getattr(problem.orig, "sqlite_errorcode", 0) & 0xFF in _NO_ROOM:
            raise StoreUnreachable(
                f"{where}: the store takes no writes ({said[0]}). Fix: make room on its disk, and let this user write "
                "there"
            ) from problem
        raise StoreUnreachable(
            f"{where}: the store does not answer ({said[0] if said else 'no reason given'}). "
            "Fix: see that it runs, has room, and that the address and rights are right; then ask again"
        ) from problem
    except DBAPIError as problem:
        text = str(problem.orig)
        rule_and_fix = _REFUSALS.get(getattr(problem.orig, "sqlstate", None) or "")
        if rule_and_fix is not None:
            rule, fix = rule_and_fix
            raise StoreUnreachable(
                f"{where}: {rule} ({text.strip().splitlines()[0]}). Fix: {fix}"
            ) from problem
        if isinstance(problem.orig, sqlite3.DatabaseError) and (
            "malformed" in text or "not a database" in text
        ):
            raise StoreBroken(
                f"{where}: the file is damaged ({text}). Fix: move it away and `fetchwater restore` a backup"
            ) from problem
        raise


def pieces(values: Sequence[str]) -> Iterator[Sequence[str]]:
    """Give long lists in pieces: SQLite takes at most 32,766 values in one statement."""
    return (values[start : start + _PIECE] for start in range(0, len(values), _PIECE))


def place(engine: Engine) -> str:
    """Give the words for where a store is: the file's path, or the address without its password."""
    if engine.dialect.name != "sqlite":
        return engine.url.render_as_string(hide_password=True)
    name = engine.url.database or ""
    return name.removeprefix("file:").removesuffix("?mode=ro")
