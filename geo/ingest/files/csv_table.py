"""Reads a CSV table of points strictly, in the worker: a broken quote or ragged row is an error, never a lost row."""

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from geo.base.errors import BadInput
from geo.base.fault import Fault
from geo.ingest.files.crs_reading import parse_crs, to_degrees_from
from geo.ingest.files.file_kind import file_kind, refuse_large
from geo.ingest.files.messages import pack_geometries, plain_list
from geo.ingest.files.refusal import Note, Refusal, caution, left_out
from geo.ingest.files.shape_check import positions_in_degrees, sound_shapes

MAX_ROWS = 2_000_000
NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d{1,3})?")
UTF_16_MARKS = (b"\xff\xfe", b"\xfe\xff")
NO_TABLE = "the file is not a CSV table"


@dataclass(frozen=True)
class _Table:
    """A table as text: the header, the rows with the line of each in the file, and what separates fields."""

    header: list[str]
    lines: list[int]
    rows: list[list[str]]
    separator: str

    def need(self, wanted: list[str]) -> None:
        """Ask for columns by name. Raises: Refusal with the columns that are there when one is missing."""
        missing = ", ".join(name for name in wanted if name not in self.header)
        if missing:
            fix = f"map one of: {', '.join(self.header)}"
            raise Refusal(f"the column {missing} is not in the table", fix, field=missing)

    def column(self, name: str) -> list[str]:
        """Give the cells of one column."""
        place = self.header.index(name)
        return [row[place].strip() for row in self.rows]


def read_table(
    path: str,
    text_columns: list[str] | None,
    number_columns: list[str],
    position_columns: list[str],
    crs: str | None = None,
    encoding: str | None = None,
) -> dict[str, Any]:
    """Give the rows of a CSV file as points in WGS 84 degrees and columns.

    Parameters: position_columns are the two of longitude, latitude (or easting, northing), in this order; they and
    number_columns are read as numbers; text_columns None are all the others. crs is that of the two, None meaning
    WGS 84.

    Returns: as `vector_file.read_vector`, with the line in the file instead of the row number.

    Raises: Refusal for a broken quote, a ragged row, doubled or missing columns, mixed decimal signs.
    """
    source = Path(path)
    if file_kind(source) != "text":
        raise Refusal(NO_TABLE, "export the table as CSV, or name the file by its format")
    refuse_large(source, "text")
    text, faults = _decoded(source.read_bytes(), encoding)
    table = _table(text)
    if table.separator != ",":
        rule = f"the table is separated by {table.separator!r}; it was read so"
        faults.append(caution(rule, "check a few numbers"))
    wanted = [*position_columns, *number_columns]
    table.need([*(text_columns or ()), *number_columns, *position_columns])
    others = text_columns if text_columns is not None else [n for n in table.header if n not in wanted]
    numbers, number_faults, wrong = _numbers(table, wanted)
    points, position_faults = _points(numbers, position_columns, crs, wrong, table.lines)
    columns = {name: [value or None for value in table.column(name)] for name in others}
    return {
        "kind": "CSV",
        "layer": None,
        "rows": np.array(table.lines, np.int64),
        "geometries": pack_geometries(shapely.to_wkb(points)),
        "columns": columns | {name: plain_list(numbers[name]) for name in number_columns},
        "faults": [*faults, *number_faults, *position_faults],
    }


def table_rows(data: bytes, file: str, columns: Sequence[str]) -> list[tuple[int, dict[str, str]]]:
    """Give the rows of a CSV table of words without places (levels and closures of the day) as text by column, each
    with its line in the file.

    Parameters: columns, those that are known; file, where a refusal says that the table stands.
    Raises: BadInput for what is no sound table, read as strictly as points are, and for each column that is not known.
    """
    try:
        if b"\0" in data and not data.startswith(UTF_16_MARKS):
            raise Refusal(NO_TABLE, "export the table as CSV")
        text, faults = _decoded(data, None)
        for fault in faults:
            raise Refusal(fault["rule"], fault["cure"])
        table = _table(text)
    except Refusal as refusal:
        raise BadInput([Fault(file=file, **refusal.fault)]) from refusal
    unknown = sorted(set(table.header) - set(columns))
    if unknown:
        rule, fix = "the column is not known", f"known are {', '.join(columns)}"
        raise BadInput([Fault("refuse", file, rule, fix, field=name) for name in unknown])
    cells = zip(*(table.column(name) for name in table.header), strict=True)
    return [
        (line, dict(zip(table.header, row, strict=True)))
        for line, row in zip(table.lines, cells, strict=True)
    ]


def _decoded(data: bytes, declared: str | None) -> tuple[str, list[Note]]:
    tried = "UTF-16" if data.startswith(UTF_16_MARKS) else "UTF-8-SIG"
    try:
        text = data.decode(declared if declared is not None else tried)
    except (UnicodeDecodeError, LookupError):
        if declared is not None:
            rule = "the text does not fit the encoding that is declared"
            raise Refusal(rule, "declare the true one", "ask", value=declared) from None
        rule = "the text is not UTF-8; it was read as ISO-8859-1"
        return data.decode("ISO-8859-1"), [caution(rule, "declare encoding, or export as UTF-8")]
    if declared is None and tried == "UTF-16":
        return text, [caution("the text is UTF-16; it was read so", "export as UTF-8")]
    return text, []


def _table(text: str) -> _Table:
    separator = max((",", ";", "\t"), key=text.lstrip().split("\n", 1)[0].count)
    lines, table = _lines(text, separator)
    if len(table) < 2:
        raise Refusal("the table has no rows", "export it with a header and rows")
    if len(table) > MAX_ROWS:
        raise Refusal(f"the table has more than {MAX_ROWS} rows", "thin it out", value=len(table))
    header = [name.strip() for name in table[0]]
    lowered = [name.lower() for name in header]
    doubled = ", ".join(sorted({name for name in lowered if lowered.count(name) > 1}))
    if doubled:
        raise Refusal(f"the column {doubled} stands twice in the header", "rename one of the two")
    return _Table(header, lines[1:], table[1:], separator)


def _lines(text: str, separator: str) -> tuple[list[int], list[list[str]]]:
    """Give the cells of every line that has any, with its number in the file."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    lines: list[int] = []
    table: list[list[str]] = []
    begun = 0
    try:
        for row in reader:
            if reader.line_num > begun + 1:
                raise csv.Error("a quoted field runs over the end of its line")
            if any(cell.strip() for cell in row):
                if table and len(row) != len(table[0]):
                    raise csv.Error(f"{len(row)} fields where the header has {len(table[0])}")
                lines.append(reader.line_num)
                table.append(row)
            begun = reader.line_num
    except csv.Error as error:
        shown = text.splitlines()[begun : begun + 1]
        raise Refusal(
            f"line {begun + 1} is broken: {error}",
            "mend the quotes and separators of that line; numbers with a decimal comma need ; between fields",
            value=shown[0][:60] if shown else None,
        ) from None
    return lines, table


def _numbers(table: _Table, names: list[str]) -> tuple[dict[str, np.ndarray], list[Note], np.ndarray]:
    """Give columns of numbers, NaN where empty, the faults, and which rows hold what is no number."""
    faults: list[Note] = []
    wrong = np.zeros(len(table.lines), bool)
    cells = {name: table.column(name) for name in names}
    marks = {".", ","} & set("".join(cell for column in cells.values() for cell in column))
    if len(marks) > 1:
        rule = "numbers are written with decimal point and with decimal comma"
        raise Refusal(rule, "use one of them", "ask")
    if marks == {","}:
        rule = f"numbers with decimal comma, fields separated by {table.separator!r}"
        faults.append(caution(rule, "check a few"))
    numbers = {name: np.full(len(table.lines), np.nan) for name in names}
    for name, column in cells.items():
        for row, cell in enumerate(column):
            if NUMBER.fullmatch(cell) is not None:
                numbers[name][row] = float(cell.replace(",", "."))
            elif cell and not wrong[row]:
                wrong[row] = True
                place = {"field": name, "value": cell}
                faults.append(
                    left_out(table.lines[row], "not a plain number", "write it as a number", **place)
                )
    return numbers, faults, wrong


def _points(
    numbers: dict[str, np.ndarray], names: list[str], crs: str | None, wrong: np.ndarray, lines: list[int]
) -> tuple[np.ndarray, list[Note]]:
    coordinates = np.column_stack([numbers[name] for name in names])
    missing = np.isnan(coordinates).any(axis=1)
    points = np.asarray(shapely.points(np.where(missing[:, None], 1.0, coordinates)))
    points[missing | wrong] = None
    shapes, faults = sound_shapes(np.asarray(shapely.to_wkb(points)), "point")
    faults = [fault for fault in faults if not wrong[fault["row"] - 1]]
    way = to_degrees_from(parse_crs(crs if crs is not None else "EPSG:4326"))
    degrees, position_faults = positions_in_degrees(shapes, way)
    by_line = [{**fault, "row": lines[fault["row"] - 1]} for fault in [*faults, *position_faults]]
    return degrees, [*way.faults, *by_line]
