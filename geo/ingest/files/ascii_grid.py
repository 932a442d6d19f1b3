"""Reads an ASCII grid with every token checked. Runs in the worker.

Common readers turn a word among the numbers into 0, which would be a lake at sea level; here it is an error.
"""

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from geo.ingest.files.refusal import Refusal

EDGES = ("xllcorner", "yllcorner", "xllcenter", "yllcenter")
COUNTS = ("ncols", "nrows")
KEYS = (*COUNTS, *EDGES, "cellsize", "dx", "dy", "nodata_value")
MAX_CELLS = 20_000_000
AGAIN = "export the grid again"


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
    rows, columns = (int(_positive(header, key)) for key in ("nrows", "ncols"))
    if rows * columns > MAX_CELLS:
        rule = f"the grid has more than {MAX_CELLS} cells"
        raise Refusal(rule, "convert it to GeoTIFF", value=rows * columns)
    comma = any("," in line for line in lines[first : first + 5])
    values = _values(lines[first:], rows, columns, comma)
    cell_x, cell_y = (_positive(header, key, "cellsize") for key in ("dx", "dy"))
    west, south = _edge(header, "xll", cell_x), _edge(header, "yll", cell_y)
    prj = next((one for one in (path.with_suffix(".prj"), path.with_suffix(".PRJ")) if one.exists()), None)
    small = prj is not None and prj.stat().st_size < 100_000
    crs_text = prj.read_text("utf-8", "replace") if prj is not None and small else None
    north = south + rows * cell_y
    return AsciiGrid(values, west, north, cell_x, cell_y, header.get("nodata_value"), crs_text, comma)


def _number(token: str) -> float | None:
    try:
        return float(token.replace(",", "."))
    except ValueError:
        return None


def _header(lines: list[str]) -> tuple[dict[str, float], int]:
    """Give the header and the place of the first line after it."""
    header: dict[str, float] = {}
    for index, line in enumerate(lines):
        words = line.split()
        if not words:
            continue
        key = words[0].lower()
        if key not in KEYS:
            return header, index
        if len(words) != 2 or key in header:
            raise Refusal(f"header line {index + 1} is broken", AGAIN, value=line)
        value = _number(words[1])
        if value is None:
            raise Refusal(f"header value {key} is not a number", f"mend it, or {AGAIN}", value=words[1])
        header[key] = value
    raise Refusal("the grid has a header but no values", "export it again")


def _positive(header: dict[str, float], *keys: str) -> float:
    """Give the first of these header values that is there: above 0, and whole where it counts cells."""
    value = next((header[key] for key in keys if key in header), None)
    if value is None or not 0.0 < value < math.inf or (keys[0] in COUNTS and value != int(value)):
        raise Refusal(f"the header has no proper {' or '.join(keys)}", AGAIN, field=keys[0], value=value)
    return value


def _edge(header: dict[str, float], key: str, cell: float) -> float:
    if f"{key}corner" in header:
        return header[f"{key}corner"]
    if f"{key}center" in header:
        return header[f"{key}center"] - cell / 2.0
    raise Refusal(f"the header has no {key}corner or {key}center", AGAIN, field=key)


def _values(body: list[str], rows: int, columns: int, comma: bool) -> np.ndarray:
    pieces, count = [], 0
    for line in body:
        tokens = line.split()
        try:
            pieces.append(np.array((line.replace(",", ".") if comma else line).split(), dtype=float))
        except ValueError:
            place = next(
                k for k, one in enumerate(tokens) if ("," in one and not comma) or _number(one) is None
            )
            row, column = divmod(count + place, columns)
            rule = f"row {row + 1} column {column + 1} is not a number"
            raise Refusal(rule, f"mend the value, or {AGAIN}", value=tokens[place]) from None
        count += len(tokens)
    if count != rows * columns:
        rule = f"{count} values where {rows} rows of {columns} make {rows * columns}"
        raise Refusal(rule, "send the whole file again")
    return np.concatenate(pieces).reshape(rows, columns)
