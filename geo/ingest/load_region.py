"""Reads a region folder: all of it or nothing, with every fault found and not only the first."""

from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from geo.base.fault import Fault
from geo.ingest.checks.depth_check import check_depths_agree, check_stated_depths
from geo.ingest.checks.fingerprint import fingerprint
from geo.ingest.checks.level_check import check_levels
from geo.ingest.checks.overlaps import check_overlaps
from geo.ingest.checks.places import base_of, bases_of, check_base, check_layer, station_of
from geo.ingest.checks.report import FileReport, Report
from geo.ingest.checks.terrain_holes import check_holes
from geo.ingest.files.process import Worker, shared
from geo.ingest.layers.canopy import read_canopy
from geo.ingest.layers.contours import read_contours
from geo.ingest.layers.depth_areas import read_depth_areas
from geo.ingest.layers.fires import read_fires
from geo.ingest.layers.rasters import read_depth_grid, read_terrain
from geo.ingest.layers.reader import FileReader
from geo.ingest.layers.soundings import read_soundings
from geo.ingest.layers.stations import read_stations
from geo.ingest.layers.surroundings import read_closures, read_obstacles, read_sites
from geo.ingest.layers.water import check_water_units, water_bodies
from geo.ingest.metric_plane import choose_frame
from geo.ingest.settings import FILE_NAME, RasterFile, RegionSettings, VectorFile
from geo.ingest.settings_file import read_settings
from geo.ingest.stand_in_plane import stand_in_frame
from geo.records.chart import DepthChart
from geo.records.region import Region, RegionFrame, WaterBody

Progress = Callable[[str], None]
# The layers beside the water, and where their records have a shape.
SHAPES = {
    "obstacles": "shape",
    "closures": "area",
    "sites": "point",
    "fill_stations": "point",
    "fires": "area",
}


def load_region(folder: Path, progress: Progress | None = None, worker: Worker | None = None) -> Region:
    """Give the region of a folder.

    Parameters: progress is told, in words, what is being done; worker is a reading process to share, None for one
    of its own.

    Raises: BadInput with every fault that keeps the region from being used. Cautions and rows that were left out are
    in the region's `cautions`. Nothing is written to the folder.
    """
    region, report = _ingest(Path(folder), progress, worker)
    report.raise_if_blocked()
    assert region is not None, "a region that is not read has a fault that blocks"
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
    return report.all_faults(), {
        "usable": region is not None,
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
    with shared(worker) as process:
        told = {} if progress is None else {"progress": progress}
        return _region(FileReader(folder, process, report, **told), settings), report


def _region(reader: FileReader, settings: RegionSettings) -> Region | None:
    frame, bodies = _water(reader, settings)
    if frame is None:
        # Nothing comes of it, but the other files are read as well, so that all faults are told at once.
        frame = stand_in_frame(reader, settings)
    parts = _optional_parts(reader, settings, frame, bodies)
    if bodies:
        bodies = _compared(reader, settings, frame, bodies, parts)
    if reader.report.blocked or not bodies:
        return None
    reader.progress("computing the fingerprint")
    files = [section.file for _, section in settings if isinstance(section, VectorFile | RasterFile)]
    whole, each = fingerprint(reader.folder, files)
    chart = DepthChart(parts.pop("depth_contours", ()), parts.pop("depth_areas", ()))
    return Region(
        name=settings.name,
        frame=frame,
        bodies=bodies,
        fingerprint=whole,
        inputs=each,
        terrain_error_m=settings.terrain.error_m if settings.terrain is not None else None,
        canopy_error_m=settings.canopy.error_m if settings.canopy is not None else None,
        depth_grid=parts.pop("depth_raster", None),
        stations=parts.pop("fill_stations", ()),
        chart=chart if chart.contours or chart.areas else None,
        obstacles_listed=settings.obstacles is not None,
        survey_settings=settings.survey.model_dump(exclude_none=True),
        cautions=reader.report.all_faults(),
        **parts,
    )


def _water(reader: FileReader, settings: RegionSettings) -> tuple[RegionFrame | None, tuple[WaterBody, ...]]:
    """Give the frame and the bodies; without a frame or without bodies a fault says why."""
    section = settings.water
    if section is None:
        return None, ()
    check_water_units(section, reader.report.about(section.file))
    table = reader.read_layer(section, section.columns, "polygon")
    if table is None:
        return None, ()
    present = table.degrees[table.present()]
    frame = None
    if len(present):
        here = reader.report.about(FILE_NAME)
        frame = choose_frame(present, settings.metric_crs, settings.vertical_datum, here, table.report)
    bodies: tuple[WaterBody, ...] = ()
    if frame is not None:
        reader.place(table, frame.crs_wkt)
        bodies = water_bodies(table, section)
    table.count()
    if not bodies and (frame is not None or len(present) == 0):
        table.report.add("refuse", "not one water body of the layer can be used", "mend the rows listed")
    return frame, bodies


def _optional_parts(
    reader: FileReader, settings: RegionSettings, frame: RegionFrame, bodies: tuple[WaterBody, ...]
) -> dict[str, Any]:
    """Read every other section, each whether or not one before it failed, so that all faults are found.

    Returns: what was read, by the section's name.
    """
    has_terrain = settings.terrain is not None
    readers: dict[str, Callable[[Any], Any]] = {
        "terrain": lambda section: read_terrain(reader, section, frame, bodies),
        "canopy": lambda section: read_canopy(reader, section, frame, bodies, has_terrain=has_terrain),
        "depth_raster": lambda section: read_depth_grid(reader, section, frame, bodies),
        "soundings": lambda section: read_soundings(reader, section, frame, bodies),
        "depth_contours": lambda section: read_contours(reader, section, frame, bodies),
        "depth_areas": lambda section: read_depth_areas(reader, section, frame, bodies),
        "obstacles": lambda section: read_obstacles(reader, section, frame),
        "closures": lambda section: read_closures(reader, section, frame),
        "sites": lambda section: read_sites(reader, section, frame, bodies),
        "fill_stations": lambda section: read_stations(reader, section, frame, bodies),
        "fires": lambda section: read_fires(reader, section, frame),
        "base": lambda section: base_of(section, frame, reader.report.about(FILE_NAME)),
        "station": station_of,
        "bases": lambda sections: bases_of(sections, frame, reader.report.about(FILE_NAME)),
    }
    return {
        name: read(section)
        for name, read in readers.items()
        if (section := getattr(settings, name)) is not None
    }


def _compared(
    reader: FileReader,
    settings: RegionSettings,
    frame: RegionFrame,
    bodies: tuple[WaterBody, ...],
    parts: dict[str, Any],
) -> tuple[WaterBody, ...]:
    """Give the bodies after each file has been held against the others."""

    def about(section: str) -> FileReport:
        return reader.report.about(getattr(settings, section).file)

    _check_layers(bodies, parts, about)
    terrain, base = parts.get("terrain"), parts.get("base")
    places = [one for one in (base, *parts.get("bases", ())) if one is not None]
    sections = [one for one in (settings.base, *settings.bases) if one is not None]
    # One without a place in the plane is a fault already, and the region blocked.
    if len(places) == len(sections):
        for place, section in zip(places, sections, strict=True):
            check_base(place, section, bodies, terrain, reader.report.about(FILE_NAME))
    if settings.terrain is None or terrain is None:
        return bodies
    shapes = [body.polygon for body in bodies] + [fire.area for fire in parts.get("fires", ())]
    shapes += [place.point for place in places]
    reader.report.summary["terrain_holes"] = check_holes(terrain, shapes, frame, about("terrain"))
    return check_levels(bodies, terrain, settings.terrain.error_m, about("water"))


def _check_layers(
    bodies: tuple[WaterBody, ...], parts: dict[str, Any], about: Callable[[str], FileReport]
) -> None:
    """Hold each layer against the water, and depths against one another."""
    for name, shape in SHAPES.items():
        if parts.get(name):
            check_layer([getattr(one, shape) for one in parts[name]], bodies, about(name))
    soundings, depths = parts.get("soundings"), parts.get("depth_raster")
    check_overlaps(bodies, soundings, about("water"))
    if soundings is not None:
        check_stated_depths(bodies, soundings, about("soundings"))
    if soundings is not None and depths is not None:
        check_depths_agree(bodies, soundings, depths, about("depth_raster"))
