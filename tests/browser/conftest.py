"""Real Chromium against the real service on loopback. Skipped with the reason where there is no Chromium.

Every page of a test is watched: a request to any other host is refused and fails the test, and so does an error of a
script. The region is the tiny invented one with a pond that is too small, soundings, a wire, a no-fly area and a base.
"""

import json
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit

import numpy as np
import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from services.app import create_app
from services.settings import Settings
from tests.needs import CHROMIUM, require
from tests.services.tiny_region import LAKES, write_tiny_region

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PHONE, TABLET, DESKTOP = (390, 844), (820, 1180), (1366, 850)
SIZES = [
    pytest.param(PHONE, id="phone"),
    pytest.param(TABLET, id="tablet", marks=pytest.mark.slow),
    pytest.param(DESKTOP, id="desktop"),
]
# Size and theme: each of both in every run, all pairs of them in the slow one.
LOOKS = [
    pytest.param(PHONE, "dark", id="phone-dark"),
    pytest.param(DESKTOP, "light", id="desktop-light"),
    pytest.param(PHONE, "light", id="phone-light", marks=pytest.mark.slow),
    pytest.param(DESKTOP, "dark", id="desktop-dark", marks=pytest.mark.slow),
]
PATIENCE_MS = 20_000


def _box(west: float, south: float, east: float, north: float) -> list:
    return [[[west, south], [east, south], [east, north], [west, north], [west, south]]]


def _features(path: Path, shapes: list[tuple[dict, dict]]) -> None:
    features = [{"type": "Feature", "properties": own, "geometry": shape} for own, shape in shapes]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))


def write_browser_region(folder: Path) -> Path:
    """Write the tiny region with what a page must show beside the water."""
    write_tiny_region(folder)
    lakes = json.loads((folder / "lakes.geojson").read_text())
    pond = json.loads(json.dumps(lakes["features"][0]))
    pond["properties"] |= {"id": "P1", "name": "Small Pond", "kind": "pond"}
    pond["geometry"]["coordinates"] = _box(-128.0, -47.02, -127.9995, -47.0197)
    lakes["features"].append(pond)
    (folder / "lakes.geojson").write_text(json.dumps(lakes))
    west, south, east, north = LAKES["L1"]
    x, y = (
        part.ravel()
        for part in np.meshgrid(np.linspace(west, east, 40)[1:-1], np.linspace(south, north, 20)[1:-1])
    )
    rows = "".join(f"{a:.6f},{b:.6f},{5.5 + 0.2 * np.sin(900 * a):.2f}\n" for a, b in zip(x, y, strict=True))
    (folder / "soundings.csv").write_text("lon,lat,depth\n" + rows)
    wire = {"type": "LineString", "coordinates": [[-128.03, -47.0], [-128.02, -46.99]]}
    _features(
        folder / "obstacles.geojson",
        [({"id": "O1", "name": "Valley line", "kind": "wire", "high": 30.0}, wire)],
    )
    shut = {"type": "Polygon", "coordinates": _box(-127.96, -46.98, -127.95, -46.97)}
    closure = {"id": "C1", "name": "Nesting cliff", "kind": "no flying", "why": "birds"}
    _features(folder / "closures.geojson", [(closure, shut)])
    with (folder / "region.toml").open("a") as text:
        text.write(
            '[soundings]\nfile = "soundings.csv"\ncrs = "EPSG:4326"\nunit = "metre"\npositive = "down"\n'
            'survey_order = "1a"\n[soundings.columns]\nlongitude = "lon"\nlatitude = "lat"\ndepth = "depth"\n'
            '[obstacles]\nfile = "obstacles.geojson"\nvertical_unit = "metre"\n[obstacles.columns]\nid = "id"\n'
            'name = "name"\nkind = "kind"\nheight_above_ground = "high"\n[closures]\nfile = "closures.geojson"\n'
            '[closures.columns]\nid = "id"\nname = "name"\nkind = "kind"\nreason = "why"\n'
            '[base]\nname = "Plain strip"\nlongitude = -128.03\nlatitude = -47.02\n'
        )
    return folder


class Service:
    """The service in a thread of its own, on a free port of loopback."""

    def __init__(self, region: Path, data_dir: Path, **settings: object) -> None:
        given = {"survey_at_start": True} | settings
        app = create_app(Settings(region=region, data_dir=data_dir, **given))
        config = uvicorn.Config(app, "127.0.0.1", 0, log_level="error", ws="none", lifespan="on")
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, daemon=True)
        self._thread.start()
        while not self._server.started:
            assert self._thread.is_alive(), "the service did not start"
            time.sleep(0.02)
        port = self._server.servers[0].sockets[0].getsockname()[1]
        self.address = f"http://127.0.0.1:{port}/"

    def stop(self) -> None:
        """End the service and close its store."""
        self._server.should_exit = True
        self._thread.join(30)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium, started once."""
    require("Chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def service(browser: Browser, tmp_path_factory) -> Iterator[Service]:
    """The service over a store that was empty when it started."""
    folder = tmp_path_factory.mktemp("browser")
    service = Service(write_browser_region(folder / "region"), folder / "store")
    yield service
    service.stop()


def watched(context: BrowserContext, address: str, strange: list[str]) -> None:
    """Refuse every request to another host, and note it."""
    own = urlsplit(address).netloc

    def answer(route) -> None:
        strange.append(route.request.url)
        route.abort()

    context.route(lambda url: urlsplit(url).netloc != own and not url.startswith(("data:", "blob:")), answer)


@pytest.fixture
def open_page(browser: Browser, service: Service) -> Iterator[Callable[..., Page]]:
    """Give a maker of pages, each in a browser of its own memory; at the end nothing strange may have happened."""
    strange: list[str] = []
    contexts: list[BrowserContext] = []

    def make(
        path: str = "", size: tuple[int, int] = DESKTOP, context: BrowserContext | None = None, **more
    ) -> Page:
        if context is None:
            context = browser.new_context(viewport={"width": size[0], "height": size[1]}, **more)
            context.set_default_timeout(PATIENCE_MS)
            watched(context, service.address, strange)
            contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: strange.append(f"script: {error}"))
        page.goto(service.address + path)
        return page

    yield make
    for context in contexts:
        context.close()
    assert strange == []


@pytest.fixture
def api(browser: Browser, service: Service):
    """Requests beside the page, as another user of the service makes them."""
    context = browser.new_context(base_url=service.address)
    yield context.request
    context.close()


def answered(page: Page) -> None:
    """Wait until the whole answer stands."""
    page.wait_for_selector(".row")
    page.wait_for_selector("#answers:not([aria-busy])")
    page.wait_for_selector("#kept a")
