"""Reads the files that a user names: the worker opens each, its rows come back as a table, its faults are reported."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from geo.base.fault import Severity
from geo.ingest.checks.report import FileReport, Report
from geo.ingest.files.messages import unpack_geometries
from geo.ingest.files.process import Worker, WorkerFailed, shared
from geo.ingest.layers.placing import on_plane, report_failure, with_shapes_mended
from geo.ingest.layers.table import LayerTable
from geo.ingest.settings import RasterFile, VectorFile

READING_FAILED = {
    "time": "reading the file was {}",
    "crash": "reading the file failed: {}",
    "error": "the file cannot be read ({})",
}
TRY_AGAIN = "open the file in a GIS, check it, and export it again"


def _untold(_: str) -> None:
    """Progress of which nobody is told."""


@dataclass(frozen=True)
class FileReader:
    """Reads the files of one folder: through which worker, into which report, and whom to tell of progress."""

    folder: Path
    worker: Worker
    report: Report
    progress: Callable[[str], None] = _untold

    def quiet(self) -> "FileReader":
        """Give a reader of the same files whose faults and progress nobody is told of."""
        return replace(self, report=Report(), progress=_untold)

    def path(self, file: str) -> Path | None:
        """Give the path of a file of the folder, None (with a fault) when it is not there or lies outside."""
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
    ) -> dict[str, Any] | None:
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
            rule = READING_FAILED.get(failed.kind, "").format(failed.reason.replace(str(path), file))
            report_failure(self.report.about(file), failed, rule, TRY_AGAIN)
            return None
        here = self.report.about(file, answer.get("layer"))
        for fault in answer["faults"]:
            _take_in(here, dict(fault), blocking)
        return answer if len(answer) > 1 else None

    def read_layer(
        self, section: VectorFile, names: Mapping[Any, str], expect: str, blocking: Severity | None = None
    ) -> LayerTable | None:
        """Give a vector layer, None when it cannot be used.

        Parameters: names, our name of a column -> the user's; expect, as for `vector_file.read_vector`.
        """
        how = {"expect": expect, "layer": section.layer, "crs": section.crs, "encoding": section.encoding}
        columns = sorted(set(names.values()))
        answer = self.ask_worker("read vector", section.file, blocking, columns=columns, **how)
        return None if answer is None else self.as_table(section.file, answer, names, blocking)

    def read_raster(self, section: RasterFile, crs_wkt: str, **how: Any) -> dict[str, Any] | None:
        """Give a raster in a plane, as `raster_file.read_raster` answers; None when it cannot be used."""
        how |= {"metric_wkt": crs_wkt, "crs": section.crs, "nodata": section.nodata}
        return self.ask_worker("read raster", section.file, **how)

    def as_table(
        self, file: str, answer: dict[str, Any], names: Mapping[Any, str], blocking: Severity | None = None
    ) -> LayerTable:
        """Give a worker's answer as a table."""
        return LayerTable(
            file=file,
            numbers=answer["rows"],
            degrees=shapely.from_wkb(np.array(unpack_geometries(answer["geometries"]), object)),
            cells={ours: answer["columns"][theirs] for ours, theirs in names.items()},
            names=names,
            report=self.report.about(file, answer["layer"]),
            severity=blocking or "quarantine",
        )

    def place(self, table: LayerTable, crs_wkt: str) -> None:
        """Put a table's areas into the metric plane, mended where needed; what cannot be used is left out."""
        on_plane(table, crs_wkt)
        with_shapes_mended(table, self.worker, self.progress)


@contextmanager
def reading(folder: Path, worker: Worker | None) -> Iterator[FileReader]:
    """Give a reader of a folder through the given worker, or through one that ends with the block.

    Raises: BadInput at the end of the block with every fault that blocks.
    """
    with shared(worker) as process:
        reader = FileReader(folder, process, Report())
        yield reader
    reader.report.raise_if_blocked()


def _take_in(report: FileReport, fault: dict[str, Any], blocking: Severity | None) -> None:
    severity, rule, fix = (fault.pop(key) for key in ("severity", "rule", "cure"))
    if severity == "quarantine" and blocking is not None:
        severity = blocking
    row, _ = fault.pop("row", None), fault.pop("layer", None)
    if row is not None:
        fault["feature"] = f"line {row}" if report.layer is None else f"row {row}"
    report.add(severity, rule, fix, **fault)
