"""Commands on a region's files alone: `check` and `survey`; they need neither aircraft nor weather."""

from pathlib import Path
from typing import Annotated

import typer

from services.cli.opening import opened_folder, print_json
from services.cli.options import JsonOpt, LevelOpt, OutOpt, RegionArg


def check(region: RegionArg, json: JsonOpt = False) -> None:
    """Read a region's files and report every fault at once: file, layer, feature, rule, fix."""
    from services.cli import tables
    from services.core.workspace import check_folder

    faults, summary = check_folder(region)
    if json:
        print_json({"faults": [vars(fault) for fault in faults], "summary": summary})
    else:
        tables.print_faults(region, faults, summary)
    if any(fault.blocks for fault in faults):
        raise typer.Exit(2)


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
    from services.cli import tables, water_tables
    from services.core import exports, quantities

    levels = [quantities.level(text) for text in level or ()]
    with opened_folder(region, quiet=json, levels=levels) as workspace:
        tables.print_not_kept(workspace.not_kept, json)
        written = [] if out is None else exports.export_survey(out, workspace)
        if runs:
            written.append(exports.export_runs(out or Path(), workspace))
        if plot is not None:
            written.append(exports.plot_body(out or Path(), workspace, plot))
    if json:
        print_json(workspace.document(workspace.survey) | {"files": list(map(str, written))})
        return
    tables.print_survey(workspace.region, workspace.survey)
    asked = [name for name, _ in levels] + ([] if plot is None else [plot])
    water_tables.print_waters(workspace.region, workspace.survey, asked)
    tables.print_files(written)
