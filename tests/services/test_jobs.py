"""Jobs for real: workers as processes, cancelled, killed and outlived. No test looks at how fast they are."""

import os
import signal
import time
from contextlib import contextmanager

import pytest
from fastapi.testclient import TestClient

from services.app import create_app
from services.core.jobs import MOST_WAITING
from services.settings import Settings
from services.store import jobs
from services.store.engine import writing
from services.store.tables import job
from tests.services.conftest import DEMO

PATIENCE_S = 120.0
HERE = ("127.0.0.1", 50000)


@contextmanager
def service(data_dir, **settings):
    with TestClient(create_app(Settings(region=DEMO, data_dir=data_dir, **settings)), client=HERE) as client:
        yield client


@pytest.fixture(scope="module")
def client(workspace, data_dir):
    with service(data_dir) as client:
        yield client


def wait_for(client, address, *states):
    for _ in range(int(PATIENCE_S / 0.1)):
        found = client.get(address).json()
        if found["state"] in states:
            return found
        time.sleep(0.1)
    raise AssertionError(f"still {found['state']}: {found}")


def test_a_survey_runs_off_the_request_and_gives_its_result(client, workspace):
    asked = client.post("/surveys", json={"levels": ["W04=58.1"]})
    assert asked.status_code == 202, asked.text
    address = asked.headers["location"]
    assert asked.json()["state"] in ("waiting", "running") and asked.json()["links"]["self"] == address
    assert client.get("/region").status_code == 200  # queries are answered meanwhile
    done = wait_for(client, address, "succeeded", "failed")
    assert done["state"] == "succeeded", done
    assert done["result"]["water_bodies"] == len(workspace.region.bodies)
    assert done["result"]["survey_key"] != workspace.survey_key
    # /water-bodies shows today, not what was asked.
    assert "result" not in done["links"]
    assert done["progress"]["done"] == done["progress"]["total"] and done["asked_by"] == "local user"
    assert client.get("/jobs").json()["jobs"][0]["job_id"] == done["job_id"]


def test_a_survey_of_the_region_as_it_is_keeps_the_service_answering_from_it(client, workspace):
    done = wait_for(client, client.post("/surveys", json={}).headers["location"], "succeeded", "failed")
    assert done["result"]["survey_key"] == client.get("/region").json()["survey_version"]
    assert client.get(done["links"]["result"]).status_code == 200


def test_a_fault_of_the_question_is_told_at_once_or_by_the_job(client):
    assert client.post("/surveys", json={"levels": ["nonsense"]}).status_code == 422
    assert client.post("/surveys", json={"heading": 1}).status_code == 422
    failed = wait_for(
        client, client.post("/surveys", json={"levels": ["no such=1m"]}).headers["location"], "failed"
    )
    assert failed["problem"]["status"] == 422 and "no such" in failed["problem"]["detail"]


def worker_of(client, address):
    """The worker's process, once it runs."""
    runner, job_id = client.app.state.jobs, address.rsplit("/", 1)[1]
    for _ in range(int(PATIENCE_S / 0.02)):
        worker = runner._mine.get(job_id)
        if worker is not None:
            return worker
        time.sleep(0.02)
    raise AssertionError("no worker")


def test_cancel_ends_the_worker(client):
    address = client.post("/surveys", json={"levels": ["W04=57.9"]}).headers["location"]
    worker = worker_of(client, address)
    assert client.delete(address).json()["state"] == "cancelled"
    assert worker.wait(20) == -signal.SIGKILL
    ended = client.get(address).json()
    assert ended["state"] == "cancelled" and ended["ended_at"] is not None and ended["result"] is None
    assert client.delete(address).json()["state"] == "cancelled"


def test_a_worker_that_dies_is_a_failure_with_its_reason(client):
    address = client.post("/surveys", json={"levels": ["W04=57.8"]}).headers["location"]
    worker = worker_of(client, address)
    os.kill(worker.pid, signal.SIGSEGV)
    failed = wait_for(client, address, "failed", "succeeded")
    assert failed["state"] == "failed"
    assert f"signal {signal.SIGSEGV.value}" in failed["problem"]["detail"]
    # The next job is served.
    after = client.post("/surveys", json={}).headers["location"]
    assert wait_for(client, after, "succeeded", "failed")["state"] == "succeeded"


def test_waiting_jobs_are_cancelled_and_counted(client):
    # More than one body at another level, so that the first is still at work.
    first = client.post("/surveys", json={"levels": ["W04=57.7", "W01=100m"]})
    addresses = [client.post("/surveys", json={"levels": [f"W04=57.{n:03d}"]}) for n in range(MOST_WAITING)]
    assert addresses[-1].status_code == 429 and addresses[-1].headers["retry-after"]
    for one in [first, *addresses]:
        if one.status_code == 202:
            assert client.delete(one.headers["location"]).json()["state"] in ("cancelled", "failed")


def test_unknown_jobs_are_404(client):
    for verb in (client.get, client.delete):
        answer = verb("/jobs/none")
        assert (answer.status_code, answer.headers["content-type"]) == (404, "application/problem+json")


def test_jobs_need_the_planner(workspace, data_dir):
    with service(data_dir, editing="tokens") as client:
        assert client.post("/surveys", json={}).status_code == 401
        assert client.get("/jobs").status_code == 200


def test_a_stopped_service_leaves_no_worker_and_no_job_open(workspace, data_dir):
    with service(data_dir) as client:
        address = client.post("/surveys", json={"levels": ["W04=57.6"]}).headers["location"]
        worker = worker_of(client, address)
    assert worker.wait(20) == -signal.SIGKILL
    entry = jobs.get(workspace.store.engine, address.rsplit("/", 1)[1])
    assert entry.state == "failed" and "stopped" in entry.problem["detail"]


def test_a_job_whose_service_was_killed_is_found_and_said_to_have_failed(client, workspace):
    engine = workspace.store.engine
    lost = jobs.add(engine, workspace.region.name, "survey", {}, "somebody")
    jobs.begin(engine, lost)
    assert client.get(f"/jobs/{lost}").json()["state"] == "running"
    with writing(engine) as connection:
        long_ago = jobs.get(engine, lost).asked_at.replace(year=2020)
        connection.execute(job.update().where(job.c.job_id == lost).values(beat_at=long_ago))
    found = client.get(f"/jobs/{lost}").json()
    assert found["state"] == "failed" and "service that ran it ended" in found["problem"]["detail"]


def test_what_ended_stays_ended(store):
    """On both stores: no later step changes a job that was cancelled."""
    job_id = jobs.add(store.engine, "r", "survey", {"levels": []}, "me")
    assert jobs.begin(store.engine, job_id) and not jobs.begin(store.engine, job_id)
    assert jobs.advance(store.engine, job_id, 1, 3, "Lake")
    assert jobs.cancel(store.engine, job_id)
    assert not jobs.advance(store.engine, job_id, 2, 3, "Pond")
    assert not jobs.succeed(store.engine, job_id, {}) and not jobs.fail(store.engine, job_id, {})
    entry = jobs.get(store.engine, job_id)
    assert (entry.state, entry.progress_done, entry.result) == ("cancelled", 1, None)
