"""Takes the README's pictures of the pages: python -m tests.browser.pictures FOLDER. Used by `make pictures`."""

import json
import shutil
import sys
import tempfile
import urllib.request
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

from services.settings import read_settings
from tests.browser.conftest import DESKTOP, FLAGS, PHONE, TABLET, Service, answered
from tests.needs import CHROMIUM

DEMO = Path(__file__).resolve().parents[2] / "demo_region"
PATIENCE_MS = 180_000
WATCHED = "Lake Sellane"  # its shoal shows in the depth along the run
ASKED = {"fire": "fellside", "wind_from_deg": 300, "wind_ms": 9.26, "oat_c": 34, "qnh_hpa": 1009}
SITES = [
    {"name": "North beach, Orramere", "longitude_deg": -128.088, "latitude_deg": -46.985, "status": "open",
     "effect": "confirm", "body_id": "W01", "inspected_on": "2026-09-14", "inspected_by": "day crew",
     "inspection_due": "2026-10-15", "permission": "not needed", "note": "Gravel beach; boats on weekends."},
    {"name": "Dam wall, Pellin", "longitude_deg": -128.062, "latitude_deg": -46.997, "status": "seasonal",
     "season_from": "11-01", "season_to": "04-30", "effect": "limit", "most_litres": 7000, "body_id": "W04",
     "permission": "granted", "permission_to": "2027-06-30", "wires": "One cable beside the spillway."},
]  # fmt: skip


def opened(
    browser: Browser, address: str, size: tuple[int, int], theme: str = "light", path: str = ""
) -> Page:
    """Open a page with the README's question."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, color_scheme=theme)  # type: ignore[arg-type]
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    page.add_init_script(f"localStorage.setItem('fetchwater.question.2', {json.dumps(json.dumps(ASKED))})")
    page.goto(address + path)
    return page


def take(folder: Path, browser: Browser, address: str) -> None:
    """Take the pictures."""
    page = opened(browser, address, DESKTOP)
    answered(page)
    page.wait_for_timeout(800)
    page.screenshot(path=folder / "map.png")
    page.eval_on_selector_all(".more", "all => all.forEach(one => { one.open = true })")
    page.locator(".row-open, .excluded-open", has_text=WATCHED).first.click()
    page.wait_for_selector("#breakdown .side svg >> nth=1")
    page.evaluate("document.getElementById('breakdown').style.maxHeight = 'none'")
    page.set_viewport_size({"width": 820, "height": 3600})
    heading = page.locator("#breakdown h3", has_text="The run in side view").bounding_box()
    water = page.locator("#breakdown h3", has_text="The water").bounding_box()
    assert heading is not None and water is not None
    clip = {"x": 30, "y": heading["y"] - 10, "width": 760, "height": water["y"] - heading["y"]}
    page.screenshot(path=folder / "breakdown.png", clip=clip)  # type: ignore[arg-type]
    draw_with_keys(opened(browser, address, DESKTOP), folder)
    for name, size, theme in (("phone", PHONE, "light"), ("tablet", TABLET, "dark")):
        small = opened(browser, address, size, theme)
        answered(small)
        small.wait_for_timeout(800)
        if name == "phone":
            small.evaluate("document.querySelector('.map-side').scrollIntoView()")
        small.screenshot(path=folder / f"{name}.png")
    for site in SITES:
        request = urllib.request.Request(
            address + "sites", json.dumps(site).encode(), {"content-type": "application/json"}
        )
        urllib.request.urlopen(request).close()
    sites = opened(browser, address, DESKTOP, path="sites.html")
    sites.locator(".site-open", has_text="Pellin").click()
    sites.fill("#due-before", "2026-11-01")
    sites.wait_for_selector("#due li")
    sites.fill("#f-hazards", "Snags along the old road at low water.")
    sites.wait_for_timeout(800)
    sites.screenshot(path=folder / "sites.png")


def draw_with_keys(page: Page, folder: Path) -> None:
    """Draw most of a fire's edge with the keyboard and take its picture."""
    answered(page)
    page.locator("#fire-menu summary").focus()
    page.keyboard.press("Enter")
    page.locator("#draw-area").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("#map-message:has-text('By keyboard')")
    for right, down in ((-3, 1), (2, 0), (1, 2), (-2, 1)):
        for key, times in (("Arrow" + ("Right" if right > 0 else "Left"), right), ("ArrowDown", down)):
            for _ in range(abs(times)):
                page.keyboard.press(f"Shift+{key}")
        page.keyboard.press("Enter")
    page.keyboard.press("Shift+ArrowUp")
    page.wait_for_timeout(500)
    page.screenshot(path=folder / "drawing.png", clip={"x": 0, "y": 200, "width": 960, "height": 530})


def main(folder: Path) -> None:
    """Serve the demo region from a store of its own and take the pictures of its pages."""
    if not CHROMIUM.exists():
        print(f"no {CHROMIUM} on this machine: the pictures of the pages stay as they are")
        return
    with tempfile.TemporaryDirectory() as held, sync_playwright() as playwright:
        surveyed = read_settings().data_dir / "fetchwater.gpkg"
        if surveyed.exists():
            shutil.copy(surveyed, held)  # saves the survey; the sites of the pictures stay out of it
        service = Service(DEMO, Path(held))
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        take(folder, browser, service.address)
        browser.close()
        service.stop()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
