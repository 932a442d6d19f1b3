"""Asking on the map page, each story from its start to its end, at three sizes, with nothing beyond the service."""

import json
import math
import zipfile

import pyogrio
import pytest
import shapely

from tests.browser.conftest import DESKTOP, SIZES, answered

RING = [(-128.03, -46.99), (-128.02, -46.99), (-128.02, -46.98), (-128.03, -46.98), (-128.03, -46.99)]
SQUARE = {"type": "Polygon", "coordinates": [RING]}


def names(page) -> list[str]:
    return page.locator("#rows .row-name strong").all_inner_texts()


def rank_for(page, act) -> dict:
    """Do something that asks anew, and give the body of the ranking that was asked for."""
    with page.expect_request(lambda one: one.url.endswith("/rankings") and one.method == "POST") as asked:
        act()
    answered(page)
    return json.loads(asked.value.post_data)


@pytest.mark.parametrize("size", SIZES)
def test_from_an_empty_store_to_a_breakdown(open_page, api, size):
    page = open_page(size=size)
    answered(page)
    question = {"fire": "F1", "wind": "300/5.14m/s", "oat": "30C", "qnh": "1013", "top": 10}
    whole = api.post("rankings", data=question).json()
    assert names(page) == [one["name"] for one in whole["sources"]]
    first = whole["sources"][0]
    row = page.locator(".row-open").first
    assert f"{first['fuel']['sustained_litres_per_hour']:,.0f} L/h" in row.inner_text()
    assert first["cautions"][0] in row.inner_text()
    caution = page.locator("#caution-line")
    assert caution.is_visible() and "pilot in command decides" in caution.inner_text()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), "nothing hangs over the side"
    row.focus()
    page.keyboard.press("Enter")
    dialog = page.locator("#breakdown")
    page.wait_for_selector("#breakdown .side svg >> nth=1")
    told = dialog.inner_text()
    for words in (
        "Number 1",
        "Where the time goes",
        "Legs",
        "Checks",
        "The run in side view",
        "Depth along the run",
    ):
        assert words in told
    assert "at two standard deviations less" in told and first["name"] in told
    page.keyboard.press("Escape")
    assert not dialog.is_visible()
    page.locator("#excluded summary").click()
    assert "Small Pond" in page.locator("#excluded").inner_text()


def test_why_second_is_redone_from_the_figures(open_page):
    page = open_page()
    answered(page)
    page.locator(".row-open").nth(1).click()
    first, second = names(page)[:2]
    assert page.locator("#breakdown .why").inner_text().startswith(f"Number 2, after {first}: ")
    assert page.locator("#breakdown-title").inner_text() == second


def test_a_fire_is_clicked_drawn_and_typed(open_page):
    page = open_page()
    answered(page)
    box = page.locator("#map").bounding_box()
    at = [
        (box["x"] + box["width"] * a, box["y"] + box["height"] * b)
        for a, b in ((0.6, 0.5), (0.7, 0.5), (0.65, 0.6))
    ]

    def click_point():
        page.click("#fire-menu summary")
        page.click("#draw-point")
        page.mouse.click(*at[0])

    assert rank_for(page, click_point)["fire"]["geometry"]["type"] == "Point"
    assert "clicked point" in page.locator("#state").inner_text()

    def draw():
        page.click("#fire-menu summary")
        page.click("#draw-area")
        for place in (*at, at[0]):
            page.mouse.click(*place)
            page.wait_for_timeout(350)  # two clicks that follow at once are a double click

    drawn = rank_for(page, draw)["fire"]["geometry"]
    assert drawn["type"] == "Polygon" and len(drawn["coordinates"][0]) == 4

    def typed():
        page.click("#fire-menu summary")
        page.fill("#fire-position", "46 59.4 S 128 00.6 W")
        page.keyboard.press("Enter")

    assert rank_for(page, typed)["fire"]["geometry"]["coordinates"] == pytest.approx([-128.01, -46.99])


def fire_file(folder, kind):
    path = folder / f"fire.{kind}"
    if kind == "geojson":
        path.write_text(json.dumps(SQUARE))
    elif kind == "gpx":
        points = "".join(f'<trkpt lat="{y}" lon="{x}"/>' for x, y in RING)
        path.write_text(
            '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">'
            f"<trk><trkseg>{points}</trkseg></trk></gpx>"
        )
    else:
        shape = folder / ("fire.kml" if kind == "kml" else "fire.shp")
        driver = "KML" if kind == "kml" else "ESRI Shapefile"
        geometry = shapely.to_wkb([shapely.Polygon(RING)])
        pyogrio.raw.write(shape, geometry, [], [], crs="EPSG:4326", geometry_type="Polygon", driver=driver)
        if kind == "zip":
            with zipfile.ZipFile(path, "w") as packed:
                for part in folder.glob("fire.*"):
                    if part.suffix != ".zip":
                        packed.write(part, part.name)
    return path


@pytest.mark.parametrize(
    "kind",
    ["geojson", "kml", *(pytest.param(kind, marks=pytest.mark.slow) for kind in ("gpx", "zip"))],
)
def test_a_fire_is_opened_or_dropped_as_a_file(open_page, tmp_path, kind):
    page = open_page()
    answered(page)
    path = fire_file(tmp_path, kind)

    def drop():
        data = page.evaluate_handle(
            "bytes => { const data = new DataTransfer(); data.items.add(new File([new Uint8Array(bytes)], "
            f"{path.name!r})); return data; }}",
            list(path.read_bytes()),
        )
        page.dispatch_event(".map-side", "drop", {"dataTransfer": data})

    use = drop if kind in ("geojson", "zip") else lambda: page.set_input_files("#fire-file", path)
    outline = rank_for(page, use)["fire"]["geometry"]["coordinates"][0]
    assert sorted({tuple(place) for place in outline}) == sorted(set(RING))
    assert page.locator("#state").inner_text().startswith("fire,")


def test_the_wind_is_dragged(open_page):
    page = open_page()
    answered(page)
    asked: list[tuple[str, str]] = []
    page.on(
        "request",
        lambda one: (
            one.method == "POST"
            and asked.append((one.url.rsplit("/", 1)[1], json.loads(one.post_data)["wind"]))
        ),
    )
    box = page.locator(".dial").bounding_box()
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def place(turn):
        angle = math.radians(turn)
        return middle[0] + 24 * math.sin(angle), middle[1] - 24 * math.cos(angle)

    page.mouse.move(*place(300))
    page.mouse.down()
    for turn in range(300, 400, 10):
        page.mouse.move(*place(turn))
        page.wait_for_timeout(60)
    page.wait_for_selector("#state:has-text('while you turn the wind')")
    assert {path for path, _ in asked} == {"answers"}, "while it is held nothing is kept"
    page.mouse.move(*place(90))
    page.mouse.up()
    answered(page)
    page.wait_for_selector("#state:not(:has-text('routes'))")
    assert page.input_value("#wind-from") == "90"
    kept = [wind for path, wind in asked if path == "rankings"]
    assert [wind.split("/")[0] for wind in kept] == ["90"] and asked[-1][0] == "today"
    page.locator(".dial").focus()
    page.keyboard.press("ArrowRight")
    assert page.input_value("#wind-from") == "95", "and turned by the keyboard"


def test_units_time_and_theme_are_kept(open_page):
    page = open_page(color_scheme="light")
    answered(page)
    litres = page.locator(".big").first.inner_text()
    page.select_option("#units", "us")
    gallons = page.locator(".big").first.inner_text()
    number = [float(text.split()[0].replace(",", "")) for text in (litres, gallons)]
    assert number[0] / number[1] == pytest.approx(
        3.785411784, rel=1e-4
    )  # 231 cubic inches: NIST SP 811, appendix B.8
    assert page.input_value("#oat") == "86"  # 30 degC: F = 9/5 C + 32
    page.select_option("#clock", "utc")
    page.click("#theme")
    again = open_page(context=page.context)
    answered(again)
    assert (again.input_value("#units"), again.input_value("#clock")) == ("us", "utc")
    assert again.evaluate("document.documentElement.dataset.theme") == "dark"
    assert "US gal/h" in again.locator(".big").first.inner_text()


# Feet: 0.3048 m exactly; US gallon: 3.785411784 L exactly (NIST SP 811, appendix B.8). What was written stays.
SENTENCES = {
    "clear: terrain 480 m beyond, 59.4 m below": "clear: terrain 480 m (≈1,575 ft) beyond, 59.4 m (≈194.9 ft) below",
    "partial load: 9,994 L of 10,000 L": "partial load: 9,994 L (≈2,640 US gal) of 10,000 L (≈2,642 US gal)",
    "a level of -0.4 m": "a level of -0.4 m (≈-1.3 ft)",
    "1,234,567.5 m": "1,234,567.5 m (≈4,050,418.3 ft)",
    # No length, another writing, a range, or the words of whoever wrote a site: left alone.
    "9.3 m/s over 120 m2, 3 m² and 2 m^2": None,
    "1 200 m and 1,5 m": None,
    "5-10 m": None,
    "W04 5 m": None,
    "2.0 minutes, 30 mm, 1.5 km": None,
    "wires noted at Beach (S1 revision 2, not dated): 30 m high": None,
}


def test_sentences_keep_their_figures_and_gain_the_chosen_unit(open_page):
    page = open_page()
    answered(page)
    for system in ("trade", "si", "us"):
        shown = page.evaluate(
            "([system, texts]) => import('./static/app/units.js').then((units) => { units.chooseUnits(system);"
            " return texts.map(units.sentence); })",
            [system, list(SENTENCES)],
        )
        for text, (given, wanted) in zip(shown, SENTENCES.items(), strict=True):
            assert text == (wanted if system == "us" and wanted is not None else given)
    page.select_option("#units", "us")
    page.locator(".row-open").first.click()
    page.wait_for_selector("#breakdown:has-text('(≈')")
    assert "Sentences keep their metres and litres" in page.locator("#breakdown").inner_text()
    page.keyboard.press("Escape")
    page.select_option("#units", "trade")
    page.locator(".row-open").first.click()
    page.wait_for_selector("#breakdown:has-text('Figures in sentences are in metres')")
    assert "≈" not in page.locator("#breakdown").inner_text()


# Directions that the survey looked in every 10 degrees, and the arcs that they make: counted by hand.
ARCS = [
    ([], []),
    ([350, 0, 10], [[345, 375]]),
    ([50, 300, 310], [[45, 55], [295, 315]]),
    ([90], [[85, 95]]),
    (list(range(0, 360, 10)), [[0, 360]]),
]


def test_the_ways_in_and_out_of_a_hover_are_drawn_as_arcs(open_page):
    page = open_page()
    ask = "return import('./static/app/hover_ways.js').then((ways) => "
    for bearings, arcs in ARCS:
        made = page.evaluate(
            f"(given) => {{ {ask} ways.arcsOf(given).map((one) => [one.from, one.to])); }}", bearings
        )
        assert made == arcs
    ways = {"in_from_true_deg": [120], "out_to_true_deg": [300]}
    drawn = page.evaluate(f"(given) => {{ {ask} ways.hoverSign(given)); }}", ways)
    # The points of the arrows: 12 inside the inner arc, 12 outside the outer one; sin 300 = -0.866, cos 300 = 0.5.
    assert "L-41.6 -24.0L" in drawn and "L12.1 7.0L" in drawn
    unknown = page.evaluate(f"() => {{ {ask} ways.hoverSign(null)); }}")
    assert "<path" not in unknown, "where the ways are unknown none is drawn"


def test_what_stands_beside_the_water_is_in_the_legend(open_page):
    page = open_page()
    answered(page)
    legend = page.locator("#legend").inner_text()
    for words in ("wire", "no-fly area", "base", "the fire", "survey first", "not usable today", "ways in"):
        assert words in legend
    assert "mast" not in legend, "only what the region has"


def test_all_cautions_are_a_click_away(open_page):
    page = open_page()
    answered(page)
    page.click("#all-cautions")
    told = page.locator("#cautions").inner_text().lower()
    for words in ("pilot in command", "look before", "wires", "level"):
        assert words in told


def test_a_water_outside_the_list_opens_from_the_map(open_page):
    page = open_page(size=DESKTOP)
    answered(page)
    page.wait_for_selector("#map canvas", state="attached")
    page.locator("#excluded summary").click()
    page.locator(".excluded-open").first.click()
    page.wait_for_selector("#breakdown:has-text('Not in the list')")
    assert "Checks" in page.locator("#breakdown").inner_text()
