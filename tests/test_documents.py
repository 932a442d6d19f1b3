"""The documents keep up: every command, setting, column, input key and profile is in them, and every link leads on.

README has the opening, the commands and the profiles; REFERENCE.md has the tables. Options may stand in either.
"""

import re
from dataclasses import fields
from pathlib import Path

import pytest
import typer.main

from geo.ingest import settings as region_file
from geo.ingest.layers.aircraft import profile_names
from geo.records.survey import SurveySettings
from services.app import RankingQuestion
from services.cli.main import app
from services.settings import PREFIX, Settings
from tests.column_tables import markdown

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
REFERENCE = (ROOT / "REFERENCE.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
BOTH = README + REFERENCE


def section(title: str) -> str:
    """The text below a heading of REFERENCE.md, down to the next one of its level."""
    found = re.search(rf"^## {re.escape(title)}$(.*?)(?=^## |\Z)", REFERENCE, re.M | re.S)
    assert found, f"REFERENCE.md has no heading {title!r}"
    return found[1]


def anchors(document: str) -> set[str]:
    """What the headings of a document are linked by: small letters, no signs, a hyphen for each space."""
    headings = re.findall(r"^#+ (.+)$", re.sub(r"^```.*?^```$", "", document, flags=re.M | re.S), re.M)
    return {re.sub(r"[^\w -]", "", one.lower()).replace(" ", "-") for one in headings}


def test_readme_opens_with_one_paragraph_on_the_job():
    opening = README.split("\n\n")[1]
    assert "helicopter" in opening and "\n#" not in opening and len(opening) < 1500


def test_column_tables_are_those_of_the_exports():
    assert markdown() in REFERENCE, (
        "run `python -m tests.column_tables` and paste its output into REFERENCE.md"
    )


def test_every_command_and_profile_is_named():
    for command in typer.main.get_command(app).commands:
        assert re.search(rf"(fetchwater|make) {command}\b", README), command
    for name in profile_names():
        assert name in README


@pytest.mark.parametrize("command", ["survey", "rank", "fleet", "export", "serve", "sheet", "pack"])
def test_every_option_of_the_questions_is_named(command):
    for parameter in typer.main.get_command(app).commands[command].params:
        for option in parameter.opts:
            assert not option.startswith("--") or re.search(rf"{option}(?![\w-])", BOTH), option


def test_every_field_of_the_ranking_over_http_is_named():
    requests = section("HTTP requests")
    for name in ("line", "width", "coverage", "fuel_model", "time", "target", "perimeter"):
        assert name in RankingQuestion.model_fields and f"`{name}`" in requests, name


def test_every_setting_is_named():
    for name in Settings.model_fields:
        assert f"\n| `{PREFIX}{name.upper()}` |" in section("Settings"), name
    for field in fields(SurveySettings):
        assert f"`{field.name}`" in row("survey"), field.name


def row(name: str) -> str:
    """The row of a section of region.toml in the table of its keys."""
    (found,) = re.findall(rf"^\| (?:`\[{name}\]`|{name}) \|.*$", section("region.toml, its keys"), re.M)
    return found


def named(model: type[region_file.BaseModel], line: str, place: str) -> None:
    """Every key of a section, and of the columns that it maps, stands in its row."""
    for name, field in model.model_fields.items():
        assert f"`{field.alias or name}`" in line or name == "columns", f"{place}.{name}"
        if name == "columns":
            named(field.annotation, line, f"{place}.columns")


def test_every_key_of_region_toml_is_named():
    """Each section has its row in REFERENCE.md's table, and the row has every key and every column of that section."""
    for name, field in region_file.RegionSettings.model_fields.items():
        kinds = getattr(field.annotation, "__args__", (field.annotation,))
        models = [k for k in kinds if isinstance(k, type) and issubclass(k, region_file.BaseModel)]
        if models:
            named(models[0], row(name), name)
        else:
            assert f"`{field.alias or name}`" in row("top"), name


def test_make_targets_are_named():
    targets = re.findall(r"^([a-z-]+):.*##", (ROOT / "Makefile").read_text(), flags=re.M)
    assert targets
    for target in targets:
        assert f"`{target}`" in DEVELOPERS or f"make {target}" in README + DEVELOPERS, target


@pytest.mark.parametrize("name", ["README.md", "REFERENCE.md", "DEVELOPERS.md"])
def test_every_link_and_picture_leads_on(name):
    """Anchors are made of headings as GitHub makes them (from memory)."""
    for target in re.findall(r"\]\(([^)]+)\)", (ROOT / name).read_text(encoding="utf-8")):
        file, _, anchor = target.partition("#")
        assert (ROOT / (file or name)).is_file(), target
        assert not anchor or anchor in anchors((ROOT / (file or name)).read_text(encoding="utf-8")), target


def test_the_tree_names_every_page_of_geo_and_every_folder():
    """`geo/{a,b}.py` in the table of DEVELOPERS.md stands for two files; every name that stands there exists."""
    standing = set()
    for braces in re.findall(
        r"`((?:geo|services|tests)/[^` ]*)`", DEVELOPERS.partition("## One-way flow")[0]
    ):
        before, _, rest = braces.partition("{")
        inside, _, after = rest.partition("}")
        standing |= {before + one + after for one in inside.split(",")} if rest else {braces}
    assert not [name for name in standing if not (ROOT / name).exists()]
    pages = {f"geo/{path.name}" for path in (ROOT / "geo").glob("[a-z]*.py")}
    folders = {f"{path.parent.relative_to(ROOT)}/" for path in (ROOT / "geo").glob("[a-z]*/__init__.py")}
    folders |= {
        f"{path.parent.relative_to(ROOT)}/" for path in (ROOT / "services").glob("[a-z]*/__init__.py")
    }
    assert pages | folders <= standing, (pages | folders) - standing
