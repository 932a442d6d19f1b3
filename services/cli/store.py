"""Commands on the whole store: backup, restore, import."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from services.cli.opening import opened_store, print_json
from services.cli.options import JsonOpt

if TYPE_CHECKING:
    from services.store.copying import Copied


def backup(
    file: Annotated[
        Path, typer.Argument(help="GeoPackage to write; an older one is replaced when it is whole")
    ],
    json: JsonOpt = False,
) -> None:
    """Write the whole store into one file, checked; of either kind of store."""
    from services.store import copying

    with opened_store() as store:
        copied = copying.backup(store.engine, file)
    _tell(copied, f"wrote {file}", json)


def restore(file: Annotated[Path, typer.Argument(help="a backup")], json: JsonOpt = False) -> None:
    """Put a backup in the place of everything in the store; what was there before is backed up first."""
    from services.settings import read_settings
    from services.store import copying

    with opened_store() as store:
        copied, before = copying.restore(store.engine, file, read_settings().data_dir / "backups")
    _tell(copied, f"restored {file}; what was there before is in {before}", json)


def import_(
    source: Annotated[
        str, typer.Argument(help="another store: a file, or postgresql://user@host:5432/database")
    ],
    json: JsonOpt = False,
) -> None:
    """Take over another store, all rows or none; what contradicts is refused by name."""
    from services.store import copying

    with opened_store() as store:
        copied = copying.import_from(store.engine, source)
    _tell(copied, "imported", json)


def _tell(copied: "Copied", words: str, json: bool) -> None:
    if json:
        print_json({"rows": copied.rows, "held": copied.held})
        return
    held = sum(copied.held.values())
    already = f"; {held:,} were held already" if held else ""
    typer.echo(f"{words}: {sum(copied.rows.values()):,} rows{already}")
