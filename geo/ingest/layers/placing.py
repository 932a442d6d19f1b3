"""Puts a table's shapes into the metric plane, and has the invalid ones repaired in the worker."""

from collections.abc import Callable

import numpy as np
import shapely
from pyproj.exceptions import ProjError

from geo.base.geodesy import to_plane
from geo.ingest.checks.report import FileReport
from geo.ingest.files.messages import pack_geometries
from geo.ingest.files.process import Worker, WorkerFailed
from geo.ingest.layers.table import LayerTable

MAX_TANGLED = 5
MAX_AREA_CHANGE = 0.01
PLEASE_REPORT = "please report this message; nothing is said of the file, which may be sound"


def shape_in_plane(degrees: np.ndarray, crs_wkt: str) -> np.ndarray:
    """Give shapes in degrees (n,) in the metric plane; None stays None, and stands for what has no place there."""

    def move(positions: np.ndarray) -> np.ndarray:
        return np.column_stack(to_plane(crs_wkt, positions[:, 0], positions[:, 1]))

    try:
        return shapely.transform(degrees, move)
    except ProjError:
        if len(degrees) == 1:
            return np.array([None], object)
        half = len(degrees) // 2
        return np.concatenate([shape_in_plane(part, crs_wkt) for part in (degrees[:half], degrees[half:])])


def on_plane(table: LayerTable, crs_wkt: str) -> None:
    """Put a table's shapes into the metric plane as they are; those without a place there are left out."""
    table.plane = shape_in_plane(table.degrees, crs_wkt)
    for row in table.rows():
        if row.shape is None:
            rule = "the shape lies so far away that it has no place in the region's metric plane"
            row.leave_out(rule, "check its coordinates; leave it out if they are right")


def with_shapes_mended(
    table: LayerTable, worker: Worker, progress: Callable[[str], None], max_change: float = MAX_AREA_CHANGE
) -> None:
    """Repair a table's invalid shapes in place, one at a time, each within the limit per shape.

    Notes: a repair that changes the area by more than 1 % is not a repair of what was drawn; the row is left out.
    """
    try:
        found = worker.call("find invalid", geometries=pack_geometries(shapely.to_wkb(table.plane)))
    except WorkerFailed as failed:
        report_failure(table.report, failed, f"checking the shapes was {failed.reason}", "simplify the layer")
        table.degrees[:] = None
        return
    tangled = 0
    for index, reason in zip(found["places"].tolist(), found["reasons"], strict=True):
        if tangled >= MAX_TANGLED:
            rule = f"more than {MAX_TANGLED} shapes are too tangled"
            table.report.add("refuse", rule, "mend the layer first")
            return
        progress(f"repairing {table.file}, {table.row(index).place}")
        tangled += not _mended(table, worker, index, reason, max_change)


def _mended(table: LayerTable, worker: Worker, index: int, reason: str, max_change: float) -> bool:
    """Repair one shape, or leave its row out; False when it is too tangled for the limit per shape."""
    row = table.row(index)
    try:
        geometry = shapely.to_wkb(row.shape)
        mended = worker.call("repair", limit_s=worker.limits.repair_s, geometry=geometry)
    except WorkerFailed as failed:
        rule, fix = f"the shape is too tangled to repair: {failed.reason}", "simplify or redraw it"
        if failed.kind != "mistake":
            row.leave_out(rule, fix, value=reason)
            return False
        report_failure(table.report, failed, rule, fix)
        table.degrees[index] = None
        return True
    change = float(mended["change"])
    if mended["geometry"] is None or change > max_change:
        rule = f"the outline crosses itself and a repair would change its area by {100 * change:.1f} %"
        row.leave_out(f"{rule}; the limit is 1 %", "redraw the outline", value=reason)
        return True
    table.plane[index] = shapely.from_wkb(mended["geometry"])
    table.repaired.add(index)
    rule = f"the outline crosses or touches itself and was repaired; its area changed by {100 * change:.3f} %"
    row.caution(rule, "look at the shape; redraw it if that is not what was meant", value=reason)
    return True


def report_failure(report: FileReport, failed: WorkerFailed, rule: str, fix: str) -> None:
    """Tell what the worker could not do; where the program itself failed nobody shall look for it in the file."""
    if failed.kind == "mistake":
        rule, fix = f"the program failed while reading ({failed.reason})", PLEASE_REPORT
    report.add("refuse", rule, fix)
