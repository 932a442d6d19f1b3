"""Commands that ask for a fire: `rank`, `fleet` and `export`; and `demo`, the whole job on the invented region."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from services.cli.opening import opened_folder, opened_for, print_json
from services.cli.options import FormatsOpt, JsonOpt, OutOpt, RegionArg, asks
from services.core.typed import TypedFleet, TypedRanking

if TYPE_CHECKING:
    from services.core.workspace import Answer, Workspace

PlotCycleOpt = Annotated[
    str | None,
    typer.Option("--plot", help="id or name of one listed source: draw its round trip from the side"),
]
DEMO_WEATHER: dict[str, Any] = {"wind": "300/18kt", "oat": "34C", "qnh": "1009"}


@asks(TypedRanking)
def rank(
    region: RegionArg,
    typed: TypedRanking,
    plot: PlotCycleOpt = None,
    out: OutOpt = None,
    formats: FormatsOpt = None,
    json: JsonOpt = False,
) -> None:
    """Rank the water sources for a fire: round trips, litres per hour, and why; excluded sources with their reason."""
    from services.core import exports
    from services.core.workspace import ask

    chosen = _formats(formats, out)
    with opened_for(typed, region, quiet=json) as (workspace, question):
        answer = ask(workspace, question)
        written = [] if out is None else exports.export_answer(out, workspace, answer, chosen)
        if plot is not None:
            written.append(exports.plot_cycle(out or Path(), question, answer, plot))
    _tell(answer, written, json)


def _formats(given: str | None, out: Path | None) -> tuple[str, ...]:
    """Give the formats to be written. Raises: BadArgument for one that is not known, or formats without a folder."""
    from geo.base.errors import BadArgument
    from geo.records.file_formats import formats_of

    if given is not None and out is None:
        raise BadArgument("--formats needs a folder. Fix: say where the files go with --out")
    return formats_of(given)


def _tell(answer: "Answer", written: list[Path], json: bool, surveyed: "Workspace | None" = None) -> None:
    """Print a whole answer, what the store did not take first; surveyed, whose survey is told before it."""
    from services.cli import extras_tables, tables

    if json:
        print_json(answer.document | {"ranking_id": answer.ranking_id, "files": list(map(str, written))})
        return
    tables.print_not_kept(answer.not_kept, json)
    if surveyed is not None:
        tables.print_survey(surveyed.region, surveyed.survey)
    tables.print_ranking(answer.ranking)
    extras_tables.print_further(answer.further)
    tables.print_files(written)


@asks(TypedFleet)
def fleet(region: RegionArg, typed: TypedFleet, json: JsonOpt = False) -> None:
    """Send a mixed fleet to the sources for the most litres per hour, and say who gains nothing."""
    from services.cli import extras_tables, tables
    from services.core import answers

    with opened_for(typed, region, quiet=json) as (workspace, _):
        tables.print_not_kept(workspace.not_kept, json)
        plan = answers.fleet(workspace, typed, files=True)
    if json:
        print_json(workspace.document(plan))
    else:
        extras_tables.print_fleet(plan)


@asks(TypedRanking, leave_out=("top", "line", "width", "coverage", "fuel_model", "time", "end_of_day"))
def export(
    region: RegionArg,
    typed: TypedRanking,
    out: Annotated[Path, typer.Option("--out", help="folder for the files")],
    formats: FormatsOpt = None,
    json: JsonOpt = False,
) -> None:
    """Write the ranked layer for GIS and crews: GeoPackage with style, GeoJSON, KML, GPX, CSV, picture and more."""
    from services.cli import tables
    from services.core import exports
    from services.core.workspace import ask

    chosen = _formats(formats, out)
    with opened_for(typed, region, quiet=json) as (workspace, question):
        answer = ask(workspace, question)
        written = exports.export_answer(out, workspace, answer, chosen)
    tables.print_not_kept(answer.not_kept, json)
    tables.tell_files(answer.ranking_id, written, json)


def demo(
    region: Annotated[Path, typer.Argument(help="the demo region's folder")] = Path("demo_region"),
    out: Annotated[Path, typer.Option("--out", help="folder for the files")] = Path("out/demo"),
    json: JsonOpt = False,
) -> None:
    """Run the whole job on the invented demo region: check, survey, rank for its first fire, write every file."""
    from services.cli import tables
    from services.core import exports
    from services.core.question import ranking_question
    from services.core.workspace import ask

    with opened_folder(region, quiet=json) as workspace:
        fire_id = workspace.region.fires[0].fire_id
        answer = ask(workspace, ranking_question(TypedRanking(fire=fire_id, **DEMO_WEATHER), workspace))
        written = exports.export_survey(out, workspace)
        written += exports.export_answer(out, workspace, answer)
    _tell(answer, written, json, surveyed=workspace)
    if not json:
        tables.print_question(region, fire_id, DEMO_WEATHER)
