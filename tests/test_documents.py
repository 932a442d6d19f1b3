"""The documents keep up: every command, setting, column, input key and profile is in them, and every link leads on.

README has the opening, the commands and the profiles; REFERENCE.md has the tables. Options may stand in either.
"""

import re
from dataclasses import fields
from pathlib import Path
from typing import get_args

import pytest
import typer.main

from geo import pipeline
from geo.base import outliers
from geo.flight import winds
from geo.ingest import settings as region_file
from geo.ingest.files import gpx_file
from geo.ingest.layers.aircraft import profile_names
from geo.ranking.extras import certainty, fleet, perimeter
from geo.ranking.extras.contenders import Spread
from geo.records import region as region_record
from geo.records.file_formats import USUAL_FORMATS
from geo.records.survey import SurveySettings
from geo.search import best_first
from geo.survey import outlook, salinity
from geo.today import sites
from services.cli.main import app
from services.core.typed import TypedRanking
from services.errors import STATUS_TABLE
from services.ogc import parameters as ogc_parameters
from services.settings import PREFIX, Settings
from tests.column_tables import markdown

ROOT = Path(__file__).resolve().parent.parent
SURVEY, SPREAD = SurveySettings(), Spread()
README = (ROOT / "README.md").read_text(encoding="utf-8")
REFERENCE = (ROOT / "REFERENCE.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
STORIES = (ROOT / "STORIES.md").read_text(encoding="utf-8")
BOTH = README + REFERENCE
# The words that plain ones took the place of, in any document but CHANGELOG, which tells of both.
OLD_WORDS = (
    "fuel load", "closed air", "ruled by", "passed over", "ways round", "even wind", "structural limit", "hover margin",
    "Why here", "adds up", "Cure", "beside the order", "bent run", "run out before", "worked on",
)  # fmt: skip


def section(title: str) -> str:
    """The text below a heading of REFERENCE.md, down to the next one of its level."""
    found = re.search(rf"^## {re.escape(title)}$(.*?)(?=^## |\Z)", REFERENCE, re.M | re.S)
    assert found, f"REFERENCE.md has no heading {title!r}"
    return found[1]


def anchors(document: str) -> set[str]:
    """What the headings of a document are linked by: small letters, no signs, a hyphen for each space."""
    headings = re.findall(r"^#+ (.+)$", re.sub(r"^```.*?^```$", "", document, flags=re.M | re.S), re.M)
    return {re.sub(r"[^\w -]", "", one.lower()).replace(" ", "-") for one in headings}


def test_readme_opens_with_the_picture_the_job_and_the_two_commands():
    title, picture, opening = README.split("\n\n")[:3]
    assert title == "# Fetchwater" and picture.startswith("![")
    assert "helicopter" in opening and "\n" in opening and len(opening) < 1500
    first = README.partition("```\n")[2].partition("```")[0]
    assert [line.split("#")[0].strip() for line in first.splitlines()] == ["make demo", "make test"]
    assert len(README.splitlines()) < 200


def test_readme_names_the_library_of_the_sheets_before_the_first_sheet():
    for package in ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"):
        assert package in README.partition("fetchwater sheet")[0]
        assert package in (ROOT / "Dockerfile").read_text(encoding="utf-8"), package


@pytest.mark.parametrize("name", ["README.md", "REFERENCE.md", "DEVELOPERS.md", "STORIES.md"])
def test_plain_words(name):
    """Old words are gone, not kept beside the new ones."""
    text = re.sub(r"\s+", " ", (ROOT / name).read_text(encoding="utf-8"))
    assert [word for word in OLD_WORDS if re.search(rf"\b{word}\b", text)] == []


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
        assert name in TypedRanking.model_fields and f"`{name}`" in requests, name


def test_every_setting_is_named():
    for name in Settings.model_fields:
        assert f"\n| `{PREFIX}{name.upper()}` |" in section("Settings"), name
    for field in fields(SurveySettings):
        assert f"`{field.name}`" in row("survey"), field.name


def test_the_exit_codes_and_statuses_are_those_of_the_table():
    said = re.findall(r"^\| (\d) \| (\d{3}) \|", section("Exit codes and HTTP statuses"), re.M)
    pairs = [(int(code), int(status)) for code, status in said]
    assert len(pairs) == len(set(pairs)) and set(pairs) == {row[1:3] for row in STATUS_TABLE}


def row(name: str) -> str:
    """The row of a section of region.toml in the table of its keys."""
    (found,) = re.findall(rf"^\| (?:`\[{name}\]`|{name}) \|.*$", section("region.toml, its keys"), re.M)
    return found


def named(model: type[region_file.BaseModel], line: str, place: str) -> None:
    """Every key of a section, and of the columns that it maps, stands in its row."""
    for name, field in model.model_fields.items():
        keys = get_args(get_args(field.annotation)[0]) if name == "columns" else [field.alias or name]
        assert keys, f"{place}.{name}"
        for key in keys:
            assert f"`{key}`" in line, f"{place}.{key}"


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


@pytest.mark.parametrize("name", ["README.md", "REFERENCE.md", "DEVELOPERS.md", "STORIES.md"])
def test_every_link_and_picture_leads_on(name):
    """Anchors are made of headings as GitHub makes them (from memory)."""
    for target in re.findall(r"\]\(([^)]+)\)", (ROOT / name).read_text(encoding="utf-8")):
        file, _, anchor = target.partition("#")
        assert (ROOT / (file or name)).is_file(), target
        assert not anchor or anchor in anchors((ROOT / (file or name)).read_text(encoding="utf-8")), target


def test_the_tree_names_every_room_and_every_room_exists():
    """Each row of the tree starts with a room; each folder of `geo` and `services` is a room."""
    tree = DEVELOPERS.partition("## The tree")[2].partition("\n## ")[0]
    standing = set(re.findall(r"^\| `([^`]+)` \|", tree, re.M))
    assert not [name for name in standing if not (ROOT / name).exists()]
    rooms = {
        f"{path.parent.relative_to(ROOT)}/"
        for root in ("geo", "services")
        for path in (ROOT / root).glob("[a-z]*/__init__.py")
    }
    assert rooms | {"geo/pipeline.py"} <= standing, rooms - standing


MAP = re.findall(r"^\| (.+\?) \| `([^`]+)` \| `([^`]+)` \|$", DEVELOPERS, re.M)


def test_the_map_of_the_house_has_twenty_questions():
    assert len(MAP) >= 20 and len({question for question, _, _ in MAP}) == len(MAP)


@pytest.mark.parametrize(("question", "file", "name"), MAP, ids=[name for _, _, name in MAP])
def test_the_map_of_the_house_leads_there(question, file, name):
    """The file defines the name: a function, class, method or constant of Python, or an export of a page's script."""
    text = (ROOT / file).read_text(encoding="utf-8")
    defined = rf"^\s*(export )?(async )?(def|class|function|const) {name}\b|^{name}\b[^=\n]*="
    assert re.search(defined, text, re.M), f"{question} {file} does not define {name}"


def option(command: str, name: str) -> object:
    """The default of an option of the command line."""
    (found,) = [p for p in typer.main.get_command(app).commands[command].params if name in p.opts]
    return found.default


JUDGED, ASKED = "How runs, ends, trees, legs and loads are judged", "The question"
KEYS = "region.toml, its keys"
CONFIDENCES = [100.0 * outlook.RUN_CONFIDENCE, 100.0 * outlook.HOVER_CONFIDENCE]
SPREADS = [SPREAD.wind_direction_deg, 100.0 * SPREAD.wind_speed_fraction, SPREAD.wind_speed_least_ms]
# What a section of REFERENCE.md says of a default or a limit, and what the program has, in the order of the words.
DEFAULTS = [
    (JUDGED, r"up to (\d+) km \(`useful_cap_m`\)", [SURVEY.useful_cap_m / 1000.0]),
    (JUDGED, r"nothing above an (\d+):1 surface", [1.0 / SURVEY.surface_slope]),
    (JUDGED, r"legs clear trees of (\d+) m", [region_record.TALLEST_TREE_M]),
    (JUDGED, r"trees count (\d+) m higher", [region_record.UNSTATED_CANOPY_ERROR_M]),
    (JUDGED, r"without a stated error counts (\d+) m higher", [region_record.UNSTATED_TERRAIN_ERROR_M]),
    (ASKED, r"within (\d+) % of its length and (\d+) m", [100.0 * gpx_file.NEAR_SHARE, gpx_file.NEAR_M]),
    (ASKED, r"best run \((\d+) %\) and the hover point \((\d+) %\) are still", CONFIDENCES),
    (ASKED, r"are still ([\d.]+) m or ([\d.]+) m deep", outlook.PLAIN_DEPTHS_M),
    (ASKED, r"with their bounds \(the first ([\d,]+)\)", [best_first.MOST_LISTED]),
    (ASKED, r"region of up to (\d+) waters", [best_first.ASSESSED_WHOLE]),
    (ASKED, r"up to (\d+) m\. This is the power law", [winds.POWER_LAW_TOP_M]),
    (ASKED, r"of ([\d,]+) seeded samples", [certainty.SAMPLES]),
    (ASKED, r"deviation: (\d+) degrees\), wind speed \((\d+) %, at least ([\d.]+) m/s\)", SPREADS),
    (ASKED, r"fill time \((\d+) %\)", [100.0 * SPREAD.fill_fraction]),
    (ASKED, r"manoeuvres \((\d+) %\)", [100.0 * SPREAD.manoeuvre_fraction]),
    (ASKED, r"`--slots (\d+)` limits", [fleet.SLOTS]),
    (ASKED, r"serve for `--hours (\d+)`", [fleet.HOURS]),
    (ASKED, r"to points every (\d+) m along", [perimeter.SPACING_M]),
    (KEYS, r"more than ([\d.]+) times and more than", [outliers.FACTOR]),
    (KEYS, r"times and more than (\d+) m deeper", [outliers.LEAST_EXCESS_M]),
    (KEYS, r"dam or pond\) at most (\d+) km from its mouth", [salinity.TIDAL_REACH_M / 1000.0]),
    (KEYS, r"up to (\d+) m above the sea", [salinity.TIDAL_HEIGHT_M]),
    (KEYS, r"older than (\d+) days in rivers", [salinity.FRESH_FOR_DAYS[1]]),
    (KEYS, r"older than (\d+) years elsewhere", [salinity.FRESH_FOR_DAYS[0] / 365]),
    ("HTTP requests", r"answers on 127.0.0.1:(\d+)", [option("serve", "--port")]),
    ("Layers in every GIS", r"pages of up to ([\d,]+)", [ogc_parameters.MOST_FEATURES]),
    ("Import of sites", r"same name within (\d+) m", [sites.SAME_PLACE_M]),
]


@pytest.mark.parametrize(("title", "words", "values"), DEFAULTS, ids=[words[:40] for _, words, _ in DEFAULTS])
def test_the_defaults_of_the_documents_are_the_programs(title, words, values):
    found = re.search(words.replace(" ", r"\s+"), section(title))
    assert found, f"{title}: {words}"
    assert [float(text.replace(",", "")) for text in found.groups()] == pytest.approx(values)


def test_the_settings_have_the_defaults_that_the_table_says():
    for name, said in re.findall(rf"^\| `{PREFIX}(\w+)` \|.*\| (.+?) \|$", section("Settings"), re.M):
        default = Settings.model_fields[name.lower()].default
        text = "none" if default is None else str(default)
        text = text.lower() if isinstance(default, bool) else text.replace(str(Path.home()), "~")
        assert said.strip("`") == text, name


def test_the_options_have_the_defaults_that_the_text_says():
    assert option("rank", "--target") == "edge" and "`--target edge` (the default)" in REFERENCE
    assert option("serve", "--host") == "127.0.0.1" and "answers on 127.0.0.1:" in REFERENCE
    assert option("sheet", "--paper") == "A4" and "`--paper A4` (the default)" in REFERENCE
    assert option("sheet", "--units") == "trade" and "`--units trade`, the default" in REFERENCE
    assert option("rank", "--station-elevation") is None and "never taken as 0" in REFERENCE
    assert pipeline.LEAST_CONSIDERED == 10 and "With `--top`, at least ten sources compete" in REFERENCE
    usual = re.search(r"`export` write ([\w, ]+),\s+or the formats that you name", REFERENCE)
    assert tuple(re.split(r", | and ", usual[1])) == USUAL_FORMATS
