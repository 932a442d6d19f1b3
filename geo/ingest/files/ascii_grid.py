"""Reads an ASCII grid with every token checked. Runs in the worker.

Common readers turn a word among the numbers into 0, which would be a lake at sea level; here it is an error.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from geo.ingest.files.refusal import Refusal

EDGES = ("xllcorner", "yllcorner", "xllcenter", "yllcenter")
KEYS = ("ncols", "nrows", *EDGES, "cellsize", "dx", "dy", "nodata_value")
MAX_CELLS = 20_000_000


@dataclass(frozen=True)
class AsciiGrid:
    """Values (rows, columns) from the north down, outer west and north edge, cell sizes, nodata and the .prj text."""

    values: np.ndarray
    west: float
    north: float
    cell_x: float
    cell_y: float
    nodata: float | None
    crs_text: str | None
    decimal_comma: bool


def read_ascii_grid(path: Path) -> AsciiGrid:
    """Give an ASCII grid.

    Raises: Refusal for a token that is not a number (row, column, token), a wrong count of values, a broken header.
    """
    lines = path.read_text("ascii", "replace").splitlines()
    header, first = _header(lines)
    rows, columns = _count(header, "nrows"), _count(header, "ncols")
    if rows * columns > MAX_CELLS:
        raise Refusal(
            f"the grid has more than {MAX_CELLS} cells", "convert it to GeoTIFF", value=rows * columns
        )
    body = lines[first:]
    comma = any("," in line for line in body[:5])
    values = _values(body, rows, columns, comma)
    cell_x, cell_y = _cell(header, "dx"), _cell(header, "dy")
    west = _edge(header, "xll", cell_x)
    south = _edge(header, "yll", cell_y)
    prj = next((one for one in (path.with_suffix(".prj"), path.with_suffix(".PRJ")) if one.exists()), None)
    return AsciiGrid(
        values,
        west,
        south + rows * cell_y,
        cell_x,
        cell_y,
        header.get("nodata_value"),
        prj.read_text("utf-8", "replace") if prj is not None and prj.stat().st_size < 100_000 else None,
        comma,
    )


def _number(token: str, what: str) -> float:
    try:
        value = float(token.replace(",", "."))
    except ValueError:
        raise Refusal(f"{what} is not a number", "mend it, or export the grid again", value=token) from None
    return value


def _header(lines: list[str]) -> tuple[dict[str, float], int]:
    header: dict[str, float] = {}
    for index, line in enumerate(lines):
        words = line.split()
        if not words:
            continue
        key = words[0].lower()
        if key not in KEYS:
            return header, index
        if len(words) != 2 or key in header:
            raise Refusal(f"header line {index + 1} is broken", "export the grid again", value=line)
        header[key] = _number(words[1], f"header value {key}")
    raise Refusal("the grid has a header but no values", "export it again")


def _count(header: dict[str, float], key: str) -> int:
    value = header.get(key)
    if value is None or not np.isfinite(value) or value < 1 or value != int(value):
        raise Refusal(f"the header has no proper {key}", "export the grid again", field=key, value=value)
    return int(value)


def _cell(header: dict[str, float], key: str) -> float:
    value = header.get(key, header.get("cellsize"))
    if value is None or not np.isfinite(value) or value <= 0:
        raise Refusal(
            f"the header has no proper cell size ({key} or cellsize)", "export the grid again", value=value
        )
    return value


def _edge(header: dict[str, float], key: str, cell: float) -> float:
    if f"{key}corner" in header:
        return header[f"{key}corner"]
    if f"{key}center" in header:
        return header[f"{key}center"] - cell / 2.0
    raise Refusal(f"the header has no {key}corner or {key}center", "export the grid again", field=key)


def _values(body: list[str], rows: int, columns: int, comma: bool) -> np.ndarray:
    pieces = []
    count = 0
    for line in body:
        tokens = line.split()
        try:
            piece = np.array([token.replace(",", ".") for token in tokens] if comma else tokens, dtype=float)
        except ValueError:
            place = next(k for k, token in enumerate(tokens) if not _is_number(token, comma))
            row, column = divmod(count + place, columns)
            raise Refusal(
                f"row {row + 1} column {column + 1} is not a number",
                "mend the value, or export the grid again",
                value=tokens[place],
            ) from None
        pieces.append(piece)
        count += len(tokens)
    if count != rows * columns:
        raise Refusal(
            f"{count} values where {rows} rows of {columns} make {rows * columns}",
            "send the whole file again",
        )
    return np.concatenate(pieces).reshape(rows, columns)


def _is_number(token: str, comma: bool) -> bool:
    try:
        float(token.replace(",", ".") if comma else token)
    except ValueError:
        return False
    return True
