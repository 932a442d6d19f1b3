"""The whole way of a new user in one sitting: from an empty store to a printed sheet and a site written down."""

import io
import re
import sqlite3

import pypdf
import pytest

from tests.browser.conftest import DESKTOP, PATIENCE_MS, Service, answered, watched, write_browser_region
from tests.browser.test_accessible import violations

SURVEY_MS = 240_000
QUESTION = {"fire": "F1", "wind": "300/18kt", "oat": "30C", "qnh": "1013"}


@pytest.fixture
def unsurveyed(browser, tmp_path):
    """A service over a store that holds nothing, as `fetchwater serve` starts it."""
    region = write_browser_region(tmp_path / "region")
    service = Service(region, tmp_path / "store", survey_at_start=False)
    yield service, tmp_path / "store"
    service.stop()


@pytest.fixture
def page(browser, unsurveyed):
    service, _ = unsurveyed
    strange: list[str] = []
    context = browser.new_context(viewport={"width": DESKTOP[0], "height": DESKTOP[1]})
    context.set_default_timeout(PATIENCE_MS)
    watched(context, service.address, strange)
    page = context.new_page()
    page.on("pageerror", lambda error: strange.append(f"script: {error}"))
    page.goto(service.address)
    yield page
    context.close()
    assert strange == []


def surveys_kept(folder) -> int:
    with sqlite3.connect(folder / "fetchwater.gpkg") as store:
        return store.execute("select count(*) from survey").fetchone()[0]


def test_from_an_empty_store_to_a_printed_sheet_and_a_site(page, unsurveyed):
    service, folder = unsurveyed
    # 1. Nothing is surveyed: the page says so and offers the survey; nothing is ranked meanwhile.
    begin = page.get_by_role("button", name=re.compile("Survey the 3 waters"))
    begin.wait_for()
    assert "have not been surveyed yet" in page.locator("#state").inner_text()
    assert page.locator(".row").count() == 0 and surveys_kept(folder) == 0
    assert page.request.post(f"{service.address}answers", data=QUESTION).status == 503
    assert violations(page) == []
    # 2. The survey is started and followed.
    begin.click()
    page.wait_for_selector("#survey-progress")
    assert "is running" in page.locator("#state").inner_text()
    # 3. Meanwhile the fire is drawn.
    draw_a_fire(page)
    # 4. The survey ends by itself in the first answer, for the fire that was drawn.
    page.wait_for_selector(".row", timeout=SURVEY_MS)
    answered(page)
    assert surveys_kept(folder) == 1
    assert page.locator("#state").inner_text().startswith("drawn fire,")
    assert page.input_value("#fire") == "own", "what was chosen while the survey ran stays"
    # 5. The wind is set, and the order is asked anew.
    with page.expect_response(lambda one: one.url.endswith("/rankings")) as told:
        page.fill("#wind-from", "310")
        page.fill("#wind-speed", "18")
    asked = told.value.request.post_data_json
    assert (
        asked["wind"] == "310/9.2600m/s"
    )  # 18 kt: 1852 m in an hour (SI brochure, table 8 of the 8th edition)
    answered(page)
    ranking = told.value.json()
    assert page.locator(".row strong").all_inner_texts() == [one["name"] for one in ranking["sources"]]
    # 6. A row is opened, with the sheet of its water.
    first = ranking["sources"][0]
    page.locator(".row-open").first.click()
    page.wait_for_selector("#breakdown .side svg >> nth=1")
    water_sheet = page.locator("#breakdown a", has_text="Sheet of this water").get_attribute("href")
    assert first["name"] in sheet_text(page, service.address + water_sheet)
    page.keyboard.press("Escape")
    # 7. The sheet of the ranking is opened to be printed: one page with the first ten and the rates of the answer.
    link = page.locator("#kept a", has_text="Sheet")
    assert link.get_attribute("target") == "_blank", "the page with its question stays"
    text = sheet_text(page, service.address + link.get_attribute("href"))
    for source in ranking["sources"]:
        assert source["name"] in text
        assert f"{source['cycle']['litres_per_hour']:,.0f}" in text
    # 8. What was found there is written down as a site; the next answer carries it.
    write_a_site(page, first)


def draw_a_fire(page) -> None:
    page.click("#fire-menu summary")
    page.click("#draw-area")
    page.wait_for_selector("#map-message:has-text('Click round the fire')")
    box = page.locator("#map").bounding_box()
    for across, down in ((0.55, 0.5), (0.62, 0.5), (0.58, 0.58), (0.55, 0.5)):
        page.mouse.click(box["x"] + box["width"] * across, box["y"] + box["height"] * down)
        page.wait_for_timeout(350)  # two clicks that follow at once are a double click
    page.wait_for_selector("#map-message", state="hidden")
    assert page.input_value("#fire") == "own"


def write_a_site(page, source: dict) -> None:
    page.get_by_role("link", name="Sites", exact=True).click()
    page.wait_for_selector("#editor")
    page.click("#add")
    page.fill("#f-name", "Gravel beach")
    longitude, latitude = source["fill_point"]["coordinates"]
    page.fill("#f-position", f"{latitude} {longitude}")
    page.fill("#f-wires", "One cable at the north end")
    page.click("#save")
    page.wait_for_selector(".told.good")
    page.get_by_role("link", name="Map of the answers").click()
    answered(page)
    page.locator(".row-open", has_text=source["name"]).click()
    page.wait_for_selector("#breakdown:has-text('One cable at the north end')")


def sheet_text(page, address: str) -> str:
    """Fetch a sheet as the browser would and give its one page's words."""
    answer = page.request.get(address)
    assert answer.ok and answer.headers["content-type"] == "application/pdf"
    pages = pypdf.PdfReader(io.BytesIO(answer.body())).pages
    assert len(pages) == 1
    return " ".join(pages[0].extract_text().split())


def test_a_survey_is_stopped_and_started_again_and_a_second_page_follows_it(page, unsurveyed):
    service, folder = unsurveyed
    page.locator("#survey-start").click()
    page.wait_for_selector("#survey-stop")
    second = page.context.new_page()
    second.goto(service.address)
    second.wait_for_selector("#survey-stop")
    page.click("#survey-stop")
    page.wait_for_selector("#survey-start")
    second.wait_for_selector("#survey-start")
    assert surveys_kept(folder) == 0
    second.click("#survey-start")
    second.wait_for_selector(".row", timeout=SURVEY_MS)
    answered(second)


def test_the_service_refuses_answers_before_the_survey(page, unsurveyed):
    """RFC 9110, 15.6.4 (503 with Retry-After) and RFC 9457 (problem document)."""
    service, _ = unsurveyed
    refused = page.request.get(service.address + "water-bodies")
    assert refused.status == 503 and refused.headers["retry-after"] == "30"
    assert refused.headers["content-type"] == "application/problem+json"
    assert "POST /surveys" in refused.json()["detail"]
    assert page.request.get(service.address + "health").ok
    assert page.request.get(service.address + "region").json()["survey_version"] is None
