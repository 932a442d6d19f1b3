"""Builds depth contours from the user's lines: sign, unit, grade and date as declared, each cut to its water."""

from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely

from geo.ingest.layers.depth_rows import DepthTable, WaterIndex, deepest_believed_m, read_depth_table
from geo.ingest.layers.reader import FileReader
from geo.ingest.layers.survey_quality import SIGMA_OF_95
from geo.ingest.settings import DepthContoursFile
from geo.records.chart import DepthContour
from geo.records.region import RegionFrame, WaterBody

# A contour may leave the water by so much before it is another shore's: maps of two hands differ (our choice, no
# source). A shorter piece than LEAST_PIECE_M is drawing.
SHORE_SLACK_M = 25.0
LEAST_PIECE_M = 1.0


def read_contours(
    reader: FileReader, section: DepthContoursFile, frame: RegionFrame, bodies: tuple[WaterBody, ...]
) -> tuple[DepthContour, ...]:
    """Give the contour lines of a region, each cut to the bodies it lies in.

    Notes: a contour of the other sign than the rest, in no water, more than 25 m outside the water that it lies in,
    absurdly deep, or crossing a shallower one is left out. Without bodies the file is only looked through for its own
    faults.
    """
    read_table = partial(reader.read_layer, section, section.columns, "line")
    depths = read_depth_table(reader, section, frame.crs_wkt, read_table, "contour", least_slips=1)
    if depths is None:
        return ()
    pieces: list[_Piece] = []
    if bodies:
        pieces = _cut(depths, WaterIndex(bodies))
        _leave_out_absurd(depths, pieces, bodies)
        _leave_out_crossing(depths)
    depths.table.count()
    return tuple(
        DepthContour(
            bodies[piece.body].body_id,
            piece.line,
            float(depths.depth_m[piece.index]),
            float(depths.error_95_m[piece.index] / SIGMA_OF_95),
            depths.table.row(piece.index).origin,
            depths.days[piece.index],
            depths.searches[0],
        )
        for piece in pieces
        if depths.table.degrees[piece.index] is not None
    )


@dataclass(frozen=True, eq=False)
class _Piece:
    """A piece of the contour of one row inside one body, both by their places."""

    index: int
    body: int
    line: shapely.LineString


def _cut(depths: DepthTable, waters: WaterIndex) -> list[_Piece]:
    """Cut the contours to the water they lie in; those that lie in none, or leave theirs, are left out."""
    found = []
    for row in depths.table.rows():
        met = waters.met_by(row.shape)
        pieces = [
            _Piece(row.index, number, line)
            for number in met
            for line in _lines(shapely.intersection(row.shape, waters.polygons[number]))
        ]
        if not pieces:
            waters.leave_out(row, "the contour lies in no water")
            continue
        names = ", ".join(waters.bodies[number].body_id for number in met)
        if _keeps_to_water(depths, row.index, _beyond_m(row.shape, waters.polygons[met]), names):
            found += pieces
    return found


def _beyond_m(line: shapely.Geometry, polygons: np.ndarray) -> float:
    """How far a line lies outside the water at most [m]; a long way along the shore is no way from it."""
    water = shapely.union_all(polygons)
    outside = shapely.difference(line, water)
    if outside.is_empty:
        return 0.0
    corners = shapely.points(shapely.get_coordinates(shapely.segmentize(outside, SHORE_SLACK_M / 5.0)))
    return float(np.max(shapely.distance(corners, water)))


def _keeps_to_water(depths: DepthTable, index: int, beyond_m: float, names: str) -> bool:
    """Tell of a contour that leaves its water, and leave it out where it goes too far; True when it is kept."""
    depth_m = float(depths.depth_m[index])
    if beyond_m > SHORE_SLACK_M and depth_m > 0.0:
        depths.leave_out(
            index,
            f"the contour crosses the shore of {names} and lies up to {beyond_m:.0f} m outside it, where it is not"
            f" {depth_m:.1f} m deep; the limit is {SHORE_SLACK_M:.0f} m",
            "check its position, its datum and the outline; cut it at the shore if both are right",
        )
        return False
    if beyond_m > LEAST_PIECE_M:
        rule = f"the contour leaves the water of {names} by up to {beyond_m:.1f} m and was cut at the shore"
        depths.table.row(index).caution(rule, "check its position and the outline")
    return True


def _lines(shape: shapely.Geometry) -> list[shapely.LineString]:
    parts = shapely.get_parts(shape)
    if isinstance(shape, shapely.MultiLineString | shapely.GeometryCollection):
        lines = [part for part in parts if isinstance(part, shapely.LineString)]
        parts = shapely.get_parts(shapely.line_merge(shapely.MultiLineString(lines)))
    return [part for part in parts if isinstance(part, shapely.LineString) and part.length >= LEAST_PIECE_M]


def _leave_out_absurd(depths: DepthTable, pieces: list[_Piece], bodies: tuple[WaterBody, ...]) -> None:
    """Leave out contours that stand far below the others of their body, by the rule for soundings."""
    for number in sorted({piece.body for piece in pieces}):
        mine = sorted({piece.index for piece in pieces if piece.body == number})
        limit_m, _ = deepest_believed_m(depths.depth_m[mine], bodies[number])
        rule = f"the contour stands far below the others of {bodies[number].body_id}"
        for index in mine:
            if depths.depth_m[index] > limit_m and depths.table.degrees[index] is not None:
                depths.leave_out(index, rule, "check the unit and the number")


def _leave_out_crossing(depths: DepthTable) -> None:
    """Leave out the deeper of two contours of different depth that cross: one place has one depth."""
    table, depth_m, present = depths.table, depths.depth_m, depths.present()
    if len(present) < 2:
        return
    first, second = shapely.STRtree(table.plane[present]).query(table.plane[present], predicate="crosses")
    for a, b in sorted(zip(present[first].tolist(), present[second].tolist(), strict=True)):
        deeper, kept = (a, b) if depth_m[a] > depth_m[b] else (b, a)
        if a > b or depth_m[a] == depth_m[b] or table.degrees[deeper] is None or table.degrees[kept] is None:
            continue
        where = shapely.intersection(table.plane[a], table.plane[b]).representative_point()
        depths.leave_out(
            deeper,
            f"contours of {depth_m[kept]:.1f} and {depth_m[deeper]:.1f} m cross at E {where.x:.0f} N {where.y:.0f};"
            " the shallower was kept",
            f"find out which is right; the other is in {table.row(kept).label}",
        )
