"""Two services on one store, and a service that is told to end in the middle of a job: processes for real.

No lost write, nothing counted twice, no job that is said to run for ever. No test looks at how fast they are.
"""

import json
import os
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager

import pytest
from sqlalchemy import func, select

from services.settings import Settings
from services.store import jobs, layers, sites
from services.store.engine import reading, writing
from services.store.store import open_store
from services.store.tables import body_survey, job, ranking, site_change, survey, water_body
from tests.services.postgis import free_port
from tests.services.tiny_region import LAKES, write_tiny_region

QUESTION = {"fire": "F1", "wind": "300/18kt", "oat": "24C", "qnh": "1009"}
PATIENCE_S = 120.0
pytestmark = pytest.mark.early


class Service:
    """A `fetchwater serve` in a process of its own."""

    def __init__(self, region, environment, log):
        self.port, self.log = free_port(), log
        words = [
            sys.executable,
            "-m",
            "services",
            "serve",
            str(region),
            "--survey-first",
            "--port",
            str(self.port),
        ]
        with log.open("w") as said:
            self.process = subprocess.Popen(words, env=environment, stderr=said)

    def ask(self, method, path, body=None, **headers):
        """Give status, headers and document; a refusal is an answer like any other."""
        request = urllib.request.Request(
            f"http://127.0.0.1:{self.port}{path}",
            None if body is None else json.dumps(body).encode(),
            {
                "content-type": "application/json",
                **{name.replace("_", "-"): text for name, text in headers.items()},
            },
            method=method,
        )
        try:
            with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
                return answer.status, answer.headers, json.loads(answer.read() or b"null")
        except urllib.error.HTTPError as refused:
            return refused.code, refused.headers, json.loads(refused.read())

    def ready(self):
        for _ in range(int(PATIENCE_S / 0.1)):
            assert self.process.poll() is None, self.log.read_text()
            try:
                return self.ask("GET", "/health")[0] == 200
            except OSError:
                time.sleep(0.1)
        raise AssertionError("no answer")

    def job(self, address, *states):
        for _ in range(int(PATIENCE_S / 0.1)):
            found = self.ask("GET", address)[2]
            if found["state"] in states:
                return found
            time.sleep(0.1)
        raise AssertionError(f"still {found}")

    def end(self, how=signal.SIGTERM):
        """End it; give the code and what it said."""
        self.process.send_signal(how)
        return self.process.wait(60), self.log.read_text()

    def kill(self):
        """End it whatever happened."""
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(20)


def empty_store(kind, request, folder):
    """A region, and an empty store of either kind."""
    url = request.getfixturevalue("postgis_server").empty() if kind == "postgis" else None
    region = write_tiny_region(folder / "region")
    return Settings(region=region, data_dir=folder / "data", store_url=url)


@contextmanager
def serving(settings, count=2):
    environment = os.environ | {"FETCHWATER_DATA_DIR": str(settings.data_dir)}
    if settings.store_url is not None:
        environment["FETCHWATER_STORE_URL"] = settings.store_url.get_secret_value()
    with ExitStack() as stack:
        services = []
        for number in range(count):
            log = settings.data_dir.parent / f"service{number}.log"
            services.append(Service(settings.region, environment, log))
            stack.callback(services[-1].kill)
        assert all(one.ready() for one in services)
        yield services
        for one in services:
            if one.process.poll() is None:
                one.end()


# How PostGIS bears many at once, test_store_concurrency sees in every run.
@pytest.fixture(scope="module", params=["file", pytest.param("postgis", marks=pytest.mark.slow)])
def pair(request, tmp_path_factory):
    """Two services that were started at once on an empty store, and its settings."""
    settings = empty_store(request.param, request, tmp_path_factory.mktemp("pair"))
    with serving(settings) as services:
        yield settings, services


def rows(engine, table):
    with reading(engine) as connection:
        return connection.scalar(select(func.count()).select_from(table))


def test_two_services_write_into_one_store(pair):
    """Both are started at once on an empty store, and asked and edited through at once."""
    settings, services = pair
    made = services[0].ask(
        "POST", "/sites", {"name": "ramp", "longitude_deg": -128.01, "latitude_deg": -47.008}
    )
    assert made[0] == 201
    at = f"/sites/{made[2]['site_id']}"

    def edit(number):
        """Read, change, and begin anew where the other was faster, until it is written."""
        service = services[number % 2]
        for _ in range(200):
            _, headers, seen = service.ask("GET", at)
            note = f"{seen['note'] or ''}{number};"
            status, *_ = service.ask("PATCH", at, {"note": note}, if_match=headers["etag"])
            if status == 200:
                return number
            assert status == 412
        raise AssertionError("never written")

    def ask(number):
        return services[number % 2].ask("POST", "/rankings", QUESTION | {"top": 1})

    def read_level(number):
        row = {
            "body": ("L1", "L2")[number % 2],
            "level": f"{100 + number / 100}",
            "read_at": "2026-01-31T06:00Z",
        }
        return services[number % 2].ask("POST", "/levels", {"levels": [row]})[0]

    with ThreadPoolExecutor(12) as pool:
        edits = [pool.submit(edit, number) for number in range(12)]
        asked = [pool.submit(ask, number) for number in range(8)]
        levels = [pool.submit(read_level, number) for number in range(4)]
        written = sorted(one.result() for one in edits)
        answers = [one.result() for one in asked]
        assert [one.result() for one in levels] == [200] * 4
    assert written == list(range(12))
    for service in services:
        note = service.ask("GET", at)[2]["note"]
        assert sorted(int(part) for part in note.split(";")[:-1]) == list(range(12))
    # Each answer is kept under its own id, and either service finds it.
    ids = {answer[2]["ranking_id"] for answer in answers}
    assert [answer[0] for answer in answers] == [201] * 8 and len(ids) == 8
    for number, one in enumerate(ids):
        assert services[number % 2].ask("GET", f"/rankings/{one}")[0] == 200
    # Both answer from the same levels and sites, and the layers show that survey.
    versions = {service.ask("GET", "/region")[2]["survey_version"] for service in services}
    assert len(versions) == 1
    store = open_store(settings)
    assert {layers.published_survey(store.engine, "Two lakes (invented)")} == versions
    assert rows(store.engine, ranking) == 8 and rows(store.engine, water_body) == len(LAKES)
    assert rows(store.engine, site_change) == 13
    with reading(store.engine) as connection:
        for column in (survey.c.survey_key, body_survey.c.body_key):
            kept = connection.scalars(select(column)).all()
            assert len(kept) == len(set(kept))
    assert sites.get(store.engine, made[2]["site_id"]).revision == 13
    store.close()


def test_a_survey_made_by_one_is_answered_from_by_the_other(pair):
    """A file of the region is changed; one service surveys it off the request; both, and the layers, show it."""
    settings, (first, second) = pair
    before = second.ask("GET", "/region")[2]
    toml = settings.region / "region.toml"
    toml.write_text(toml.read_text().replace("error_m = 0.5", "error_m = 0.75"))
    done = first.job(first.ask("POST", "/surveys", {})[2]["links"]["self"], "succeeded", "failed")
    assert done["state"] == "succeeded", done
    shown = second.ask("GET", "/region")[2]
    assert shown["survey_version"] == done["result"]["survey_key"] != before["survey_version"]
    assert shown["input_fingerprint"] == done["result"]["input_fingerprint"]
    # A change of the day through the second does not bring the old survey back.
    row = {"id": "C1", "kind": "no filling", "reason": "boats", "body": "L1"}
    assert second.ask("POST", "/closures", {"closures": [row]})[0] == 200
    assert second.ask("POST", "/rankings", QUESTION)[0] == 201
    store = open_store(settings)
    assert layers.published_survey(store.engine, "Two lakes (invented)") == done["result"]["survey_key"]
    store.close()


def slow_job(service, level="99.5"):
    """A survey of both waters at another level; its address."""
    status, headers, _ = service.ask("POST", "/surveys", {"levels": [f"L1={level}", f"L2={level}"]})
    assert status == 202
    return headers["location"]


def test_jobs_of_a_service_that_is_ended_come_to_their_end(pair):
    """Cancelled through another service, told to end in the middle (SIGTERM), killed (SIGKILL): none runs for ever.

    The last test of the two services, because it ends them.
    """
    settings, (first, second) = pair
    address = slow_job(first)
    assert second.ask("GET", address)[2]["state"] in ("waiting", "running", "succeeded")
    ended = second.ask("DELETE", address)[2]["state"]
    assert ended in ("cancelled", "succeeded")
    # The worker of the first took note: its next job is served.
    after = first.job(slow_job(first, "99.6"), "succeeded", "failed")
    assert after["state"] == "succeeded", after
    assert first.ask("GET", address)[2]["state"] == ended

    addresses = [slow_job(first, f"99.7{number}") for number in range(3)]
    first.job(addresses[0], "running", "succeeded")
    code, said = first.end()
    assert code in (0, -signal.SIGTERM) and "Traceback" not in said, said
    assert workers_of(addresses) == []
    found = [second.ask("GET", one)[2] for one in addresses]
    assert all(one["state"] in ("failed", "succeeded") and one["ended_at"] for one in found), found
    assert found[-1]["problem"]["detail"].startswith("the service was stopped")
    after = second.job(slow_job(second, "99.8"), "succeeded", "failed")
    assert after["state"] == "succeeded", after

    address = slow_job(second, "99.9")
    second.job(address, "running", "succeeded")
    # The job says that it runs before its worker is started: a worker not yet born could not be seen to end.
    wait_for(lambda: workers_of([address]) or second.ask("GET", address)[2]["ended_at"])
    second.end(signal.SIGKILL)
    wait_for(lambda: not workers_of([address]))
    store = open_store(settings)
    job_id = address.rsplit("/", 1)[1]
    entry = jobs.get(store.engine, job_id)
    if entry.state == "running":
        # What the clock would do: the last beat lies further back than three of them.
        with writing(store.engine) as connection:
            past = entry.started_at.replace(year=2020)
            connection.execute(job.update().where(job.c.job_id == job_id).values(beat_at=past))
    store.close()
    with serving(settings, 1) as (again,):
        assert again.ask("GET", address)[2]["state"] in ("failed", "succeeded")
        assert [one for one in again.ask("GET", "/jobs")[2]["jobs"] if one["ended_at"] is None] == []


def wait_for(fulfilled):
    """Wait until it is so. Raises: AssertionError when it is not in time."""
    for _ in range(int(PATIENCE_S / 0.1)):
        if fulfilled():
            return
        time.sleep(0.1)
    raise AssertionError("waited in vain")


def workers_of(addresses):
    """Processes that still work on these jobs (Linux: by their command lines)."""
    ids = {address.rsplit("/", 1)[1] for address in addresses}
    listing = subprocess.run(["ps", "-eo", "pid,args"], capture_output=True, text=True, check=True).stdout
    lines = [line for line in listing.splitlines() if "services.core.survey_worker" in line]
    return [line for line in lines if any(one in line for one in ids)]
