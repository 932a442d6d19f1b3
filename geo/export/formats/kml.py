"""KML 2.2 (OGC 07-147r2): folders for sources, runs, legs and what is left out; no picture is fetched from anywhere."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas
import pandas as pd
import shapely
from lxml import etree

from geo.base.positions import bearing_text, duration_text
from geo.base.whole_file import write_whole
from geo.export.drawing.palette import BLACK, MARKS, REDDISH_PURPLE, Mark, mark_of
from geo.export.formats.geojson import plain_value
from geo.export.formats.xml_text import html_lines, write_tree, xml_text
from geo.export.formats.zip_archive import write_archive
from geo.export.layers.ranked_layer import legs_frame, question_lines, ranked_frame, runs_frame
from geo.records.ranking import Ranking
from geo.records.region import RegionFrame, WaterBody

Shown = tuple[str, str, list[str]]  # of a placemark: its title, its style, the lines of its balloon
NAMESPACE = "http://www.opengis.net/kml/2.2"
DECIMALS = 7
LINE_STYLES = {"run": (REDDISH_PURPLE, 4), "loaded": (BLACK, 3), "empty": (BLACK, 1)}
_STYLE_OF_LABEL = {mark.label: f"state{number}" for number, mark in enumerate(MARKS)}


def write_kml(path: Path, ranking: Ranking, frame: RegionFrame, bodies: tuple[WaterBody, ...] = ()) -> Path:
    """Write the ranking as one KML 2.2 file, or as KMZ where the path ends so.

    Raises: OSError when the disk refuses; the old file is then untouched.

    References: OGC 07-147r2; coordinates are longitude, latitude; colours are aabbggrr; annex C (KMZ).
    """
    root, document = new_document(f"Water sources for {ranking.fire_name}")
    add(document, "description", html_lines(question_lines(ranking)))
    _add_styles(document)
    points = ranked_frame(ranking, frame, bodies)
    ranked = points["rank"].notna()
    add_folder(document, "Ranked sources", points[ranked], _source)
    add_folder(document, "Runs", runs_frame(ranking, frame), _run)
    add_folder(document, "Legs", legs_frame(ranking, frame), _leg, visible=False)
    add_folder(document, "Left out", points[~ranked], _left_out, visible=False)
    return write_kml_tree(path, root)


def write_kml_tree(path: Path, root: etree._Element) -> Path:
    """Write an element tree as KML, or where the path ends in .kmz as the doc.kml of a zip, with no link out of it.

    Raises: OSError; the old file is then untouched.
    """
    if Path(path).suffix.lower() != ".kmz":
        return write_whole(path, lambda private: write_tree(private, root))

    def write(private: Path) -> None:
        write_tree(private.parent / "doc.kml", root)
        write_archive(private, [private.parent / "doc.kml"])

    return write_whole(path, write)


def new_document(name: str) -> tuple[etree._Element, etree._Element]:
    """Give the root of a new KML and its document, which bears the name."""
    root = etree.Element(_tag("kml"), nsmap={None: NAMESPACE})
    document = add(root, "Document")
    add(document, "name", name)
    return root, document


def _tag(name: str) -> str:
    return f"{{{NAMESPACE}}}{name}"


def add(parent: etree._Element, tag: str, text: str | None = None, **attributes: str) -> etree._Element:
    """Give a new last child of an element, with text that XML allows."""
    element = etree.SubElement(parent, _tag(tag), attributes)
    if text is not None:
        element.text = xml_text(text)
    return element


def kml_colour(colour: str, alpha: int = 255) -> str:
    """Give #rrggbb as KML's aabbggrr."""
    return f"{alpha:02x}{colour[5:7]}{colour[3:5]}{colour[1:3]}".lower()


def _add_styles(document: etree._Element) -> None:
    for mark in MARKS:
        add_icon(document, _STYLE_OF_LABEL[mark.label], mark, 1.2 if mark is mark_of("usable", True) else 0.8)
    for name, (colour, width) in LINE_STYLES.items():
        line = add(add(document, "Style", id=name), "LineStyle")
        add(line, "color", kml_colour(colour, 255 if name != "empty" else 160))
        add(line, "width", str(width))


def add_icon(document: etree._Element, style: str, mark: Mark, scale: float) -> None:
    """Give the document a style for points in the colour of a mark."""
    icon = add(add(document, "Style", id=style), "IconStyle")
    add(icon, "color", kml_colour(mark.colour))
    add(icon, "scale", f"{scale}")


def add_folder(
    document: etree._Element,
    name: str,
    frame: geopandas.GeoDataFrame,
    shown: Callable[[Any], Shown],
    *,
    visible: bool = True,
    unlisted: tuple[str, ...] = (),
) -> None:
    """Give the document a folder with a placemark per row.

    Parameters: shown, makes of a row the title, the style's name and the lines of the balloon; unlisted, columns that
    do not stand among the placemark's data.
    """
    folder = add(document, "Folder")
    add(folder, "name", name)
    add(folder, "visibility", "1" if visible else "0")
    columns = [column for column in frame.columns if column not in ("geometry", *unlisted)]
    row: Any
    for row in frame.itertuples(index=False):
        title, style, lines = shown(row)
        placemark = add(folder, "Placemark")
        add(placemark, "name", title)
        add(placemark, "visibility", "1" if visible else "0")
        add(placemark, "description", html_lines([line for line in lines if line]))
        add(placemark, "styleUrl", f"#{style}")
        data = add(placemark, "ExtendedData")
        for column in columns:
            value = plain_value(getattr(row, column))
            if value is not None:
                add(add(data, "Data", name=column), "value", str(value))
        _geometry(placemark, row.geometry)


def _geometry(parent: etree._Element, shape: shapely.Geometry | None) -> None:
    if shape is None or shapely.is_empty(shape):
        return
    parts = shapely.get_parts(shape)
    holder = add(parent, "MultiGeometry") if len(parts) > 1 else parent
    for part in parts:
        element = add(holder, part.geom_type)
        if part.geom_type == "LineString":
            add(element, "tessellate", "1")
        text = " ".join(f"{x:.{DECIMALS}f},{y:.{DECIMALS}f}" for x, y in shapely.get_coordinates(part))
        add(element, "coordinates", text)


def _source(row: Any) -> Shown:
    magnetic = "" if pd.isna(row.bearing_magnetic_deg) else f", {bearing_text(row.bearing_magnetic_deg, 'M')}"
    lines = [
        f"{row.method}: {row.verdict}, score {row.score:.0f} of 100",
        f"round trip {duration_text(row.round_trip_s)}, {row.litres:.0f} L at first, "
        f"{row.long_run_litres_per_hour:.0f} L/h with refuelling",
        f"{row.loads_per_fuel} loads per fuel cycle, {row.litres_per_fuel:.0f} L",
        f"from the fire {row.distance_nmi:.1f} NM, {bearing_text(row.bearing_true_deg)}{magnetic}",
        row.position_ddm,
        row.magnetic_note,
        row.reason,
        f"Mind: {row.cautions}" if row.cautions else "",
    ]
    return f"{row.rank} {row.name} ({row.method})", _STYLE_OF_LABEL[row.state], lines


def _left_out(row: Any) -> Shown:
    return f"left out: {row.name}", _STYLE_OF_LABEL[row.state], [f"{row.verdict}: {row.reason}"]


def _run(row: Any) -> Shown:
    heading = "" if pd.isna(row.heading_true_deg) else f"flown on {bearing_text(row.heading_true_deg)}"
    lines = [heading, f"from {row.start_ddm}", f"to {row.end_ddm}"]
    return f"run {row.rank} {row.name}: {row.length_m:.0f} m", "run", lines


def _leg(row: Any) -> Shown:
    known = "unknown" if pd.isna(row.safe_altitude_ft) else f"{row.safe_altitude_ft:.0f} ft"
    height = f"least safe altitude {known} ({row.highest_what})"
    lines = [f"{duration_text(row.time_s)}, {row.distance_nmi:.1f} NM", height, row.cautions]
    return f"leg {row.rank} {row.load} {row.name}", row.load, lines
