"""Reads a region folder: all of it or nothing, with every fault found and not only the first."""

from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from geo.base.errors import BadInput
from geo.base.fault import Fault
from geo.ingest.checks.depth_check import check_depths_agree, check_stated_depths
from geo.ingest.checks.fingerprint import fingerprint
from geo.ingest.checks.level_check import check_levels
from geo.ingest.checks.overlaps import check_overlaps
from geo.ingest.checks.places import base_of, check_base, check_layer
from geo.ingest.checks.report import Report
from geo.ingest.checks.terrain_holes import check_holes
from geo.ingest.files.process import Worker, shared
from geo.ingest.layers.canopy import read_canopy
from geo.ingest.layers.contours import read_contours
from geo.ingest.layers.depth_areas import read_depth_areas
from geo.ingest.layers.fires import read_fires
from geo.ingest.layers.layer_file import Desk
from geo.ingest.layers.rasters import read_depth_grid, read_terrain
from geo.ingest.layers.soundings import read_soundings
from geo.ingest.layers.surroundings import read_closures, read_obstacles, read_sites
from geo.ingest.layers.water import check_water_units, water_bodies
from geo.ingest.metric_plane import choose_frame
from geo.ingest.settings import FILE_NAME, RegionSettings
from geo.ingest.settings_file import read_settings
from geo.ingest.stand_in_plane import stand_in_frame
from geo.records.chart import DepthChart
from geo.records.region import Region, RegionFrame, WaterBody

Progress = Callable[[str], None]
FILE_SECTIONS = (
    "water",
    "terrain",
    "canopy",
    "depth_raster",
    "soundings",
    "depth_contours",
    "depth_areas",
    "obstacles",
    "closures",
    "sites",
    "fires",
)


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

    Returns: the faults, and a dict with usable (bool), name, bodies, files: per file (and layer) the rows in and
    how many were stored, repaired and quarantined, rows = stored + repaired + quarantined; and terrain_holes: of the
    convex hull of water, fires and base the share without a height (0 to 1) and the largest hole's place, None where
    there is no terrain or no water to compare.
    """
    region, report = _ingest(Path(folder), progress, worker)
    usable = region is not None and not report.blocked
    return report.all_faults(), {
        "usable": usable,
        "name": region.name if region is not None else None,
        "bodies": len(region.bodies) if region is not None else 0,
        "files": {name: asdict(counts) for name, counts in report.counts.items()},
        "terrain_holes": report.summary.get("terrain_holes"),
    }


def _ingest(folder: Path, progress: Progress | None, worker: Worker | None) -> tuple[Region | None, Report]:
    report = Report()
    settings = read_settings(folder, report)
    if settings is None:
        return None, report
    with shared(worker) as reader:
        desk = Desk(folder, reader, report, progress if progress is not None else lambda _: None)
        return _region(desk, settings), report


def _water(desk: Desk, settings: RegionSettings) -> tuple[RegionFrame | None, tuple[WaterBody, ...]]:
    """Give the frame and the bodies; without a frame or without bodies a fault says why."""
    section = settings.water
    if section is None:
        return None, ()
    check_water_units(section, desk.report.about(section.file))
    layer = desk.read_layer(section, section.columns.mapped(), "polygon")
    if layer is None:
        return None, ()
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
    if not bodies and (frame is not None or len(present) == 0):
        layer.report.add("refuse", "not one water body of the layer can be used", "mend the rows listed")
    return frame, bodies


def _region(desk: Desk, settings: RegionSettings) -> Region | None:
    frame, bodies = _water(desk, settings)
    if frame is None:
        # Nothing comes of it, but the other files are read as well, so that all faults are told at once.
        frame = stand_in_frame(desk, settings)
    parts = _optional_parts(desk, settings, frame, bodies)
    if bodies:
        bodies = _compared(desk, settings, frame, bodies, parts)
    if desk.report.blocked or not bodies:
        return None
    files = [section.file for name in FILE_SECTIONS if (section := getattr(settings, name)) is not None]
    desk.progress("computing the fingerprint")
    whole, each = fingerprint(desk.folder, files)
    return Region(
        name=settings.name,
        frame=frame,
        bodies=bodies,
        fingerprint=whole,
        inputs=each,
        terrain_error_m=settings.terrain.error_m if settings.terrain is not None else None,
        canopy_error_m=settings.canopy.error_m if settings.canopy is not None else None,
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
    if settings.canopy is not None:
        has_terrain = settings.terrain is not None
        parts["canopy"] = read_canopy(desk, settings.canopy, frame, bodies, has_terrain=has_terrain)
    if settings.depth_raster is not None:
        parts["depth_grid"] = read_depth_grid(desk, settings.depth_raster, frame, bodies)
    if settings.soundings is not None:
        parts["soundings"] = read_soundings(desk, settings.soundings, frame, bodies)
    chart = _chart(desk, settings, frame, bodies)
    if chart.contours or chart.areas:
        parts["chart"] = chart
    if settings.obstacles is not None:
        parts["obstacles"] = read_obstacles(desk, settings.obstacles, frame)
    if settings.closures is not None:
        parts["closures"] = read_closures(desk, settings.closures, frame)
    if settings.sites is not None:
        parts["sites"] = read_sites(desk, settings.sites, frame, bodies)
    if settings.fires is not None:
        parts["fires"] = read_fires(desk, settings.fires, frame)
    if settings.base is not None:
        parts["base"] = base_of(settings.base, frame, desk.report.about(FILE_NAME))
    return parts


def _chart(
    desk: Desk, settings: RegionSettings, frame: RegionFrame, bodies: tuple[WaterBody, ...]
) -> DepthChart:
    contours, areas = settings.depth_contours, settings.depth_areas
    return DepthChart(
        read_contours(desk, contours, frame, bodies) if contours is not None else (),
        read_depth_areas(desk, areas, frame, bodies) if areas is not None else (),
    )


def _compared(
    desk: Desk,
    settings: RegionSettings,
    frame: RegionFrame,
    bodies: tuple[WaterBody, ...],
    parts: dict[str, Any],
) -> tuple[WaterBody, ...]:
    """Give the bodies after each file has been held against the others."""
    water, terrain = desk.report.about(settings.water.file), parts.get("terrain")
    _check_distances(desk, settings, bodies, parts)
    check_overlaps(bodies, parts.get("soundings"), water)
    if settings.soundings is not None:
        check_stated_depths(bodies, parts.get("soundings"), desk.report.about(settings.soundings.file))
    if settings.depth_raster is not None:
        about_depths = desk.report.about(settings.depth_raster.file)
        check_depths_agree(bodies, parts.get("soundings"), parts.get("depth_grid"), about_depths)
    if parts.get("base") is not None:
        check_base(parts["base"], settings.base, bodies, terrain, desk.report.about(FILE_NAME))
    if terrain is None:
        return bodies
    shapes = [body.polygon for body in bodies] + [fire.area for fire in parts.get("fires", ())]
    if parts.get("base") is not None:
        shapes.append(parts["base"].point)
    about_terrain = desk.report.about(settings.terrain.file)
    desk.report.summary["terrain_holes"] = check_holes(terrain, shapes, frame, about_terrain)
    return check_levels(bodies, terrain, settings.terrain.error_m, water)


def _check_distances(
    desk: Desk, settings: RegionSettings, bodies: tuple[WaterBody, ...], parts: dict[str, Any]
) -> None:
    shapes = {
        "obstacles": [one.shape for one in parts.get("obstacles", ())],
        "closures": [one.area for one in parts.get("closures", ())],
        "sites": [one.point for one in parts.get("sites", ())],
        "fires": [one.area for one in parts.get("fires", ())],
    }
    for name, found in shapes.items():
        if found:
            check_layer(found, bodies, desk.report.about(getattr(settings, name).file))
