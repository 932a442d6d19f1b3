"""Older stores are migrated after a backup copy, newer and foreign ones refused and left alone.

`old_stores/first_store.db` was written by the program of schema 1: one survey of two waters, two rankings. The figures
expected of it were read from that file with the `sqlite3` shell.
"""

import hashlib
import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import inspect, text

from services.settings import Settings
from services.store import surveys, upgrade
from services.store.engine import open_engine, reading, writing
from services.store.errors import StoreBroken, StoreTooNew
from services.store.migrations.versions import r0002_geopackage, r0003_kept_answers
from services.store.store import embedded_store, open_store
from services.store.tables import metadata

OLD = Path(__file__).parent / "old_stores" / "first_store.db"
OLD_KEY = "f0679a877cb67a6b69a26463"


def sha(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


def without_bends(record):
    """A survey's record without what older programs wrote of runs that turn."""
    if isinstance(record, list):
        return [without_bends(one) for one in record]
    if not isinstance(record, dict):
        return record
    dropped = ("bent_radius_m", "bent_runs", "parts")
    return {key: without_bends(value) for key, value in record.items() if key not in dropped}


def test_a_store_of_the_first_schema_is_migrated_after_a_backup(tmp_path):
    shutil.copy(OLD, tmp_path / "fetchwater.sqlite")
    store = embedded_store(tmp_path)
    first = store.find_ranking("ba7da684cb0a75fe")
    assert first["survey_key"] == OLD_KEY
    assert first["asked_at"] == "2026-11-25T16:34:15.173Z"
    assert first["answer"]["sources"] == [{"rank": 1, "body_id": "W01", "litres_per_hour": 12345.678}]
    assert store.find_ranking("ee00689b642b4dd6")["question"]["fire"] == "F2"
    survey = surveys.find(store.engine, OLD_KEY)
    with closing(sqlite3.connect(OLD)) as connection:
        (record,) = connection.execute("SELECT record FROM survey").fetchone()
    assert json.loads(surveys.TypeAdapter(type(survey)).dump_json(survey)) == without_bends(
        json.loads(record)
    )
    store.close()
    assert not (tmp_path / "fetchwater.sqlite").exists()
    (kept,) = (tmp_path / "backups").iterdir()
    with closing(sqlite3.connect(kept)) as connection:
        assert connection.execute("SELECT count(*) FROM ranking").fetchone() == (2,)
        assert connection.execute("PRAGMA user_version").fetchone() == (1,)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["backups", "fetchwater.gpkg"]


def test_a_migration_that_fails_leaves_the_old_store(tmp_path, monkeypatch):
    shutil.copy(OLD, tmp_path / "fetchwater.sqlite")
    before = sha(tmp_path / "fetchwater.sqlite")

    def fail(connection):
        raise RuntimeError("the power fails here")

    monkeypatch.setattr(upgrade, "_run", lambda connection, found: fail(connection))
    with pytest.raises(RuntimeError):
        embedded_store(tmp_path)
    assert sha(tmp_path / "fetchwater.sqlite") == before
    assert [path.name for path in tmp_path.iterdir()] == ["fetchwater.sqlite"]
    monkeypatch.undo()
    embedded_store(tmp_path).close()


@pytest.mark.parametrize("kind", ["file", "postgis"])
def test_a_store_at_an_older_revision_is_copied_and_migrated(request, tmp_path, kind):
    """Both databases: the first schema with a row in it, opened by this program."""
    url = request.getfixturevalue("postgis_server").empty() if kind == "postgis" else None
    settings = Settings(data_dir=tmp_path, store_url=url)
    engine = open_engine(settings)
    with writing(engine) as connection:
        upgrade.command.upgrade(upgrade._config(connection), "0001")
        connection.execute(
            text("INSERT INTO ranking VALUES ('r1', 'k', '2026-01-31T04:05:06.789123+00:00', '{}', '{}')")
        )
    backup = upgrade.bring_up_to_date(engine, tmp_path / "backups")
    store = open_store(settings)
    assert store.find_ranking("r1")["asked_at"] == "2026-01-31T04:05:06.789Z"
    if kind == "file":
        with closing(sqlite3.connect(backup)) as connection:
            assert connection.execute("SELECT ranking_id FROM ranking").fetchone() == ("r1",)
    else:
        with reading(engine) as connection:
            (schema,) = [s for s in inspect(connection).get_schema_names() if s.startswith("backup_0001")]
            assert connection.scalar(text(f'SELECT count(*) FROM "{schema}".ranking')) == 1
    store.close()
    engine.dispose()


def test_a_migrated_store_has_the_tables_of_today(store):
    """The frozen migrations and tables.py must not drift apart: names, types and what must not be empty."""
    with reading(store.engine) as connection:
        for table in metadata.sorted_tables:
            made = {}
            if store.engine.dialect.name == "sqlite":
                for _, name, type_, needed, _, key in connection.exec_driver_sql(
                    f"PRAGMA table_info({table.name})"
                ):
                    made[name] = (type_, bool(needed or key))
            else:
                rows = connection.execute(
                    text(
                        "SELECT column_name, udt_name, is_nullable FROM information_schema.columns WHERE table_name=:t"
                    ),
                    {"t": table.name},
                )
                made = {name: (type_, nullable == "NO") for name, type_, nullable in rows}
            wanted = {column.name: not column.nullable for column in table.columns}
            assert {name: needed for name, (_, needed) in made.items()} == wanted, table.name
            written = (*r0002_geopackage._TABLES.values(), *r0003_kept_answers._TABLES.values())
            frozen = next(one for one in written if one.name == table.name)
            dialect = store.engine.dialect
            for column in table.columns:
                here, there = column.type.compile(dialect), frozen.c[column.name].type.compile(dialect)
                assert here == there, f"{table.name}.{column.name}: freeze it in a migration"


@pytest.mark.parametrize("kind", ["file", "postgis"])
def test_a_store_of_a_newer_program_is_refused_and_left_alone(request, new_store, kind):
    store = new_store(kind)
    with writing(store.engine) as connection:
        connection.execute(text("UPDATE alembic_version SET version_num='9999'"))
    with pytest.raises(StoreTooNew, match="Fix"):
        upgrade.bring_up_to_date(store.engine, Path("/nowhere"))
    with reading(store.engine) as connection:
        assert connection.scalar(text("SELECT version_num FROM alembic_version")) == "9999"


def test_a_first_store_of_an_unknown_mark_is_refused_and_left_alone(tmp_path):
    shutil.copy(OLD, tmp_path / "fetchwater.sqlite")
    with closing(sqlite3.connect(tmp_path / "fetchwater.sqlite")) as connection:
        connection.execute("PRAGMA user_version=99")
    before = sha(tmp_path / "fetchwater.sqlite")
    with pytest.raises(StoreTooNew, match="Fix"):
        embedded_store(tmp_path)
    assert sha(tmp_path / "fetchwater.sqlite") == before


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
    from concurrent.futures import ThreadPoolExecutor

    for settings in (
        Settings(data_dir=tmp_path / "file"),
        Settings(data_dir=tmp_path, store_url=postgis_server.empty()),
    ):
        with ThreadPoolExecutor(8) as pool:
            stores = list(pool.map(open_store, [settings] * 8))
        assert {store.revision() for store in stores} == {0}
        for store in stores:
            store.close()
