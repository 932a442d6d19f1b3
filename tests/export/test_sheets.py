"""Sheets: one page of the right size whose figures are those of the records, in a type that can be read."""

import io
import math
import re
from dataclasses import replace
from datetime import date

import export_samples as samples
import pytest
import shapely
from pypdf import PdfReader
from pyproj import Geod, Transformer

from geo.base.errors import BadArgument, MissingLibrary, SheetTooLong
from geo.base.positions import bearing_text, decimal_degrees, degrees_minutes, duration_text, utm_text
from geo.base.unit_system import SI, TRADE, US, unit_system
from geo.export.sheets.best_run import best_run
from geo.export.sheets.paper import TYPE_SIZES_PT, one_page
from geo.export.sheets.ranking_sheet import ranking_sheet
from geo.export.sheets.side_drawing import side_drawing
from geo.export.sheets.water_sheet import water_sheet
from geo.ranking.statements import GENERAL_CAUTIONS
from geo.records.file_formats import PAPERS
from geo.records.geographic_shapes import geographic
from geo.records.region import AnnotatedSite
from geo.survey.side_view import side_view_of
from tests.needs import needs

POINTS_PER_MM = 72.0 / 25.4
# ISO 216 A4 and ANSI/ASME Y14.1 Letter (size A), width x height [mm].
SIZES_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}


def read(pdf: bytes) -> tuple[PdfReader, str]:
    reader = PdfReader(io.BytesIO(pdf))
    return reader, re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages))


@pytest.fixture(scope="module")
def sheet_region():
    return samples.region()


@pytest.fixture(scope="module")
def ranked(sheet_region):
    return samples.ranking(sheet_region)


@needs("Pango")
@pytest.mark.parametrize("paper", PAPERS)
def test_ranking_sheet_is_one_page_with_the_figures_of_the_records(sheet_region, ranked, paper):
    reader, text = read(ranking_sheet(sheet_region, ranked, paper=paper))
    assert len(reader.pages) == 1
    box = reader.pages[0].mediabox
    assert (float(box.width) / POINTS_PER_MM, float(box.height) / POINTS_PER_MM) == pytest.approx(
        SIZES_MM[paper], abs=0.2
    )
    for source in ranked.sources[:10]:
        assert source.name in text
        assert duration_text(source.cycle.round_trip_s) in text
        assert f"{source.cycle.litres_per_hour:,.0f} L" in text
    assert (
        "the pilot in command decides" in text and "An important unknown keeps a water off the list" in text
    )
    assert all(caution in text for caution in ranked.cautions)
    assert ranked.survey_fingerprint[:12] in text


@needs("Pango")
def test_ranking_sheet_without_sources_says_so(sheet_region, ranked):
    _, text = read(ranking_sheet(sheet_region, replace(ranked, sources=())))
    assert "No water can be ranked" in text


@needs("Pango")
def test_forty_sources_stay_on_one_page_and_the_rest_is_counted(sheet_region, ranked):
    many = replace(ranked, sources=tuple(replace(ranked.sources[i % 5], rank=i + 1) for i in range(40)))
    reader, text = read(ranking_sheet(sheet_region, many))
    assert len(reader.pages) == 1 and "30 more are ranked" in text


@needs("Pango")
def test_names_are_text_never_markup(sheet_region, ranked):
    hostile = replace(ranked, fire_name="<img src='file:///etc/passwd'><script>1</script>")
    _, text = read(ranking_sheet(sheet_region, hostile))
    assert "<script>1</script>" in text


def test_records_of_different_input_and_unknown_paper_are_refused(sheet_region, ranked):
    with pytest.raises(BadArgument, match="not of one input"):
        ranking_sheet(sheet_region, replace(ranked, survey_fingerprint="other"))
    with pytest.raises(BadArgument, match="A4 or Letter"):
        ranking_sheet(sheet_region, ranked, paper="A5")


@needs("Pango")
def test_a_sheet_that_does_not_fit_is_refused_and_not_cut(sheet_region, ranked):
    with pytest.raises(SheetTooLong, match=f"{TYPE_SIZES_PT[-1]:g} pt"):
        ranking_sheet(
            sheet_region, replace(ranked, cautions=tuple("a long caution " * 40 for _ in range(40)))
        )


@needs("Pango")
def test_nothing_is_fetched_for_a_sheet(monkeypatch):
    """An address in a template that is not held data stops the sheet (no template of ours has one)."""
    from weasyprint.urls import FatalURLFetchingError

    from geo.export.sheets import paper

    class Hostile:
        def get_template(self, _):
            return self

        def render(self, _):
            return "<img src='file:///etc/hostname'>"

    monkeypatch.setattr(paper, "_environment", Hostile)
    with pytest.raises(FatalURLFetchingError, match="etching"):
        one_page("any", {}, "A4")


def test_a_system_without_pango_is_told_what_to_install(sheet_region, ranked, monkeypatch):
    import builtins

    real = builtins.__import__

    def without(name, *rest):
        if name.startswith("weasyprint"):
            raise OSError("cannot load library 'libpango-1.0-0'")
        return real(name, *rest)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(MissingLibrary, match="apt install libpango"):
        ranking_sheet(sheet_region, ranked)


@needs("Pango")
@pytest.mark.parametrize("number", range(5))
def test_water_sheet_prints_positions_depth_and_what_is_unknown(sheet_region, number):
    record = samples.survey(sheet_region).bodies[number]
    reader, text = read(water_sheet(sheet_region, record, GENERAL_CAUTIONS))
    assert len(reader.pages) == 1 and record.name in text
    run = best_run(record)
    if run is not None:
        for index in (0, -1):
            place = geographic(shapely.get_point(run.line, index), sheet_region.frame)
            assert degrees_minutes(place.x, place.y) in text
            assert decimal_degrees(place.x, place.y) in text and utm_text(place.x, place.y) in text
        for heading in (run.heading_true_deg, run.heading_true_deg + 180.0):
            assert f"heading {bearing_text(heading)}" in text
        if run.depth.quantiles_m is None:
            assert "UNKNOWN" in text
        else:
            # Rounded down to a tenth: the depth that is printed must hold.
            sure = math.floor(run.depth.depth_with_confidence_m(0.95) * 10.0) / 10.0
            assert f"at least {sure:.1f} m everywhere" in text
    if record.hover_point is not None:
        assert f"{record.hover_point.clear_radius_m:.0f} m to" in text


@needs("Pango")
def test_water_sheet_says_that_no_list_of_wires_was_given(sheet_region):
    record = samples.survey(sheet_region).bodies[0]
    bare = replace(sheet_region, obstacles=(), obstacles_listed=False)
    _, text = read(water_sheet(bare, record, ()))
    assert "NO LIST of masts and wires" in text
    with pytest.raises(BadArgument, match="not in region"):
        water_sheet(replace(sheet_region, bodies=()), record, ())


@needs("Pango")
def test_water_sheet_prints_what_people_wrote_of_the_place(sheet_region):
    record = samples.survey(sheet_region).bodies[0]
    site = AnnotatedSite(
        "s1", "North ramp", record.hover_point.point, record.body_id, "hover_pump", "seasonal", "steep bank",
        inspected_on=date(2026, 1, 3), season_from="11-01", season_to="03-31", effect="limit", most_litres=3000.0,
        hazards="stumps", wires="one, 12 m", owner="Water Board", permission="granted",
        permission_to=date(2026, 6, 30), inspected_by="R. Example", revision=4,
    )  # fmt: skip
    _, text = read(water_sheet(replace(sheet_region, sites=(site,)), record, ()))
    for words in (
        "North ramp: SEASONAL", "at most 3,000 L", "season 11-01 to 03-31", "permission granted until 2026-06-30",
        "owner Water Board", "inspected 2026-01-03 by R. Example", "wires: one, 12 m", "hazards: stumps",
        "steep bank", "(revision 4)",
    ):  # fmt: skip
        assert words in text
    _, vetoed = read(water_sheet(replace(sheet_region, sites=(replace(site, effect="veto"),)), record, ()))
    assert "North ramp: VETO" in vetoed


@needs("Pango")
def test_many_long_notes_stay_on_one_page_and_what_rules_the_water_out_comes_first(sheet_region):
    record = samples.survey(sheet_region).bodies[0]
    long = AnnotatedSite(
        "s", "Bank", record.hover_point.point, record.body_id, None, "open", "long words " * 200
    )
    shut = replace(long, site_id="v", name="Weir", effect="veto", note="boom across")
    region = replace(sheet_region, sites=(long,) * 30 + (shut,))
    reader, text = read(water_sheet(region, record, GENERAL_CAUTIONS))
    assert len(reader.pages) == 1 and "26 MORE places are noted here" in text and "(CUT)" in text
    assert text.index("Weir: VETO") < text.index("Bank: OPEN")


@needs("Pango")
def test_water_sheet_gives_magnetic_headings_on_a_day_that_the_model_knows(sheet_region):
    record = samples.survey(sheet_region).bodies[0]
    _, text = read(water_sheet(sheet_region, record, (), day=date(2026, 1, 20)))
    # 26.7 deg east at 45.04 S 150.04 W, early 2026: World Magnetic Model 2025, by its own library (tests of positions
    # hold it to the published test values). East is least: 050 true is 023 magnetic.
    assert "26.7° east on 2026-01-20" in text and "heading 050°T 023°M" in text
    _, old = read(water_sheet(sheet_region, record, (), day=date(2035, 1, 20)))
    assert "no magnetic headings" in old and "°M" not in old


@needs("Pango")
def test_water_sheet_says_which_closures_are_in_force(sheet_region):
    record = samples.survey(sheet_region).bodies[8]
    shut = replace(sheet_region.closures[1], valid_from=date(2026, 2, 1), valid_to=date(2026, 2, 28))
    region = replace(sheet_region, closures=(shut,))
    for day, words in (
        (date(2026, 2, 3), "IN FORCE on 2026-02-03"),
        (date(2026, 3, 1), "not in force on 2026-03-01"),
    ):
        _, text = read(water_sheet(region, record, (), day=day))
        assert "CLOSED, no filling: Drinking water, from 2026-02-01 to 2026-02-28" in text and words in text


@needs("Pango")
@pytest.mark.parametrize("body", [0, 1])
def test_the_run_is_drawn_from_the_side_where_the_ground_is_known(sheet_region, body):
    record = samples.survey(sheet_region).bodies[body]
    view = side_view_of(sheet_region, samples.survey(sheet_region), record, best_run(record).line)
    assert side_drawing(view).startswith("data:image/jpeg;base64,")
    assert side_drawing(replace(view, surface_m=None)) is None
    assert side_drawing(replace(view, highest_m=(None,) * len(view.along_m))) is None
    reader, text = read(water_sheet(sheet_region, record, (), side=view))
    assert len(reader.pages) == 1 and "From the side, A to B" in text


@needs("Pango")
@pytest.mark.parametrize("paper", PAPERS)
def test_a_full_page_keeps_the_run_from_the_side_by_a_lower_map(sheet_region, paper):
    """No source but the need: a crew's sheet shows the run from the side on either paper; notes fill the page here."""
    record = samples.survey(sheet_region).bodies[0]
    view = side_view_of(sheet_region, samples.survey(sheet_region), record, best_run(record).line)
    bank = AnnotatedSite("s", "Bank", record.hover_point.point, record.body_id, None, "open", "gravel, " * 26)
    noted = replace(sheet_region, sites=(bank,) * 4)
    sheet = water_sheet(noted, record, GENERAL_CAUTIONS, side=view, paper=paper, day=date(2026, 1, 20))
    reader, text = read(sheet)
    assert len(reader.pages) == 1 and "From the side, A to B" in text
    assert len(reader.pages[0].images) == 2
    heights = [image.image.height / image.image.width for image in reader.pages[0].images]
    alone = read(water_sheet(noted, record, GENERAL_CAUTIONS, paper=paper))[0].pages[0].images[0].image
    assert max(heights) < alone.height / alone.width, "the map gave way, not the side view"


@needs("Pango")
def test_ranking_sheet_says_that_the_data_changed_and_keeps_its_figures(sheet_region, ranked):
    other = replace(sheet_region, fingerprint="other", bodies=(), terrain=None)
    _, text = read(ranking_sheet(other, ranked, changed="THE DATA CHANGED SINCE."))
    assert "THE DATA CHANGED SINCE." in text
    for source in ranked.sources:
        assert duration_text(source.cycle.round_trip_s) in text


@needs("Pango")
def test_ranking_sheet_says_in_which_wind_the_legs_are(sheet_region, ranked):
    aloft = replace(ranked, assumptions={"wind": "310/25 kt at 300 m"})
    assert "legs in another wind: 310/25 kt at 300 m" in read(ranking_sheet(sheet_region, aloft))[1]
    even = replace(ranked, assumptions={"wind": "the same everywhere and at every height"})
    assert "legs in another wind" not in read(ranking_sheet(sheet_region, even))[1]


@needs("Pango")
def test_cautions_that_have_no_room_beside_a_source_are_counted(sheet_region, ranked):
    first = replace(ranked.sources[0], cautions=("one", "two", "three", "four"))
    _, text = read(ranking_sheet(sheet_region, replace(ranked, sources=(first,))))
    assert "one; two; and 2 more" in text


@needs("Pango")
def test_what_holds_for_one_source_stands_before_what_holds_for_all(sheet_region, ranked):
    """A crew reads the first words: what is common to all, and what an office must mend, give way (no source)."""
    common = "partial load: {:,} L of 10,000 L"
    sources = tuple(
        replace(one, cautions=("write. Fix: a key", common.format(7000 + one.rank), "rotor wash"))
        for one in ranked.sources
    )
    wired = replace(sources[2], cautions=(*sources[2].cautions, "wire 377 m to the 047"))
    _, text = read(ranking_sheet(sheet_region, replace(ranked, sources=(*sources[:2], wired, *sources[3:]))))
    assert "wire 377 m to the 047; partial load: 7,003 L of 10,000 L; and 2 more" in text
    assert "Fix:" not in text


@needs("Pango")
def test_ranking_sheet_names_run_first_load_loads_and_sustained_rate(sheet_region, ranked):
    _, text = read(ranking_sheet(sheet_region, ranked))
    for source in ranked.sources:
        # 26.7 deg east on this day (World Magnetic Model 2025 by its own library, as above): 27 less, in whole degrees.
        heading = source.assessment.run_heading_true_deg
        run = "" if heading is None else f", run {heading:03.0f}°T {heading - 27.0:03.0f}°M"
        assert f"{source.assessment.way}{run}," in text
        assert f" 12 {source.fuel.sustained_litres_per_hour:,.0f} L" in text


@needs("Pango")
def test_water_sheet_gives_the_ways_in_and_out_true_and_magnetic(sheet_region):
    record = samples.with_ways(samples.survey(sheet_region).bodies[0])
    place = record.hover_point.point
    back = Transformer.from_crs(sheet_region.frame.crs_wkt, "EPSG:4326", always_xy=True).transform
    # The plane's north at the point by PROJ's own geodesic: directions are kept from grid north.
    turn = Geod(ellps="WGS84").inv(*back(place.x, place.y), *back(place.x, place.y + 1000.0))[0]
    _, text = read(water_sheet(sheet_region, record, (), day=date(2026, 1, 20)))

    def said(angle_deg: float) -> str:
        # 26.7 deg east: World Magnetic Model 2025, as above.
        return f"{round(angle_deg + turn):03d}°T {round(angle_deg + turn - 26.7):03d}°M"

    east = f"{said(40.0)} to {said(120.0)}"
    assert f"clear above 8 %: {east} clear" in text
    assert f"clear above 12.5 %: {east}, {said(200.0)} to {said(240.0)}" in text
    shut = replace(record.hover_point.sectors, unknown=((0,),) * 36)
    barred = replace(record, hover_point=replace(record.hover_point, sectors=shut))
    assert "clear above 12.5 %: NONE" in read(water_sheet(sheet_region, barred, ()))[1]


# Exact by definition: 1 NM = 1852 m, 1 ft = 0.3048 m, 1 US gal = 3.785411784 L, 1 kt = 1852 m/h (NIST SP 811, app. B);
# 1 inHg = 33.86389 hPa (the same, conventional).
@pytest.mark.parametrize(
    ("text", "shown"),
    [
        (TRADE.distance.text(3704.0), "2.0 NM"),
        (TRADE.height.text(304.8), "1,000 ft"),
        (TRADE.speed.text(1852.0 / 360.0), "10 kt"),
        (TRADE.volume.text(10000.0), "10,000 L"),
        (SI.distance.text(3704.0), "3.7 km"),
        (SI.height.text(304.8), "305 m"),
        (US.volume.text(3785.411784), "1,000 US gal"),
        (US.temperature.text(37.0), "99 °F"),
        (US.temperature.text(-40.0), "-40 °F"),
        (US.pressure.text(1013.25), "29.92 inHg"),
        (US.depth.text(3.048), "10.0 ft"),
        (US.depth.text(None), "UNKNOWN"),
        (TRADE.temperature.text(-0.2), "0 °C"),
    ],
)
def test_units(text, shown):
    assert text == shown


@needs("Pango")
def test_sheets_in_us_units_and_unknown_units(sheet_region, ranked):
    _, text = read(ranking_sheet(sheet_region, ranked, units=US))
    # 10,000 L = 2,642 US gal; 34 C = 93 F; 1009 hPa = 29.80 inHg
    assert "2,642 US gal" in text and "93 °F" in text and "29.80 inHg" in text
    with pytest.raises(BadArgument, match="trade, si, us"):
        unit_system("imperial")


# NGA.SIG.0012 (2014), section 7: zone 1 begins at 180 W, zones are 6 degrees wide, zone 31 begins at Greenwich; the
# central meridian lies at 500,000 m E and the equator at 0 m N (north) or 10,000,000 m N (south).
@pytest.mark.parametrize(
    ("longitude_deg", "latitude_deg", "text"),
    [
        (-177.0, 0.0, "1 north 500000 E 0 N"),
        (3.0, 0.0, "31 north 500000 E 0 N"),
        (177.0, 0.0, "60 north 500000 E 0 N"),
        (0.0, 84.5, "outside UTM"),
    ],
)
def test_utm_zones(longitude_deg, latitude_deg, text):
    assert utm_text(longitude_deg, latitude_deg) == text


def test_utm_goes_back_to_the_position():
    zone, south, east, _, north, _ = utm_text(-128.09421, -46.98812).split()
    back = Transformer.from_crs(f"EPSG:327{int(zone):02d}", "EPSG:4326", always_xy=True).transform(
        float(east), float(north)
    )
    assert south == "south" and back == pytest.approx((-128.09421, -46.98812), abs=1e-5)
