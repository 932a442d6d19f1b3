"""A metric plane for reading the other files of a region whose water cannot be read. No region is made in it."""

from collections.abc import Iterator
from dataclasses import replace

from pyproj import CRS

from geo.base.geodesy import local_crs
from geo.ingest.checks.report import Report
from geo.ingest.layers.layer_file import Desk
from geo.ingest.layers.soundings import read_points
from geo.ingest.metric_plane import centre_of
from geo.ingest.settings import DepthRaster, RegionSettings, Terrain
from geo.records.region import RegionFrame


def stand_in_frame(desk: Desk, settings: RegionSettings) -> RegionFrame:
    """Give a frame centred on the first of the other parts that has a place, on 0, 0 when none has one.

    Notes: faults met on the way are not kept: each file is read again in this frame, and told of then.
    """
    quiet = replace(desk, report=Report(), progress=lambda _: None)
    longitude, latitude = next(_places(quiet, settings), (0.0, 0.0))
    crs = local_crs(longitude, latitude)
    return RegionFrame(crs.to_wkt(), longitude, latitude, settings.vertical_datum)


def _places(desk: Desk, settings: RegionSettings) -> Iterator[tuple[float, float]]:
    if settings.base is not None:
        yield settings.base.longitude, settings.base.latitude
    shapes = (settings.fires, settings.sites, settings.closures, settings.obstacles)
    for section in (*shapes, settings.depth_contours, settings.depth_areas):
        layer = desk.read_layer(section, {}, "any") if section is not None else None
        if layer is not None and layer.present():
            yield centre_of(layer.shapes[layer.present()])
    if settings.soundings is not None:
        layer = read_points(desk, settings.soundings)
        if layer is not None and layer.present():
            yield centre_of(layer.shapes[layer.present()])
    for section in (settings.terrain, settings.depth_raster):
        if section is not None and (place := _corner(desk, section)) is not None:
            yield place


def _corner(desk: Desk, section: Terrain | DepthRaster) -> tuple[float, float] | None:
    """Give longitude and latitude of a raster's north-west corner."""
    degrees = CRS.from_epsg(4326).to_wkt()
    answer = desk.ask_worker(
        "read raster", section.file, metric_wkt=degrees, crs=section.crs, nodata=section.nodata
    )
    if answer is None or not (abs(answer["west_m"]) <= 360.0 and abs(answer["north_m"]) <= 89.0):
        return None
    return float(answer["west_m"]), float(answer["north_m"])
