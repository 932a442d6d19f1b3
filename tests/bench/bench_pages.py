"""The map page in Chromium with thousands of waters: how soon the first rows stand, how often a drag is answered.

The waters are made at random (tests/ranking/random_regions.py), wholly invented. Wall time by the page's own clock; the
service is a process of its own on the same machine, the browser's processor is slowed down four times where that is
said. Beside it stand processor seconds, which say what a machine does that nobody else uses: of the service's process,
and of the page's main thread (from a trace). Baseline: the same question over HTTP without a browser.
"""

import json
import multiprocessing
import os
import statistics
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

import services.app as service_app
from services.core.workspace import Workspace
from services.store import layers, surveys
from services.store.store import Store
from services.store.surveys import SurveyRun
from tests.browser.conftest import FLAGS, Service
from tests.needs import CHROMIUM
from tests.ranking.random_regions import Recipe, made

SLOWER = 4
DRAG_S = 4.0
# A hand's mouse tells its place so often; more would measure the driver of the browser, not the page.
MOVE_S = 1.0 / 60.0
PATIENCE_MS = 180_000
MARKS = """
const rows = (what) => new MutationObserver((_, watch) => { if (document.querySelector('.row')) {
  performance.mark('first-row'); watch.disconnect(); } }).observe(document, {childList: true, subtree: true});
rows();
window.longTasks = [];
new PerformanceObserver((list) => {
  for (const one of list.getEntries()) window.longTasks.push([one.startTime, one.duration]);
}).observe({type: 'longtask', buffered: true});
"""


@dataclass(frozen=True)
class Served:
    """A service in a process of its own: its address and the process's number."""

    address: str
    number: int

    def cpu_s(self) -> float:
        """Processor seconds that the service has taken (Linux alone tells them of another process)."""
        figures = Path(f"/proc/{self.number}/stat").read_text().rpartition(")")[2].split()
        return (int(figures[11]) + int(figures[12])) / os.sysconf("SC_CLK_TCK")


def _serve(waters: int, folder: str, told: Connection) -> None:
    region, survey = made(Recipe(waters, 400, 150.0, 900.0, closed=5, good_share=0.3), 2)
    keys = tuple(one.body_id for one in survey.bodies)

    def opened(_: Path, store: Store) -> Workspace:
        surveys.save(store.engine, SurveyRun(survey, keys, {}, 0.0))
        return Workspace(
            region, survey, store, files=region, day_revision=layers.revision(store.engine, "day")
        )

    service_app.open_workspace = opened  # type: ignore[assignment]
    service = Service(Path(folder), Path(folder) / "store")
    told.send(service.address)
    told.recv()
    service.stop()


@contextmanager
def served(waters: int) -> Iterator[Served]:
    """Serve a made region: its survey is put into an empty store as if it had been surveyed."""
    ours, theirs = multiprocessing.Pipe()
    with tempfile.TemporaryDirectory() as folder:
        process = multiprocessing.get_context("spawn").Process(target=_serve, args=(waters, folder, theirs))
        process.start()
        assert process.pid is not None
        yield Served(ours.recv(), process.pid)
        ours.send("end")
        process.join(60)


def page_at(browser: Browser, address: str, wind_deg: int, slower: int = SLOWER) -> Page:
    """Open the map page in a new browser memory, asking for that wind, with the processor slowed down."""
    page = browser.new_context(viewport={"width": 1366, "height": 850}).new_page()
    page.set_default_timeout(PATIENCE_MS)
    page.add_init_script(
        f"localStorage.setItem('fetchwater.question', JSON.stringify({{wind_from_deg: {wind_deg}}}))"
    )
    page.add_init_script(MARKS)
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slower})
    page.goto(address, wait_until="commit")
    page.wait_for_selector(".row")
    return page


def first_row_s(page: Page) -> float:
    """Give the seconds from the start of the page's load to its first row, by the page's own clock."""
    return page.evaluate("performance.getEntriesByName('first-row')[0].startTime") / 1000.0


def at_rest(page: Page) -> None:
    """Wait until nothing more is asked or drawn."""
    page.wait_for_selector("#kept a")
    page.wait_for_selector("#answers:not([aria-busy])")
    page.wait_for_load_state("networkidle")


def main_thread_s(browser: Browser, address: str, wind_deg: int) -> tuple[float, float]:
    """Give processor seconds of the page's main thread, not slowed down: up to the first row, and up to rest."""
    browser.start_tracing(
        categories=["toplevel", "blink.user_timing", "disabled-by-default-devtools.timeline"]
    )
    page = page_at(browser, address, wind_deg, 1)
    at_rest(page)
    events = json.loads(browser.stop_tracing())["traceEvents"]
    page.context.close()
    mark = next(one for one in events if one["name"] == "first-row" and one.get("ph") in ("R", "I", "i"))
    mine = [
        one for one in events
        if (one["pid"], one["tid"]) == (mark["pid"], mark["tid"]) and one.get("ph") == "X"
        and one["name"] in ("RunTask", "ThreadControllerImpl::RunTask")
    ]  # fmt: skip
    before = sum(one.get("tdur", 0) for one in mine if one["ts"] <= mark["ts"])
    return before / 1e6, sum(one.get("tdur", 0) for one in mine) / 1e6


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
        found = []
        for wind in (300, 210, 20, 120):
            begun_s = service.cpu_s()
            page = page_at(browser, service.address, wind)
            found.append((first_row_s(page), service.cpu_s() - begun_s))
            at_rest(page)
            longest = max((long for _, long in page.evaluate("window.longTasks")), default=0.0)
            page.context.close()
        quick, whole = main_thread_s(browser, service.address, 77)
        plain = statistics.median(plain_answer_s(service.address, wind)[0] for wind in (211, 21, 121))
    first, *warm = found
    later = [statistics.median(part) for part in zip(*warm, strict=True)]
    print(f"first rows with 5,000 waters, browser {SLOWER} times slower, first question:  {first[0]:6.2f} s")
    print(f"the same, median of three other winds:                            {later[0]:6.2f} s")
    print(
        f"the service's processor for it, first question, and median:       {first[1]:6.2f} s {later[1]:6.2f} s"
    )
    print(f"the page's main thread, not slowed, to the first row, and to rest: {quick:5.2f} s {whole:6.2f} s")
    print(
        f"longest task of the page, browser {SLOWER} times slower:                    {longest / 1e3:6.2f} s"
    )
    print(f"the answer over HTTP without a browser (median of three):         {plain:6.2f} s")


def dragged(browser: Browser) -> None:
    """1,000 waters: answers shown in a second while the wind's arrow is dragged round."""
    with served(1_000) as service:
        page = page_at(browser, service.address, 300)
        at_rest(page)
        for slower in (1, SLOWER):
            session = page.context.new_cdp_session(page)
            session.send("Emulation.setCPUThrottlingRate", {"rate": slower})
            session.send("Performance.enable", {"timeDomain": "threadTicks"})
            begun_s, tasks = service.cpu_s(), _task_s(session)
            count, took = _drag(page)
            spent = (service.cpu_s() - begun_s) / max(count, 1), (_task_s(session) - tasks) / max(count, 1)
            print(
                f"answers shown while dragging, 1,000 waters, browser slowed {slower} times: {count / took:6.1f} /s"
            )
            print(
                f"    the service's processor for each: {spent[0] * 1e3:.0f} ms; the page's main thread: "
                f"{spent[1] * 1e3:.0f} ms, its {1 / MOVE_S:.0f} moves a second within"
            )
            page.wait_for_selector("#answers:not([aria-busy])")
        times = [plain_answer_s(service.address, wind) for wind in range(31, 41)]
    print(
        f"one answer over HTTP without a browser (median of ten winds):     "
        f"{statistics.median(one[0] for one in times) * 1e3:6.0f} ms, {times[0][1] / 1e3:.0f} kB"
    )


def _task_s(session) -> float:
    metrics = session.send("Performance.getMetrics")["metrics"]
    return next(one["value"] for one in metrics if one["name"] == "TaskDuration")


def _drag(page: Page) -> tuple[int, float]:
    """Drag the arrow to and fro. Returns: answers shown, seconds."""
    page.evaluate("performance.clearMarks('answer shown')")
    box = page.locator(".dial").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x + 24, y)
    page.mouse.down()
    begun, step = time.perf_counter(), 0
    while (now := time.perf_counter()) - begun < DRAG_S:
        page.mouse.move(x + 24, y - 24 + step % 48)
        step += 1
        time.sleep(max(0.0, MOVE_S - (time.perf_counter() - now)))
    took, count = (
        time.perf_counter() - begun,
        page.evaluate("performance.getEntriesByName('answer shown').length"),
    )
    page.mouse.up()
    return count, took


def main() -> None:
    """Print both, with how busy the machine was."""
    if not CHROMIUM.exists():
        print(f"no {CHROMIUM} on this machine: not measured")
        return
    print(f"load of the machine when it began: {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        first_answer(browser)
        dragged(browser)
        browser.close()
    print(f"load when it ended: {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
