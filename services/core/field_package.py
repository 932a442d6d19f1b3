"""The field package: one file or folder that carries an answer to a place without the service."""

import os
import zipfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

from geo import pipeline
from geo.base.errors import BadArgument
from geo.base.whole_file import private_folder, put_in_place
from geo.records.file_formats import Paper
from services.core import sheets
from services.core.workspace import Answer, Workspace

FORMATS = ("gpkg", "geojson", "kmz", "gpx")
SHEETS = "sheets"
LISTED = 10  # ranked waters that get a sheet where none is named
WARNING = (
    "Advice only: the pilot in command decides. Look before the first fill. Wires may be missing from the data; levels "
    "change; local rules apply. An important unknown keeps a water off the list; any other is named."
)
_WORDS = {
    "map.html": "the answer to be read: map, list and whole breakdown; opens in a browser without a network",
    "sheets/ranking.pdf": "one page for the board: the first ten, map, cautions",
    "water_sources.gpx": "waypoints and runs for navigation devices (GPX 1.1)",
    "water_sources.kmz": "for globes and tablet maps (KML 2.2)",
    "water_sources.gpkg": "every layer with its style, for a GIS",
    "ranked.geojson": "the ranked waters as points",
    "runs.geojson": "their runs",
    "legs.geojson": "the routes flown",
    "water.geojson": "every surveyed water",
}


@dataclass(frozen=True)
class PackagePages:
    """Who draws the HTML pages of a package: the map from workspace, answer and what the store holds of it, the readme
    from the words of its template."""

    map_page: Callable[[Workspace, Answer, dict[str, Any]], str]
    readme: Callable[[dict[str, Any]], str]


def write_package(
    out: Path,
    workspace: Workspace,
    answer: Answer,
    pages: PackagePages,
    waters: Sequence[str] | None = None,
    paper: Paper = "A4",
    units: str = "trade",
    *,
    progress: pipeline.Progress | None = None,
) -> Path:
    """Write the package of a kept answer; nothing is seen under its name until all of it is whole.

    Parameters: out, a file that ends in .zip, or a folder that is not there yet or is empty; waters, ids or names of
    waters that get a sheet (the first ten ranked).
    Raises: BadArgument for a folder that holds something, or a water that there is not; NotKept for an answer that the
    store does not hold; SheetTooLong; OSError.
    """
    zipped = out.suffix.lower() == ".zip"
    if out.is_dir() if zipped else (out.exists() and (not out.is_dir() or any(out.iterdir()))):
        raise BadArgument(f"{out}: is there already. Fix: name FILE.zip, or a folder that is not there yet")
    kept = sheets.kept_question(workspace, answer.ranking_id)
    surveyed = {one.body_id for one in workspace.survey.bodies}
    listed = [one.body_id for one in answer.ranking.sources[:LISTED] if one.body_id in surveyed]
    names = waters if waters else listed
    files = sheets.sheets_of(workspace, names)
    day = answer.ranking.weather.day
    with private_folder(out.absolute().parent) as private:
        inside = private / "package"
        (inside / SHEETS).mkdir(parents=True)
        _write_layers(inside, workspace, answer)
        (inside / "map.html").write_text(pages.map_page(workspace, answer, kept), encoding="utf-8")
        makers = {"ranking.pdf": partial(sheets.ranking_sheet, workspace, kept["ranking_id"], paper, units)}
        for name, one in files.items():
            makers[name] = partial(sheets.water_sheet, workspace, one, paper, units, day)
        sheets.write_sheets(inside / SHEETS, makers, progress)
        words = _readme_words(inside, answer, kept, {name: one.name for name, one in files.items()})
        (inside / "README.html").write_text(pages.readme(words), encoding="utf-8")
        return _zipped(inside, private / out.name, out) if zipped else _moved(inside, out)


def _write_layers(inside: Path, workspace: Workspace, answer: Answer) -> None:
    pipeline.export_ranking(
        inside, workspace.region, workspace.survey, answer.ranking, FORMATS, answer.further
    )


def _readme_words(
    inside: Path, answer: Answer, kept: Mapping[str, Any], waters: Mapping[str, str]
) -> dict[str, Any]:
    ranking, asked_at = answer.ranking, kept["asked_at"][:16].replace("T", " ") + " UTC"
    there = [path.relative_to(inside).as_posix() for path in inside.rglob("*") if path.is_file()]
    words = {f"{SHEETS}/{name}": f"one page: {water}" for name, water in waters.items()}
    known = _WORDS | words
    files = [(name, known.get(name, "")) for name in (*_WORDS, *words) if name in there]
    files += [(name, "") for name in sorted(there) if name not in known]
    weather = ranking.weather
    wind = f"from {weather.wind_from_true_deg:03.0f}° true at {weather.wind_ms:.1f} m/s{weather.gust_words}"
    asked = [
        ("fire", ranking.fire_name),
        ("aircraft", ranking.aircraft),
        ("wind", "calm" if weather.wind_ms == 0 else wind),
        ("wind of the legs", ranking.assumptions.get("wind", "not stated")),
        ("air", f"{weather.oat_c:g} °C at {weather.read_at}, QNH {weather.qnh_hpa:g} hPa"),
        ("day", "none given: all closures count" if weather.day is None else str(weather.day)),
        ("region", ranking.region_name),
        ("kept as", f"{answer.ranking_id}, {asked_at}"),
        ("data version", f"survey {kept['survey_key']}, input {ranking.survey_fingerprint}"),
        ("package made", f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC"),
    ]
    return {
        "title": f"Water for {ranking.fire_name}",
        "warning": WARNING,
        "asked_at": asked_at,
        "files": files,
        "asked": asked,
        "cautions": ranking.cautions,
    }


def _zipped(inside: Path, private: Path, out: Path) -> Path:
    with zipfile.ZipFile(private, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        for path in sorted(inside.rglob("*")):
            if path.is_file():
                archive.write(path, f"{out.stem}/{path.relative_to(inside).as_posix()}")
    return put_in_place(private, out)


def _moved(inside: Path, out: Path) -> Path:
    if out.is_dir():
        out.rmdir()  # empty, as was looked at before
    os.replace(inside, out)
    return out
