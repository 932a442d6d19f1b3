"""axe-core finds no violation of its WCAG A and AA rules and its best practices: pages and dialogs, light and dark."""

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.conftest import DESKTOP, PHONE, answered
from tests.browser.test_annotating import SITE


def violations(page) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [f"{one['id']}: {one['nodes'][0]['html'][:160]} ({len(one['nodes'])})" for one in found]


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, DESKTOP], ids=["phone", "desktop"])
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


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, DESKTOP], ids=["phone", "desktop"])
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
