"""GeoJSON that somebody drew, from a small file or over the network: a fire's flank, and what fires share with it."""

import json
import math
from pathlib import Path
from typing import Any, TypeGuard

import numpy as np
import shapely

from geo.base.errors import BadInput
from geo.base.geodesy import to_plane
from geo.ingest.files.shape_check import MAX_LATITUDE_DEG
from geo.records.geometry import LineM
from geo.records.region import Region, RegionFrame

BODY = "request body"
FARTHEST_M = 500_000.0
MOST_POSITIONS = 20_000
MOST_BYTES = 5_000_000
FIX = "send a GeoJSON LineString, or a Feature or FeatureCollection with one, in WGS 84 longitude, latitude"


def is_number(value: Any) -> TypeGuard[int | float]:
    """True for a number of JSON; true and false are none."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def position_deg(value: Any, place: str = BODY) -> tuple[float, float]:
    """Give a GeoJSON position as longitude and latitude [deg].

    Raises: BadInput for what is not two numbers, or not on Earth between 89 degrees south and north.
    """
    numbers = value[:2] if isinstance(value, list) else []
    if len(numbers) != 2 or not all(map(is_number, numbers)):
        rule = "a position is not two numbers"
        raise BadInput.of(place, rule, "send longitude, latitude", value=str(value)[:120])
    # An integer of thousands of digits has no float; it is compared before it is turned into one.
    if not (abs(numbers[0]) <= 360 and abs(numbers[1]) <= MAX_LATITUDE_DEG) or any(map(math.isnan, numbers)):
        rule = "a position is not longitude, latitude in degrees"
        shown = f"{str(numbers[0])[:20]}, {str(numbers[1])[:20]}"
        raise BadInput.of(place, rule, "send longitude first, then latitude, in WGS 84", value=shown)
    return float(numbers[0]), float(numbers[1])


def farthest_m(positions_m: np.ndarray, frame: RegionFrame) -> float:
    """Give how far the farthest of plane positions (n, 2) lies from the middle of the region [m]."""
    middle_deg = np.array([frame.centre_longitude_deg]), np.array([frame.centre_latitude_deg])
    away = positions_m - np.column_stack(to_plane(frame.crs_wkt, *middle_deg))
    return float(np.hypot(away[:, 0], away[:, 1]).max())


def read_flank(path: Path, region: Region) -> LineM:
    """Give the flank drawn in a GeoJSON file, in the region's plane.

    Raises: BadInput when the file is absent, too large, no JSON, or draws no single line.
    """
    place = path.name
    try:
        if path.stat().st_size > MOST_BYTES:
            raise BadInput.of(place, f"the file is larger than {MOST_BYTES:,} bytes", "simplify the line")
        body = json.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        fix = "give edge, head, flank, middle, or a GeoJSON file"
        raise BadInput.of(place, "the file cannot be read", fix) from error
    except (ValueError, RecursionError) as error:
        raise BadInput.of(place, "the file is no JSON", FIX) from error
    return flank_from_geojson(body, region, place)


def flank_from_geojson(body: Any, region: Region, place: str = BODY) -> LineM:
    """Give the flank that a parsed GeoJSON object draws, in the region's plane [m].

    Raises: BadInput for other shapes, more than MOST_POSITIONS positions, numbers that are no position on Earth, a line
    without length, or one that lies farther than FARTHEST_M from the region's middle.
    """
    coordinates = _line(body, place)
    if not isinstance(coordinates, list) or not 2 <= len(coordinates) <= MOST_POSITIONS:
        raise BadInput.of(place, f"a line has 2 to {MOST_POSITIONS} positions", FIX)
    degrees = np.array([position_deg(one, place) for one in coordinates])
    plane = np.column_stack(to_plane(region.frame.crs_wkt, degrees[:, 0], degrees[:, 1]))
    if not farthest_m(plane, region.frame) <= FARTHEST_M:
        fix = "check longitude and latitude; they may be swapped"
        raise BadInput.of(place, "the line lies far from the region", fix)
    line = shapely.LineString(plane)
    if not line.length > 0.0:
        raise BadInput.of(place, "the line has no length", "draw two different positions")
    return line


def _line(body: Any, place: str) -> Any:
    """Give the coordinates of the one LineString in a GeoJSON object."""
    for _ in range(2):
        kind = body.get("type") if isinstance(body, dict) else None
        if kind == "FeatureCollection":
            features = body.get("features")
            if not isinstance(features, list) or len(features) != 1:
                raise BadInput.of(place, "a flank is one line", FIX)
            body = features[0]
        elif kind == "Feature":
            body = body.get("geometry")
    if not isinstance(body, dict) or body.get("type") != "LineString":
        raise BadInput.of(place, "a LineString is needed", FIX)
    return body.get("coordinates")
