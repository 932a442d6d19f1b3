"""The route over the ground: straight pieces as geodesics, and the time that the wind makes of them."""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from geo.base.errors import BadArgument
from geo.base.geodesy import WGS84, Geodesic, geodesic, to_degrees

# A piece is split where it is longer than this or where its true track turns more than this from end to end (the
# meridians converge), so that the mean ground speed of a Segment can be redone by hand from its middle track.
LONGEST_PIECE_M = 10_000.0
# In winds that change by height or place.
LONGEST_PIECE_IN_WINDS_M = 1_000.0
LARGEST_TURN_DEG = 0.25
# Gauss-Legendre nodes on a piece: the time integral is exact to rounding for such small turns.
NODES, WEIGHTS = np.polynomial.legendre.leggauss(3)
_OFFSETS = np.concatenate((NODES, [0.0])) * 0.5 + 0.5
# So many tracks are kept: a question is asked again with every wind, and the wind leaves the ground as it is.
MOST_TRACKS = 4096


@dataclass(frozen=True, eq=False)
class Track:
    """A route measured on the ellipsoid.

    crs_wkt: the plane. corners_m: (n, 2) plane positions of the route's vertices; corner_distance_m: (n,)
    ellipsoidal distance from the start to each. piece_end_m: (k + 1,) distances of the piece ends, first 0;
    node_track_deg: (k, 3) true track at the integration nodes of each piece; middle_track_deg: (k,) at its middle.
    """

    crs_wkt: str
    corners_m: np.ndarray
    corner_distance_m: np.ndarray
    piece_end_m: np.ndarray
    node_track_deg: np.ndarray
    middle_track_deg: np.ndarray

    @property
    def length_m(self) -> float:
        """Length on the ellipsoid [m]."""
        return float(self.corner_distance_m[-1])

    @property
    def node_distance_m(self) -> np.ndarray:
        """Distances from the start of the integration nodes (k, 3) [m]."""
        return self.piece_end_m[:-1, None] + np.diff(self.piece_end_m)[:, None] * (0.5 * NODES + 0.5)

    def elapsed_s(self, ground_ms: np.ndarray) -> np.ndarray:
        """Give the time from the start [s] at each piece end (k + 1,), from the pieces' mean ground speeds."""
        return np.concatenate(([0.0], np.cumsum(np.diff(self.piece_end_m) / ground_ms)))

    def position(self, distance_m: float) -> tuple[float, float]:
        """Give the plane position (easting_m, northing_m) at a distance along the route."""
        east, north = self.positions(np.asarray(distance_m))
        return float(east), float(north)

    def words_at(self, distance_m: float) -> str:
        """Say where the place at a distance along the route lies, in degrees."""
        longitude, latitude = to_degrees(self.crs_wkt, *self.position(distance_m))
        return f"longitude {longitude:.5f}, latitude {latitude:.5f}"

    def positions(self, distance_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Give the plane positions at many distances along the route."""
        east, north = (np.interp(distance_m, self.corner_distance_m, part) for part in self.corners_m.T)
        return east, north


def _straight(
    longitude: float, latitude: float, line: Geodesic, longest: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Split one geodesic: piece lengths (k,), tracks at the nodes (k, 3), tracks at the middles (k,)."""
    bearing, length = line.start_bearing_deg, line.distance_m
    turn = abs((line.end_bearing_deg - bearing + 180.0) % 360.0 - 180.0)
    pieces = max(1, math.ceil(length / longest - 1e-9), math.ceil(turn / LARGEST_TURN_DEG - 1e-9))
    step = length / pieces
    distance = (np.arange(pieces)[:, None] + _OFFSETS) * step
    flat = distance.ravel()
    _, _, back = WGS84.fwd(
        np.full(flat.size, longitude), np.full(flat.size, latitude), np.full(flat.size, bearing), flat
    )
    tracks = ((np.asarray(back) + 180.0) % 360.0).reshape(distance.shape)
    return np.full(pieces, step), tracks[:, :3], tracks[:, 3]


def track_of(corners_m: np.ndarray, crs_wkt: str, longest_m: float = LONGEST_PIECE_M) -> Track:
    """Measure a route of plane positions on the ellipsoid; each straight piece is flown as a geodesic.

    Parameters: corners_m (n, 2) easting, northing [m]; crs_wkt of the plane; longest_m of a piece.
    Returns: Track; corners closer than 1 mm to the one before are dropped, one corner alone gives a track of length 0.
    Raises: BadArgument for positions that are not finite.
    """
    corners = np.asarray(corners_m, dtype=float)
    if corners.ndim != 2 or corners.shape[1] != 2 or not np.all(np.isfinite(corners)):
        raise BadArgument(f"route {corners_m!r}: positions must be finite (easting_m, northing_m) pairs")
    return _measured(tuple(map(tuple, corners.tolist())), crs_wkt, longest_m)


@lru_cache(maxsize=MOST_TRACKS)
def _measured(places_m: tuple[tuple[float, float], ...], crs_wkt: str, longest_m: float) -> Track:
    corners = np.array(places_m)
    steps = np.hypot(*np.diff(corners, axis=0).T)
    corners = corners[np.concatenate(([True], steps > 1e-3))]
    longitude, latitude = to_degrees(crs_wkt, corners[:, 0], corners[:, 1])
    totals = [0.0]
    parts = [(np.zeros(1), np.empty((0, 3)), np.empty(0))]
    for i in range(len(corners) - 1):
        line = geodesic(longitude[i], latitude[i], longitude[i + 1], latitude[i + 1])
        parts.append(_straight(longitude[i], latitude[i], line, longest_m))
        totals.append(totals[-1] + line.distance_m)
    lengths, nodes, middles = (np.concatenate(column) for column in zip(*parts, strict=True))
    return Track(crs_wkt, corners, np.array(totals), np.cumsum(lengths), nodes, middles)
