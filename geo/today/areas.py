"""Areas that people close on the day, as outlines in WGS 84: a circle round a position, a drawn shape."""

from dataclasses import replace
from typing import Any

import shapely

from geo.base.errors import BadInput
from geo.ingest.layers.fires import fire_from_geojson
from geo.records.geographic_shapes import geographic
from geo.records.region import Region


def circle_outline(
    region: Region, longitude_deg: float, latitude_deg: float, radius_m: float, file: str
) -> shapely.Geometry:
    """Give a circle round a position in WGS 84. Raises: BadInput where the position is far from the region."""
    centre = {"type": "Point", "coordinates": [longitude_deg, latitude_deg]}
    middle = shapely.centroid(_area(region, centre, file))
    return geographic(shapely.buffer(middle, radius_m, quad_segs=32), region.frame)


def drawn_outline(region: Region, body: dict[str, Any], file: str) -> shapely.Geometry:
    """Give an area that was drawn as GeoJSON, mended where it can be, in WGS 84. Raises: BadInput."""
    return geographic(_area(region, body, file), region.frame)


def _area(region: Region, body: dict[str, Any], file: str) -> shapely.Geometry:
    """Read an area as a fire's outline is read: the same limits, the same mending, other words."""
    try:
        return fire_from_geojson(body, region).area
    except BadInput as refusal:
        raise BadInput(
            [replace(one, file=file, rule=one.rule.replace("fire", "closed area")) for one in refusal.faults]
        ) from refusal
