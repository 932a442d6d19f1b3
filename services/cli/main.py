"""The command line. Every command loads what it needs when it runs, so that `--help` answers at once."""

import json as json_module
import os
import sys
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Annotated

import typer

from services.cli.cli_question import open_folder as _open
from services.cli.cli_question import print_json as _print_json
from services.cli.cli_question import weather as _weather
from services.cli.options import JsonOpt, LevelOpt, OutOpt, RegionArg
from services.cli.ranking_cli import register as register_ranking_commands
from services.cli.sheet_cli import register as register_sheet_commands
from services.cli.site_cli import site_commands
from services.cli.store_cli import register as register_store_commands
from services.cli.token_cli import token_commands

app = typer.Typer(
    name="fetchwater",
    help="Survey, score and rank water sources for tank helicopters fighting bushfires. "
    "Advisory only: the pilot in command decides.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


def answers_errors(command: Callable) -> Callable:
    """Turn the program's own errors into one clear message on stderr and the exit code of the table."""

    @wraps(command)
    def run(*args, **kwargs):
        from geo.base.errors import FetchwaterError
        from services.core.problems import classify, problem

        try:
            return command(*args, **kwargs)
        except FetchwaterError as error:
            if kwargs.get("json"):
                print(json_module.dumps(problem(error, f"fetchwater {command.__name__}")), file=sys.stderr)
            else:
                print(error, file=sys.stderr)
            raise typer.Exit(classify(error)[0]) from error

    return run


app.add_typer(token_commands(answers_errors), name="token")


@app.command()
@answers_errors
def check(region: RegionArg, json: JsonOpt = False) -> None:
    """Read a region's files and report every fault at once: file, layer, feature, rule, fix."""
    from geo import pipeline
    from services.cli import tables as console

    faults, summary = pipeline.check(region)
    if json:
        _print_json({"faults": [vars(fault) for fault in faults], "summary": summary})
    else:
        console.print_faults(region, faults, summary)
    if any(fault.blocks for fault in faults):
        raise typer.Exit(2)


@app.command()
@answers_errors
def survey(
    region: RegionArg,
    out: OutOpt = None,
    plot: Annotated[str | None, typer.Option("--plot", help="id or name of one water body to draw")] = None,
    runs: Annotated[
        bool, typer.Option("--runs", help="write every run as runs.gpkg, layer runs, into --out or here")
    ] = False,
    level: LevelOpt = None,
    json: JsonOpt = False,
) -> None:
    """Survey every water body: runs, depth, hover point, clearance. Needs neither aircraft nor weather."""
    from geo import pipeline
    from geo.records.document import document
    from services.cli import tables as console
    from services.cli import water_tables as water_console
    from services.core import quantities

    workspace = _open(region, quiet=json, levels=level)
    console.print_not_kept(workspace.not_kept, json)
    written = []
    if out is not None:
        written += pipeline.export_survey(out, workspace.region, workspace.survey)
    if runs:
        written.append(pipeline.export_runs(out or Path(), workspace.region, workspace.survey))
    if plot is not None:
        written.append(pipeline.plot_body(out or Path(), workspace.region, workspace.survey, plot))
    if json:
        _print_json(document(workspace.survey, workspace.region.frame) | {"files": [str(p) for p in written]})
    else:
        console.print_survey(workspace.region, workspace.survey)
        asked = [quantities.level(text)[0] for text in level or ()] + ([] if plot is None else [plot])
        water_console.print_waters(workspace.region, workspace.survey, asked)
        console.print_files(written)


register_ranking_commands(app, answers_errors)


@app.command()
@answers_errors
def demo(
    region: Annotated[Path, typer.Argument(help="the demo region's folder")] = Path("demo_region"),
    out: Annotated[Path, typer.Option("--out", help="folder for the files")] = Path("out/demo"),
    json: JsonOpt = False,
) -> None:
    """Run the whole job on the invented demo region: check, survey, rank for its first fire, write every file."""
    from geo import pipeline
    from geo.ingest.layers.aircraft import load_profile
    from services.cli import extras_tables as beside
    from services.cli import tables as console
    from services.core.workspace import ask

    weather = _weather("300/18kt", "34C", "1009", "0m", None)
    workspace = _open(region, quiet=json)
    fire = workspace.region.fires[0]
    answer = ask(workspace, fire, load_profile("heavy_tank_helicopter"), weather, None)
    written = pipeline.export_survey(out, workspace.region, workspace.survey)
    written += pipeline.export_ranking(
        out, workspace.region, workspace.survey, answer.ranking, further=answer.further
    )
    if json:
        _print_json(answer.document | {"ranking_id": answer.ranking_id, "files": [str(p) for p in written]})
        return
    console.print_not_kept(answer.not_kept, json)
    console.print_survey(workspace.region, workspace.survey)
    console.print_ranking(answer.ranking)
    beside.print_further(answer.further)
    console.print_files(written)
    console.print_question(region, fire.fire_id)


@app.command()
@answers_errors
def serve(
    region: Annotated[Path | None, typer.Argument(help="region folder; default: FETCHWATER_REGION")] = None,
    host: Annotated[str, typer.Option("--host", help="address to listen on")] = "127.0.0.1",
    port: Annotated[int, typer.Option("--port", min=1, max=65535, help="port to listen on")] = 8000,
    survey_first: Annotated[
        bool,
        typer.Option(
            "--survey-first",
            envvar="FETCHWATER_SURVEY_AT_START",
            help="answer only when a region never surveyed is surveyed; else its map page starts the survey",
        ),
    ] = False,
) -> None:
    """Serve the region: the pages, and the same over HTTP, whose documents are at /docs."""
    import uvicorn

    from services.app import create_app
    from services.settings import read_settings

    service = create_app(read_settings(region=region, survey_at_start=survey_first))
    print(f"the pages are at http://{host}:{port}/ (end with Ctrl+C)", file=sys.stderr)
    uvicorn.run(service, host=host, port=port, log_level="warning")


register_store_commands(app, answers_errors, _print_json)
app.add_typer(site_commands(answers_errors, _print_json), name="sites")
register_sheet_commands(app, answers_errors, _print_json)


def main() -> None:
    """Entry point of the `fetchwater` command."""
    # The matrices here are small: threads of the linear algebra library cost more than they give (20 times, measured
    # on a busy machine of two cores). Set before numpy is imported; a value from outside wins.
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    app()


if __name__ == "__main__":
    main()
