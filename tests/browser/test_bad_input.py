"""What goes wrong on the map page: each time a plain sentence and a way on."""

import json
import math

import pytest

from tests.browser.conftest import FLAGS, PATIENCE_MS, answered
from tests.browser.test_asking import rank_for
from tests.needs import CHROMIUM


def said(page) -> str:
    page.wait_for_selector("#map-message:not([hidden])")
    return page.locator("#map-message").inner_text()


@pytest.mark.parametrize(
    ("name", "content"),
    [
        pytest.param("holiday.png", b"\x89PNG\r\n\x1a\n" + b"0" * 400, marks=pytest.mark.slow),
        ("fire.geojson", b'{"type": "Polygon", "coordinates": [[['),
        pytest.param("fire.kml", b"<kml>", marks=pytest.mark.slow),
        ("fire.zip", b"PK\x03\x04 broken"),
        pytest.param("empty.gpx", b"", marks=pytest.mark.slow),
        ("../../etc/passwd.geojson", b"{}"),
    ],
)
def test_a_file_of_the_wrong_kind(open_page, name, content):
    page = open_page()
    answered(page)
    state = page.locator("#state").inner_text()
    page.set_input_files(
        "#fire-file", {"name": name, "mimeType": "application/octet-stream", "buffer": content}
    )
    page.wait_for_selector("#map-message:has-text('cannot be used as a fire')")
    words = said(page)
    assert "Fix:" in words and "draw it on the map" in words
    assert page.locator("#state").inner_text() == state, "the answer before it stays"


def test_a_file_larger_than_any_fire_is_not_sent(open_page, tmp_path):
    page = open_page()
    answered(page)
    path = tmp_path / "huge.geojson"
    path.write_bytes(b" " * (21 * 1024 * 1024))
    page.set_input_files("#fire-file", path)
    assert "larger than 20 MB" in said(page)


def test_a_fire_of_200_000_vertices(open_page, tmp_path):
    """It is simplified, the page says by how much, and the question that is sent stays small."""
    page = open_page()
    answered(page)
    turns = [2 * math.pi * i / 200_000 for i in range(200_000)]
    ring = [(-128.02 + 0.004 * math.cos(turn), -46.99 + 0.004 * math.sin(turn)) for turn in turns]
    path = tmp_path / "big.geojson"
    path.write_text(json.dumps({"type": "Polygon", "coordinates": [[*ring, ring[0]]]}))
    sent = rank_for(page, lambda: page.set_input_files("#fire-file", path))["fire"]["geometry"][
        "coordinates"
    ][0]
    assert len(sent) <= 2_001
    assert "simplified and moved by 1 m at most" in said(page)


def test_a_sketch_that_crosses_itself(open_page):
    page = open_page()
    answered(page)
    box = page.locator("#map").bounding_box()
    corners = ((0.6, 0.4), (0.7, 0.5), (0.7, 0.4), (0.6, 0.5), (0.6, 0.4))

    def draw():
        page.click("#fire-menu summary")
        page.click("#draw-area")
        for a, b in corners:
            page.mouse.click(box["x"] + box["width"] * a, box["y"] + box["height"] * b)
            page.wait_for_timeout(350)

    rank_for(page, draw)
    assert "crosses itself" in said(page) and "draw it again" in said(page)


def test_a_position_that_is_none(open_page):
    page = open_page()
    answered(page)
    page.click("#fire-menu summary")
    page.fill("#fire-position", "by the old bridge")
    page.click("#use-position")
    assert "latitude, then longitude" in said(page)


def test_a_fire_outside_the_terrain(open_page):
    page = open_page()
    answered(page)
    page.click("#fire-menu summary")
    page.fill("#fire-position", "-45 -128")
    page.click("#use-position")
    page.wait_for_selector("#problem:not([hidden])")
    assert page.locator("#problem p").inner_text()
    rank_for(page, lambda: page.select_option("#fire", "F1"))
    assert page.locator("#problem").is_hidden()


def test_the_service_is_lost_and_comes_back(open_page):
    page = open_page()
    answered(page)
    page.context.set_offline(True)
    page.fill("#oat", "35")
    page.wait_for_selector("#problem:has-text('The service does not answer')")
    assert page.input_value("#oat") == "35"
    asked = rank_for(page, lambda: page.context.set_offline(False))
    assert asked["oat"] == "35.00C" and page.locator("#problem").is_hidden()


# True once the map shows many colours; the rows may stand before it is drawn.
DRAWN = """() => { const seen = new Set(); for (const one of document.querySelectorAll('#map canvas')) {
  if (!one.width || !one.height) continue;
  const data = one.getContext('2d').getImageData(0, 0, one.width, one.height).data;
  for (let i = 0; i < data.length; i += 404) seen.add(data[i] * 65536 + data[i + 1] * 256 + data[i + 2]); }
  return seen.size > 20; }"""


def test_a_browser_without_webgl(browser, service):
    """An old laptop whose graphics are blocked: the map is drawn all the same."""
    blocked = browser.browser_type.launch(
        executable_path=str(CHROMIUM), args=[*FLAGS, "--disable-software-rasterizer"]
    )
    page = blocked.new_page()
    page.set_default_timeout(PATIENCE_MS)
    page.goto(service.address)
    answered(page)
    assert page.evaluate("document.createElement('canvas').getContext('webgl2')") is None
    page.wait_for_function(DRAWN)
    blocked.close()
