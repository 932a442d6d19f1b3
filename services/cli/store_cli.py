"""Commands on the store: levels and closures of the day, what is due, backup, restore, import."""

import getpass
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer

from services.cli.options import JsonOpt, RegionArg

FileArg = Annotated[Path | None, typer.Argument(help="CSV file; without it what is kept is listed")]
ByOpt = Annotated[str | None, typer.Option("--by", help="who says so; default: who is logged in")]


def register(app: typer.Typer, answers_errors: Callable, print_json: Callable[[object], None]) -> None:
    """Add the commands; `answers_errors` turns the program's errors into messages and exit codes."""

    @app.command()
    @answers_errors
    def levels(
        region: RegionArg,
        file: FileArg = None,
        withdraw: Annotated[
            str | None, typer.Option("--withdraw", help="id of a water whose files' level holds again")
        ] = None,
        by: ByOpt = None,
        json: JsonOpt = False,
    ) -> None:
        """Keep levels read today (CSV: body, level, read_at, until); only those waters are surveyed anew."""
        from services.core import day_log as day_desk

        with _desk(region) as desk:
            if withdraw is not None:
                desk.withdraw_levels(withdraw, _who(by))
            if file is not None:
                desk.put_levels_csv(_read(file), file.name, _who(by))
            found = desk.levels()
        _tell(found, json, print_json, day_desk.level_line)

    @app.command()
    @answers_errors
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
        from services.core import day_log as day_desk

        with _desk(region) as desk:
            if withdraw is not None:
                desk.withdraw_closure(withdraw, _who(by))
            if file is not None:
                desk.put_closures_csv(_read(file), file.name, _who(by), instead=instead)
            found = desk.closures()
        _tell(found, json, print_json, day_desk.closure_line)

    @app.command()
    @answers_errors
    def due(
        region: RegionArg,
        before: Annotated[str, typer.Option("--before", help="first day of the season, YYYY-MM-DD")],
        evidence_years: Annotated[
            int | None, typer.Option("--evidence-years", min=1, help="also depth evidence older than that")
        ] = None,
        json: JsonOpt = False,
    ) -> None:
        """List what runs out before the season: inspections, permissions, depth evidence of the annotated sites."""
        from services.core import day_log as day_desk
        from services.core import quantities

        with _desk(region) as desk:
            found = desk.due(quantities.day(before), evidence_years)
        _tell(found, json, print_json, day_desk.due_line)

    @app.command()
    @answers_errors
    def backup(
        file: Annotated[
            Path, typer.Argument(help="GeoPackage to write; an older one is replaced when it is whole")
        ],
        json: JsonOpt = False,
    ) -> None:
        """Write the whole store into one file, checked; of either kind of store."""
        from services.store import copying

        with _engine() as engine:
            copied = copying.backup(engine, file)
        _tell_copied(copied, f"wrote {file}", json, print_json)

    @app.command()
    @answers_errors
    def restore(
        file: Annotated[Path, typer.Argument(help="a backup")],
        json: JsonOpt = False,
    ) -> None:
        """Put a backup in the place of everything in the store; what was there before is backed up first."""
        from services.settings import read_settings
        from services.store import copying

        with _engine() as engine:
            copied, before = copying.restore(engine, file, read_settings().data_dir / "backups")
        _tell_copied(copied, f"restored {file}; what was there before is in {before}", json, print_json)

    @app.command("import")
    @answers_errors
    def import_(
        source: Annotated[
            str, typer.Argument(help="another store: a file, or postgresql://user@host:5432/database")
        ],
        json: JsonOpt = False,
    ) -> None:
        """Take over another store, all rows or none; what contradicts is refused by name."""
        from services.store import copying

        with _engine() as engine:
            copied = copying.import_from(engine, source)
        _tell_copied(copied, "imported", json, print_json)


@contextmanager
def _engine() -> Iterator[Any]:
    from services.settings import read_settings
    from services.store.store import open_store

    store = open_store(read_settings())
    try:
        yield store.engine
    finally:
        store.close()


@contextmanager
def _desk(region: Path) -> Iterator[Any]:
    from services.core import day_log as day_desk

    desk = day_desk.open_desk(region)
    try:
        yield desk
    finally:
        desk.store.close()


def _who(by: str | None) -> str:
    return by if by is not None else getpass.getuser()


def _read(file: Path) -> bytes:
    from geo.base.errors import BadInput
    from geo.base.fault import Fault
    from services.core.day_rows import MOST_BYTES

    try:
        with file.open("rb") as stream:
            return stream.read(MOST_BYTES + 1)
    except OSError as problem:
        fault = Fault("refuse", str(file), f"cannot be read: {problem.strerror}", "name a CSV file")
        raise BadInput([fault]) from problem


def _tell(found: list[dict], json: bool, print_json: Callable, line: Callable[[dict], str]) -> None:
    if json:
        print_json(found)
        return
    for one in found:
        typer.echo(line(one))
    if not found:
        typer.echo("none")


def _tell_copied(copied: Any, words: str, json: bool, print_json: Callable) -> None:
    if json:
        print_json({"rows": copied.rows, "held": copied.held})
        return
    held = sum(copied.held.values())
    typer.echo(
        f"{words}: {sum(copied.rows.values()):,} rows" + (f"; {held:,} were held already" if held else "")
    )
