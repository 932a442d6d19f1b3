"""Coordinate reference systems by their OGC names: which are offered, their axis order, and turning shapes into them.

Inside, every shape is longitude, latitude on WGS 84 (CRS84). Sources: OGC API - Features - Part 2 (OGC 18-058r1) for
the names, the header and the axis order; the EPSG register (through PROJ) for what the order is.
"""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
import pyproj
import shapely
from shapely.geometry.base import BaseGeometry

from services.errors import BadQuery

CRS84 = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"
_EPSG = "http://www.opengis.net/def/crs/EPSG/0/"
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Crs:
    """One offered system: its URI and, but for CRS84, the way there and back from longitude and latitude."""

    uri: str
    code: int | None

    @property
    def swapped(self) -> bool:
        """True where the register puts the northing or latitude first."""
        return self.code is not None and pyproj.CRS(self.code).axis_info[0].direction == "north"


def offered(longitude_deg: float, latitude_deg: float) -> tuple[Crs, ...]:
    """Give the systems offered for a region at a place: CRS84, EPSG:4326, EPSG:3857 and the place's UTM zone."""
    zone = min(int((longitude_deg + 180.0) // 6.0), 59) + 1
    utm = (32600 if latitude_deg >= 0.0 else 32700) + zone
    return (Crs(CRS84, None), *(Crs(f"{_EPSG}{code}", code) for code in (4326, 3857, utm)))


def find(uri: str | None, among: tuple[Crs, ...], field: str) -> Crs:
    """Give the system of a URI; CRS84 where none is given.

    Raises: BadQuery when it is not offered (requirements /req/crs/fc-bbox-crs-valid-value, fc-crs-valid-value).
    """
    for crs in among:
        if uri is None or crs.uri == uri:
            return crs
    raise BadQuery(field, "this system is not offered", f"one of {', '.join(crs.uri for crs in among)}")


@cache
def _transformer(code: int, back: bool) -> pyproj.Transformer:
    geographic = "OGC:CRS84"
    if back:
        return pyproj.Transformer.from_crs(code, geographic, always_xy=True)
    return pyproj.Transformer.from_crs(geographic, code, always_xy=True)


def turned(shapes: np.ndarray, crs: Crs) -> np.ndarray:
    """Give shapes of longitude, latitude [deg] in another system, in the axis order of its register.

    Raises: BadQuery for a shape that has no place there (a pole in EPSG:3857).
    """
    if crs.code is None:
        return shapes

    def _moved(coordinates: np.ndarray) -> np.ndarray:
        if crs.code == 4326:
            return coordinates[:, ::-1]
        x, y = _transformer(crs.code, False).transform(coordinates[:, 0], coordinates[:, 1])
        if not (np.isfinite(x).all() and np.isfinite(y).all()):
            raise BadQuery("crs", "a shape has no place in this system", f"ask for {CRS84}")
        return np.column_stack([y, x] if crs.swapped else [x, y])

    return shapely.transform(shapes, _moved)


def to_lon_lat(shape: BaseGeometry, crs: Crs, field: str) -> BaseGeometry:
    """Give a shape of a client in longitude, latitude [deg].

    Raises: BadQuery when a position does not exist there.
    """

    def _moved(coordinates: np.ndarray) -> np.ndarray:
        plane = coordinates[:, ::-1] if crs.swapped else coordinates
        if crs.code not in (None, 4326):
            plane = np.column_stack(_transformer(crs.code, True).transform(plane[:, 0], plane[:, 1]))
        if not np.isfinite(plane).all() or (abs(plane) > (540.0, 90.0)).any():
            raise BadQuery(
                field, "a position lies outside the system", "check the order of the axes and the system"
            )
        return plane

    return shapely.transform(shape, _moved)


def boxes_of(numbers: list[float], crs: Crs, field: str = "bbox") -> list[Box]:
    """Give one or two boxes (west, south, east, north) [deg] that do not cross the antimeridian.

    Parameters: numbers, four in the system's axis order, or six with heights, which are left out of account.
    Raises: BadQuery for another count, south above north, or a box that lies nowhere on Earth.
    """
    fix = f"{field}=west,south,east,north (in the axis order of {field}-crs)"
    if len(numbers) not in (4, 6) or not all(math.isfinite(number) for number in numbers):
        raise BadQuery(field, "needs four or six finite numbers", fix)
    half = len(numbers) // 2
    low, high = numbers[:2], numbers[half : half + 2]
    if crs.swapped:
        low, high = low[::-1], high[::-1]
    if low[1] > high[1]:
        raise BadQuery(field, "the second number is above the fourth", fix)
    west, south, east, north = _in_degrees((*low, *high), crs, field, fix)
    if south > 90.0 or north < -90.0 or west > 540.0 or east < -540.0:
        raise BadQuery(field, "lies nowhere on Earth", fix)
    return _unwrapped(west, max(south, -90.0), east, min(north, 90.0))


def _in_degrees(box: tuple[float, ...], crs: Crs, field: str, fix: str) -> Box:
    west, south, east, north = box
    if crs.code in (None, 4326):
        return west, south, east, north
    if west > east:
        raise BadQuery(field, "the first number is above the third", fix)
    turned_box = _transformer(crs.code, True).transform_bounds(west, south, east, north)
    if not all(math.isfinite(side) for side in turned_box):
        raise BadQuery(field, "lies outside its system", fix)
    return turned_box


def _unwrapped(west: float, south: float, east: float, north: float) -> list[Box]:
    if east - west >= 360.0:
        return [(-180.0, south, 180.0, north)]
    if -180.0 <= west <= east <= 180.0:
        return [(west, south, east, north)]
    # A box over the antimeridian has its west above its east (Core 7.15.3); a map that scrolls says 170 to 190.
    west, east = (west + 180.0) % 360.0 - 180.0, (east + 180.0) % 360.0 - 180.0
    if west <= east:
        return [(west, south, east, north)]
    return [(west, south, 180.0, north), (-180.0, south, east, north)]
