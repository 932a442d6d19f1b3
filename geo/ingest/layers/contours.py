"""Builds depth contours from the user's lines: sign, unit, grade and date as declared, each cut to its water."""

from dataclasses import dataclass

import numpy as np
import shapely

from geo.ingest.layers.chart_rows import declared, row_origin, signed_depth_m
from geo.ingest.layers.layer_file import Desk, Layer
from geo.ingest.layers.soundings import DEEPEST_INLAND_M, DEEPEST_SEA_M, FEW_WRONG_SIGNS, UNIT_M, too_deep
from geo.ingest.layers.survey_quality import SIGMA_OF_95, Uncertainty, declared_uncertainty
from geo.ingest.settings import DepthContoursFile
from geo.records.chart import DepthContour
from geo.records.region import RegionFrame, WaterBody

# A contour may leave the water by so much before it is another shore's: maps of two hands differ (our choice, no
# source). A shorter piece than LEAST_PIECE_M is drawing.
SHORE_SLACK_M = 25.0
LEAST_PIECE_M = 1.0


def read_contours(
    desk: Desk, section: DepthContoursFile, frame: RegionFrame, bodies: tuple[WaterBody, ...]
) -> tuple[DepthContour, ...]:
    """Give the contour lines of a region, each cut to the bodies it lies in.

    Notes: a contour of the other sign than the rest, in no water, more than 25 m outside the water that it lies in,
    absurdly deep, or crossing a shallower one is set aside. Without bodies the file is only looked through for its own
    faults.
    """
    report = desk.report.about(section.file)
    ready = declared(section, "depth_contours", ("depth",), report)
    uncertainty = declared_uncertainty(section, report, "depth_contours")
    layer = desk.read_layer(section, section.columns.mapped(), "line")
    if layer is None or not ready:
        return ()
    plane = desk.on_plane(layer, frame.crs_wkt)
    depth_m = _depths(layer, section, "depth")
    sd_m = _sigmas(layer, section, uncertainty, depth_m)
    if not _signs_hold(layer, depth_m, "depth_contours", "contours"):
        return ()
    found: list[_Piece] = []
    if bodies:
        found = _cut(layer, plane, depth_m, bodies)
        _drop_absurd(layer, depth_m, found, bodies)
        _drop_crossing(layer, plane, depth_m)
    layer.count()
    kept = set(layer.present())
    return tuple(
        DepthContour(
            bodies[piece.body].body_id,
            piece.line,
            float(depth_m[piece.index]),
            float(sd_m[piece.index]),
            row_origin(layer, piece.index),
            layer.row(piece.index).day("date"),
        )
        for piece in found
        if piece.index in kept
    )


def _depths(layer: Layer, section: DepthContoursFile, field: str) -> np.ndarray:
    depth_m = np.full(len(layer.shapes), np.nan)
    for index in layer.present():
        depth = signed_depth_m(layer.row(index), section, field)
        if depth is None:
            layer.set_aside(index, "quarantine", "the contour has no depth", "fill it in, or delete the row")
            continue
        depth_m[index] = depth + 0.0
    return depth_m


def _sigmas(
    layer: Layer, section: DepthContoursFile, default: Uncertainty | None, depth_m: np.ndarray
) -> np.ndarray:
    """One sigma of the survey behind each contour [m]."""
    sd_m, unknown = np.full(len(depth_m), np.nan), []
    for index in layer.present():
        row = layer.row(index)
        stated = row.number_in(
            "uncertainty", 1e-3, DEEPEST_INLAND_M, "the uncertainty [m]", UNIT_M[section.unit]
        )
        if stated is None and default is None:
            unknown.append(row.label)
            continue
        sd_m[index] = (stated if stated is not None else default.at_95_m(depth_m[index])) / SIGMA_OF_95
    if unknown:
        layer.report.add(
            "ask",
            f"{len(unknown)} contours carry no uncertainty, the first in {unknown[0]}",
            "map uncertainty, or declare survey_order, catzoc or uncertainty_a_m in [depth_contours]",
            field="depth_contours.survey_order",
        )
    return sd_m


def _signs_hold(layer: Layer, depth_m: np.ndarray, name: str, what: str) -> bool:
    """Ask where many depths stand above the water, set the few aside; False when it was asked."""
    present = layer.present()
    wrong = [index for index in present if depth_m[index] < 0]
    if len(wrong) > max(FEW_WRONG_SIGNS * len(present), 1) or 0 < len(wrong) == len(present):
        layer.report.add(
            "ask",
            f"{len(wrong)} of {len(present)} {what} are above the water with the declared sign, the first in"
            f" {layer.row(wrong[0]).label}",
            f'check positive = "down" or "up" in [{name}], and that the file does not mix both',
            field=f"{name}.positive",
            value=f"{depth_m[wrong[0]]:.2f} m",
        )
        return False
    for index in wrong:
        layer.set_aside(
            index, "quarantine", "the depth has the other sign than the rest", "mend the sign",
            value=f"{depth_m[index]:.2f} m",
        )  # fmt: skip
    return True


@dataclass(frozen=True, eq=False)
class _Piece:
    """A piece of the contour of one row inside one body, both by their places."""

    index: int
    body: int
    line: shapely.LineString


def _cut(layer: Layer, plane: np.ndarray, depth_m: np.ndarray, bodies: tuple[WaterBody, ...]) -> list[_Piece]:
    """Cut the contours to the water they lie in; those that lie in none, or leave theirs, are set aside."""
    polygons = np.array([body.polygon for body in bodies], object)
    tree = shapely.STRtree(polygons)
    found = []
    for index in layer.present():
        line, inside = plane[index], sorted(tree.query(plane[index], predicate="intersects").tolist())
        pieces = [
            _Piece(index, number, part)
            for number in inside
            for part in _lines(shapely.intersection(line, polygons[number]))
        ]
        if not pieces:
            number = int(tree.nearest(line))
            away = shapely.distance(line, polygons[number])
            layer.set_aside(
                index, "quarantine", "the contour lies in no water",
                f"check its position; the nearest shore is that of {bodies[number].body_id}, {away:.1f} m away",
            )  # fmt: skip
            continue
        names = ", ".join(bodies[number].body_id for number in inside)
        if _stays(layer, index, float(depth_m[index]), _beyond_m(line, polygons[inside]), names):
            found += pieces
    return found


def _beyond_m(line: shapely.Geometry, polygons: np.ndarray) -> float:
    """How far a line lies outside the water at most [m]; a long way along the shore is no way from it."""
    water = shapely.union_all(polygons)
    outside = shapely.difference(line, water)
    if outside.is_empty:
        return 0.0
    corners = shapely.points(shapely.get_coordinates(shapely.segmentize(outside, SHORE_SLACK_M / 5.0)))
    return float(shapely.distance(corners, water).max())


def _stays(layer: Layer, index: int, depth_m: float, beyond_m: float, names: str) -> bool:
    """Tell of a contour that leaves its water, and set it aside where it goes too far; True when it stays."""
    if beyond_m > SHORE_SLACK_M and depth_m > 0.0:
        layer.set_aside(
            index, "quarantine",
            f"the contour crosses the shore of {names} and lies up to {beyond_m:.0f} m outside it, where it is not"
            f" {depth_m:.1f} m deep; the limit is {SHORE_SLACK_M:.0f} m",
            "check its position, its datum and the outline; cut it at the shore if both are right",
            value=f"{depth_m:.2f} m",
        )  # fmt: skip
        return False
    if beyond_m > LEAST_PIECE_M:
        layer.report.add(
            "caution", f"the contour leaves the water of {names} by up to {beyond_m:.1f} m and was cut at the shore",
            "check its position and the outline", feature=layer.row(index).label,
        )  # fmt: skip
    return True


def _lines(shape: shapely.Geometry) -> list[shapely.LineString]:
    parts = shapely.get_parts(shape)
    if shape.geom_type in ("MultiLineString", "GeometryCollection"):
        lines = [part for part in parts if part.geom_type == "LineString"]
        merged = shapely.line_merge(shapely.MultiLineString(lines)) if lines else shapely.MultiLineString()
        parts = shapely.get_parts(merged)
    return [part for part in parts if part.geom_type == "LineString" and part.length >= LEAST_PIECE_M]


def _drop_absurd(
    layer: Layer, depth_m: np.ndarray, pieces: list[_Piece], bodies: tuple[WaterBody, ...]
) -> None:
    """Set aside contours that stand far below the others of their body, by the rule for soundings."""
    for number in sorted({piece.body for piece in pieces}):
        mine = sorted({piece.index for piece in pieces if piece.body == number})
        ceiling = DEEPEST_SEA_M if bodies[number].kind in ("sea", "estuary") else DEEPEST_INLAND_M
        limit = min(ceiling, too_deep(depth_m[mine]))
        for index in (one for one in mine if depth_m[one] > limit and layer.shapes[one] is not None):
            layer.set_aside(
                index, "quarantine", f"the contour stands far below the others of {bodies[number].body_id}",
                "check the unit and the number", value=f"{depth_m[index]:.2f} m",
            )  # fmt: skip


def _drop_crossing(layer: Layer, plane: np.ndarray, depth_m: np.ndarray) -> None:
    """Set aside the deeper of two contours of different depth that cross: one place has one depth."""
    present = np.array(layer.present(), int)
    if len(present) < 2:
        return
    first, second = shapely.STRtree(plane[present]).query(plane[present], predicate="crosses")
    for a, b in sorted(zip(present[first].tolist(), present[second].tolist(), strict=True)):
        deeper, kept = (a, b) if depth_m[a] > depth_m[b] else (b, a)
        if a > b or depth_m[a] == depth_m[b] or layer.shapes[deeper] is None or layer.shapes[kept] is None:
            continue
        where = shapely.intersection(plane[a], plane[b]).representative_point()
        layer.set_aside(
            deeper, "quarantine",
            f"contours of {depth_m[kept]:.1f} and {depth_m[deeper]:.1f} m cross at E {where.x:.0f} N {where.y:.0f};"
            " the shallower was kept",
            f"find out which is right; the other is in {layer.row(kept).label}",
            value=f"{depth_m[deeper]:.2f} m",
        )  # fmt: skip
