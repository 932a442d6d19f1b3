"""axe-core finds no violation of its WCAG A and AA rules and its best practices: pages and dialogs, light and dark."""

from decimal import Decimal

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.conftest import LOOKS, answered
from tests.browser.test_annotating import SITE
from tests.browser.test_asking import rank_for


def violations(page) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [f"{one['id']}: {one['nodes'][0]['html'][:160]} ({len(one['nodes'])})" for one in found]


@pytest.mark.parametrize(("size", "theme"), LOOKS)
def test_the_map_page_and_its_dialogs(open_page, theme, size):
    page = open_page(size=size, color_scheme=theme)
    answered(page)
    page.click("#fire-menu summary")
    page.click("#excluded summary")
    assert violations(page) == []
    page.click("#fire-menu summary")
    page.click("#all-cautions")
    assert violations(page) == []
    page.keyboard.press("Escape")
    page.locator(".row-open").first.click()
    page.wait_for_selector("#breakdown .side svg >> nth=1")
    assert violations(page) == []
    page.keyboard.press("Escape")
    page.fill("#qnh", "700")
    page.wait_for_selector("#problem:not([hidden])")
    assert violations(page) == []


@pytest.mark.parametrize(("size", "theme"), LOOKS)
def test_the_sites_page_and_its_dialog(open_page, api, theme, size):
    made = api.post("sites", data=SITE).json()
    page = open_page("sites.html", size=size, color_scheme=theme)
    page.wait_for_selector("#rows tr")
    assert violations(page) == []
    page.fill("#due-before", "2030-11-01")
    page.wait_for_selector("#due li")
    page.locator(f'tr[data-site="{made["site_id"]}"] button').click()
    page.fill("#f-note", "mine")
    page.wait_for_selector(".changes li")
    assert violations(page) == []
    api.patch(f"sites/{made['site_id']}", data={"note": "theirs"}, headers={"If-Match": '"1"'})
    page.click("#save")
    page.wait_for_selector("#conflict[open]")
    assert violations(page) == []
    api.delete(f"sites/{made['site_id']}", headers={"If-Match": "*"})


def test_a_fire_is_drawn_with_the_keyboard_alone(open_page):
    """WCAG 2.2, 2.1.1 (keyboard): from the menu to the ranking without a pointer; each step is announced."""
    page = open_page()
    answered(page)
    keys = page.keyboard

    def told() -> str:
        return page.locator(".pen-told").inner_text()

    def started(button: str) -> None:
        page.locator("#fire-menu summary").focus()
        keys.press("Enter")
        page.locator(button).focus()
        keys.press("Enter")
        page.wait_for_selector("#map-message:has-text('By keyboard')")
        assert page.evaluate("document.activeElement.id") == "map"

    started("#draw-area")
    keys.press("Enter")
    assert "The cross is in the middle" in told()
    keys.press("Enter")
    assert told().startswith("Corner 1 set.")
    first = told().removeprefix("Corner 1 set. ")
    assert first == page.locator(".pen-place").inner_text()
    for _ in range(3):
        keys.press("Shift+ArrowRight")
    keys.press("Enter")
    keys.press("Enter")
    assert "needs three corners; 2 so far" in told()
    keys.press("ArrowRight")
    keys.press("Enter")
    keys.press("Backspace")
    assert told().startswith("Corner 3 taken back; 2 left.")
    for _ in range(2):
        keys.press("Shift+ArrowDown")
    keys.press("Enter")
    assert "Corner 3 set; Enter again closes the edge" in told()
    assert violations(page) == []
    drawn = rank_for(page, lambda: keys.press("Enter"))["fire"]["geometry"]
    assert drawn["type"] == "Polygon" and len(drawn["coordinates"][0]) == 4
    one, two, three, last = drawn["coordinates"][0]
    assert one == last and one[1] == two[1] and two[0] < three[0] and three[1] < two[1]
    assert first == minutes_of(one)
    assert page.locator(".pen").count() == 0
    state = page.locator("#state").inner_text()
    started("#draw-area")
    keys.press("Shift+ArrowUp")
    keys.press("Enter")
    keys.press("Escape")
    page.wait_for_selector("#map-message", state="hidden")
    assert page.locator("#state").inner_text() == state, "Escape leaves the question as it was"
    started("#draw-point")
    keys.press("ArrowUp")
    assert rank_for(page, lambda: keys.press("Enter"))["fire"]["geometry"]["type"] == "Point"


def minutes_of(place: list[float]) -> str:
    """Write a place of the southern and western hemisphere as degrees and minutes, by other arithmetic."""
    words = []
    for value, width, side in ((-place[1], 2, "S"), (-place[0], 3, "W")):
        whole = Decimal(str(value))
        degrees = int(whole)
        minutes = ((whole - degrees) * 60).quantize(Decimal("0.01"))
        words.append(f"{degrees:0{width}d}° {minutes:05.2f}′ {side}")
    return " ".join(words)
