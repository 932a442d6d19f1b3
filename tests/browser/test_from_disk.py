"""The page of a field package opens from disk in real Chromium, without a network, a service or a module."""

import pytest
from playwright.sync_api import Browser, Page

from services.app import package_pages
from services.core.field_package import write_package
from services.core.question import ranking_question
from services.core.typed import TypedRanking
from services.core.workspace import ask, open_workspace
from services.store.store import embedded_store
from tests.browser.conftest import DESKTOP, PATIENCE_MS, PHONE, write_browser_region


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    folder = tmp_path_factory.mktemp("package")
    store = embedded_store(folder / "store")
    workspace = open_workspace(write_browser_region(folder / "region"), store)
    typed = TypedRanking(fire="F1", wind="300/18kt", oat="25C", qnh="1013")
    answer = ask(workspace, ranking_question(typed, workspace))
    path = write_package(folder / "pack", workspace, answer, package_pages, ["L1"])
    store.close()
    return path, answer


@pytest.fixture
def from_disk(browser: Browser, package):
    """Give a maker of pages from disk; at the end nothing was asked of the network and no error was said."""
    strange: list[str] = []
    contexts = []

    def make(name: str, size: tuple[int, int] = DESKTOP) -> Page:
        context = browser.new_context(viewport={"width": size[0], "height": size[1]}, offline=True)
        contexts.append(context)
        context.set_default_timeout(PATIENCE_MS)
        page = context.new_page()
        page.on("pageerror", lambda error: strange.append(f"script: {error}"))
        page.on(
            "console",
            lambda said: strange.append(f"{said.type}: {said.text}") if said.type == "error" else None,
        )
        own = (package[0].as_uri(), "data:", "blob:")
        page.on("request", lambda asked: None if asked.url.startswith(own) else strange.append(asked.url))
        page.goto(f"{package[0].as_uri()}/{name}")
        return page

    yield make
    for context in contexts:
        context.close()
    assert strange == []


@pytest.mark.parametrize("size", [DESKTOP, PHONE])
def test_list_map_and_breakdown_are_seen(from_disk, package, size):
    _, answer = package
    page = from_disk("map.html", size)
    page.wait_for_selector("html[data-ready=yes]", state="attached")
    rows = page.locator(".row")
    assert rows.count() == len(answer.ranking.sources)
    first = answer.ranking.sources[0]
    assert first.name in rows.first.inner_text()
    assert f"{first.fuel.sustained_litres_per_hour:,.0f} L/h" in rows.first.inner_text()
    # The map is drawn: some pixel of its canvas is not see-through.
    drawn = """() => [...document.querySelectorAll("#map canvas")].some((one) => one.width > 0 &&
        one.getContext("2d").getImageData(0, 0, one.width, one.height).data.some((value) => value > 0))"""
    page.wait_for_function(drawn)
    rows.first.locator("button").click()
    page.wait_for_selector("#breakdown[open] .rose")
    page.wait_for_selector("#breakdown figure.side svg")
    said = page.locator("#breakdown").inner_text()
    assert first.name in said and "Checks" in said and "The run in side view" in said


def test_what_is_left_out_says_why_with_its_survey(from_disk, package):
    _, answer = package
    left_out = answer.ranking.excluded[0]
    page = from_disk("map.html")
    page.locator("#excluded summary").click()
    page.get_by_role("button", name=left_out.name).click()
    page.wait_for_selector("#breakdown[open] .survey h3")
    assert left_out.reason in page.locator("#breakdown").inner_text()
    assert page.locator("#breakdown .failed").count() == 0


def test_units_switch_and_cautions_work_from_disk(from_disk):
    page = from_disk("map.html")
    page.locator("#units").select_option("us")
    assert "US gal/h" in page.locator(".row").first.inner_text()
    page.locator("#all-cautions").click()
    assert "Advice only" in page.locator("#cautions").inner_text()


def test_the_first_page_leads_to_all_files(from_disk, package):
    folder, _ = package
    page = from_disk("README.html")
    links = page.locator("a").evaluate_all("all => all.map((one) => one.getAttribute('href'))")
    assert "map.html" in links and all((folder / link).is_file() for link in links)
    page.get_by_role("link", name="map.html").click()
    page.wait_for_selector("html[data-ready=yes]", state="attached")
