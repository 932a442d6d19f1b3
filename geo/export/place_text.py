"""Places as paper, pictures and files say them: positions, distances and bearings, true and magnetic."""

from datetime import date

import shapely

from geo.base.errors import BadArgument
from geo.base.geodesy import Geodesic, plane_geodesic
from geo.base.positions import degrees_minutes, magnetic_variation_deg
from geo.records.geographic_shapes import geographic
from geo.records.region import RegionFrame


def position_text(point: shapely.Point, frame: RegionFrame) -> str:
    """Give a place of the region's plane in degrees and decimal minutes, latitude first."""
    place = geographic(point, frame)
    return degrees_minutes(place.x, place.y)


def distance_between(start: shapely.Point, end: shapely.Point, frame: RegionFrame) -> Geodesic:
    """Give the shortest line on the ellipsoid between two places of the region's plane."""
    return plane_geodesic(frame.crs_wkt, (start.x, start.y), (end.x, end.y))


def variation(
    place: shapely.Point, day: date | None, elevation_m: float | None = None
) -> tuple[float | None, str]:
    """Give the magnetic variation [deg, east positive] at a place in WGS 84 degrees on a day, or None and why."""
    try:
        return magnetic_variation_deg(place.x, place.y, day, elevation_m), ""
    except BadArgument as problem:
        return None, str(problem)
