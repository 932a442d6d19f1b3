"""Sheets: one page of the right size whose figures are those of the records, in a type that can be read."""

import io
import re
from dataclasses import replace

import export_samples as samples
import pytest
import shapely
from pypdf import PdfReader
from pyproj import Transformer

from geo.errors import BadArgument
from geo.export.geographic_shapes import geographic
from geo.export.positions import degrees_minutes, duration_text, utm_text
from geo.export.sheets.paper import PAPERS, TYPE_SIZES_PT, SheetTooLong, one_page
from geo.export.sheets.ranking_sheet import ranking_sheet
from geo.export.sheets.water_sheet import best_run, water_sheet
from geo.ranking.statements import GENERAL_CAUTIONS

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
    assert "the pilot in command decides" in text and "Unknown was never counted as good" in text
    assert all(caution in text for caution in ranked.cautions)
    assert ranked.survey_fingerprint[:12] in text


def test_ranking_sheet_without_sources_says_so(sheet_region, ranked):
    _, text = read(ranking_sheet(sheet_region, replace(ranked, sources=())))
    assert "No water can be ranked" in text


def test_forty_sources_stay_on_one_page_and_the_rest_is_counted(sheet_region, ranked):
    many = replace(ranked, sources=tuple(replace(ranked.sources[i % 5], rank=i + 1) for i in range(40)))
    reader, text = read(ranking_sheet(sheet_region, many))
    assert len(reader.pages) == 1 and "30 more are ranked" in text


def test_names_are_text_never_markup(sheet_region, ranked):
    hostile = replace(ranked, fire_name="<img src='file:///etc/passwd'><script>1</script>")
    _, text = read(ranking_sheet(sheet_region, hostile))
    assert "<script>1</script>" in text


def test_records_of_different_input_and_unknown_paper_are_refused(sheet_region, ranked):
    with pytest.raises(BadArgument, match="not of one input"):
        ranking_sheet(sheet_region, replace(ranked, survey_fingerprint="other"))
    with pytest.raises(BadArgument, match="A4 or Letter"):
        ranking_sheet(sheet_region, ranked, paper="A5")


def test_a_sheet_that_does_not_fit_is_refused_and_not_cut(sheet_region, ranked):
    with pytest.raises(SheetTooLong, match=f"{TYPE_SIZES_PT[-1]:g} pt"):
        ranking_sheet(
            sheet_region, replace(ranked, cautions=tuple("a long caution " * 40 for _ in range(40)))
        )


def test_nothing_is_fetched_for_a_sheet(monkeypatch):
    """An address in a template that is not held data stops the sheet (no template of ours has one)."""
    from geo.export.sheets import paper

    class Hostile:
        def get_template(self, _):
            return self

        def render(self, _):
            return "<img src='file:///etc/hostname'>"

    monkeypatch.setattr(paper, "_environment", Hostile)
    with pytest.raises(Exception, match="etching"):
        one_page("any", {}, "A4")


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
        if run.depth.quantiles_m is None:
            assert "UNKNOWN" in text
        else:
            assert f"at least {max(run.depth.depth_with_confidence_m(0.95), 0.0):.1f} m everywhere" in text
    if record.hover_point is not None:
        assert f"{record.hover_point.clear_radius_m:.0f} m to" in text


def test_water_sheet_says_that_no_list_of_wires_was_given(sheet_region):
    record = samples.survey(sheet_region).bodies[0]
    bare = replace(sheet_region, obstacles=(), obstacles_listed=False)
    _, text = read(water_sheet(bare, record, ()))
    assert "NO LIST of masts and wires" in text
    with pytest.raises(BadArgument, match="not in region"):
        water_sheet(replace(sheet_region, bodies=()), record, ())


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
