"""A line that somebody drew along the active flank of a fire: GeoJSON, from a file or over the network."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from geo.base.errors import BadInput
from geo.base.geodesy import to_plane
from geo.ingest.layers.drawn import BODY, FARTHEST_M, MOST_POSITIONS, farthest_m, position_deg
from geo.records.geometry import LineM
from geo.records.region import Region

MOST_BYTES = 5_000_000
FIX = "send a GeoJSON LineString, or a Feature or FeatureCollection with one, in WGS 84 longitude, latitude"


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
        raise BadInput.of(
            place, "the file cannot be read", "give centroid, edge, or a GeoJSON file"
        ) from error
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
