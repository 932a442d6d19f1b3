"""From a table to records: each row gets an id of its own, is read, and the records are sorted by their ids."""

import hashlib
from collections.abc import Callable
from typing import TypeVar

import numpy as np
import shapely

from geo.base.fault import Severity
from geo.ingest.layers.reader import FileReader
from geo.ingest.layers.table import LayerTable, Row
from geo.ingest.settings import MappedFile
from geo.records.region import RegionFrame

ID_ROUNDING_DECIMALS = 7
MOST_ROWS_NAMED = 10
T = TypeVar("T")


def read_records(
    reader: FileReader,
    section: MappedFile,
    frame: RegionFrame,
    make: Callable[[Row, str], T | None],
    *,
    letter: str,
    expect: str,
    blocking: Severity | None = None,
) -> tuple[T, ...]:
    """Give one record for each row of a layer that can be used, sorted by id.

    Parameters: make gives the record of a row and its id, None (with a fault) where there is none; letter begins the
    ids that are made from shapes; expect, as for `vector_file.read_vector`; blocking, the severity of a row that is
    left out, for layers of which none may be missing.
    """
    table = reader.read_layer(section, section.columns, expect, blocking)
    if table is None:
        return ()
    reader.place(table, frame.crs_wkt)
    found = [(row_id, make(row, row_id)) for row, row_id in rows_with_ids(table, letter)]
    table.count()
    return tuple(record for _, record in sorted(found, key=lambda one: one[0]) if record is not None)


def rows_with_ids(table: LayerTable, letter: str) -> list[tuple[Row, str]]:
    """Give each present row with its id: the user's where there is one, else one made from the shape.

    Notes: an id of the user's that stands in several rows is refused, once, with all of them named. The second of
    two equal shapes without id is left out. A row without id where a column of ids is mapped is told.
    """
    found: list[tuple[Row, str]] = []
    owners: dict[str, list[int]] = {}
    for row in table.rows():
        own = row.text("id")
        row_id = own if own is not None else shape_id(table.degrees[row.index], letter)
        numbers = owners.setdefault(row_id, [])
        number = int(table.numbers[row.index])
        if own is None and numbers:
            rule = f"the same shape stands in rows {numbers[0]} and {number}"
            row.leave_out(rule, "delete one of them", severity="quarantine")
            continue
        numbers.append(number)
        found.append((row, row_id))
        if own is None and "id" in table.names:
            rule = "the row has no id; one was made from its shape"
            row.complain("id", rule, f"give it an id; it was given {row_id}")
    for row_id, numbers in owners.items():
        if len(numbers) > 1:
            _refuse_rows(table, row_id, numbers)
    return found


def _refuse_rows(table: LayerTable, row_id: str, numbers: list[int]) -> None:
    listed = ", ".join(str(number) for number in numbers[: min(len(numbers) - 1, MOST_ROWS_NAMED)])
    more = len(numbers) - MOST_ROWS_NAMED
    last = f"{numbers[-1]}" if more <= 1 else f"{more} more"
    times = "twice" if len(numbers) == 2 else f"{len(numbers)} times"
    rule = f"the id stands {times}, in rows {listed} and {last}"
    table.report.add("refuse", rule, "give each row its own id", value=row_id)


def shape_id(shape_deg: shapely.Geometry, letter: str) -> str:
    """Give an identifier made from a shape in degrees alone: the same on each run and in any order of rows.

    Notes: SHA-256 over the normalised WKB with coordinates rounded to 1e-7 degrees (1 cm), first ten digits.
    """

    def rounded(degrees: np.ndarray) -> np.ndarray:
        east = np.mod(degrees[:, 0] + 180.0, 360.0) - 180.0
        return np.round(np.column_stack([east, degrees[:, 1]]), ID_ROUNDING_DECIMALS) + 0.0

    plain = shapely.normalize(shapely.transform(shape_deg, rounded))
    return f"{letter}-{hashlib.sha256(shapely.to_wkb(plain, byte_order=1)).hexdigest()[:10]}"
