"""Reads a file of points whole, every row with every column: no row is left out in silence."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import shapely

from geo.base.errors import BadInput
from geo.base.fault import Fault
from geo.ingest.files.file_kind import file_kind
from geo.ingest.files.process import Worker
from geo.ingest.files.refusal import Refusal
from geo.ingest.layers.reader import reading

MAX_ROWS = 10_000


@dataclass(frozen=True)
class PointRow:
    """One row: where it stands in the file, its place in WGS 84 [deg], its cells by the file's own column names."""

    where: str
    longitude_deg: float
    latitude_deg: float
    cells: dict[str, Any]


@dataclass(frozen=True)
class PointFile:
    """A file of points: its kind, its columns in their order, its rows, and what had to be said about it."""

    kind: str
    columns: tuple[str, ...]
    rows: tuple[PointRow, ...]
    cautions: tuple[Fault, ...]


def read_points(
    path: Path,
    *,
    layer: str | None = None,
    crs: str | None = None,
    encoding: str | None = None,
    places: tuple[str, str] = ("longitude_deg", "latitude_deg"),
    worker: Worker | None = None,
) -> PointFile:
    """Give the points of a GeoPackage, GeoJSON, Shapefile, FlatGeobuf, KML, KMZ, GPX (its waypoints) or CSV.

    Parameters: layer, crs, encoding where they must be named; places, a CSV's columns of longitude and latitude.

    Raises: BadInput with every fault: a row whose place cannot be used refuses the file, too.
    """
    how: dict[str, Any] = {"crs": crs, "encoding": encoding}
    task = "read table" if _is_table(path) else "read vector"
    if task == "read table":
        how |= {"text_columns": None, "number_columns": [], "position_columns": list(places)}
    else:
        how |= {"columns": None, "expect": "point", "layer": layer}
    with reading(path.resolve().parent, worker) as reader:
        answer = reader.ask_worker(task, path.name, "refuse", **how)
    assert answer is not None, "a file that is not read has a fault that blocks"
    table = reader.as_table(path.name, answer, {name: name for name in answer["columns"]})
    if len(table) > MAX_ROWS:
        rule = f"{len(table)} rows; at most {MAX_ROWS} are taken at once"
        raise BadInput.of(path.name, rule, "split the file")
    rows = tuple(
        PointRow(
            table.row(index).place,
            shapely.get_x(shape),
            shapely.get_y(shape),
            {name: cells[index] for name, cells in table.cells.items()},
        )
        for index, shape in enumerate(table.degrees)
    )
    return PointFile(answer["kind"], tuple(answer["columns"]), rows, reader.report.all_faults())


def _is_table(path: Path) -> bool:
    try:
        return path.is_file() and file_kind(path) == "text"
    except Refusal as refusal:
        raise BadInput([Fault(file=path.name, **refusal.fault)]) from refusal
