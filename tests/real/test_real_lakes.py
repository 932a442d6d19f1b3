"""Real lakes against published lengths, and the whole job once on a real coast."""

import pytest

from geo import pipeline
from geo.ingest.layers.aircraft import load_profile
from geo.survey.runs import longest_run
from services.core import quantities
from tests.real import relief
from tests.real.published_lengths import LAKES
from tests.real.survey_real_lakes import plane_lake

pytestmark = pytest.mark.real


@pytest.mark.parametrize("lake", [lake for lake in LAKES if lake.straight], ids=lambda lake: lake.name)
def test_longest_run_agrees_with_the_published_length(lake):
    """Within 3 %, the issue of old source maps allowed for; sources stand in published_lengths.py."""
    assert longest_run(plane_lake(lake)).length_m / 1000.0 == pytest.approx(lake.published_km, rel=0.03)


@pytest.mark.parametrize("lake", [lake for lake in LAKES if not lake.straight], ids=lambda lake: lake.name)
def test_a_run_never_exceeds_a_length_along_a_bent_axis(lake):
    """Lengths printed along an axis or across land bound the straight open water from above."""
    assert longest_run(plane_lake(lake)).length_m / 1000.0 <= 1.01 * lake.published_km


# Maximum effective length [km] computed by others on the same open polygons (about 400 sampled shore points, 3 %).
@pytest.mark.parametrize(
    ("name", "effective_km"),
    [("Geneva", 50.4), ("Constance, upper", 58.6), ("Balaton", 74.1), ("Loch Ness", 34.2)],
)
def test_effective_length_of_bent_lakes(name, effective_km):
    lake = next(lake for lake in LAKES if lake.name == name)
    assert longest_run(plane_lake(lake)).length_m / 1000.0 == pytest.approx(effective_km, rel=0.03)


def test_the_whole_job_on_a_real_coast(tmp_path):
    """Real sea, lakes, terrain and sea bed: every water gets a verdict, and no lake without depths is usable by ram."""
    region = pipeline.load(relief.coast_region(tmp_path / "coast"))
    survey = pipeline.survey(region)
    weather = quantities.weather("240/15kt", "28C", "1015", "0m", None)
    ranking = pipeline.rank(region, survey, region.fires[0], load_profile("heavy_tank_helicopter"), weather)
    assert len(ranking.sources) + len(ranking.excluded) == len(region.bodies)
    kinds = {body.body_id: body.kind for body in region.bodies}
    assert not [
        s for s in ranking.sources if kinds[s.body_id] == "lake" and s.assessment.method == "ram_intake"
    ]
    assert not [
        s for s in ranking.sources if kinds[s.body_id] == "sea" and s.assessment.method == "hover_pump"
    ]
    assert all(item.reason for item in ranking.excluded)
