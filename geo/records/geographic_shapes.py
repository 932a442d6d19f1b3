"""Plane shapes as longitude and latitude, cut at the antimeridian so that no map draws them round the world."""

from collections.abc import Callable
from typing import Any, overload

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.base.geodesy import to_degrees
from geo.records.region import Region, RegionFrame

LEG_STEP_M = 2000.0


@overload
def geographic(shape: shapely.Point, frame: RegionFrame, step_m: float | None = None) -> shapely.Point:
    """A point stays a point."""


@overload
def geographic(shape: shapely.Geometry, frame: RegionFrame, step_m: float | None = None) -> shapely.Geometry:
    """Any other shape may come in parts."""


def geographic(shape: shapely.Geometry, frame: RegionFrame, step_m: float | None = None) -> shapely.Geometry:
    """Give a plane shape in WGS 84 longitude and latitude [deg], in parts where it crosses the 180 degree meridian.

    Parameters: shape in the region's plane [m]; step_m puts a vertex at least every step_m [m] before turning, so that
    a long line stays on its way (a straight line in degrees is 85 m off on 50 km at 60 degrees latitude; with 2 km
    steps it is under 0.2 m).

    Raises: BadArgument for a shape over a pole, which has no outline in longitude and latitude.

    References: RFC 7946 section 3.1.9 (antimeridian cutting).
    """
    if step_m is not None:
        shape = shapely.segmentize(shape, step_m)

    def turn(coordinates: np.ndarray) -> np.ndarray:
        longitude, latitude = to_degrees(frame.crs_wkt, coordinates[:, 0], coordinates[:, 1])
        return np.column_stack([_near(longitude, frame.centre_longitude_deg), latitude])

    turned = shapely.transform(shape, turn)
    _refuse_pole(turned)
    west, _, east, _ = shapely.bounds(turned)
    return _cut(turned) if west < -180.0 or east > 180.0 else turned


def outline_in_degrees(shape: shapely.Geometry, region: Region) -> shapely.Geometry:
    """Give a shape of a region's plane in WGS 84 longitude and latitude [deg]. Raises: BadArgument as `geographic`."""
    return geographic(shape, region.frame)


def _near(longitude_deg: np.ndarray, centre_deg: float) -> np.ndarray:
    """Bring longitudes to within 180 degrees of the region's centre: one unbroken range for the whole region."""
    # Only what is far is moved, so that the others keep every digit.
    longitude = np.asarray(longitude_deg, float)
    return longitude - 360.0 * np.round((longitude - centre_deg) / 360.0)


def _refuse_pole(shape: shapely.Geometry) -> None:
    for line in shapely.get_parts(shapely.get_rings(shape) if shapely.area(shape) > 0 else shape):
        if np.any(np.abs(np.diff(shapely.get_coordinates(line)[:, 0])) > 180.0):
            raise BadArgument(
                "a shape runs over a pole: it has no outline in longitude and latitude; cut it at the pole first"
            )


def _cut(shape: shapely.Geometry) -> shapely.Geometry:
    """Cut at every odd multiple of 180 degrees and bring each piece into -180 to 180."""
    west, _, east, _ = shapely.bounds(shape)
    pieces = []
    for turn in range(int(np.floor((west + 180.0) / 360.0)), int(np.floor((east + 180.0) / 360.0)) + 1):
        left = -180.0 + 360.0 * turn
        part = shapely.intersection(shape, shapely.box(left, -90.0, left + 360.0, 90.0))
        pieces += [
            shapely.transform(piece, _moved_west(360.0 * turn))
            for piece in shapely.get_parts(part)
            # A shape that only touches the meridian leaves a point or a line there: not part of it.
            if shapely.get_dimensions(piece) == shapely.get_dimensions(shape)
        ]
    return pieces[0] if len(pieces) == 1 else _collect(pieces)


def _moved_west(by_deg: float) -> Callable[[np.ndarray], np.ndarray]:
    return lambda degrees: degrees - [by_deg, 0.0]


def _collect(pieces: list[shapely.Geometry]) -> shapely.Geometry:
    collectors: dict[int, Any] = {
        0: shapely.multipoints,
        1: shapely.multilinestrings,
        2: shapely.multipolygons,
    }
    return collectors[int(shapely.get_dimensions(pieces[0]))](pieces)
