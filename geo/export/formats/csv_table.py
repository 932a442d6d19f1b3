"""CSV for spreadsheets: UTF-8 with its mark, RFC 4180 quoting, and text that no spreadsheet runs as a formula."""

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path

import pandas as pd

from geo.base.file_limits import RISKY_STARTS
from geo.base.whole_file import whole_file
from geo.export.formats.geojson import plain_value
from geo.records.columns import LAYERS

ENCODING = "utf-8-sig"  # with the byte order mark, without which a common spreadsheet garbles every accent


def write_csv(path: Path, frame: pd.DataFrame) -> Path:
    """Write a layer's columns as CSV (no geometry: positions are columns). Unknown cells are empty.

    Notes: text that could be run as a formula gets an apostrophe in front; numbers stay numbers.
    Raises: OSError when the disk refuses; the old file is then untouched.
    """
    names = [name for name in frame.columns if name != "geometry"]
    rows = ([guarded(plain_value(v)) for v in row] for row in frame[names].itertuples(index=False, name=None))
    return _write(Path(path), names, rows)


def write_column_list(path: Path) -> Path:
    """Write the list of all layers' columns with type, unit and meaning, for whoever gets the files alone."""
    rows = ([layer, c.name, c.kind, c.unit, c.meaning] for layer, columns in LAYERS.items() for c in columns)
    return _write(Path(path), ["layer", "column", "type", "unit", "meaning"], rows)


def guarded(value: str | int | float | bool | None) -> str | int | float | bool:
    """Give a cell that a spreadsheet shows and does not run; None gives an empty cell."""
    if value is None:
        return ""
    if isinstance(value, str) and value.lstrip(" ").startswith(RISKY_STARTS):
        return f"'{value}"
    return value


def _write(path: Path, names: list[str], rows: Iterable[Sequence[object]]) -> Path:
    with whole_file(path) as private, private.open("w", encoding=ENCODING, newline="") as file:
        writer = csv.writer(file)
        writer.writerow(names)
        writer.writerows(rows)
    return path
