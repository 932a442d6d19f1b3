"""Annotated sites of the store as a file of any map program."""

from pathlib import Path

from geo import pipeline
from geo.base.errors import BadArgument
from geo.records.columns import Column, Kind
from services.core.site_mapping import NUMBERS, PLACES
from services.store import sites
from services.store.site_record import SiteFields
from services.store.store import Store


def _kind(name: str) -> Kind:
    return "whole" if name == "revision" else "real" if name in (*NUMBERS, *PLACES) else "text"


COLUMNS: tuple[Column, ...] = (
    Column("site_id", "text", "", "which site it is"),
    *(
        Column(name, _kind(name), "", one.description or name)
        for name, one in SiteFields.model_fields.items()
    ),
    Column("revision", "whole", "", "which revision this is; a file of an older one is refused on import"),
    Column("updated_at", "text", "", "when it was changed last"),
    Column("updated_by", "text", "", "by whom"),
)


def export_sites(store: Store, region_id: str, path: Path) -> tuple[int, list[str]]:
    """Write the sites that count as a file whose ending chooses the format.

    Returns: how many they are, and sentences on what the format could not hold.
    Raises: BadArgument for another ending, and for the store's own file.
    """
    # GDAL on the store's file in a process that has it open breaks its locks.
    if path.resolve() == Path(store.where).resolve():
        raise BadArgument(f"{path} is the store itself. Fix: choose another file")
    records = [one.document() for one in sites.listed(store.engine, region_id)]
    return len(records), pipeline.write_sites(path, records, COLUMNS)
