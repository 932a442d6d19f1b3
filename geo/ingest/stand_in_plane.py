"""A metric plane for reading the other files of a region whose water cannot be read. No region is made in it."""

from collections.abc import Iterator

from pyproj import CRS

from geo.base.geodesy import local_crs
from geo.ingest.layers.reader import FileReader
from geo.ingest.layers.soundings import read_sounding_table
from geo.ingest.layers.table import LayerTable
from geo.ingest.metric_plane import centre_of
from geo.ingest.settings import DepthRaster, RegionSettings, Terrain
from geo.records.region import RegionFrame


def stand_in_frame(reader: FileReader, settings: RegionSettings) -> RegionFrame:
    """Give a frame centred on the first of the other parts that has a place, on 0, 0 when none has one.

    Notes: faults met on the way are not kept: each file is read again in this frame, and told of then.
    """
    longitude, latitude = next(_places(reader.quiet(), settings), (0.0, 0.0))
    crs = local_crs(longitude, latitude)
    return RegionFrame(crs.to_wkt(), longitude, latitude, settings.vertical_datum)


def _places(reader: FileReader, settings: RegionSettings) -> Iterator[tuple[float, float]]:
    if settings.base is not None:
        yield settings.base.longitude, settings.base.latitude
    shapes = (settings.fires, settings.sites, settings.closures, settings.obstacles)
    for section in (*shapes, settings.depth_contours, settings.depth_areas):
        if section is not None:
            yield from _middle(reader.read_layer(section, {}, "any"))
    if settings.soundings is not None:
        yield from _middle(read_sounding_table(reader, settings.soundings))
    for raster in (settings.terrain, settings.depth_raster):
        if raster is not None:
            yield from _corner(reader, raster)


def _middle(table: LayerTable | None) -> Iterator[tuple[float, float]]:
    if table is not None and table.present():
        yield centre_of(table.degrees[table.present()])


def _corner(reader: FileReader, section: Terrain | DepthRaster) -> Iterator[tuple[float, float]]:
    """Give longitude and latitude of a raster's north-west corner."""
    wkt = CRS.from_epsg(4326).to_wkt()
    answer = reader.read_raster(section, wkt)
    if answer is not None and abs(answer["west_m"]) <= 360.0 and abs(answer["north_m"]) <= 89.0:
        yield float(answer["west_m"]), float(answer["north_m"])
