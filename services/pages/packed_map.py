"""The page of a field package: one file with its data, styles and scripts, which opens from disk without a service."""

import json
from base64 import b64encode
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from geo.records.region import Region
from services.core import views
from services.core.workspace import Answer, Workspace
from services.pages.bundle import CannotBundle, classic_script

_HERE = Path(__file__).resolve().parent
_STATIC = _HERE / "static"
# Whole surveys with a side view that are packed: the ranked waters first, then those left out.
MOST_SURVEYS = 60
# Letters by which data could end the element that holds it, or the line (JSON allows them, JavaScript did not).
_UNSAFE = {ord(one): f"\\u{ord(one):04x}" for one in "<>&\u2028\u2029"}


def packed_map(workspace: Workspace, answer: Answer, kept: dict) -> str:
    """Give the page as one HTML text.

    Parameters: kept, the stored question and answer (`rankings.find`).
    Raises: CannotBundle where a script of the page cannot be put into one.
    """
    data = {
        "ranking_id": answer.ranking_id,
        "asked_at": kept["asked_at"],
        "survey_key": kept["survey_key"],
        "question": kept["question"],
        "answer": answer.document,
        "cautions": views.summary(workspace)["cautions"],
        **_background(workspace.region),
        **_surveys(workspace, answer.document),
    }
    style = "\n".join(_read(name) for name in ("vendor/ol.css", "style.css"))
    return (
        _pages()
        .get_template("map.html")
        .render(
            title=f"water for {answer.ranking.fire_name}",
            asked_at=kept["asked_at"][:16].replace("T", " ") + " UTC",
            style=_inline(style, "</style"),
            data=Markup(_json(data)),
            library=_inline(_read("vendor/ol.js"), "</script"),
            script=_inline(
                classic_script(_STATIC / "app", "packed_page", {"service": "packed_service"}), "</script"
            ),
        )
    )


def readme_page(words: dict[str, Any]) -> str:
    """Give the page that says what a package holds; words, the values of its template."""
    return _pages().get_template("readme.html").render(words)


def _pages() -> Environment:
    # Every value is text unless it is marked as safe here.
    return Environment(loader=FileSystemLoader(_HERE / "packed"), autoescape=True, undefined=StrictUndefined)


def _read(name: str) -> str:
    return (_STATIC / name).read_text(encoding="utf-8")


def _inline(text: str, end: str) -> Markup:
    """Give a style or script to stand in the page. Raises: CannotBundle where it would end its own element."""
    if end in text.lower() or "<!--" in text:
        raise CannotBundle(f"a text of the page holds {end!r} or a comment mark and cannot stand in one file")
    return Markup(text)


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False).translate(_UNSAFE)


def _background(region: Region) -> dict[str, Any]:
    relief = views.relief(region)
    return {
        "waters": views.waters(region),
        "surroundings": views.surroundings(region),
        "relief": None
        if relief is None
        else {"href": "data:image/png;base64," + b64encode(relief.png).decode(), "edges": relief.edges},
        "contours": views.contours(region),
    }


def _surveys(workspace: Workspace, answer: dict) -> dict[str, Any]:
    """Give the surveys of the waters in the answer with the one run each that the page draws from the side."""
    records = {one.body_id: one for one in workspace.survey.bodies}
    surveys: dict[str, Any] = {}
    sides = []
    for entry in (*answer["sources"], *answer["excluded"])[:MOST_SURVEYS]:
        body_id = entry["body_id"]
        if body_id not in records:  # a fill station
            continue
        surveys[body_id] = found = workspace.document(records[body_id])
        line = _line_shown(entry, found)
        if line is not None:
            corners = [(place[0], place[1]) for place in line["coordinates"]]
            view = views.run_from_side(workspace, body_id, corners)
            sides.append({"body_id": body_id, "line": corners, "view": view})
    return {"surveys": surveys, "sides": sides}


def _line_shown(entry: dict, found: dict) -> dict | None:
    """Give the run that the breakdown draws (`breakdown.js`): the judged one, else one of the survey."""
    judged = [entry, *entry.get("other_methods", ()), *entry.get("assessments", ())]
    runs = [one.get("run_line") for one in judged]
    runs += [one["line"] for one in (*found["usable_runs"][:1], found["longest_run"]) if one is not None]
    return next((one for one in runs if one is not None), None)
