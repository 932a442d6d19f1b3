"""Writing sites on their page: by keyboard, against a lost service, against somebody else who is faster."""

from io import BytesIO

import pytest
from PIL import Image
from playwright.sync_api import expect

from tests.browser.conftest import SIZES, answered

SITE = {
    "name": "Ramp",
    "longitude_deg": -128.014,
    "latitude_deg": -47.008,
    "status": "open",
    "effect": "confirm",
}


@pytest.fixture
def site(api):
    made = api.post("sites", data=SITE).json()
    yield made
    api.delete(f"sites/{made['site_id']}", headers={"If-Match": "*"})


@pytest.fixture
def sites_page(open_page):
    def opened(**more):
        page = open_page("sites.html", **more)
        page.wait_for_selector("#state:not(:empty)")
        return page

    return opened


def chosen(page, site) -> None:
    page.locator(f'tr[data-site="{site["site_id"]}"] button').click()
    page.wait_for_selector("#f-name")


def told(page, words: str) -> None:
    page.wait_for_selector(f".told:has-text({words!r})")


def test_a_site_is_written_with_the_keyboard_alone(sites_page, api):
    page = sites_page()
    keys = page.keyboard

    def tab_to(selector: str) -> None:
        for _ in range(200):
            if page.evaluate("selector => document.activeElement?.matches(selector)", selector):
                return
            keys.press("Tab")
        raise AssertionError(f"{selector} is not reached with Tab")

    tab_to("#add")
    keys.press("Enter")
    page.wait_for_selector("#f-name:focus")
    keys.type("Jetty at the north end")
    tab_to("#f-position")
    keys.type("47 00.48 S 128 00.84 W")
    tab_to("#f-status")
    keys.type("open")
    tab_to("#f-wires")
    keys.type("One wire over the arm")
    keys.press("Control+s")
    told(page, "Saved")
    made = next(one for one in api.get("sites").json() if one["name"] == "Jetty at the north end")
    assert made["latitude_deg"] == pytest.approx(-47.008) and made["longitude_deg"] == pytest.approx(-128.014)
    assert made["status"] == "open" and made["wires"] == "One wire over the arm" and made["effect"] == "note"
    tab_to(f'tr[data-site="{made["site_id"]}"] button')
    keys.press("Enter")
    tab_to("#retire")
    keys.press("Enter")
    told(page, "Retired")
    assert made["site_id"] not in [one["site_id"] for one in api.get("sites").json()]


def test_a_site_is_placed_by_a_click_and_counts_in_the_answer(sites_page, open_page, api):
    page = sites_page()
    page.click("#add")
    page.fill("#f-name", "Clicked place")
    page.click("#pick-place")
    box = page.locator("#map").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    expect(page.locator("#f-position")).not_to_have_value("")
    page.select_option("#f-body_id", "L1")
    page.select_option("#f-status", "closed")
    page.select_option("#f-effect", "veto")
    page.fill("#f-note", "dredger at work")
    page.click("#save")
    told(page, "Saved")
    asking = open_page()
    answered(asking)
    assert "Lake L1" not in asking.locator("#rows").inner_text()
    asking.locator("#excluded summary").click()
    assert "Clicked place" in asking.locator("#excluded").inner_text(), "the reason names the site"
    page.click("#retire")
    told(page, "Retired")
    page.click("#restore")
    told(page, "it takes effect again")
    page.click("#retire")
    told(page, "Retired")


def test_a_fault_stands_at_its_field(sites_page, site, api):
    page = sites_page()
    chosen(page, site)
    page.fill("#f-position", "somewhere")
    page.click("#save")
    assert "latitude, then longitude" in page.locator("#f-position-fault").inner_text()
    page.fill("#f-position", "-47.008 -128.014")
    page.select_option("#f-effect", "limit")
    page.fill("#f-most_litres", "-5")
    page.click("#save")
    told(page, "Not saved")
    assert page.get_attribute("#f-most_litres", "aria-invalid") == "true"
    assert page.evaluate("document.activeElement.id") == "f-most_litres"
    page.fill("#f-most_litres", "4000")
    page.click("#save")
    told(page, "Saved")
    assert api.get(f"sites/{site['site_id']}").json()["most_litres"] == 4000


def test_a_lost_connection_in_mid_edit_loses_nothing(sites_page, site, api):
    page = sites_page()
    chosen(page, site)
    page.context.set_offline(True)
    page.fill("#f-hazards", "snags near the inlet")
    page.click("#save")
    told(page, "The service does not answer")
    assert page.input_value("#f-hazards") == "snags near the inlet"
    page.context.set_offline(False)
    told(page, "Saved")
    assert api.get(f"sites/{site['site_id']}").json()["hazards"] == "snags near the inlet"


def test_a_closed_page_loses_nothing(sites_page, site, api):
    page = sites_page()
    chosen(page, site)
    page.fill("#f-note", "half a sentence")
    context = page.context
    page.close()
    again = sites_page(context=context)
    again.wait_for_selector("tr .unsaved")
    assert again.input_value("#f-note") == "half a sentence", "the unsaved site is open again"
    assert api.get(f"sites/{site['site_id']}").json()["note"] is None
    again.click("#discard")
    assert again.input_value("#f-note") == ""
    assert again.locator(".unsaved").count() == 0


def test_a_new_site_whose_answer_was_lost_is_not_made_twice(sites_page, api):
    page = sites_page()
    page.click("#add")
    page.fill("#f-name", "Only once")
    page.fill("#f-position", "-47.008 -128.013")

    def lost(route) -> None:
        route.fetch()
        route.abort()

    page.route(
        "**/sites",
        lambda route: lost(route) if route.request.method == "POST" else route.continue_(),
        times=1,
    )
    page.click("#save")
    told(page, "The service does not answer")
    told(page, "Saved")
    made = [one for one in api.get("sites").json() if one["name"] == "Only once"]
    assert len(made) == 1
    api.delete(f"sites/{made[0]['site_id']}", headers={"If-Match": "*"})


@pytest.mark.parametrize("size", SIZES)
def test_a_conflict_is_settled_side_by_side(sites_page, site, api, size):
    page = sites_page(size=size)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), "nothing hangs over the side"
    chosen(page, site)
    page.fill("#f-note", "mine")
    page.fill("#f-owner", "Mill trust")
    theirs = {"note": "theirs", "hazards": "new snag"}
    assert api.patch(f"sites/{site['site_id']}", data=theirs, headers={"If-Match": '"1"'}).ok
    page.click("#save")
    page.wait_for_selector("#conflict[open]")
    words = page.locator("#conflict").inner_text()
    for text in ("theirs", "mine", "new snag", "Mill trust", "When you opened it"):
        assert text in words
    assert page.is_checked('input[name="pick-hazards"][value="theirs"]'), "only they changed it"
    assert page.is_checked('input[name="pick-owner"][value="yours"]'), "only you changed it"
    page.click("#conflict-save")
    assert "Choose one side" in page.locator("#conflict .told").inner_text(), (
        "both changed it: nobody chooses for you"
    )
    page.keyboard.press("Escape")
    told(page, "Not saved")
    assert page.input_value("#f-note") == "mine", "keep typing"
    page.click("#save")
    page.wait_for_selector("#conflict[open]")
    page.check('input[name="pick-note"][value="yours"]')
    page.click("#conflict-save")
    told(page, "Saved")
    now = api.get(f"sites/{site['site_id']}").json()
    assert (now["note"], now["hazards"], now["owner"], now["revision"]) == (
        "mine",
        "new snag",
        "Mill trust",
        3,
    )


def test_history_and_undo(sites_page, site, api):
    page = sites_page()
    chosen(page, site)
    for note in ("first", "second"):
        page.fill("#f-note", note)
        page.click("#save")
        page.wait_for_selector(f".changes:has-text('{note}')")
    page.click("#undo")
    told(page, "Restored; the undone change")
    assert page.input_value("#f-note") == "first"
    page.click("text=Restore revision 1")
    expect(page.locator("#f-note")).to_have_value("")
    history = api.get(f"sites/{site['site_id']}/history").json()
    assert [one["action"] for one in history] == ["undo", "undo", "update", "update", "create"]


def test_a_photo_is_added_and_removed_and_the_edit_goes_on(sites_page, site, api):
    held = BytesIO()
    Image.new("RGB", (40, 30), "teal").save(held, "PNG")
    page = sites_page()
    chosen(page, site)
    page.set_input_files("#photo-file", {"name": "a.png", "mimeType": "image/png", "buffer": held.getvalue()})
    page.fill("#photo-caption", "The slip at low water")
    page.click("#photo-add")
    page.wait_for_selector(".photos img[alt='The slip at low water']")
    expect(page.locator(".photos img")).to_have_js_property("naturalWidth", 40)
    page.fill("#f-note", "after the photo")
    page.click("#save")
    told(page, "Saved")
    page.set_input_files("#photo-file", {"name": "a.png", "mimeType": "image/png", "buffer": b"no picture"})
    page.click("#photo-add")
    page.wait_for_selector(".told.bad")
    page.click(".photos button")
    page.wait_for_selector(".photos img", state="detached")
    assert api.get(f"sites/{site['site_id']}/photos").json() == []


def test_what_is_due_before_the_season(sites_page, site):
    page = sites_page()
    page.fill("#due-before", "2030-11-01")
    page.wait_for_selector("#due:has-text('Ramp')")
    assert "inspection, never made" in page.locator("#due").inner_text()
    page.locator("#due .site-open", has_text="Ramp").first.click()
    page.wait_for_selector("#editor-title:has-text('Ramp')")


def test_a_name_that_looks_like_markup_stays_text(sites_page, open_page, api):
    made = api.post(
        "sites", data=SITE | {"name": "<img src=x onerror=alert(1)>", "note": "<b>bold</b>"}
    ).json()
    page = sites_page()
    chosen(page, made)
    assert page.locator("#editor-title").inner_text() == "<img src=x onerror=alert(1)>"
    assert page.locator("#rows img, #editor img").count() == 0
    api.delete(f"sites/{made['site_id']}", headers={"If-Match": "*"})
