"""Older stores are migrated after a backup copy, newer and foreign ones refused and left alone.

The only revision so far is the baseline. The migrations that bring a store beyond it here are planted:
`planted_migration` adds two columns, `planted_failure` stops half way.
"""

import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import inspect, select, text
from sqlalchemy.dialects import postgresql, sqlite

from services.errors import StoreBroken, StoreTooNew
from services.settings import Settings
from services.store import layers, sites, tokens, upgrade
from services.store.engine import open_engine, reading, writing
from services.store.store import embedded_store, open_store
from services.store.tables import metadata, token
from tests.services.store_samples import RAMP

HERE = Path(__file__).parent
EXPIRES_AT = datetime(2027, 1, 31, tzinfo=UTC)


def plant(monkeypatch, folder):
    """Add a folder of migrations to those of the program."""
    monkeypatch.setattr(upgrade, "VERSION_FOLDERS", [*upgrade.VERSION_FOLDERS, str(HERE / folder)])


def baseline(new_store, kind):
    """A store of the baseline with a token and a site in it."""
    store = new_store(kind)
    tokens.add(store.engine, "Anna", "planner", EXPIRES_AT)
    sites.create(store.engine, "made", RAMP, "anna", "S1")
    return store


@pytest.mark.parametrize("kind", ["file", "postgis"])
def test_a_store_of_the_baseline_is_copied_and_migrated(new_store, tmp_path, monkeypatch, kind):
    store = baseline(new_store, kind)
    before = tokens.listed(store.engine), sites.get(store.engine, "S1")
    plant(monkeypatch, "planted_migration")
    backup = upgrade.bring_up_to_date(store.engine, tmp_path / "backups")
    with reading(store.engine) as connection:
        assert upgrade.present_revision(connection) == "0004" == upgrade.newest_revision()
        assert connection.scalar(text("SELECT planted FROM token")) == "Anna as planner"
        assert connection.scalar(text("SELECT planted FROM site")) == RAMP.name
    assert (tokens.listed(store.engine), sites.get(store.engine, "S1")) == before
    if kind == "file":
        with closing(sqlite3.connect(backup)) as connection:
            assert connection.execute("SELECT version_num FROM alembic_version").fetchone() == ("0003",)
            assert [row[1] for row in connection.execute("PRAGMA table_info(token)")] == list(token.c.keys())
            assert connection.execute("SELECT name FROM token").fetchone() == ("Anna",)
    else:
        with reading(store.engine) as connection:
            (schema,) = [s for s in inspect(connection).get_schema_names() if s.startswith("backup_0003")]
            assert connection.scalar(text(f'SELECT name FROM "{schema}".token')) == "Anna"
    # Opened again, nothing is left to do.
    assert upgrade.bring_up_to_date(store.engine, Path("/nowhere")) is None


@pytest.mark.parametrize("kind", ["file", "postgis"])
def test_a_migration_that_fails_leaves_the_old_store(new_store, tmp_path, monkeypatch, kind):
    store = baseline(new_store, kind)
    plant(monkeypatch, "planted_failure")
    with pytest.raises(RuntimeError, match="the power fails here"):
        upgrade.bring_up_to_date(store.engine, tmp_path / "backups")
    with reading(store.engine) as connection:
        assert upgrade.present_revision(connection) == "0003"
        assert [one["name"] for one in inspect(connection).get_columns("token")] == list(token.c.keys())
        assert connection.scalar(select(token.c.name)) == "Anna"
    assert sites.get(store.engine, "S1").fields == RAMP


def schema() -> str:
    """Every column of `tables.py`, a line each: its type in a GeoPackage and in PostGIS, and whether it is needed."""
    lines = []
    for table in metadata.sorted_tables:
        for column in table.columns:
            types = [column.type.compile(dialect.dialect()) for dialect in (sqlite, postgresql)]
            needed = "" if column.nullable else " NOT NULL"
            lines.append(f"{table.name}.{column.name}: {' | '.join(types)}{needed}")
        lines += sorted(f"{index.name}: {', '.join(index.columns.keys())}" for index in table.indexes)
    return "\n".join(lines) + "\n"


def test_a_change_of_a_table_needs_a_migration():
    """Regression: the schema as it was when its newest revision was made. Who changes a table writes the next one."""
    kept = HERE / "schemas" / f"{upgrade.newest_revision()}.txt"
    assert schema() == kept.read_text(encoding="utf-8"), (
        "write a migration, and the schema after it beside this one"
    )


def test_a_new_store_has_the_tables_of_today(store):
    """What stands in the database is what `tables.py` says, and the newest revision is marked."""
    with reading(store.engine) as connection:
        assert upgrade.present_revision(connection) == upgrade.newest_revision() == "0003"
        for table in metadata.sorted_tables:
            wanted = {column.name: column.nullable for column in table.columns}
            assert columns_of(connection, table.name) == wanted, table.name


def columns_of(connection, name):
    """The columns that stand in the database, and whether each may be empty."""
    if connection.dialect.name == "sqlite":
        rows = connection.exec_driver_sql(f"PRAGMA table_info({name})").mappings()
        return {row["name"]: not row["notnull"] for row in rows}
    asked = text("SELECT column_name, is_nullable FROM information_schema.columns WHERE table_name=:t")
    return {name: nullable == "YES" for name, nullable in connection.execute(asked, {"t": name})}


@pytest.mark.parametrize("kind", ["file", "postgis"])
def test_a_store_of_a_newer_program_is_refused_and_left_alone(request, new_store, kind):
    store = new_store(kind)
    with writing(store.engine) as connection:
        connection.execute(text("UPDATE alembic_version SET version_num='9999'"))
    with pytest.raises(StoreTooNew, match="Fix"):
        upgrade.bring_up_to_date(store.engine, Path("/nowhere"))
    with reading(store.engine) as connection:
        assert connection.scalar(text("SELECT version_num FROM alembic_version")) == "9999"


def test_a_foreign_geopackage_is_refused_and_left_alone(tmp_path):
    with closing(sqlite3.connect(tmp_path / "fetchwater.gpkg")) as connection:
        connection.execute("CREATE TABLE my_own_lakes (fid INTEGER PRIMARY KEY)")
    with pytest.raises(StoreBroken, match="my_own_lakes"):
        embedded_store(tmp_path)
    with closing(sqlite3.connect(tmp_path / "fetchwater.gpkg")) as connection:
        assert connection.execute("SELECT name FROM sqlite_master").fetchall() == [("my_own_lakes",)]


def test_a_foreign_database_is_refused_and_left_alone(postgis_server, tmp_path):
    settings = Settings(data_dir=tmp_path, store_url=postgis_server.empty())
    engine = open_engine(settings)
    with writing(engine) as connection:
        connection.execute(text("CREATE TABLE my_own_lakes (fid int)"))
    with pytest.raises(StoreBroken, match="my_own_lakes"):
        open_store(settings)
    with reading(engine) as connection:
        assert inspect(connection).get_table_names() == ["my_own_lakes"]
    engine.dispose()


@pytest.mark.parametrize("damage", ["not a database", "cut", "zeros in the middle"])
def test_a_damaged_file_is_said_and_left_alone(tmp_path, damage):
    embedded_store(tmp_path).close()
    path = tmp_path / "fetchwater.gpkg"
    content = path.read_bytes()
    bad = {
        "not a database": b"x" * 4096,
        "cut": content[: len(content) // 3],
        "zeros in the middle": content[:4096] + bytes(len(content) - 4096),
    }[damage]
    path.write_bytes(bad)
    with pytest.raises(StoreBroken, match="restore"):
        embedded_store(tmp_path)
    assert path.read_bytes() == bad


def test_two_programs_that_start_at_once_make_one_store(postgis_server, tmp_path):
    """Eight threads open the same empty database: one makes it, the others wait and find it."""
    for settings in (
        Settings(data_dir=tmp_path / "file"),
        Settings(data_dir=tmp_path, store_url=postgis_server.empty()),
    ):
        with ThreadPoolExecutor(8) as pool:
            stores = list(pool.map(open_store, [settings] * 8))
        assert {layers.revision(store.engine, "day") for store in stores} == {0}
        for store in stores:
            store.close()
