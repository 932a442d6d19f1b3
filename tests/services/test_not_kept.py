"""A store that can be read but takes no writes: the answer of the day is given all the same, and says so first."""

import json
import os
import subprocess
import sys
from contextlib import contextmanager

import pytest
from fastapi.testclient import TestClient
from pydantic import SecretStr
from sqlalchemy import event, func, make_url, select

from services.app import create_app
from services.core import survey_worker
from services.core.workspace import open_workspace, today
from services.errors import StoreUnreachable
from services.settings import Settings
from services.store import jobs, surveys
from services.store.engine import reading
from services.store.store import embedded_store, open_store
from services.store.tables import ranking
from tests.needs import require
from tests.services.tiny_region import LAKES, write_tiny_region

HERE = ("127.0.0.1", 50000)
QUESTION = {"fire": "F1", "wind": "300/18kt", "oat": "24C", "qnh": "1009"}
WORDS = ("--fire", "F1", "--wind", "300/18kt", "--oat", "24C", "--qnh", "1009")


@pytest.fixture(scope="module")
def region(tmp_path_factory):
    return write_tiny_region(tmp_path_factory.mktemp("tiny") / "region")


def no_room(connection, _):
    """The limit of pages that SQLite itself keeps: a write beyond it is SQLITE_FULL, as on a full disk."""
    connection.execute("PRAGMA max_page_count=1")


@contextmanager
def full(engine):
    engine.dispose()
    event.listen(engine, "connect", no_room)
    try:
        yield
    finally:
        event.remove(engine, "connect", no_room)
        engine.dispose()


def rankings_kept(engine):
    with reading(engine) as connection:
        return connection.scalar(select(func.count()).select_from(ranking))


def test_a_full_disk_still_answers_over_http(region, tmp_path):
    with TestClient(create_app(Settings(region=region, data_dir=tmp_path)), client=HERE) as client:
        engine = client.app.state.workspace.store.engine
        kept = client.post("/rankings", json=QUESTION)
        assert kept.status_code == 201 and kept.headers["location"].endswith(kept.json()["ranking_id"])
        with full(engine):
            given = client.post("/rankings", json=QUESTION)
            assert given.status_code == 200 and "location" not in given.headers
            answer = given.json()
            assert answer["ranking_id"] is None
            assert answer["cautions"][0].startswith("not kept") and "full" in answer["cautions"][0]
            assert answer["cautions"][1:] == kept.json()["cautions"]
            assert answer["sources"] == kept.json()["sources"]
            # Other levels need a survey, which is not kept either.
            other = client.post("/rankings", json=QUESTION | {"levels": ["L1=101m"]})
            assert other.status_code == 200, other.text
            assert "survey is not kept" in other.json()["cautions"][1]
        assert client.post("/rankings", json=QUESTION).status_code == 201
        assert rankings_kept(engine) == 2


def test_a_service_that_starts_on_a_full_disk_keeps_what_it_can_later(region, tmp_path):
    """The survey and the layers are offered again with the next question."""
    store = embedded_store(tmp_path)
    with full(store.engine):
        opened = open_workspace(region, store)
    assert len(opened.not_kept) == 2 and len(opened.survey.bodies) == len(LAKES)
    again = today(opened)
    assert again.not_kept == () and surveys.find(
        store.engine, again.region.fingerprint, again.survey.settings
    )
    store.close()


def test_a_job_whose_survey_is_not_kept_has_failed(region, tmp_path, monkeypatch):
    """Its result is what the store holds."""
    monkeypatch.setenv("FETCHWATER_DATA_DIR", str(tmp_path))
    monkeypatch.setenv("FETCHWATER_REGION", str(region))
    store = embedded_store(tmp_path)
    job_id = jobs.add(store.engine, "Two lakes (invented)", "survey", {}, "me")
    jobs.begin(store.engine, job_id)

    def lost(*given):
        raise StoreUnreachable("no room")

    monkeypatch.setattr(surveys, "save", lost)
    survey_worker.run(job_id)
    entry = jobs.get(store.engine, job_id)
    assert entry.state == "failed" and "no room" in entry.problem["detail"]
    store.close()


def test_a_postgis_user_without_rights_is_answered(region, postgis_server, tmp_path):
    """A role that may only read: the server refuses the row (insufficient_privilege, 42501)."""
    address = postgis_server.empty()
    settings = Settings(region=region, data_dir=tmp_path, store_url=address)
    with TestClient(create_app(settings), client=HERE) as client:
        assert client.post("/rankings", json=QUESTION).status_code == 201
    url, reader = make_url(address), f"reader_{make_url(address).database}"
    engine = open_store(settings).engine
    with engine.begin() as connection:
        connection.exec_driver_sql(f"CREATE ROLE {reader} LOGIN PASSWORD 'for this test'")
        connection.exec_driver_sql(f"GRANT SELECT ON ALL TABLES IN SCHEMA public TO {reader}")
    try:
        mine = url.set(username=reader, password="for this test").render_as_string(hide_password=False)
        with TestClient(
            create_app(settings.model_copy(update={"store_url": SecretStr(mine)})), client=HERE
        ) as client:
            given = client.post("/rankings", json=QUESTION)
            assert given.status_code == 200, given.text
            assert given.json()["ranking_id"] is None
            assert "permission denied" in given.json()["cautions"][0]
            assert "for this test" not in given.text
            # Whatever must be kept to count is refused.
            row = {"body": "L1", "level": "101", "read_at": "2026-01-31T06:00Z"}
            assert client.post("/levels", json={"levels": [row]}).status_code == 503
        assert rankings_kept(engine) == 1
    finally:
        with engine.begin() as connection:
            connection.exec_driver_sql(f"DROP OWNED BY {reader}")
            connection.exec_driver_sql(f"DROP ROLE {reader}")
        engine.dispose()


def without_rights():
    """Words before a command so that file modes bind it: root passes them by a capability, which is given up."""
    if os.geteuid() != 0:
        return []
    require("setpriv")
    return ["setpriv", "--bounding-set=-all", "--inh-caps=-all"]


@pytest.fixture
def read_only_folder(region, tmp_path):
    folder = tmp_path / "data"
    store = embedded_store(folder)
    open_workspace(region, store)
    store.close()
    (folder / "fetchwater.gpkg").chmod(0o444)
    folder.chmod(0o555)
    yield folder
    folder.chmod(0o755)


def test_a_read_only_store_still_answers_at_the_terminal(region, read_only_folder):
    """Exit code 0; the caution is the first line, or the first caution of the document."""

    def run(*words):
        return subprocess.run(
            [*without_rights(), sys.executable, "-m", "services", *map(str, words)],
            capture_output=True,
            text=True,
            env=os.environ | {"FETCHWATER_DATA_DIR": str(read_only_folder), "COLUMNS": "150"},
            timeout=240,
            check=False,
        )

    told = run("rank", region, *WORDS)
    assert told.returncode == 0, told.stderr
    first = told.stdout.splitlines()[0]
    assert first.startswith("caution: not kept") and "fetchwater.gpkg" in first and "Fix" in first
    done = run("rank", region, *WORDS, "--json")
    answer = json.loads(done.stdout)
    assert done.returncode == 0 and answer["ranking_id"] is None and len(answer["sources"]) == len(LAKES)
    assert answer["cautions"][0].startswith("not kept")
    # A sheet prints what was kept.
    paper = run("sheet", region, *WORDS, "--out", read_only_folder.parent / "sheets")
    assert paper.returncode == 4 and "rank --out" in paper.stderr
    assert not (read_only_folder.parent / "sheets").exists()
    assert [path.name for path in read_only_folder.iterdir()] == ["fetchwater.gpkg"]
