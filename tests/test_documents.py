"""The documents keep up: every command, setting, column, input key and profile is in the README."""

import re
from dataclasses import fields
from pathlib import Path

import pytest
import typer.main

from geo.ingest import settings as region_file
from geo.ingest.aircraft import profile_names
from geo.records.survey import SurveySettings
from services.app import RankingQuestion
from services.cli import app
from services.settings import PREFIX, Settings
from tests.column_tables import markdown

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_readme_opens_with_one_paragraph_on_the_job():
    opening = README.split("\n\n")[1]
    assert "helicopter" in opening and "\n#" not in opening and len(opening) < 1500


def test_column_tables_are_those_of_the_exports():
    assert markdown() in README, "run `python -m tests.column_tables` and paste its output into README.md"


def test_every_command_and_profile_is_named():
    for command in typer.main.get_command(app).commands:
        assert f"fetchwater {command}" in README or f"make {command}" in README, command
    for name in profile_names():
        assert name in README


@pytest.mark.parametrize("command", ["rank", "fleet", "export"])
def test_every_option_of_the_questions_is_named(command):
    for parameter in typer.main.get_command(app).commands[command].params:
        for option in parameter.opts:
            assert not option.startswith("--") or option in README, option


def test_every_field_of_the_ranking_over_http_is_named():
    for name in ("line", "width", "coverage", "fuel_model", "time", "target", "perimeter"):
        assert name in RankingQuestion.model_fields and f"`{name}`" in README, name


def test_every_setting_is_named():
    for name in Settings.model_fields:
        assert f"`{PREFIX}{name.upper()}`" in README, name
    for field in fields(SurveySettings):
        assert f"`{field.name}`" in README, field.name


def test_every_key_of_region_toml_is_named():
    """Every column that can be mapped and every section key stands in the README's table."""
    for model in vars(region_file).values():
        if (
            isinstance(model, type)
            and issubclass(model, region_file.BaseModel)
            and model.__module__ == region_file.__name__
        ):
            for name, field in model.model_fields.items():
                assert f"`{field.alias or name}`" in README or f"`[{name}]`" in README, (
                    f"{model.__name__}.{name}"
                )


def test_make_targets_are_named():
    targets = re.findall(r"^([a-z-]+):.*##", (ROOT / "Makefile").read_text(), flags=re.M)
    assert targets
    for target in targets:
        assert f"`{target}`" in DEVELOPERS or f"make {target}" in README + DEVELOPERS, target
