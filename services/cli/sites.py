"""`fetchwater sites`: annotated sites from a file of any map program into the store, and out of it."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from services.cli.opening import author, end_if_refused, opened_store, print_json
from services.cli.options import ByOpt, JsonOpt, RegionArg

if TYPE_CHECKING:
    from services.core.site_import_plan import Plan

MapOpt = Annotated[
    list[str] | None,
    typer.Option("--map", help="FIELD=COLUMN, may be repeated (also layer=, crs=), or one TOML file"),
]
DryOpt = Annotated[bool, typer.Option("--dry-run", help="say row by row what would be done; write nothing")]
ClearOpt = Annotated[
    bool, typer.Option("--clear-empty", help="empty cells clear fields; default: they are ignored")
]


def import_(
    region: RegionArg,
    file: Annotated[
        Path,
        typer.Argument(help="points: GeoPackage, GeoJSON, Shapefile, FlatGeobuf, KML, KMZ, GPX, CSV"),
    ],
    map_: MapOpt = None,
    dry_run: DryOpt = False,
    clear_empty: ClearOpt = False,
    by: ByOpt = None,
    json: JsonOpt = False,
) -> None:
    """Take annotated sites out of a file, all rows or none; every change is kept with who made it."""
    from services.core import site_import_plan as site_plan
    from services.core.site_mapping import read_mapping
    from services.core.workspace import load_files

    who = author(by)
    mapping = read_mapping(map_ or ())
    with opened_store() as store:
        loaded = load_files(region)
        plan = site_plan.plan_import(store, loaded, file, mapping, clear_empty=clear_empty)
        if not json:
            _print_plan(plan)
        written = not dry_run and not plan.faults
        if written:
            site_plan.carry_out(store, loaded, plan, who)
    if json:
        print_json(_document(plan, written))
    else:
        why = "this was a dry run" if dry_run else "a row that is refused refuses all"
        typer.echo("Written." if written else f"Nothing was written: {why}.")
    end_if_refused(bool(plan.faults))


def export(
    region: RegionArg,
    file: Annotated[
        Path,
        typer.Argument(help="its ending chooses: .gpkg .geojson .fgb .parquet .shp.zip .kml .kmz .gpx .csv"),
    ],
    json: JsonOpt = False,
) -> None:
    """Write the annotated sites of the store as a file; `sites import` takes it back."""
    from services.core.site_files import export_sites
    from services.core.workspace import load_files

    with opened_store() as store:
        count, notes = export_sites(store, load_files(region).name, file)
    if json:
        print_json({"file": str(file), "sites": count, "notes": notes})
        return
    typer.echo(f"wrote {file}: {count} sites")
    for note in notes:
        typer.echo(note)


def _print_plan(plan: "Plan") -> None:
    typer.echo(f"{plan.file} is {plan.kind}; columns taken: " + _pairs(plan.taken))
    if plan.left:
        typer.echo(f"columns not taken: {', '.join(plan.left)}")
    for fault in plan.cautions:
        typer.echo(fault.sentence())
    for row in plan.rows:
        label = row.name if row.site_id is None else f"{row.name} ({row.site_id})"
        changes = "; ".join(f"{key} {_shown(old)} -> {_shown(new)}" for key, old, new in row.changes)
        words = [changes, *row.notes, *(f"{one.rule}. Fix: {one.cure}" for one in row.faults)]
        said = ". ".join(one for one in words if one)
        typer.echo(f"{row.where:8} {row.action:7} {label}" + (f": {said}" if said else ""))
    counts = ", ".join(f"{plan.count(one)} to {one}" for one in ("create", "change", "refuse"))
    typer.echo(f"{counts}, {plan.count('same')} the same")


def _pairs(taken: Mapping[str, str]) -> str:
    return (
        ", ".join(ours if ours == theirs else f"{ours}={theirs}" for ours, theirs in taken.items()) or "none"
    )


def _shown(value: object) -> str:
    return "(empty)" if value is None else f"{value}"


def _document(plan: "Plan", written: bool) -> dict[str, Any]:
    return {
        "file": plan.file,
        "kind": plan.kind,
        "written": written,
        "taken": dict(plan.taken),
        "not_taken": list(plan.left),
        "cautions": [vars(one) for one in plan.cautions],
        "rows": [
            {
                "where": row.where,
                "action": row.action,
                "name": row.name,
                "site_id": row.site_id,
                "changes": {key: [old, new] for key, old, new in row.changes},
                "notes": list(row.notes),
                "faults": [vars(one) for one in row.faults],
            }
            for row in plan.rows
        ],
    }
