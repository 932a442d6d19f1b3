"""Commands for paper and for the field: `sheet` and `pack`."""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from services.cli.opening import opened_folder, opened_for
from services.cli.options import JsonOpt, RegionArg, asks
from services.core.typed import TypedRanking

if TYPE_CHECKING:
    from geo.records.file_formats import Paper
    from geo.records.question import RankingQuestion
    from services.core.workspace import Answer, Workspace

WaterOpt = Annotated[
    list[str] | None, typer.Option("--water", help="id or name of a water, may be repeated; all: every one")
]
PaperOpt = Annotated[str, typer.Option("--paper", help="A4 or Letter")]
UnitsOpt = Annotated[str, typer.Option("--units", help="units of the figures: trade, si or us")]
NOT_PRINTED = ("line", "width", "coverage", "fuel_model", "perimeter")
Makers = dict[str, Callable[[], bytes]]


@asks(TypedRanking, leave_out=("top", *NOT_PRINTED), only_with_fire=("fire", "wind", "oat", "qnh"))
def sheet(
    region: RegionArg,
    typed: TypedRanking,
    out: Annotated[Path, typer.Option("--out", help="folder for the PDF files")],
    water: WaterOpt = None,
    paper: PaperOpt = "A4",
    units: UnitsOpt = "trade",
    json: JsonOpt = False,
) -> None:
    """Write one-page sheets (PDF): of waters with --water, of a ranking with --fire."""
    from geo.base.unit_system import unit_system
    from services.cli import tables
    from services.core.question import levels_of
    from services.core.sheets import ranking_sheet

    printed = _paper(paper), unit_system(units).name
    _check_asked(typed, water)
    makers: Makers = {}
    ranking_id = None
    if typed.fire is not None:
        with opened_for(typed, region, quiet=json) as (workspace, question):
            ranking_id = _kept(workspace, question).ranking_id
            assert ranking_id is not None
            makers["ranking.pdf"] = partial(ranking_sheet, workspace, ranking_id, *printed)
            makers |= _of_waters(workspace, water or [], typed.day, *printed)
            written = _written(out, makers, json)
    else:
        with opened_folder(region, quiet=json, levels=levels_of(typed)) as workspace:
            written = _written(out, _of_waters(workspace, water or [], typed.day, *printed), json)
    tables.tell_files(ranking_id, written, json)


@asks(TypedRanking, leave_out=NOT_PRINTED, top=30)
def pack(
    region: RegionArg,
    typed: TypedRanking,
    out: Annotated[
        Path, typer.Option("--out", help="the package: FILE.zip, or a folder that is not there yet")
    ],
    water: WaterOpt = None,
    paper: PaperOpt = "A4",
    units: UnitsOpt = "trade",
    json: JsonOpt = False,
) -> None:
    """Pack an answer for a place without the service: sheets, GPX, KMZ, GeoPackage, GeoJSON, a page to read."""
    from geo.base.unit_system import unit_system
    from services.app import package_pages
    from services.cli import tables
    from services.core.field_package import write_package

    printed = _paper(paper), unit_system(units).name
    with opened_for(typed, region, quiet=json) as (workspace, question):
        answer = _kept(workspace, question)
        with tables.progress_bar(json, "package") as progress:
            path = write_package(out, workspace, answer, package_pages, water, *printed, progress=progress)
    tables.tell_files(answer.ranking_id, [path], json)


def _paper(given: str) -> "Paper":
    from geo.base.errors import BadArgument
    from geo.records.file_formats import PAPERS

    found = next((one for one in PAPERS if one.lower() == given.strip().lower()), None)
    if found is None:
        raise BadArgument(f"paper {given!r} is not known. Fix: {' or '.join(PAPERS)}")
    return found


def _check_asked(typed: TypedRanking, water: list[str] | None) -> None:
    """Refuse where no sheet was asked for, or a ranking without its weather. Raises: BadArgument."""
    from geo.base.errors import BadArgument

    if typed.fire is None:
        if water is None:
            raise BadArgument(
                "no sheet was asked for. Fix: name waters with --water, or ask a ranking with --fire"
            )
        return
    missing = [f"--{name}" for name in ("wind", "oat", "qnh") if getattr(typed, name) is None]
    if missing:
        raise BadArgument(
            f"a ranking for --fire needs {', '.join(missing)}. Fix: give them as for `fetchwater rank`"
        )


def _kept(workspace: "Workspace", question: "RankingQuestion") -> "Answer":
    """Ask, and give the kept answer: paper prints what the store holds. Raises: StoreUnreachable."""
    from services.core.workspace import ask
    from services.errors import StoreUnreachable

    found = ask(workspace, question)
    if found.ranking_id is None:
        raise StoreUnreachable(
            f"a sheet prints what was kept, and this answer is {found.not_kept[0]}; or use `fetchwater rank --out "
            "FOLDER`, which needs no kept answer"
        )
    return found


def _of_waters(
    workspace: "Workspace", names: list[str], day: str | None, paper: "Paper", units: str
) -> Makers:
    """Give what makes the sheets of the waters named, by file name; nothing is made yet."""
    from services.core import quantities
    from services.core.sheets import sheets_of, water_sheet

    on = None if day is None else quantities.day(day)
    return {
        name: partial(water_sheet, workspace, record, paper, units, on)
        for name, record in sheets_of(workspace, names).items()
    }


def _written(folder: Path, makers: Makers, quiet: bool) -> list[Path]:
    from services.cli.tables import progress_bar
    from services.core.sheets import write_sheets

    with progress_bar(quiet, "sheets") as progress:
        return write_sheets(folder, makers, progress)
