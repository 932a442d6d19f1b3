"""Backup, restore and import lose no row and no digit, between either kind of store, all or nothing."""

import json
import os
import shutil
import sqlite3
import stat
from contextlib import closing
from pathlib import Path

import pytest
import shapely
from sqlalchemy import event, select
from typer.testing import CliRunner

from geo.base.errors import BadArgument, BadInput
from services.cli import main as cli
from services.errors import StoreBroken, StoreTooNew, StoreUnreachable
from services.store import copying, sites
from services.store.engine import place, reading, writing
from services.store.files import check_file
from services.store.geometry import register_functions
from services.store.store import embedded_store
from services.store.tables import site
from tests.services.store_samples import RAMP, fill

KINDS = ["file", "postgis"]


def everything(store):
    """Every row of every table but the counters, as plain values; shapes as WKB."""
    found = {}
    with reading(store.engine) as connection:
        for table in copying.TABLES:
            found[table.name] = [
                {name: shapely.to_wkb(v) if isinstance(v, shapely.Geometry) else v for name, v in row.items()}
                for row in connection.execute(select(table).order_by(table.c.fid)).mappings()
            ]
    return found


def address(store):
    url = store.engine.url
    return (
        place(store.engine)
        if url.get_backend_name() == "sqlite"
        else url.render_as_string(hide_password=False)
    )


@pytest.fixture
def full(request, new_store, workspace):
    """Give a maker of filled stores."""

    def make(kind):
        store = new_store(kind)
        fill(store, workspace)
        return store

    return make


def test_a_backup_never_takes_the_name_of_a_store_in_use(full, new_store, tmp_path):
    """Written over a store that is open, the new file would be read with the old one's -wal and be broken."""
    store, other = full("file"), new_store("file")
    before = everything(store)
    for target in (Path(place(store.engine)), Path(place(other.engine)), tmp_path):
        with pytest.raises(BadArgument, match="Fix"):
            copying.backup(store.engine, target)
    assert everything(store) == before
    check_file(Path(place(store.engine)))


@pytest.mark.parametrize("source_kind", KINDS)
@pytest.mark.parametrize("target_kind", KINDS)
def test_import_into_an_empty_store_is_row_for_row(full, new_store, source_kind, target_kind):
    source, target = full(source_kind), new_store(target_kind)
    copied = copying.import_from(target.engine, address(source))
    before, after = everything(source), everything(target)
    assert all(before.values()), "the sample must fill every table"
    assert after == before
    assert copied.rows == {name: len(rows) for name, rows in before.items()}
    # The next row must not meet a number that is taken.
    assert sites.create(target.engine, "made", RAMP, "dora").revision == 1


@pytest.mark.parametrize("kind", KINDS)
def test_importing_the_same_again_changes_nothing(full, new_store, kind):
    source, target = full("file"), new_store(kind)
    copying.import_from(target.engine, address(source))
    once = everything(target)
    again = copying.import_from(target.engine, address(source))
    assert sum(again.rows.values()) == 0 and sum(again.held.values()) == sum(map(len, once.values()))
    assert everything(target) == once


@pytest.mark.parametrize("kind", KINDS)
def test_an_import_that_contradicts_is_refused_as_a_whole(full, new_store, kind):
    source, target = full("file"), new_store(kind)
    sites.create(target.engine, "made", RAMP.model_copy(update={"note": "other"}), "eve", "S1")
    before = everything(target)
    with pytest.raises(BadInput, match="site_id S1"):
        copying.import_from(target.engine, address(source))
    assert everything(target) == before


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("other", KINDS)
def test_a_backup_restores_into_either_kind(full, new_store, tmp_path, kind, other):
    source, target = full(kind), new_store(other)
    copying.backup(source.engine, tmp_path / "b" / "backup.gpkg")
    assert sorted(p.name for p in (tmp_path / "b").iterdir()) == ["backup.gpkg"]
    sites.create(target.engine, "made", RAMP, "eve", "to be replaced")
    _, before = copying.restore(target.engine, tmp_path / "b" / "backup.gpkg", tmp_path / "kept")
    assert everything(target) == everything(source)
    with closing(sqlite3.connect(before)) as connection:
        assert connection.execute("SELECT site_id FROM site").fetchall() == [("to be replaced",)]


def test_a_restored_store_still_finds_by_place(full, new_store, tmp_path):
    """The spatial index is filled by the copy too."""
    copying.backup(full("postgis").engine, tmp_path / "backup.gpkg")
    target = new_store("file")
    copying.restore(target.engine, tmp_path / "backup.gpkg", tmp_path / "kept")
    assert [one.site_id for one in sites.listed(target.engine, box=(-128.2, -47.1, -128.0, -47.0))] == ["S1"]
    assert sites.listed(target.engine, box=(0, 0, 1, 1)) == []


def bad_files(folder, good):
    """Files that are no whole backup: name, and what a refusal says of them."""
    content = good.read_bytes()
    damaged = {
        "cut.gpkg": content[: len(content) // 2],
        "noise.gpkg": os.urandom(5000),
        "empty.gpkg": b"",
        "text.gpkg": b"PGDMP custom dump",
        "hole.gpkg": content[: 40 * 4096] + bytes(20 * 4096) + content[60 * 4096 :],
    }
    for name, bad in damaged.items():
        (folder / name).write_bytes(bad)
        yield folder / name, StoreBroken
    for name, statement in (
        ("foreign.gpkg", "DROP TABLE alembic_version"),
        ("newer.gpkg", "UPDATE alembic_version SET version_num='9999'"),
        ("trigger.gpkg", "CREATE TRIGGER t AFTER INSERT ON ranking BEGIN DELETE FROM site; END"),
        ("view.gpkg", "DROP TABLE ranking"),
        ("shape.gpkg", "UPDATE site SET geom = x'00'"),
        ("nan.gpkg", "UPDATE ranking SET answer = 'no json'"),
        ("date.gpkg", "UPDATE site SET inspected_on = 'yesterday'"),
    ):
        path = folder / name
        shutil.copy(good, path)
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            register_functions(connection)
            for trigger in ("update1", "update2") if name == "shape.gpkg" else ():
                connection.execute(f"DROP TRIGGER rtree_site_geom_{trigger}")
            connection.execute(statement)
            if name == "view.gpkg":
                connection.execute("CREATE VIEW ranking AS SELECT * FROM job")
        yield path, StoreTooNew if name == "newer.gpkg" else StoreBroken
    yield folder / "nowhere.gpkg", StoreBroken
    yield folder, StoreBroken


@pytest.mark.parametrize("kind", KINDS)
def test_a_broken_or_foreign_file_is_never_half_imported(full, tmp_path, kind):
    store = full(kind)
    copying.backup(store.engine, tmp_path / "good.gpkg")
    sites.create(store.engine, "made", RAMP, "eve", "present")
    before = everything(store)
    for path, error in bad_files(tmp_path, tmp_path / "good.gpkg"):
        for take in (
            lambda path=path: copying.restore(store.engine, path, tmp_path / "kept"),
            lambda path=path: copying.import_from(store.engine, str(path)),
        ):
            with pytest.raises(error, match="Fix"):
                take()
            assert everything(store) == before, path.name


@pytest.mark.parametrize("kind", KINDS)
def test_a_copy_that_fails_in_the_middle_changes_nothing(full, new_store, kind):
    """The target fails at its 5th statement that adds rows: nothing of the copy stays."""
    source, target = full("file"), new_store(kind)
    sites.create(target.engine, "made", RAMP, "eve", "present")
    before, count = everything(target), 0

    def fail(connection, cursor, statement, *_):
        nonlocal count
        count += statement.lstrip().upper().startswith("INSERT")
        if count == 5:
            raise RuntimeError("the cable is pulled here")

    event.listen(target.engine, "before_cursor_execute", fail)
    with pytest.raises(RuntimeError):
        copying.copy_rows(source.engine, target.engine, replace=True)
    event.remove(target.engine, "before_cursor_execute", fail)
    assert everything(target) == before


@pytest.mark.parametrize("kind", KINDS)
def test_a_backup_that_cannot_be_written_leaves_what_was_there(full, tmp_path, kind):
    store = full(kind)
    folder = tmp_path / "taken"
    folder.write_text("a file stands where the folder should be")
    with pytest.raises(StoreUnreachable, match="Fix"):
        copying.backup(store.engine, folder / "backup.gpkg")
    target = tmp_path / "backup.gpkg"
    copying.backup(store.engine, target)
    first = target.read_bytes()
    with writing(store.engine) as connection:
        connection.execute(site.update().values(note="changed"))
    copying.backup(store.engine, target)
    assert target.read_bytes() != first and stat.S_ISREG(target.stat().st_mode)
    assert [p.name for p in tmp_path.iterdir() if "part" in p.name] == []


def test_the_three_commands(full, tmp_path, monkeypatch):
    """By the command line: a backup of one store, restored into a second, imported into a third."""
    source = full("postgis")
    runner = CliRunner()

    def run(*words, url=None, folder="a"):
        monkeypatch.setenv("FETCHWATER_DATA_DIR", str(tmp_path / folder))
        monkeypatch.delenv("FETCHWATER_STORE_URL", raising=False)
        if url is not None:
            monkeypatch.setenv("FETCHWATER_STORE_URL", url)
        done = runner.invoke(cli.app, [str(word) for word in words])
        return done.exit_code, done.output

    code, text = run("backup", tmp_path / "b.gpkg", url=address(source))
    assert code == 0 and "wrote" in text
    assert run("restore", tmp_path / "b.gpkg")[0] == 0
    code, text = run("import", address(source), "--json", folder="c")
    assert code == 0 and json.loads(text)["rows"]["site"] == 1
    for folder in ("a", "c"):
        store = embedded_store(tmp_path / folder)
        assert everything(store) == everything(source)
        store.close()
    (tmp_path / "noise.gpkg").write_bytes(b"noise" * 1000)
    assert run("restore", tmp_path / "noise.gpkg")[0] == 4
