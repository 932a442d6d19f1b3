"""Reads a file of points whole, every row with every column: no row is left out in silence."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import shapely

from geo.base.errors import BadInput
from geo.base.fault import Fault
from geo.ingest.checks.report import Report
from geo.ingest.files.file_kind import file_kind
from geo.ingest.files.process import Worker, shared
from geo.ingest.files.refusal import Refusal
from geo.ingest.layers.layer_file import Desk

CSV = "CSV"
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
    report = Report()
    with shared(worker) as reader:
        desk = Desk(path.resolve().parent, reader, report, lambda _: None)
        answer = _answer(desk, path, layer, crs, encoding, places)
    if report.blocked or answer is None:
        raise BadInput([fault for fault in report.all_faults() if fault.blocks])
    found = desk.as_layer(path.name, answer, {name: name for name in answer["columns"]})
    if len(found.shapes) > MAX_ROWS:
        rule = f"{len(found.shapes)} rows; at most {MAX_ROWS} are taken at once"
        raise BadInput([Fault("refuse", path.name, rule, "split the file")])
    word = "line" if answer["kind"] == CSV else "row"
    rows = tuple(
        PointRow(f"{word} {number}", shapely.get_x(shape), shapely.get_y(shape), cells)
        for number, shape, cells in zip(found.rows, found.shapes, found.table, strict=True)
    )
    return PointFile(answer["kind"], tuple(answer["columns"]), rows, report.all_faults())


def _answer(
    desk: Desk,
    path: Path,
    layer: str | None,
    crs: str | None,
    encoding: str | None,
    places: tuple[str, str],
) -> dict[str, Any] | None:
    if desk.path(path.name) is None:
        return None
    try:
        table = file_kind(path) == "text"
    except Refusal as refusal:
        words = {key: value for key, value in refusal.fault.items() if value is not None}
        raise BadInput([Fault(file=path.name, **words)]) from refusal
    how: dict[str, Any] = {"crs": crs, "encoding": encoding}
    if table:
        how |= {"text_columns": None, "number_columns": [], "position_columns": list(places)}
        return desk.ask_worker("read table", path.name, "refuse", **how)
    how |= {"columns": None, "expect": "point", "layer": layer}
    return desk.ask_worker("read vector", path.name, "refuse", **how)
