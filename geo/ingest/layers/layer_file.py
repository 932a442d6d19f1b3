"""The parent's view of a file that the worker has read: shapes in degrees, columns under our names, faults taken in."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyproj.exceptions import ProjError

from geo.base.fault import Severity
from geo.base.geodesy import to_plane
from geo.ingest.checks.report import FileReport, Report
from geo.ingest.files.messages import pack_geometries, unpack_geometries
from geo.ingest.files.process import Worker, WorkerFailed
from geo.ingest.layers.fields import Row
from geo.ingest.settings import VectorFile

MAX_TANGLED = 5
MAX_AREA_CHANGE = 0.01
TRY_AGAIN = "open the file in a GIS, check it, and export it again"
PLEASE_REPORT = "please report this message; nothing is said of the file, which may be sound"


@dataclass(frozen=True, eq=False)
class Layer:
    """One layer: row numbers (n,), shapes (n,) in degrees or None where set aside, cells per row, its report."""

    file: str
    rows: np.ndarray
    shapes: np.ndarray
    table: list[dict[str, Any]]
    columns: dict[str, str]
    report: FileReport
    repaired: set[int]

    def row(self, index: int) -> Row:
        """Give one row to read cells from; its label is the row number and the user's id."""
        number = int(self.rows[index])
        label = f"{'line' if self.report.layer is None else 'row'} {number}"
        row = Row(number, label, self.table[index], self.columns, self.report)
        name = row.text("id")
        return row if name is None else replace(row, label=f"{label} ({name})")

    def present(self) -> list[int]:
        """Give the places of the rows that were not set aside."""
        return [index for index, shape in enumerate(self.shapes) if shape is not None]

    def set_aside(self, index: int, severity: Severity, rule: str, cure: str, **place: Any) -> None:
        """Leave one row out, with its fault."""
        self.shapes[index] = None
        self.report.add(severity, rule, cure, feature=self.row(index).label, **place)

    def count(self) -> None:
        """Fill in the row counts: rows = stored + repaired + quarantined."""
        kept = set(self.present())
        counts = self.report.counts
        counts.rows = len(self.shapes)
        counts.repaired = len(kept & self.repaired)
        counts.stored = len(kept) - counts.repaired
        counts.quarantined = counts.rows - len(kept)


@dataclass(frozen=True)
class Desk:
    """What every reader of a region needs: its folder, the worker, the report, and whom to tell of progress."""

    folder: Path
    worker: Worker
    report: Report
    progress: Callable[[str], None]

    def path(self, file: str) -> Path | None:
        """Give the path of a file of the region, None (with a fault) when it is not there or lies outside."""
        path = (self.folder / file).resolve()
        here = self.report.about(file)
        if not path.is_relative_to(self.folder.resolve()):
            here.add("refuse", "the file lies outside the region's folder", "copy it into the folder")
            return None
        if not path.is_file():
            here.add(
                "refuse", "there is no such file in the region's folder", "copy it there, or mend its name"
            )
            return None
        return path

    def ask_worker(
        self, task: str, file: str, blocking: Severity | None = None, **arguments: Any
    ) -> dict | None:
        """Give the worker's answer about a file, None when it holds only faults; faults go into the report.

        Parameters: blocking turns quarantines into this severity, for layers of which no row may be missing.
        """
        path = self.path(file)
        if path is None:
            return None
        self.progress(f"reading {file}")
        try:
            answer = self.worker.call(task, path=str(path), **arguments)
        except WorkerFailed as failed:
            if failed.kind == "mistake":
                _own_mistake(self.report.about(file), failed)
                return None
            reason = failed.reason.replace(str(path), file)
            rule = {
                "time": f"reading the file was {reason}",
                "crash": f"reading the file failed: {reason}",
                "error": f"the file cannot be read ({reason})",
            }[failed.kind]
            self.report.about(file).add("refuse", rule, TRY_AGAIN)
            return None
        here = self.report.about(file, answer.get("layer"))
        for fault in answer["faults"]:
            _take(here, dict(fault), blocking)
        return answer if len(answer) > 1 else None

    def read_layer(
        self, section: VectorFile, columns: dict[str, str], expect: str, blocking: Severity | None = None
    ) -> Layer | None:
        """Give a vector layer, None when it cannot be used."""
        answer = self.ask_worker(
            "read vector",
            section.file,
            blocking,
            columns=sorted(set(columns.values())),
            expect=expect,
            layer=section.layer,
            crs=section.crs,
            encoding=section.encoding,
        )
        return None if answer is None else self.as_layer(section.file, answer, columns)

    def as_layer(self, file: str, answer: dict[str, Any], columns: dict[str, str]) -> Layer:
        """Give a worker's answer as a layer."""
        shapes = shapely.from_wkb(np.array(unpack_geometries(answer["geometries"]), object))
        cells = answer["columns"]
        table = [{ours: cells[theirs][i] for ours, theirs in columns.items()} for i in range(len(shapes))]
        report = self.report.about(file, answer["layer"])
        return Layer(file, answer["rows"], shapes, table, columns, report, set())

    def in_plane(self, layer: Layer, crs_wkt: str, blocking: Severity | None = None) -> np.ndarray:
        """Give the layer's shapes in the metric plane, mended where needed; what cannot be mended is set aside."""
        plane = shape_in_plane(layer.shapes, crs_wkt)
        drop_unplaced(layer, plane, blocking)
        self.mend(layer, plane, blocking)
        return plane

    def on_plane(self, layer: Layer, crs_wkt: str) -> np.ndarray:
        """Give the layer's points or lines in the metric plane, where nothing is to be mended."""
        plane = shape_in_plane(layer.shapes, crs_wkt)
        drop_unplaced(layer, plane)
        return plane

    def mend(
        self,
        layer: Layer,
        plane: np.ndarray,
        blocking: Severity | None,
        max_change: float = MAX_AREA_CHANGE,
    ) -> None:
        """Repair the invalid shapes of `plane` in place, one at a time, each within the limit per shape.

        Notes: a repair that changes the area by more than 1 % is not a repair of what was drawn; the row is set aside.
        """
        severity = blocking if blocking is not None else "quarantine"
        try:
            found = self.worker.call("find invalid", geometries=pack_geometries(shapely.to_wkb(plane)))
        except WorkerFailed as failed:
            if failed.kind == "mistake":
                _own_mistake(layer.report, failed)
            else:
                layer.report.add("refuse", f"checking the shapes was {failed.reason}", "simplify the layer")
            plane[:] = None
            return
        tangled = 0
        for index, reason in zip(found["places"].tolist(), found["reasons"], strict=True):
            if tangled >= MAX_TANGLED:
                layer.report.add(
                    "refuse", f"more than {MAX_TANGLED} shapes are too tangled", "mend the layer first"
                )
                return
            self.progress(f"repairing {layer.file}, row {int(layer.rows[index])}")
            tangled += self._mend_one(layer, plane, index, (reason, severity, max_change))

    def _mend_one(
        self, layer: Layer, plane: np.ndarray, index: int, how: tuple[str, Severity, float]
    ) -> bool:
        reason, severity, max_change = how
        shape, plane[index] = plane[index], None
        limit = self.worker.limits.repair_s
        try:
            mended = self.worker.call("repair", limit_s=limit, geometry=shapely.to_wkb(shape))
        except WorkerFailed as failed:
            if failed.kind == "mistake":
                _own_mistake(layer.report, failed)
                layer.shapes[index] = None
                return False
            rule = f"the shape is too tangled to repair: {failed.reason}"
            layer.set_aside(index, severity, rule, "simplify or redraw it", value=reason)
            return True
        change = float(mended["change"])
        if mended["geometry"] is None or change > max_change:
            rule = f"the outline crosses itself and a repair would change its area by {100 * change:.1f} %"
            layer.set_aside(index, severity, f"{rule}; the limit is 1 %", "redraw the outline", value=reason)
            return False
        plane[index] = shapely.from_wkb(mended["geometry"])
        layer.repaired.add(index)
        layer.report.add(
            "caution",
            f"the outline crosses or touches itself and was repaired; its area changed by {100 * change:.3f} %",
            "look at the shape; redraw it if that is not what was meant",
            feature=layer.row(index).label,
            value=reason,
        )
        return False


def shape_in_plane(shapes: np.ndarray, crs_wkt: str) -> np.ndarray:
    """Give shapes in degrees (n,) in the metric plane; None stays None, and stands for what has no place there."""

    def move(degrees: np.ndarray) -> np.ndarray:
        return np.column_stack(to_plane(crs_wkt, degrees[:, 0], degrees[:, 1]))

    try:
        return shapely.transform(shapes, move)
    except ProjError:
        if len(shapes) == 1:
            return np.array([None], object)
        half = len(shapes) // 2
        return np.concatenate(
            [shape_in_plane(shapes[:half], crs_wkt), shape_in_plane(shapes[half:], crs_wkt)]
        )


def drop_unplaced(layer: Layer, plane: np.ndarray, blocking: Severity | None = None) -> None:
    """Set aside the rows that have no place in the metric plane."""
    for index in layer.present():
        if plane[index] is None:
            severity = blocking if blocking is not None else "quarantine"
            rule = "the shape lies so far away that it has no place in the region's metric plane"
            layer.set_aside(index, severity, rule, "check its coordinates; leave it out if they are right")


def _own_mistake(report: FileReport, failed: WorkerFailed) -> None:
    """Say that the program itself failed, so that nobody looks for the fault in the file."""
    report.add("refuse", f"the program failed while reading ({failed.reason})", PLEASE_REPORT)


def _take(report: FileReport, fault: dict[str, Any], blocking: Severity | None) -> None:
    severity = fault.pop("severity")
    if severity == "quarantine" and blocking is not None:
        severity = blocking
    row = fault.pop("row", None)
    rule, cure = fault.pop("rule"), fault.pop("cure")
    fault.pop("layer", None)
    if row is not None:
        fault["feature"] = f"line {row}" if report.layer is None else f"row {row}"
    report.add(severity, rule, cure, **fault)
