"""Sheets of paper for the command line, the service and the field package alike."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from pathlib import Path
from threading import Lock
from typing import Any

from geo import pipeline
from geo.base.errors import BadInput
from geo.base.whole_file import private_folder, put_in_place
from geo.records.file_formats import Paper
from geo.records.region import Region
from geo.records.survey import BodySurvey
from services.core.workspace import Workspace
from services.errors import NoSuchThing, NotKept
from services.store import rankings

# The drawing library shares caches of letters between figures: one sheet is drawn at a time.
_DRAWING = Lock()


def water_sheet(
    workspace: Workspace,
    record: BodySurvey,
    paper: Paper = "A4",
    units: str = "trade",
    day: date | None = None,
) -> bytes:
    """Give the sheet of one water of the workspace as a PDF. Raises: BadArgument, SheetTooLong."""
    version = f"survey {workspace.survey_key[:12]}"
    with _DRAWING:
        return pipeline.water_sheet(
            workspace.region, workspace.survey, record, paper=paper, units=units, day=day, version=version
        )


def kept_question(workspace: Workspace, ranking_id: str | None) -> dict[str, Any]:
    """Give a kept question with its answer, as the store holds it.

    Raises: NoSuchThing where no such ranking is kept.
    """
    found = None if ranking_id is None else rankings.find(workspace.store.engine, ranking_id)
    if found is None:
        raise NoSuchThing(f"no ranking {ranking_id!r} is kept")
    return found


def ranking_sheet(workspace: Workspace, ranking_id: str, paper: Paper = "A4", units: str = "trade") -> bytes:
    """Give the sheet of a kept ranking as a PDF: its figures as they were answered, nothing is computed anew.

    Raises: NoSuchThing where no such ranking is kept; NotKept where it was kept by an older program, without its
    records; BadArgument; SheetTooLong.
    """
    found = kept_question(workspace, ranking_id)
    kept = rankings.find_record(workspace.store.engine, ranking_id)
    if kept is None:
        raise NotKept(
            f"ranking {ranking_id}: kept by another version of the program, without what a sheet prints. Fix: ask "
            "the question again"
        )
    region = _as_asked(workspace.region, found["question"].get("levels") or {})
    moved = kept.day_revision != workspace.day_revision
    version = f"kept as {ranking_id}, {found['asked_at'][:16].replace('T', ' ')} UTC, survey {found['survey_key'][:12]}"
    with _DRAWING:
        return pipeline.ranking_sheet(region, kept, paper=paper, units=units, version=version, changed=moved)


def _as_asked(region: Region, levels: Mapping[str, float]) -> Region:
    """Give the region with the levels that the question gave: the same input where nothing changed since."""
    try:
        for body, level_m in levels.items():
            region = pipeline.with_level(region, body, level_m)
    except BadInput:
        return region  # the water is gone: the sheet says that the data changed
    return region


def sheets_of(workspace: Workspace, names: Sequence[str]) -> dict[str, BodySurvey]:
    """Give the waters of these ids or names, each once ("all": every one), by the file name of their sheets.

    Notes: a name is the water's id, kept to letters that every disk takes, and no name comes twice.
    Raises: BadArgument naming each water that there is not.
    """
    files: dict[str, BodySurvey] = {}
    for record in pipeline.waters_named(workspace.survey, names) if names else ():
        stem = "".join(one if one.isalnum() or one in "-_" else "_" for one in record.body_id)[:80]
        name, number = f"water_{stem}.pdf", 1
        while name.lower() in {given.lower() for given in files}:
            number += 1
            name = f"water_{stem}_{number}.pdf"
        files[name] = record
    return files


def write_sheets(
    folder: Path, makers: Mapping[str, Callable[[], bytes]], progress: pipeline.Progress | None = None
) -> list[Path]:
    """Write sheets by file name: all are made before any takes its name.

    Raises: what a maker raises, or OSError; then no file of the folder has changed.
    """
    with private_folder(folder) as private:
        made = []
        for done, (name, maker) in enumerate(makers.items()):
            if progress is not None:
                progress(done, len(makers), name)
            (private / name).write_bytes(maker())
            made.append(private / name)
        if progress is not None:
            progress(len(makers), len(makers), "done")
        return [put_in_place(path, folder / path.name) for path in made]
