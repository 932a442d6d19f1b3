"""Reads a CSV table of points strictly, in the worker: a broken quote or ragged row is an error, never a lost row."""

import csv
import io
import re
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from geo.ingest.files.crs_reading import parse_crs, to_degrees_from
from geo.ingest.files.file_kind import file_kind
from geo.ingest.files.messages import pack_geometries
from geo.ingest.files.refusal import Note, Refusal, caution, note
from geo.ingest.files.shape_check import positions_in_degrees, sound_shapes

MAX_BYTES = 200 * 1024**2
MAX_ROWS = 2_000_000
NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d{1,3})?")


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
    _check_file(source)
    text, faults = _decoded(source.read_bytes(), encoding)
    lines, table, comma = _rows(text)
    if comma != ",":
        faults.append(caution(f"the table is separated by {comma!r}; it was read so", "check a few numbers"))
    header = [name.strip() for name in table.pop(0)]
    wanted = [*position_columns, *number_columns]
    _check_header(header, [*(text_columns or ()), *number_columns, *position_columns])
    others = text_columns if text_columns is not None else [name for name in header if name not in wanted]
    cells = {name: [row[header.index(name)].strip() for row in table] for name in set(header)}
    numbers, number_faults, wrong = _numbers(cells, wanted, lines[1:], comma)
    points, position_faults = _points(numbers, position_columns, crs, wrong, lines[1:])
    columns = {name: [value or None for value in cells[name]] for name in others}
    return {
        "kind": "CSV",
        "layer": None,
        "rows": np.array(lines[1:], np.int64),
        "geometries": pack_geometries(shapely.to_wkb(points)),
        "columns": columns | {name: _optional(numbers[name]) for name in number_columns},
        "faults": [*faults, *number_faults, *position_faults],
    }


def _check_file(source: Path) -> None:
    if file_kind(source) != "text":
        fix = "export the table as CSV, or name the file by its format"
        raise Refusal("the file is not a CSV table", fix)
    if source.stat().st_size > MAX_BYTES:
        raise Refusal("the table is over 200 MiB", "cut it down to the region", value=source.stat().st_size)


def text_rows(data: bytes) -> list[tuple[int, dict[str, str]]]:
    """Give the rows of a CSV table as text by column, each with its line in the file, read as strictly as points are.

    Raises: Refusal for what is no text, a broken quote, a ragged row, doubled columns, no rows.
    """
    if b"\0" in data and data[:2] not in (b"\xff\xfe", b"\xfe\xff"):
        raise Refusal("the file is not a CSV table", "export the table as CSV")
    text, faults = _decoded(data, None)
    for fault in faults:
        raise Refusal(fault["rule"], fault["cure"])
    lines, table, _ = _rows(text)
    header = [name.strip() for name in table[0]]
    _check_header(header, [])
    return [
        (line, dict(zip(header, (cell.strip() for cell in row), strict=True)))
        for line, row in zip(lines[1:], table[1:], strict=True)
    ]


def _decoded(data: bytes, declared: str | None) -> tuple[str, list[Note]]:
    tried = "UTF-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "UTF-8-SIG"
    try:
        text = data.decode(declared if declared is not None else tried)
    except (UnicodeDecodeError, LookupError):
        if declared is not None:
            raise Refusal(
                "the text does not fit the encoding that is declared",
                "declare the true one",
                "ask",
                value=declared,
            ) from None
        return data.decode("ISO-8859-1"), [
            caution(
                "the text is not UTF-8; it was read as ISO-8859-1",
                "declare encoding, or export as UTF-8",
            )
        ]
    if declared is None and tried == "UTF-16":
        return text, [caution("the text is UTF-16; it was read so", "export as UTF-8")]
    return text, []


def _rows(text: str) -> tuple[list[int], list[list[str]], str]:
    first = text.lstrip().split("\n", 1)[0]
    comma = max((",", ";", "\t"), key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=comma, strict=True)
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
        raise Refusal(
            f"line {begun + 1} is broken: {error}",
            "mend the quotes and separators of that line; numbers with a decimal comma need ; between fields",
            value=text.splitlines()[begun][:60] if begun < len(text.splitlines()) else None,
        ) from None
    if len(table) < 2:
        raise Refusal("the table has no rows", "export it with a header and rows")
    if len(table) > MAX_ROWS:
        raise Refusal(f"the table has more than {MAX_ROWS} rows", "thin it out", value=len(table))
    return lines, table, comma


def _check_header(header: list[str], wanted: list[str]) -> None:
    lowered = [name.lower() for name in header]
    doubled = sorted({name for name in lowered if lowered.count(name) > 1})
    if doubled:
        raise Refusal(f"the column {', '.join(doubled)} stands twice in the header", "rename one of the two")
    missing = [name for name in wanted if name not in header]
    if missing:
        raise Refusal(
            f"the column {', '.join(missing)} is not in the table",
            f"map one of: {', '.join(header)}",
            field=", ".join(missing),
        )


def _numbers(
    cells: dict[str, list[str]], names: list[str], lines: list[int], comma: str
) -> tuple[dict[str, np.ndarray], list[Note], np.ndarray]:
    faults: list[Note] = []
    wrong = np.zeros(len(lines), bool)
    numbers = {}
    marks = {mark for name in names for cell in cells[name] for mark in ".," if mark in cell}
    if len(marks) > 1:
        raise Refusal(
            "numbers are written with decimal point and with decimal comma", "use one of them", "ask"
        )
    if marks == {","}:
        faults.append(caution(f"numbers with decimal comma, fields separated by {comma!r}", "check a few"))
    for name in names:
        values = np.full(len(lines), np.nan)
        for row, cell in enumerate(cells[name]):
            if NUMBER.fullmatch(cell) is not None:
                values[row] = float(cell.replace(",", "."))
            elif cell and not wrong[row]:
                wrong[row] = True
                faults.append(
                    {**note("quarantine", "not a plain number", "write it as a number", field=name, value=cell),
                     "row": lines[row]}
                )  # fmt: skip
        numbers[name] = values
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


def _optional(values: np.ndarray) -> list[float | None]:
    return [None if np.isnan(value) else float(value) for value in values]
