"""Another level from the command line: read, kept apart in the store, and refused with its fix."""

import pytest

from geo.base.errors import BadArgument, BadInput
from services.core import quantities
from services.core.workspace import open_workspace
from services.store import surveys
from services.store.surveys import survey_key
from tests.services.conftest import DEMO


def test_levels_are_read_in_metres_or_feet():
    assert quantities.level("W04=212.4") == ("W04", 212.4)
    # The international foot is 0.3048 m exactly.
    assert quantities.level("Pellin = Reservoir=696ft") == ("Pellin = Reservoir", pytest.approx(212.1408))
    assert quantities.level("R1=-0.5m") == ("R1", -0.5)


@pytest.mark.parametrize("text", ["W04", "=3", "W04=", "W04=deep", "W04=3km", "W04=nan"])
def test_what_is_no_level_is_refused_with_the_cure(text):
    with pytest.raises(BadArgument, match="W04=696ft"):
        quantities.level(text)


def test_another_level_is_another_survey_and_leaves_the_first_alone(workspace):
    store = workspace.store
    asked = open_workspace(DEMO, store, levels=[("W04", 64.0)])
    assert asked.survey_key != workspace.survey_key
    low, full = (
        next(body for body in one.survey.bodies if body.body_id == "W04") for one in (workspace, asked)
    )
    assert low.level_change_m.value == pytest.approx(-6.0, abs=0.01)
    assert full.level_change_m.value == pytest.approx(0.0, abs=0.01)
    assert low.area_today_m2.value < 0.7 * full.area_today_m2.value
    kept = surveys.find(store.engine, asked.region.fingerprint, asked.survey.settings)
    again = next(body for body in kept.bodies if body.body_id == "W04")
    assert again.level_outlooks == full.level_outlooks and full.level_outlooks != ()
    assert survey_key(workspace.region.fingerprint, workspace.survey.settings) == workspace.survey_key


def test_a_water_that_does_not_exist_is_refused(workspace):
    with pytest.raises(BadInput, match="no water body"):
        open_workspace(DEMO, workspace.store, levels=[("nowhere", 3.0)])


@pytest.mark.parametrize("second", [("W04", 60.0), ("Pellin Reservoir", 60.0)])
def test_two_levels_for_one_water_are_refused_whichever_comes_last(workspace, second):
    """Two readings of one gauge that differ: nobody here knows which one holds."""
    for levels in ([("W04", 58.8), second], [second, ("W04", 58.8)]):
        with pytest.raises(BadInput, match="two levels"):
            open_workspace(DEMO, workspace.store, levels=levels)
