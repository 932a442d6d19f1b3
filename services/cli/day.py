"""Commands on the day: levels that were read, closures, and what expires before the season."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from services.cli.opening import author, opened_folder, print_json
from services.cli.options import ByOpt, JsonOpt, RegionArg

if TYPE_CHECKING:
    from services.core.day_log import DayLog

FileArg = Annotated[Path | None, typer.Argument(help="CSV file; without it what is kept is listed")]


def levels(
    region: RegionArg,
    file: FileArg = None,
    withdraw: Annotated[
        str | None,
        typer.Option("--withdraw", help="id of a water: withdraw its reading; the files' level counts"),
    ] = None,
    by: ByOpt = None,
    json: JsonOpt = False,
) -> None:
    """Keep levels read today (CSV: body, level, read_at, until); only those waters are surveyed anew."""
    with _opened_log(region) as log:
        if withdraw is not None:
            log.withdraw_levels(withdraw, author(by))
        if file is not None:
            log.put_levels(_rows(file, "LEVEL_COLUMNS"), file.name, author(by))
        found = log.levels()
    _tell(found, json, _level_line)


def closures(
    region: RegionArg,
    file: FileArg = None,
    instead: Annotated[
        bool, typer.Option("--instead", help="the file's closures take the place of all kept ones")
    ] = False,
    withdraw: Annotated[str | None, typer.Option("--withdraw", help="id of a closure that ended")] = None,
    by: ByOpt = None,
    json: JsonOpt = False,
) -> None:
    """Keep closures of the day (CSV: id, kind, reason, from, to and a place); no new survey is needed."""
    with _opened_log(region) as log:
        if withdraw is not None:
            log.withdraw_closure(withdraw, author(by))
        if file is not None:
            log.put_closures(_rows(file, "CLOSURE_COLUMNS"), file.name, author(by), instead=instead)
        found = log.closures()
    _tell(found, json, _closure_line)


def due(
    region: RegionArg,
    before: Annotated[str, typer.Option("--before", help="first day of the season, YYYY-MM-DD")],
    evidence_years: Annotated[
        int | None, typer.Option("--evidence-years", min=1, help="also depth evidence older than that")
    ] = None,
    json: JsonOpt = False,
) -> None:
    """List what expires before the season: inspections, permissions, depth evidence of the annotated sites."""
    from services.core import quantities

    with _opened_log(region) as log:
        found = log.due(quantities.day(before), evidence_years)
    _tell(found, json, _due_line)


@contextmanager
def _opened_log(region: Path) -> Iterator["DayLog"]:
    """Open the day's log of a folder; a changed level is surveyed at once, so that the next ranking is quick."""
    from services.core.day_log import DayLog
    from services.core.workspace import today

    with opened_folder(region, quiet=True) as workspace:
        assert workspace.files is not None
        yield DayLog(workspace.files, workspace.store, lambda: today(workspace))


def _rows(file: Path, columns: str) -> Any:
    """Give the rows of a CSV file. Raises: BadInput for one that cannot be read."""
    from geo.base.errors import BadInput
    from services.core import day_rows

    try:
        with file.open("rb") as stream:
            data = stream.read(day_rows.MOST_BYTES + 1)
    except OSError as problem:
        raise BadInput.of(str(file), f"cannot be read: {problem.strerror}", "name a CSV file") from problem
    return day_rows.csv_rows(data, file.name, getattr(day_rows, columns))


def _tell(found: list[dict[str, Any]], json: bool, line: Callable[[dict[str, Any]], str]) -> None:
    if json:
        print_json(found)
        return
    for one in found:
        typer.echo(line(one))
    if not found:
        typer.echo("none")


def _level_line(one: dict[str, Any]) -> str:
    state = "" if one["counts"] else ", expired: the present level is unknown"
    until = f", until {one['until']}" if one["until"] else ""
    name = one["name"] or one["body_id"]
    return f"{name}: {one['level_m']:.2f} m, read {one['read_at']}{until} ({one['origin']}){state}"


def _closure_line(one: dict[str, Any]) -> str:
    days = f"{one['from'] or 'now'} to {one['to'] or 'further notice'}"
    return f"{one['id']} {one['name']}: {one['kind']}, {one['reason']}, {days}"


def _due_line(one: dict[str, Any]) -> str:
    contact = f", contact {one['contact']}" if one["contact"] else ""
    site = f" ({one['site_id']})" if one["site_id"] else ""
    return f"{one['on'] or 'now':10} {one['what']}: {one['name']}{site}{contact}"
