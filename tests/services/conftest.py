"""The demo region, surveyed once for all tests of the services, and stores of both kinds."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from uuid import uuid4

import psycopg
import pytest
from sqlalchemy import make_url

from services.core.workspace import open_workspace
from services.settings import Settings
from services.store.store import Store, embedded_store, open_store
from tests.made_once import DEMO, demo_store
from tests.needs import require
from tests.services import postgis

# The services of these tests answer at once: none is to wait for somebody who starts the survey on its page.
os.environ.setdefault("FETCHWATER_SURVEY_AT_START", "true")
# The name by which the framework's test client asks.
os.environ.setdefault("FETCHWATER_HOST_NAMES", "testserver")


@pytest.fixture(scope="session")
def data_dir(tmp_path_factory):
    """A store of this worker's own that holds the demo region's survey."""
    return demo_store(tmp_path_factory)


@pytest.fixture(scope="session")
def workspace(data_dir):
    return open_workspace(DEMO, embedded_store(data_dir))


class PostgisServer:
    """A PostGIS server that gives databases: empty ones, or with a store of today's schema in them."""

    def __init__(self, address: str) -> None:
        self.address = address
        self._template: str | None = None
        self._made: list[str] = []

    def run(self, statement: str) -> None:
        with psycopg.connect(self.address, autocommit=True) as connection:
            connection.execute(statement)

    def of(self, name: str) -> str:
        return make_url(self.address).set(database=name).render_as_string(hide_password=False)

    def empty(self, template: str | None = None) -> str:
        name = f"fetchwater_test_{uuid4().hex[:10]}"
        self.run(f'CREATE DATABASE "{name}"' + (f' TEMPLATE "{template}"' if template else ""))
        self._made.append(name)
        return self.of(name)

    def with_store(self, folder: Path) -> str:
        if self._template is None:
            address = self.empty()
            open_store(Settings(data_dir=folder, store_url=address)).close()
            self._template = make_url(address).database
        return self.empty(self._template)

    def drop_all(self) -> None:
        for name in self._made:
            self.run(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


@pytest.fixture(scope="session")
def postgis_server() -> Iterator[PostgisServer]:
    """PostGIS for real; skipped with the reason only where there is none."""
    require("PostGIS")
    with postgis.cluster() as address:
        server = PostgisServer(address)
        yield server
        server.drop_all()


@pytest.fixture
def new_store(request, tmp_path) -> Iterator[Callable[[str], Store]]:
    """Give a maker of stores, "file" or "postgis", each empty and for this test alone."""
    made: list[Store] = []

    def make(kind: str) -> Store:
        folder = tmp_path / f"store{len(made)}"
        url = None
        if kind == "postgis":
            url = request.getfixturevalue("postgis_server").with_store(tmp_path)
        made.append(open_store(Settings(data_dir=folder, store_url=url)))
        return made[-1]

    yield make
    for store in made:
        store.close()


@pytest.fixture(params=["file", "postgis"])
def store(request, new_store) -> Store:
    """One contract, run on both databases."""
    return new_store(request.param)
