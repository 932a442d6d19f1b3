"""The embedded store keeps what it was given, notices other inputs, and refuses a newer file."""

import sqlite3
from dataclasses import replace

import pytest

from geo.records.survey import SurveySettings
from services.store import Store, StoreTooNew, survey_key


def test_a_survey_comes_back_as_it_was(workspace, tmp_path):
    """Every field, shapes included, survives the round trip."""
    store = Store(tmp_path)
    store.save_survey(workspace.survey)
    assert (
        Store(tmp_path).find_survey(workspace.survey.fingerprint, workspace.survey.settings)
        == workspace.survey
    )


def test_other_inputs_or_settings_are_another_survey(workspace, tmp_path):
    store = Store(tmp_path)
    store.save_survey(workspace.survey)
    assert store.find_survey("another fingerprint", workspace.survey.settings) is None
    wider = replace(workspace.survey.settings, corridor_width_m=90.0)
    assert store.find_survey(workspace.survey.fingerprint, wider) is None
    assert survey_key("a", SurveySettings()) != survey_key("b", SurveySettings())


def test_question_and_answer_are_kept(tmp_path):
    store = Store(tmp_path)
    first = store.save_ranking("key", {"fire": "F1"}, {"sources": []})
    second = store.save_ranking("key", {"fire": "F1"}, {"sources": []})
    assert first != second
    found = store.find_ranking(first)
    assert (found["survey_key"], found["question"], found["answer"]) == (
        "key",
        {"fire": "F1"},
        {"sources": []},
    )
    assert store.find_ranking("0" * 16) is None


def test_a_store_of_a_newer_program_is_refused_and_left_alone(tmp_path):
    Store(tmp_path)
    path = tmp_path / "fetchwater.sqlite"
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA user_version=99")
    connection.close()
    with pytest.raises(StoreTooNew, match="Cure"):
        Store(tmp_path)
    connection = sqlite3.connect(path)
    assert connection.execute("PRAGMA user_version").fetchone() == (99,)
    connection.close()
