"""Builds fires from the region's layer, from a file of the user's, and from GeoJSON that comes over the network."""

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from geo.base.errors import BadInput
from geo.base.geodesy import to_degrees
from geo.base.named import all_named
from geo.ingest.files.process import Worker
from geo.ingest.layers.drawn import BODY, FARTHEST_M, MOST_POSITIONS, farthest_m, position_deg
from geo.ingest.layers.placing import shape_in_plane, with_shapes_mended
from geo.ingest.layers.reader import FileReader, reading
from geo.ingest.layers.records import read_records, shape_id
from geo.ingest.layers.table import LayerTable, Row
from geo.ingest.settings import FiresFile, VectorFile
from geo.records.document import geojson_geometry
from geo.records.region import Fire, Region, RegionFrame

FIRE = "fire"
MAX_NAME_LETTERS = 4096
# A fire of which only a position is known counts as a disc of this radius (common practice, no source).
POINT_FIRE_RADIUS_M = 50.0
# A browser sends the fire with every question: more corners would make dragging slow.
MOST_FIRE_CORNERS = 2_000


def read_fires(reader: FileReader, section: FiresFile, frame: RegionFrame) -> tuple[Fire, ...]:
    """Give the fires of a region's own layer."""

    def fire(row: Row, fire_id: str) -> Fire:
        return Fire(fire_id, row.text("name") or fire_id, row.shape)

    return read_records(reader, section, frame, fire, letter="f", expect="polygon")


def read_fire(name_or_path: str | Path, region: Region, worker: Worker | None = None) -> Fire:
    """Give one fire: by id or name in the region, else from a file: GeoPackage, GeoJSON, Shapefile, FlatGeobuf, KML,
    KMZ, or GPX, of which a closed track or route is an outline. Its cautions say what had to be done to the outline.

    Raises: BadInput when neither is there, when the text is no name of anything, when several fires bear the name, or
    when the file cannot be used. Every outline of a file belongs to the one fire; a file of which an outline cannot be
    read is refused.
    """
    wanted = checked_name(str(name_or_path))
    named = _named(wanted, region)
    if named is not None:
        return named
    path = _file_at(wanted)
    if path is None:
        rule = "no fire of the region has this name and no such file exists"
        raise _unknown_fire(wanted, rule, "or a file", region)
    with reading(path.parent, worker) as reader:
        table = reader.read_layer(VectorFile(file=path.name), {}, "polygon", blocking="refuse")
        if table is not None:
            reader.place(table, region.frame.crs_wkt)
    assert table is not None, "a layer that is not read has a fault that blocks"
    fire = _fire([row.shape for row in table.rows()], region.frame, path.name, None, path.stem)
    return replace(fire, cautions=tuple(fault.sentence() for fault in reader.report.all_faults()))


def fire_of_region(name_or_id: str, region: Region) -> Fire:
    """Give the fire of the region with this id, or with this name. No file is looked for.

    Raises: BadInput, with the region's fires listed, when there is none or when several bear the name.
    """
    wanted = checked_name(name_or_id)
    named = _named(wanted, region)
    if named is None:
        raise _unknown_fire(wanted, "no fire of the region has this id or name", "", region)
    return named


def checked_name(text: str) -> str:
    """Give a text that may be a name or a path as it is.

    Raises: BadInput for what can be neither: other than text, NUL, halves of a surrogate pair, over MAX_NAME_LETTERS.
    """
    rule = None
    if not isinstance(text, str):
        rule = "the name of a fire must be text"
    elif len(text) > MAX_NAME_LETTERS:
        rule = f"the name of a fire has {len(text)} characters; the limit is {MAX_NAME_LETTERS}"
    elif "\0" in text:
        rule = "the name of a fire holds a NUL character"
    elif any("\ud800" <= letter <= "\udfff" for letter in text):
        rule = "the name of a fire holds half a character (a lone surrogate)"
    if rule is not None:
        raise BadInput.of(FIRE, rule, "give a fire's id, its name or a file's path", value=ascii(text)[:80])
    return text


def _named(wanted: str, region: Region) -> Fire | None:
    """Give the fire with this id, else the one with this name, None when there is none."""
    found = all_named(region.fires, wanted, "fire_id")
    if len(found) > 1:
        rule = f"{len(found)} fires of the region bear this name"
        fix = f"name one by its id: {', '.join(fire.fire_id for fire in found)}"
        raise BadInput.of(FIRE, rule, fix, "ask", value=_shown(wanted))
    return found[0] if found else None


def _file_at(wanted: str) -> Path | None:
    try:
        path = Path(wanted).resolve()
        return path if path.is_file() else None
    except (OSError, ValueError, RuntimeError):
        # Too long a part, a loop of links, no right to look: none of them is a file that could be read.
        return None


def _unknown_fire(wanted: str, rule: str, more: str, region: Region) -> BadInput:
    known = ", ".join(f"{fire.fire_id} ({fire.name})" for fire in region.fires) or "none"
    fix = f"name one of the region's fires ({known}) {more}".strip()
    return BadInput.of(FIRE, rule, fix, value=_shown(wanted))


def _shown(text: str) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in text[:120])


def fire_from_geojson(body: dict[str, Any], region: Region, worker: Worker | None = None) -> Fire:
    """Give the fire that a GeoJSON object draws: a Polygon, MultiPolygon, Feature or FeatureCollection of them, or a
    Point, which counts as a disc of POINT_FIRE_RADIUS_M.

    Parameters: body is parsed JSON in WGS 84 longitude, latitude (RFC 7946); a feature's id and name are kept.

    Raises: BadInput for other shapes, more than MOST_POSITIONS positions, numbers that are no position on Earth,
    and outlines that cannot be repaired within the limit per shape. No file is opened.
    """
    point = _point(body)
    if point is not None:
        return _disc(point, body, region)
    rings: list[list[list[tuple[float, float]]]] = []
    for polygon in _polygons(body):
        rings.append(_rings(polygon))
        if sum(len(ring) for one in rings for ring in one) > MOST_POSITIONS:
            raise _refuse(f"the fire has more than {MOST_POSITIONS} positions", "simplify its outline")
    if not rings:
        raise _refuse("the fire has no polygon", "draw its outline")
    plane = _in_plane([shapely.Polygon(one[0], one[1:]) for one in rings], region)
    return _fire(_mended(plane, worker), region.frame, BODY, *_names(body))


def fire_file(path: Path, region: Region) -> dict:
    """Read a fire's outline from a file of a user and give it as GeoJSON with a note on what was done to it.

    Raises: BadInput with every fault when the file cannot be used.
    """
    fire = read_fire(path, region)
    area, moved_m = fire.area, 0.0
    while shapely.get_num_coordinates(area) > MOST_FIRE_CORNERS:
        moved_m = 2.0 * moved_m or 1.0
        area = shapely.simplify(fire.area, moved_m)
    notes = list(fire.cautions)
    if moved_m:
        notes.append(
            f"The outline had more than {MOST_FIRE_CORNERS:,} corners; it was simplified and moved by {moved_m:,.0f} m "
            "at most."
        )
    return {
        "name": fire.name,
        "geometry": geojson_geometry(area, region.frame),
        "note": " ".join(notes) or None,
    }


def _names(body: dict[str, Any]) -> tuple[str | None, str | None]:
    properties = body.get("properties")
    properties = properties if isinstance(properties, dict) else {}
    return _word(body.get("id", properties.get("id"))), _word(properties.get("name"))


def _point(body: Any) -> tuple[float, float] | None:
    """Give the position of a Point or of a Feature with one; None for everything else."""
    geometry = body.get("geometry") if isinstance(body, dict) and body.get("type") == "Feature" else body
    if not isinstance(geometry, dict) or geometry.get("type") != "Point":
        return None
    return position_deg(geometry.get("coordinates"))


def _disc(point: tuple[float, float], body: dict[str, Any], region: Region) -> Fire:
    label, name = _names(body)
    discs = shapely.buffer(_in_plane([shapely.Point(point)], region), POINT_FIRE_RADIUS_M)
    return _fire(list(discs), region.frame, BODY, label, name or "clicked point")


def _in_plane(shapes_deg: Sequence[shapely.Geometry], region: Region) -> np.ndarray:
    plane = shape_in_plane(np.array(shapes_deg, object), region.frame.crs_wkt)
    if any(shape is None for shape in plane):
        raise _refuse("the fire lies so far away that it has no place in the region", "check its coordinates")
    return plane


def _word(value: Any) -> str | None:
    if isinstance(value, bool) or not isinstance(value, (str, int)):
        return None
    return "".join(letter for letter in str(value)[:100] if letter.isprintable()).strip() or None


def _polygons(body: Any, depth: int = 0) -> list[Any]:
    body = body if isinstance(body, dict) else {}
    kind, coordinates = body.get("type"), body.get("coordinates")
    if kind == "FeatureCollection" and depth == 0:
        features = body.get("features")
        if not isinstance(features, list):
            raise _refuse("the feature collection has no list of features", "send features")
        return [polygon for feature in features[:MOST_POSITIONS] for polygon in _polygons(feature, 1)]
    if kind == "Feature" and depth <= 1:
        return _polygons(body.get("geometry"), 2)
    if kind == "Polygon":
        return [coordinates]
    if kind == "MultiPolygon" and isinstance(coordinates, list):
        return coordinates
    fix = "send a GeoJSON Polygon, MultiPolygon, Point or a Feature with one"
    raise BadInput.of(BODY, "a polygon or a point is needed", fix, value=str(kind)[:120])


def _rings(polygon: Any) -> list[list[tuple[float, float]]]:
    if not isinstance(polygon, list) or not polygon:
        raise _refuse("a polygon has no outline", "send at least one ring of positions")
    rings = []
    for ring in polygon:
        if not isinstance(ring, list) or len(ring) < 4:
            fix = "close it: the last position repeats the first"
            raise _refuse("a ring has fewer than 4 positions", fix)
        if len(ring) > MOST_POSITIONS:
            raise _refuse(f"the fire has more than {MOST_POSITIONS} positions", "simplify its outline")
        rings.append([position_deg(one) for one in ring])
        if rings[-1][0] != rings[-1][-1]:
            rings[-1].append(rings[-1][0])
    return rings


def _mended(plane: np.ndarray, worker: Worker | None) -> list[shapely.Geometry]:
    if shapely.is_valid(plane).all():
        return list(plane)
    with reading(Path(), worker) as reader:
        rows = np.arange(1, len(plane) + 1)
        table = LayerTable(BODY, rows, plane.copy(), {}, {}, reader.report.about(BODY), "refuse")
        table.plane = plane
        with_shapes_mended(table, reader.worker, reader.progress, max_change=math.inf)
    return [row.shape for row in table.rows()]


def _fire(
    shapes: list[shapely.Geometry], frame: RegionFrame, file: str, fire_id: str | None, name: str | None
) -> Fire:
    area = shapely.union_all(shapes)
    if not isinstance(area, shapely.Polygon | shapely.MultiPolygon) or not area.area > 0:
        raise BadInput.of(file, "the fire covers no area", "draw its outline as a polygon")
    away_m = farthest_m(shapely.get_coordinates(area), frame)
    if not away_m <= FARTHEST_M:
        rule = f"the fire reaches {away_m / 1000:.0f} km from the middle of the region"
        raise BadInput.of(file, rule, "check longitude and latitude; they may be swapped")
    if fire_id is None:
        degrees = shapely.transform(
            area, lambda xy: np.column_stack(to_degrees(frame.crs_wkt, xy[:, 0], xy[:, 1]))
        )
        fire_id = shape_id(degrees, "f")
    return Fire(fire_id, name if name is not None else fire_id, area)


def _refuse(rule: str, fix: str) -> BadInput:
    return BadInput.of(BODY, rule, fix)
