"""Reads a region folder: all of it or nothing, with every fault found and not only the first."""

from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

import shapely

from geo.errors import BadInput
from geo.ingest.fingerprint import fingerprint
from geo.ingest.fires import read_fires
from geo.ingest.frame import choose_frame
from geo.ingest.layers import Desk
from geo.ingest.process import Worker, shared
from geo.ingest.rasters import read_depth_grid, read_terrain
from geo.ingest.report import Report
from geo.ingest.settings import FILE_NAME, RegionSettings, read_settings
from geo.ingest.soundings import read_soundings
from geo.ingest.surroundings import base_of, read_closures, read_obstacles, read_sites
from geo.ingest.water import check_water_units, water_bodies
from geo.records.fault import Fault
from geo.records.region import Region, RegionFrame, WaterBody

Progress = Callable[[str], None]
FILE_SECTIONS = ("water", "terrain", "depth_raster", "soundings", "obstacles", "closures", "sites", "fires")


def load_region(folder: Path, progress: Progress | None = None, worker: Worker | None = None) -> Region:
    """Give the region of a folder.

    Parameters: progress is told, in words, what is being done; worker is a reading process to share, None for one
    of its own.

    Raises: BadInput with every fault that keeps the region from being used. Cautions and rows that were left out are
    in the region's `cautions`. Nothing is written to the folder.
    """
    region, report = _ingest(Path(folder), progress, worker)
    faults = report.all_faults()
    if region is None or report.blocked:
        raise BadInput([fault for fault in faults if fault.blocks])
    return region


def check_region(
    folder: Path, progress: Progress | None = None, worker: Worker | None = None
) -> tuple[tuple[Fault, ...], dict[str, Any]]:
    """Give every fault of a folder, those that block first, and a summary.

    Returns: the faults, and a dict with usable (bool), name, bodies, and files: per file (and layer) the rows in and
    how many were stored, repaired and quarantined, rows = stored + repaired + quarantined.
    """
    region, report = _ingest(Path(folder), progress, worker)
    usable = region is not None and not report.blocked
    return report.all_faults(), {
        "usable": usable,
        "name": region.name if region is not None else None,
        "bodies": len(region.bodies) if region is not None else 0,
        "files": {name: asdict(counts) for name, counts in report.counts.items()},
    }


def _ingest(folder: Path, progress: Progress | None, worker: Worker | None) -> tuple[Region | None, Report]:
    report = Report()
    settings = read_settings(folder, report)
    if settings is None:
        return None, report
    with shared(worker) as reader:
        desk = Desk(folder, reader, report, progress if progress is not None else lambda _: None)
        return _region(desk, settings), report


def _water(desk: Desk, settings: RegionSettings) -> tuple[RegionFrame, tuple[WaterBody, ...]] | None:
    section = settings.water
    check_water_units(section, desk.report.about(section.file))
    layer = desk.read_layer(section, section.columns.mapped(), "polygon")
    if layer is None:
        return None
    present = layer.shapes[layer.present()]
    frame = None
    if len(present):
        frame = choose_frame(
            present, settings.metric_crs, settings.vertical_datum, desk.report.about(FILE_NAME), layer.report
        )
    bodies: tuple[WaterBody, ...] = ()
    if frame is not None:
        plane = desk.in_plane(layer, frame.crs_wkt)
        bodies = water_bodies(layer, plane, section, frame)
    layer.count()
    if not bodies or frame is None:
        if frame is not None or len(present) == 0:
            layer.report.add("refuse", "not one water body of the layer can be used", "mend the rows listed")
        return None
    return frame, bodies


def _region(desk: Desk, settings: RegionSettings) -> Region | None:
    water = _water(desk, settings)
    if water is None:
        _check_presence(desk, settings)
        return None
    frame, bodies = water
    parts = _optional_parts(desk, settings, frame, bodies)
    if desk.report.blocked:
        return None
    files = [section.file for name in FILE_SECTIONS if (section := getattr(settings, name)) is not None]
    desk.progress("computing the fingerprint")
    return Region(
        name=settings.name,
        frame=frame,
        bodies=bodies,
        fingerprint=fingerprint(desk.folder, files),
        terrain_error_m=settings.terrain.error_m if settings.terrain is not None else None,
        obstacles_listed=settings.obstacles is not None,
        survey_settings=settings.survey.model_dump(exclude_none=True),
        cautions=desk.report.all_faults(),
        **parts,
    )


def _optional_parts(
    desk: Desk, settings: RegionSettings, frame: RegionFrame, bodies: tuple[WaterBody, ...]
) -> dict[str, Any]:
    """Read every other file, each whether or not one before it failed, so that all faults are found."""
    parts: dict[str, Any] = {}
    if settings.terrain is not None:
        parts["terrain"] = read_terrain(desk, settings.terrain, frame, bodies)
    if settings.depth_raster is not None:
        parts["depth_grid"] = read_depth_grid(desk, settings.depth_raster, frame, bodies)
    if settings.soundings is not None:
        parts["soundings"] = read_soundings(desk, settings.soundings, frame, bodies)
    if settings.obstacles is not None:
        parts["obstacles"] = read_obstacles(desk, settings.obstacles, frame)
    if settings.closures is not None:
        parts["closures"] = read_closures(desk, settings.closures, frame)
    if settings.sites is not None:
        parts["sites"] = read_sites(desk, settings.sites, frame, bodies)
    if settings.fires is not None:
        parts["fires"] = read_fires(desk, settings.fires, frame)
    if settings.base is not None:
        parts["base"] = base_of(settings.base, frame)
    _check_distances(desk, settings, bodies, parts)
    return parts


def _check_presence(desk: Desk, settings: RegionSettings) -> None:
    for name in FILE_SECTIONS[1:]:
        section = getattr(settings, name)
        if section is not None:
            desk.path(section.file)


def _check_distances(
    desk: Desk, settings: RegionSettings, bodies: tuple[WaterBody, ...], parts: dict[str, Any]
) -> None:
    """Say when a whole layer lies far from all water: its coordinate system is then likely wrong."""
    far_m = 100_000.0
    water = shapely.box(*shapely.total_bounds([body.polygon for body in bodies]))
    shapes = {
        "obstacles": [one.shape for one in parts.get("obstacles", ())],
        "closures": [one.area for one in parts.get("closures", ())],
        "sites": [one.point for one in parts.get("sites", ())],
        "fires": [one.area for one in parts.get("fires", ())],
    }
    for name, found in shapes.items():
        if found and float(shapely.distance(found, water).min()) > far_m:
            desk.report.about(getattr(settings, name).file).add(
                "caution",
                f"everything in the layer lies {float(shapely.distance(found, water).min()) / 1000:.0f} km or more"
                " from the water",
                "check its coordinate system; longitude and latitude may be swapped",
            )
