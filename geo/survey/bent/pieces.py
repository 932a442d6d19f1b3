"""The pieces of a bent run, straight or arc: their line on the map and their exact distance from the shore."""

from dataclasses import dataclass

import numpy as np
import shapely

CHORD_ERROR_M = 0.005  # most distance between an arc and the drawn line


@dataclass(frozen=True)
class RunPiece:
    """One piece of a run: a straight (radius_m None, turn_deg 0) or an arc (turn_deg positive to the right).

    The piece starts at (easting_m, northing_m) on heading_deg [clockwise from grid north].
    """

    easting_m: float
    northing_m: float
    heading_deg: float
    length_m: float
    radius_m: float | None = None
    turn_deg: float = 0.0

    def point_at(self, distance_m: float | np.ndarray) -> np.ndarray:
        """Give the points (..., 2) so far along the piece."""
        distance = np.asarray(distance_m, float)
        heading = np.radians(self.heading_deg)
        if self.radius_m is None:
            offset = distance[..., None] * np.array([np.sin(heading), np.cos(heading)])
        else:
            side = np.sign(self.turn_deg)
            later = heading + side * distance / self.radius_m
            offset = (side * self.radius_m) * np.stack(
                [np.cos(heading) - np.cos(later), np.sin(later) - np.sin(heading)], axis=-1
            )
        return np.array([self.easting_m, self.northing_m]) + offset

    def heading_at(self, distance_m: float) -> float:
        """Give the heading so far along the piece [deg clockwise from grid north]."""
        return (self.heading_deg + self.turn_deg * distance_m / self.length_m) % 360.0

    def centre(self) -> np.ndarray:
        """Give the centre (2,) of an arc."""
        heading = np.radians(self.heading_deg)
        right = np.sign(self.turn_deg) * self.radius_m
        return np.array([self.easting_m + right * np.cos(heading), self.northing_m - right * np.sin(heading)])


def cut_out(pieces: tuple[RunPiece, ...], from_m: float, to_m: float) -> tuple[RunPiece, ...]:
    """Give the pieces of a run between two distances from its start [m], from_m below to_m."""
    kept, begin = [], 0.0
    for piece in pieces:
        low, high = max(from_m - begin, 0.0), min(to_m - begin, piece.length_m)
        begin += piece.length_m
        if high > low:
            east, north = (float(value) for value in piece.point_at(low))
            share = (high - low) / piece.length_m
            kept.append(
                RunPiece(
                    east, north, piece.heading_at(low), high - low, piece.radius_m, share * piece.turn_deg
                )
            )
    return tuple(kept)


def stations_along(pieces: tuple[RunPiece, ...], along_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Give positions (n, 2) [m] and headings (n,) [deg] at rising distances (n,) [m] from the start of a run."""
    ends = np.cumsum([piece.length_m for piece in pieces])
    which = np.minimum(np.searchsorted(ends, along_m, side="left"), len(pieces) - 1)
    begin = np.concatenate(([0.0], ends[:-1]))
    into = [min(float(at - begin[k]), pieces[k].length_m) for at, k in zip(along_m, which, strict=True)]
    xy = np.array([pieces[k].point_at(at) for at, k in zip(into, which, strict=True)])
    return xy, np.array([pieces[k].heading_at(at) for at, k in zip(into, which, strict=True)])


def pieces_of(corners: np.ndarray, radius_m: float) -> tuple[RunPiece, ...]:
    """Give the pieces of a chain of corners (n, 2) [m] whose inner ones are rounded by arcs of radius_m."""
    step = np.diff(corners, axis=0)
    length = np.hypot(*step.T)
    heading = np.arctan2(step[:, 0], step[:, 1])
    turn = (np.diff(heading) + np.pi) % (2.0 * np.pi) - np.pi
    tangent = np.concatenate([[0.0], radius_m * np.tan(0.5 * np.abs(turn)), [0.0]])
    pieces = []
    for k in range(len(step)):
        start = corners[k] + step[k] * (tangent[k] / length[k])
        heading_deg = float(np.degrees(heading[k]) % 360.0)
        straight = max(0.0, float(length[k] - tangent[k] - tangent[k + 1]))
        if straight > 0.0:
            pieces.append(RunPiece(float(start[0]), float(start[1]), heading_deg, straight))
        if k < len(turn) and turn[k] != 0.0:
            at = corners[k + 1] - step[k] * (tangent[k + 1] / length[k])
            arc = float(radius_m * abs(turn[k]))
            bend = float(np.degrees(turn[k]))
            pieces.append(RunPiece(float(at[0]), float(at[1]), heading_deg, arc, radius_m, bend))
    return tuple(pieces)


def line_of(pieces: tuple[RunPiece, ...]) -> shapely.LineString:
    """Give the drawn line: corners lie on the run, and no arc is further than CHORD_ERROR_M from its chords."""
    points = []
    for piece in pieces:
        count = 1
        if piece.radius_m is not None:
            widest = 2.0 * np.arccos(max(0.5, 1.0 - CHORD_ERROR_M / piece.radius_m))
            count = int(np.ceil(np.radians(abs(piece.turn_deg)) / widest))
        points.append(piece.point_at(np.linspace(0.0, piece.length_m, max(1, count) + 1)[:-1]))
    points.append(pieces[-1].point_at(np.array([pieces[-1].length_m])))
    return shapely.LineString(np.concatenate(points))


def least_distance_m(pieces: tuple[RunPiece, ...], polygon: shapely.Polygon) -> float:
    """Give the least distance between the pieces and the shore of a polygon, arcs exact up to rounding [m]."""
    rings = [shapely.get_coordinates(ring) for ring in (polygon.exterior, *polygon.interiors)]
    start = np.concatenate([ring[:-1] for ring in rings])
    end = np.concatenate([ring[1:] for ring in rings])
    shore = shapely.MultiLineString([polygon.exterior, *polygon.interiors])
    least = np.inf
    for piece in pieces:
        if piece.radius_m is None:
            tips = piece.point_at(np.array([0.0, piece.length_m]))
            least = min(least, shapely.distance(shapely.LineString(tips), shore))
        else:
            least = min(least, _arc_distance(piece, start, end))
    return float(least)


def _arc_distance(piece: RunPiece, start: np.ndarray, end: np.ndarray) -> float:
    """Give the least distance between an arc and the segments start-end (n, 2).

    It is attained at an end of the arc, at an end of a segment, where a segment crosses the arc, or where the
    perpendicular from the centre meets the segment within the arc's angle.
    """
    centre, radius = piece.centre(), piece.radius_m
    tips = piece.point_at(np.array([0.0, piece.length_m]))
    middle = (piece.point_at(0.5 * piece.length_m) - centre) / radius
    reach = np.cos(np.radians(0.5 * abs(piece.turn_deg)))
    edge = end - start
    square = np.maximum((edge**2).sum(axis=1), 1e-300)
    least = min(float(_point_distance(tip, start, edge, square).min()) for tip in tips)
    foot = start + edge * np.clip(((centre - start) * edge).sum(axis=1) / square, 0.0, 1.0)[:, None]
    for points in (start, end, foot):  # a clipped foot is an end of its segment: counted already, harmless
        out = points - centre
        away = np.hypot(*out.T)
        within = out @ middle >= away * reach
        least = min(least, float(np.abs(away - radius)[within].min(initial=np.inf)))
    half = ((start - centre) * edge).sum(axis=1)
    root = half**2 - square * (((start - centre) ** 2).sum(axis=1) - radius**2)
    for sign in (-1.0, 1.0):
        t = (-half + sign * np.sqrt(np.maximum(root, 0.0))) / square
        on_arc = (start - centre + edge * t[:, None]) @ middle >= radius * reach
        if np.any((root >= 0.0) & (t >= 0.0) & (t <= 1.0) & on_arc):
            return 0.0
    return least


def _point_distance(point: np.ndarray, start: np.ndarray, edge: np.ndarray, square: np.ndarray) -> np.ndarray:
    t = np.clip(((point - start) * edge).sum(axis=1) / square, 0.0, 1.0)
    return np.hypot(*(start + edge * t[:, None] - point).T)
