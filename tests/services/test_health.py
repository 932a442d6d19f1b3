"""/health is answered whatever else the service does. No test looks at how fast: it is answered, or it never is."""

import gc
from concurrent.futures import ThreadPoolExecutor

import anyio.to_thread
import pytest
from fastapi.testclient import TestClient

from services.app import COMPUTING_AT_ONCE, create_app
from services.settings import Settings
from tests.services.tiny_region import write_tiny_region


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    folder = tmp_path_factory.mktemp("tiny")
    settings = Settings(region=write_tiny_region(folder / "region"), data_dir=folder / "data")
    with TestClient(create_app(settings)) as client:
        yield client


def test_health_needs_none_of_the_computing_threads(client):
    """All of them are held up, as by long answers, and more requests wait: /health does not stand in that row."""

    async def busy():
        return anyio.to_thread.current_default_thread_limiter().borrowed_tokens

    with ThreadPoolExecutor(COMPUTING_AT_ONCE + 3) as pool:
        with client.app.state.workspace_lock:
            held = [pool.submit(client.get, "/region") for _ in range(COMPUTING_AT_ONCE + 2)]
            while client.portal.call(busy) < COMPUTING_AT_ONCE:
                assert not any(one.done() for one in held)
            answer = pool.submit(client.get, "/health")
            try:
                assert answer.result(30).json() == {"status": "ok"}
            finally:
                assert not any(one.done() for one in held)
        assert [one.result(60).status_code for one in held] == [200] * len(held)


def test_the_region_s_records_are_not_walked_by_the_collector(client):
    """A full collection stops every thread for as long as it walks them."""
    known = {id(one) for one in gc.get_objects()}
    workspace = client.app.state.workspace
    for record in (workspace.region, workspace.survey, workspace.survey.bodies[0]):
        assert gc.is_tracked(record) and id(record) not in known
