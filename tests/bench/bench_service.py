"""The service on loopback: pages of features, rankings over HTTP, many readers while a survey runs.

The server, the readers and the clock are processes of their own. Wall time. Baselines: the same
ranking without HTTP; /health idle.
"""

import http.client
import json
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import numpy as np
import shapely
import uvicorn

from geo.ingest.layers.aircraft import load_profile
from geo.records.question import RankingQuestion
from services.app import create_app
from services.core import quantities
from services.core.workspace import ask, open_workspace
from services.settings import Settings
from services.store.engine import writing
from services.store.layers import bump
from services.store.store import embedded_store
from services.store.tables import water_body
from tests.bench.bench_job import DEMO
from tests.services.feature_samples import MADE, REGION, features_app, fill
from tests.services.postgis import free_port

BODIES = 100_000
READERS = 50
READ_S = 20.0
WATER = "/ogc/collections/water_bodies/items"
RANKING = {"fire": "F1", "wind": "300/18kt", "oat": "34C", "qnh": "1009"}


def get(port: int, path: str) -> bytes:
    """Ask on a new connection; anything but 200 is an error."""
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=60)) as connection:
        connection.request("GET", path)
        answer = connection.getresponse()
        body = answer.read()
        if answer.status != 200:
            raise RuntimeError(f"{answer.status} {path}: {body[:200]!r}")
        return body


def post(port: int, path: str, body: dict) -> dict:
    """Send JSON; give JSON."""
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=120)) as connection:
        connection.request("POST", path, json.dumps(body), {"content-type": "application/json"})
        answer = connection.getresponse()
        text = answer.read()
        if answer.status >= 300:
            raise RuntimeError(f"{answer.status} {path}: {text[:200]!r}")
        return json.loads(text)


def taken_ms(work: Callable[[], object], times: int) -> list[float]:
    """Give how long each of some calls took [ms]."""
    found = []
    for _ in range(times):
        begun = time.perf_counter()
        work()
        found.append(1000.0 * (time.perf_counter() - begun))
    return found


def fill_large(folder: Path) -> None:
    """Put 100,000 water bodies of 40 vertices beside the sample's."""
    store = embedded_store(folder)
    fill(store.engine)
    rng = np.random.default_rng(1)
    turn = np.linspace(0.0, 2.0 * np.pi, 41)
    rows = []
    for number in range(BODIES):
        radius = rng.lognormal(-6.0, 0.7) * (1.0 + 0.3 * rng.random(41))
        radius[-1] = radius[0]
        east, north = rng.uniform(100.0, 150.0), rng.uniform(-45.0, -10.0)
        ring = np.column_stack([east + radius * np.cos(turn), north + radius * np.sin(turn)])
        row = {"body_id": f"N{number}", "name": f"water {number}", "kind": "dam", "longest_run_m": 800.5}
        shape = shapely.Polygon(ring)
        common = {"region_id": REGION, "body_key": "k", "surveyed_at": MADE, "elevation_origin": "terrain"}
        rows.append(
            row | common | {"area_m2": 1e10 * shape.area, "perimeter_m": 1e5 * shape.length, "geom": shape}
        )
    with writing(store.engine) as connection:
        connection.execute(water_body.insert(), rows)
        bump(connection, "survey")
    store.close()


@contextmanager
def served(kind: str, folder: Path) -> Iterator[int]:
    """Give the port of a server process on a store folder: "features" or "region"."""
    port = free_port()
    server = subprocess.Popen(
        [sys.executable, "-m", "tests.bench.bench_service", kind, str(folder), str(port)]
    )
    try:
        for _ in range(1200):
            try:
                get(port, "/ogc/conformance")
                break
            except OSError:
                time.sleep(0.1)
        yield port
    finally:
        server.terminate()
        server.wait(30)


def serve(kind: str, folder: str, port: str) -> None:
    """Be the server process."""
    data = Path(folder)
    if kind == "features":
        app = features_app(embedded_store(data).engine)
    else:
        app = create_app(Settings(region=DEMO, data_dir=data))
    uvicorn.run(app, port=int(port), log_level="error")


def read_for(port: str, seconds: str) -> None:
    """Be the readers' process: 50 threads that ask at once; prints how many answers came and every error."""
    paths = (
        f"{WATER}?limit=20",
        "/ogc/collections",
        "/region",
        f"{WATER}/W01",
        "/water-bodies/W01",
    )
    until, counts, errors = time.monotonic() + float(seconds), [0] * READERS, []

    def reader(number: int) -> None:
        while time.monotonic() < until:
            try:
                get(int(port), paths[(number + counts[number]) % len(paths)])
                counts[number] += 1
            except Exception as error:
                errors.append(repr(error))

    threads = [threading.Thread(target=reader, args=(number,)) for number in range(READERS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    print(json.dumps({"answers": sum(counts), "errors": errors[:5], "failed": len(errors)}))


def pages(folder: Path) -> None:
    """Pages and boxes of 100,000 bodies."""
    fill_large(folder)
    rng = np.random.default_rng(2)

    def box() -> str:
        west, south = rng.uniform(101.0, 148.0), rng.uniform(-44.0, -12.0)
        return f"{WATER}?limit=1000&bbox={west:.3f},{south:.3f},{west + 1.0:.3f},{south + 1.0:.3f}"

    with served("features", folder) as port:
        get(port, f"{WATER}?limit=1000")
        page = taken_ms(lambda: get(port, f"{WATER}?limit=1000&offset={rng.integers(0, 5000)}"), 40)
        boxes = taken_ms(lambda: get(port, box()), 60)
    print(f"page of 1,000 features of {BODIES:,}: {statistics.median(page):8.1f} ms median (asked: under 50)")
    print(
        f"box of about 57 of {BODIES:,}:        {statistics.median(boxes):8.1f} ms median (asked: under 50)"
    )


def rankings(port: int, folder: Path) -> None:
    """A ranking over HTTP beside the same call without it, in turns."""
    workspace = open_workspace(DEMO, embedded_store(folder))
    fire, profile = workspace.region.fires[0], load_profile("heavy_tank_helicopter")
    weather = quantities.weather("300/18kt", "34C", "1009", "0m", None)
    question = RANKING | {"fire": fire.fire_id}
    plain: list[float] = []
    over: list[float] = []
    for _ in range(12):
        plain += taken_ms(
            lambda: ask(
                workspace, RankingQuestion(workspace.region, workspace.survey, fire, profile, weather)
            ),
            1,
        )
        over += taken_ms(lambda: post(port, "/rankings", question), 1)
    ours, theirs = statistics.median(over[2:]), statistics.median(plain[2:])
    print(f"ranking over HTTP:                    {ours:8.1f} ms median")
    print(
        f"the same call without HTTP:           {theirs:8.1f} ms median; "
        f"HTTP adds {ours / theirs - 1.0:+.0%} (asked: under 15 %)"
    )


def readers(port: int) -> None:
    """50 readers while a survey runs: errors, and how long /health takes."""
    idle = taken_ms(lambda: get(port, "/health"), 100)
    job = post(port, "/surveys", {"levels": ["W04=57.5"]})
    words = [sys.executable, "-m", "tests.bench.bench_service", "read", str(port), str(READ_S)]
    crowd = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
    found: list[float] = []
    while crowd.poll() is None:
        found += taken_ms(lambda: get(port, "/health"), 1)
        time.sleep(0.02)
    said = json.loads(crowd.communicate()[0])
    state = json.loads(get(port, job["links"]["self"]))["state"]
    print(
        f"{READERS} readers for {READ_S:.0f} s, survey {state}: {said['answers']} answers, "
        f"{said['failed']} errors {said['errors']}"
    )
    print(
        f"/health meanwhile, 99th of {len(found)}:        {np.percentile(found, 99):8.1f} ms (asked: under 100)"
    )
    print(f"/health idle, 99th of {len(idle)}:            {np.percentile(idle, 99):8.1f} ms")


def main() -> None:
    """Print the figures of the service."""
    with tempfile.TemporaryDirectory() as large:
        pages(Path(large))
    with (
        tempfile.TemporaryDirectory() as own,
        tempfile.TemporaryDirectory() as beside,
        served("region", Path(own)) as port,
    ):
        rankings(port, Path(beside))
        readers(port)


if __name__ == "__main__":
    words = sys.argv[1:]
    if not words:
        main()
    elif words[0] == "read":
        read_for(*words[1:])
    else:
        serve(*words)
