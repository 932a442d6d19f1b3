"""A line that somebody drew along the active flank of a fire: GeoJSON, from a file or over the network."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from geo.base.errors import BadInput
from geo.base.fault import Fault
from geo.base.geodesy import to_plane
from geo.records.geometry import LineM
from geo.records.region import Region

MOST_BYTES = 5_000_000
MOST_POSITIONS = 20_000
FARTHEST_M = 500_000.0
MOST_LATITUDE_DEG = 89.9
CURE = "send a GeoJSON LineString, or a Feature or FeatureCollection with one, in WGS 84 longitude, latitude"


def read_flank(path: Path, region: Region) -> LineM:
    """Give the flank drawn in a GeoJSON file, in the region's plane.

    Raises: BadInput when the file is absent, too large, no JSON, or draws no single line.
    """
    place = path.name
    try:
        if path.stat().st_size > MOST_BYTES:
            raise _refuse(place, f"the file is larger than {MOST_BYTES:,} bytes", "simplify the line")
        body = json.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise _refuse(place, "the file cannot be read", "give centroid, edge, or a GeoJSON file") from error
    except (ValueError, RecursionError) as error:
        raise _refuse(place, "the file is no JSON", CURE) from error
    return flank_from_geojson(body, region, place)


def flank_from_geojson(body: Any, region: Region, place: str = "request body") -> LineM:
    """Give the flank that a parsed GeoJSON object draws, in the region's plane [m].

    Raises: BadInput for other shapes, more than MOST_POSITIONS positions, numbers that are no position on Earth, a line
    without length, or one that lies farther than FARTHEST_M from the region's middle.
    """
    coordinates = _line(body, place)
    if not isinstance(coordinates, list) or not 2 <= len(coordinates) <= MOST_POSITIONS:
        raise _refuse(place, f"a line has 2 to {MOST_POSITIONS} positions", CURE)
    degrees = np.array([_position(one, place) for one in coordinates])
    frame = region.frame
    easting, northing = to_plane(frame.crs_wkt, degrees[:, 0], degrees[:, 1])
    centre = to_plane(
        frame.crs_wkt, np.array([frame.centre_longitude_deg]), np.array([frame.centre_latitude_deg])
    )
    away_m = np.hypot(easting - centre[0], northing - centre[1])
    if not np.all(away_m <= FARTHEST_M):
        raise _refuse(
            place, "the line lies far from the region", "check longitude and latitude; they may be swapped"
        )
    line = shapely.LineString(np.column_stack([easting, northing]))
    if not line.length > 0.0:
        raise _refuse(place, "the line has no length", "draw two different positions")
    return line


def _line(body: Any, place: str) -> Any:
    """Give the coordinates of the one LineString in a GeoJSON object."""
    for _ in range(2):
        kind = body.get("type") if isinstance(body, dict) else None
        if kind == "FeatureCollection":
            features = body.get("features")
            if not isinstance(features, list) or len(features) != 1:
                raise _refuse(place, "a flank is one line", CURE)
            body = features[0]
        elif kind == "Feature":
            body = body.get("geometry")
    if not isinstance(body, dict) or body.get("type") != "LineString":
        raise _refuse(place, "a LineString is needed", CURE)
    return body.get("coordinates")


def _position(value: Any, place: str) -> tuple[float, float]:
    numbers = value[:2] if isinstance(value, list) else []
    plain = len(numbers) == 2 and all(isinstance(n, int | float) and not isinstance(n, bool) for n in numbers)
    # The comparison also refuses NaN, and integers too large for a float.
    if not plain or not (abs(numbers[0]) <= 360 and abs(numbers[1]) <= MOST_LATITUDE_DEG):
        raise _refuse(place, "a position is not longitude, latitude in degrees", CURE)
    return float(numbers[0]), float(numbers[1])


def _refuse(place: str, rule: str, cure: str) -> BadInput:
    return BadInput([Fault("refuse", place, rule, cure)])
