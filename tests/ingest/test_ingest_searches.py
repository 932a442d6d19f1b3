"""How a survey searched the bed, as region.toml says it: for a file, and for each survey in it."""

import pytest
from ingest_files import HEAD, SOUNDINGS, WATER, write_region

from geo.ingest.checks.report import Report
from geo.ingest.layers.survey_quality import declared_search
from geo.ingest.load_region import check_region, load_region
from geo.ingest.settings import DepthRaster, Searched

ROWS = "lon,lat,depth,how\n-30.01,-40.005,3,scan\n-30.011,-40.005,4,\n-30.012,-40.005,5,old\n"
PLAIN = SOUNDINGS.replace('survey_order = "1a"', "uncertainty_a_m = 0.3")
NAMED = f'{PLAIN}survey = "how"\n[soundings.surveys.scan]\nbed_search = "swath"\nswath_m = 40.0\nfeature_m = 0.5\n'


def searched(**keys):
    report = Report()
    found = declared_search(Searched(**keys), report.about("s.csv"), "soundings")
    return found, report.all_faults()


def write(tmp_path, soundings):
    (tmp_path / "s.csv").write_text(ROWS)
    return write_region(tmp_path, HEAD + WATER + soundings)


@pytest.mark.parametrize(
    ("keys", "method", "feature_m"),
    [
        ({}, "none", None),
        # IHO S-44 Ed. 6, table 1: special order finds cubes above 1 m everywhere; order 2 searches for nothing.
        ({"survey_order": "special"}, "full", 1.0),
        ({"survey_order": "2"}, "none", None),
        ({"catzoc": "A1"}, "full", 2.0),
        ({"catzoc": "B"}, "none", None),
        # What was really done counts before what the order asks for.
        ({"survey_order": "special", "bed_search": "lines", "line_spacing_m": 50.0}, "lines", 1.0),
        ({"bed_search": "swept", "swept_depth_m": 3.0}, "swept", None),
        ({"bed_search": "dry"}, "dry", None),
    ],
)
def test_a_section_says_how_the_bed_was_searched(keys, method, feature_m):
    found, faults = searched(**keys)
    assert (found.method, found.feature_m) == (method, feature_m) and not faults


@pytest.mark.parametrize(
    ("keys", "lacking"),
    [
        ({"bed_search": "swath", "feature_m": 1.0}, "swath_m"),
        ({"bed_search": "swath", "swath_m": 30.0}, "feature_m"),
        ({"bed_search": "full"}, "feature_m"),
        ({"bed_search": "lines"}, "line_spacing_m"),
        ({"bed_search": "swept"}, "swept_depth_m"),
    ],
)
def test_a_search_that_lacks_what_it_needs_is_asked_for_and_counts_for_nothing(keys, lacking):
    found, (fault,) = searched(**keys)
    assert found.method == "none" and fault.severity == "ask" and fault.field == f"soundings.{lacking}"


def test_each_sounding_knows_its_survey(tmp_path, worker):
    folder = write(tmp_path, NAMED)
    region = load_region(folder, worker=worker)
    assert [one.method for one in region.soundings.searches] == ["none", "swath"]
    # The second names no survey: the file's own holds. The third names one that nobody described: nothing is known.
    assert region.soundings.survey.tolist() == [1, 0, -1]
    (fault,) = [each for each in check_region(folder, worker=worker)[0] if each.field == "how"]
    assert fault.severity == "caution" and "no survey of this name" in fault.rule


def test_an_unknown_key_of_a_named_survey_is_refused_with_the_known_ones(tmp_path, worker):
    folder = write(tmp_path, NAMED + "width_m = 3.0\n")
    fault = next(each for each in check_region(folder, worker=worker)[0] if "width_m" in (each.field or ""))
    assert fault.severity == "refuse" and "swath_m" in fault.cure and "feature_m" in fault.cure


def test_a_raster_of_an_order_searched_as_the_order_asks():
    section = DepthRaster(file="d.tif", survey_order="1a")
    assert declared_search(section, Report().about("d.tif"), section.key).feature_m == 2.0
