"""Reads GPX as a layer: waypoints as points, closed tracks and routes as outlines. Runs in the worker.

Not by GDAL: its reader takes a latitude that is no number for 0 and leaves out points that lack one.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import gpxpy
import gpxpy.gpx
import numpy as np
import shapely
from pyproj import Geod

from geo.ingest.files.refusal import Note, Refusal, caution, note

LAYERS = ("waypoints", "routes", "tracks")
COLUMNS = ("name", "cmt", "desc", "src", "sym", "type", "ele", "time")
LONG_NAMES = {"cmt": "comment", "desc": "description", "src": "source", "sym": "symbol", "ele": "elevation"}
# Who flies round a fire does not end where he began: ends this near to each other are taken for a closed outline, with
# a caution. Common practice, no source.
NEAR_M = 250.0
NEAR_SHARE = 0.02
EARTH = Geod(ellps="WGS84")
Point = tuple[float, float]


@dataclass(frozen=True)
class RawLayer:
    """One layer as its file has it: WKB shapes (n,), None where one is set aside or missing, cells by column, faults
    (with "row" where one row is meant) and the coordinate system that the file carries."""

    name: str
    shapes: np.ndarray
    columns: dict[str, np.ndarray]
    faults: list[Note]
    crs: str | None


def read_gpx(path: Path, expect: str, layer: str | None = None) -> RawLayer:
    """Give the layer of a GPX file that fits what is expected: points are waypoints, lines and outlines the rest.

    Parameters: expect, "point", "line", "polygon" or "any"; layer, one of LAYERS where it is named.

    Raises: Refusal for what is no GPX, a position that is no number, a layer that is not there, and where "any" could
    mean two.
    """
    document = _parsed(path)
    parts: dict[str, list[Any]] = {name: getattr(document, name) for name in LAYERS}
    chosen = _chosen({name: len(rows) for name, rows in parts.items()}, expect, layer)
    rows = [one for name in chosen for one in parts[name]]
    faults: list[Note] = []
    if chosen == ["waypoints"]:
        shapes = np.asarray(shapely.points([_place(one) for one in rows]))
    else:
        shapes, faults = _lines(rows, expect == "polygon")
    cells = {name: np.array([_cell(one, name) for one in rows], object) for name in COLUMNS}
    return RawLayer(" and ".join(chosen), shapely.to_wkb(shapes), cells, faults, "EPSG:4326")


def _parsed(path: Path) -> gpxpy.gpx.GPX:
    try:
        return gpxpy.parse(path.read_bytes().decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise Refusal("the GPX is not UTF-8", "export it as UTF-8", value=f"byte {error.start}") from None
    except gpxpy.gpx.GPXException as error:
        words = " ".join(str(error).split())[:200]
        raise Refusal(f"the GPX is cut short or broken ({words})", "export or send it again") from None


def _chosen(counts: dict[str, int], expect: str, layer: str | None) -> list[str]:
    there = [name for name in LAYERS if counts[name]]
    words = ", ".join(f"{name} ({counts[name]})" for name in there) or "nothing"
    if layer is not None:
        if layer not in there:
            fix = f"it holds {words}; name one of them"
            raise Refusal(f"the GPX has no {layer}", fix, field="layer", value=layer)
        return [layer]
    lines = [name for name in there if name != "waypoints"]
    wanted = {"point": there[:1] if there[:1] == ["waypoints"] else [], "any": there}.get(expect, lines)
    if not wanted:
        what = "waypoints" if expect == "point" else "routes or tracks"
        raise Refusal(f"the GPX has no {what}; it holds {words}", f"export it with {what}")
    if "waypoints" in wanted and len(wanted) > 1:
        raise Refusal("the GPX has several layers", f"declare layer as one of: {words}", "ask", field="layer")
    return wanted


def _cell(row: Any, name: str) -> str | float | None:
    value = getattr(row, LONG_NAMES.get(name, name), None)
    return value if value is None or isinstance(value, float) else str(value)


def _place(point: Any) -> Point:
    if not (math.isfinite(point.longitude) and math.isfinite(point.latitude)):
        shown = f"{point.longitude}, {point.latitude}"
        raise Refusal("a position of the GPX is not a number", "mend it", value=shown)
    return point.longitude, point.latitude


def _segments(row: Any) -> list[list[Point]]:
    pieces = [one.points for one in row.segments] if hasattr(row, "segments") else [row.points]
    return [[_place(one) for one in piece] for piece in pieces if piece]


def _lines(rows: Iterable[Any], closed: bool) -> tuple[np.ndarray, list[Note]]:
    shapes, faults = [], []
    for number, row in enumerate(rows, 1):
        pieces = _segments(row)
        if closed:
            shape, found = _outline(pieces)
            faults += [{**one, "row": number} for one in found]
        else:
            shape = shapely.multilinestrings([shapely.LineString(one) for one in pieces if len(one) > 1])
        shapes.append(shape)
    return np.array(shapes, object), faults


def _outline(pieces: list[list[Point]]) -> tuple[shapely.Geometry | None, list[Note]]:
    """Give the outline that a track draws: each segment that closes by itself is a ring, else all in a row are one."""
    if pieces and all(len(one) > 3 and one[0] == one[-1] for one in pieces):
        return shapely.multipolygons([shapely.Polygon(one) for one in pieces]), []
    points = [one for piece in pieces for one in piece]
    if len(set(points)) < 3:
        return None, [note("quarantine", "the line has fewer than 3 places", "draw it round the fire")]
    limit_m = min(NEAR_M, NEAR_SHARE * _length_m(points))
    widest_m = max(_length_m((a[-1], b[0])) for a, b in zip(pieces, [*pieces[1:], pieces[0]], strict=True))
    if widest_m > limit_m:
        gap = f"there are {widest_m:.0f} m between its ends; up to {limit_m:.0f} m are closed"
        fix = "close it where it began, or draw the outline as a polygon"
        end = f"{points[-1][0]:.6f}, {points[-1][1]:.6f}"
        return None, [note("quarantine", f"the line is open: {gap}", fix, value=end)]
    faults = []
    if widest_m > 0.0:
        rule = f"the line is open by {widest_m:.0f} m; it was closed with a straight line"
        faults.append(caution(rule, "look at the outline there; the fire may reach beyond it"))
    return shapely.Polygon(points), faults


def _length_m(points: Iterable[Point]) -> float:
    longitude, latitude = zip(*points, strict=True)
    return float(EARTH.line_length(longitude, latitude))
