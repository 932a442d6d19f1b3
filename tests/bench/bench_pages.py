"""The map page in Chromium with thousands of waters: how soon the first rows stand, how often a drag is answered.

The waters are made at random (tests/ranking/random_regions.py), wholly invented. Wall time; the service is a thread
beside the browser on the same machine, the browser's processor is slowed down four times where that is said.
Baseline of the first answer: the same page with its ranking alone asked over HTTP, without a browser.
"""

import json
import os
import statistics
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

import services.app as service_app
from services.store.store import Store
from services.store.surveys import SurveyRun
from services.workspace import Workspace
from tests.browser.conftest import CHROMIUM, FLAGS, Service
from tests.ranking.random_regions import Recipe, made

SLOWER = 4
DRAG_S = 4.0
FIRST_ROW = """
new MutationObserver((_, watch) => { if (document.querySelector('.row')) {
  window.firstRowMs = performance.now(); watch.disconnect(); } }).observe(document, {childList: true, subtree: true});
"""


@contextmanager
def served(waters: int) -> Iterator[Service]:
    """Serve a made region: its survey is put into an empty store as if it had been surveyed."""
    region, survey = made(Recipe(waters, 400, 150.0, 900.0, closed=5, good_share=0.3), 2)
    keys = tuple(one.body_id for one in survey.bodies)

    def opened(folder: Path, store: Store) -> Workspace:
        store.save_survey(SurveyRun(survey, keys, {}, 0.0))
        return Workspace(region, survey, store, files=region, day_revision=store.revision("day"))

    was, service_app.open_workspace = service_app.open_workspace, opened  # type: ignore[assignment]
    try:
        with tempfile.TemporaryDirectory() as folder:
            service = Service(Path(folder), Path(folder) / "store")
            yield service
            service.stop()
    finally:
        service_app.open_workspace = was


def page_at(browser: Browser, address: str, wind_deg: int) -> Page:
    """Open the map page in a new browser memory, asking for that wind, with the processor slowed down."""
    page = browser.new_context(viewport={"width": 1366, "height": 850}).new_page()
    page.add_init_script(
        f"localStorage.setItem('fetchwater.question', JSON.stringify({{wind_from_deg: {wind_deg}}}))"
    )
    page.add_init_script(FIRST_ROW)
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    page.goto(address)
    page.wait_for_selector(".row", timeout=120_000)
    return page


def first_row_s(page: Page) -> float:
    """Give the seconds from the start of the page's load to its first row, by the page's own clock."""
    return page.evaluate("window.firstRowMs") / 1000.0


def plain_answer_s(address: str, wind_deg: int) -> tuple[float, int]:
    """Ask for the first ten without a browser. Returns: seconds, bytes."""
    region = json.load(urllib.request.urlopen(address + "region"))
    question = {
        "fire": region["fires"][0]["fire_id"],
        "wind": f"{wind_deg}/5.14m/s",
        "oat": "30C",
        "qnh": "1013",
        "top": 10,
    }
    request = urllib.request.Request(
        address + "answers", json.dumps(question).encode(), {"content-type": "application/json"}
    )
    begun = time.perf_counter()
    size = len(urllib.request.urlopen(request).read())
    return time.perf_counter() - begun, size


def first_answer(browser: Browser) -> None:
    """5,000 waters: cold and warm."""
    with served(5_000) as service:
        cold = first_row_s(page_at(browser, service.address, 300))
        warm = []
        for wind in (210, 20, 120):
            page = page_at(browser, service.address, wind)
            warm.append(first_row_s(page))
            page.wait_for_selector("#kept a", timeout=120_000)
            page.context.close()
        plain = statistics.median(plain_answer_s(service.address, wind)[0] for wind in (211, 21, 121))
    print(f"first rows with 5,000 waters, browser {SLOWER} times slower, first question:   {cold:6.2f} s")
    print(
        f"the same, median of three other winds:                            {statistics.median(warm):6.2f} s"
    )
    print(f"of that the answer over HTTP without a browser (median of three): {plain:6.2f} s")


def dragged(browser: Browser) -> None:
    """1,000 waters: answers shown in a second while the wind's arrow is dragged round."""
    with served(1_000) as service:
        page = page_at(browser, service.address, 300)
        page.wait_for_selector("#kept a", timeout=120_000)
        for slower in (1, SLOWER):
            page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slower})
            count, took = _drag(page)
            print(
                f"answers shown while dragging, 1,000 waters, browser slowed {slower} times:     {count / took:6.1f} /s"
            )
        times = [plain_answer_s(service.address, wind) for wind in range(31, 41)]
    print(
        f"the service's part of one answer (median of ten winds):           "
        f"{statistics.median(one[0] for one in times) * 1e3:6.0f} ms, {times[0][1] / 1e3:.0f} kB"
    )


def _drag(page: Page) -> tuple[int, float]:
    """Drag the arrow to and fro. Returns: answers shown, seconds."""
    page.evaluate(
        "window.shown = 0; new MutationObserver(() => { window.shown += 1; })"
        ".observe(document.getElementById('rows'), {childList: true});"
    )
    box = page.locator(".dial").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x + 24, y)
    page.mouse.down()
    before, begun, step = page.evaluate("window.shown"), time.perf_counter(), 0
    while time.perf_counter() - begun < DRAG_S:
        page.mouse.move(x + 24, y - 24 + step % 48)
        step += 1
    took, count = time.perf_counter() - begun, page.evaluate("window.shown") - before
    page.mouse.up()
    page.wait_for_selector("#answers:not([aria-busy])", timeout=120_000)
    return count, took


def main() -> None:
    """Print both, with how busy the machine was."""
    if not CHROMIUM.exists():
        print(f"no {CHROMIUM} on this machine: not measured")
        return
    load = os.getloadavg()[0]
    print(f"load of the machine when it began: {load:.1f} on {os.cpu_count()} processors")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        first_answer(browser)
        dragged(browser)
        browser.close()


if __name__ == "__main__":
    main()
