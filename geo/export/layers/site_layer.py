"""Annotated sites as a file for any map program, chosen by the file's ending; what a format cannot hold is said."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import geopandas
import gpxpy.gpx
import shapely

from geo.base.errors import BadArgument
from geo.base.file_limits import LINE_BREAK, one_line
from geo.base.whole_file import write_whole_text
from geo.export.formats.csv_table import write_csv
from geo.export.formats.flatgeobuf import write_flatgeobuf
from geo.export.formats.geojson import plain_value, write_geojson
from geo.export.formats.geopackage import write_geopackage
from geo.export.formats.geoparquet import write_geoparquet
from geo.export.formats.gpx import waypoint_at
from geo.export.formats.kml import add_folder, add_icon, new_document, write_kml_tree
from geo.export.formats.map_style import STATUS_MARKS
from geo.export.formats.shapefile import limits_text, write_shapefile
from geo.export.formats.xml_text import xml_text
from geo.export.layers.table import table
from geo.records.columns import Column

LAYER = "sites"
SHOWN_ALREADY = ("geometry", "name", "longitude_deg", "latitude_deg")
ENDINGS = (".gpkg", ".geojson", ".fgb", ".parquet", ".shp.zip", ".kml", ".kmz", ".gpx", ".csv")


def write_sites(path: Path, rows: Sequence[Mapping[str, Any]], columns: Sequence[Column]) -> list[str]:
    """Write sites as a layer of points; give sentences on what the format could not hold.

    Parameters: path, its ending chooses the format (ENDINGS); rows with longitude_deg and latitude_deg in WGS 84 and
    the columns named; columns as they are to stand.

    Raises: BadArgument for another ending; OSError or a writer's error when the disk refuses. The old file is then
    untouched.
    """
    writers: dict[str, Callable[[Path, geopandas.GeoDataFrame], list[str]]] = {
        ".gpkg": lambda file, frame: _done(write_geopackage(file, {LAYER: frame})),
        ".geojson": lambda file, frame: _done(write_geojson(file, frame)),
        ".fgb": lambda file, frame: _done(write_flatgeobuf(file, LAYER, frame)),
        ".parquet": lambda file, frame: _done(write_geoparquet(file, frame)),
        ".shp.zip": _shapefile,
        ".kml": lambda file, frame: _done(write_kml_tree(file, _tree(frame))),
        ".kmz": lambda file, frame: _done(write_kml_tree(file, _tree(frame))),
        ".gpx": _gpx,
        ".csv": _csv,
    }
    ending = next((one for one in ENDINGS if path.name.lower().endswith(one)), None)
    if ending is None:
        raise BadArgument(f"{path.name}: no format has this ending. Fix: choose from {', '.join(ENDINGS)}")
    return writers[ending](path, site_frame(rows, columns))


def site_frame(rows: Sequence[Mapping[str, Any]], columns: Sequence[Column]) -> geopandas.GeoDataFrame:
    """Give sites as EPSG:4326 points with the columns given; empty is what nobody wrote down."""
    points = [shapely.Point(row["longitude_deg"], row["latitude_deg"]) for row in rows]
    cells = [{one.name: row.get(one.name) for one in columns} for row in rows]
    return geopandas.GeoDataFrame(table(cells, tuple(columns)), geometry=points, crs="EPSG:4326")


def _done(_: Path) -> list[str]:
    return []


def _shapefile(path: Path, frame: geopandas.GeoDataFrame) -> list[str]:
    text = limits_text([write_shapefile(path, LAYER, frame)])
    report = path.with_name(f"{path.name[: -len('.shp.zip')]}_limits.txt")
    write_whole_text(report, text)
    return [*text.split("\n\n")[0].splitlines(), f"Every name and text: {report}"]


def _tree(frame: geopandas.GeoDataFrame) -> Any:
    root, document = new_document("Annotated sites")
    for status, mark in STATUS_MARKS.items():
        add_icon(document, status, mark, 1.0)
    # The name of a placemark is its name in KML; readers would else find the column twice.
    add_folder(
        document,
        LAYER,
        frame,
        lambda row: (row.name, row.status, _lines(row, frame.columns)),
        unlisted=("name",),
    )
    return root


def _lines(row: Any, columns: Iterable[str]) -> list[str]:
    shown = [(name, plain_value(getattr(row, name))) for name in columns if name not in SHOWN_ALREADY]
    return [f"{name}: {value}" for name, value in shown if value is not None]


def _gpx(path: Path, frame: geopandas.GeoDataFrame) -> list[str]:
    document = gpxpy.gpx.GPX()
    document.creator = "fetchwater"
    row: Any
    for row in frame.itertuples(index=False):
        words = xml_text("; ".join(_lines(row, frame.columns)))
        document.waypoints.append(waypoint_at(row.geometry, xml_text(row.name), words, row.status))
    write_whole_text(path, document.to_xml(version="1.1"))
    return ["GPX keeps name and place; all else stands as one text in desc and is not taken back as fields"]


def _csv(path: Path, frame: geopandas.GeoDataFrame) -> list[str]:
    flat = frame.copy()
    broken = 0
    for name in frame.columns.drop("geometry"):
        cells = [one_line(one) if isinstance(one, str) else one for one in frame[name]]
        broken += sum(isinstance(a, str) and a != b for a, b in zip(frame[name], cells, strict=True))
        flat[name] = cells
    write_csv(path, flat)
    return [f"CSV: line breaks of {broken} texts became {LINE_BREAK!r}"] if broken else []
