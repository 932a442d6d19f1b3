"""Positions on the WGS 84 ellipsoid against the region's metric plane. Distances by geodesics, never Web Mercator."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from pyproj import CRS, Geod, Transformer

WGS84 = Geod(ellps="WGS84")


def local_crs(longitude_deg: float, latitude_deg: float) -> CRS:
    """Give an azimuthal equidistant CRS [m] centred on a position.

    Notes: scale error <= 3e-5 within 50 km and <= 5e-4 at 200 km of the centre (measured, shared notes of the
    project); distances from the centre are exact.
    """
    return CRS.from_proj4(
        f"+proj=aeqd +lat_0={latitude_deg:.6f} +lon_0={longitude_deg:.6f} +datum=WGS84 +units=m +no_defs"
    )


@lru_cache(maxsize=16)
def _transformers(crs_wkt: str) -> tuple[Transformer, Transformer]:
    crs = CRS.from_wkt(crs_wkt)
    return (
        Transformer.from_crs(crs, "EPSG:4326", always_xy=True),
        Transformer.from_crs("EPSG:4326", crs, always_xy=True),
    )


def to_degrees(
    crs_wkt: str, easting_m: np.ndarray | float, northing_m: np.ndarray | float
) -> tuple[np.ndarray, np.ndarray]:
    """Give longitude_deg, latitude_deg (WGS 84) of plane positions; of one position two plain numbers."""
    return _transformers(crs_wkt)[0].transform(easting_m, northing_m, errcheck=True)


def to_plane(
    crs_wkt: str, longitude_deg: np.ndarray, latitude_deg: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Give easting_m, northing_m of WGS 84 positions."""
    return _transformers(crs_wkt)[1].transform(longitude_deg, latitude_deg, errcheck=True)


@dataclass(frozen=True)
class Geodesic:
    """A straight way on the ellipsoid: distance [m], true bearing at the start and on arrival [deg from north]."""

    distance_m: float
    start_bearing_deg: float
    end_bearing_deg: float


def geodesic(
    start_longitude_deg: float, start_latitude_deg: float, end_longitude_deg: float, end_latitude_deg: float
) -> Geodesic:
    """Solve the inverse geodesic problem (Karney 2013, J. Geodesy 87:43-55, through PROJ)."""
    forward, back, distance = WGS84.inv(
        start_longitude_deg, start_latitude_deg, end_longitude_deg, end_latitude_deg
    )
    return Geodesic(float(distance), float(forward) % 360.0, (float(back) + 180.0) % 360.0)


def plane_geodesic(crs_wkt: str, start: tuple[float, float], end: tuple[float, float]) -> Geodesic:
    """Solve the inverse problem between two plane positions (easting_m, northing_m)."""
    longitude, latitude = to_degrees(crs_wkt, np.array([start[0], end[0]]), np.array([start[1], end[1]]))
    return geodesic(longitude[0], latitude[0], longitude[1], latitude[1])


def grid_heading_deg(start: tuple[float, float], end: tuple[float, float]) -> float:
    """Give the heading of a plane line [deg clockwise from grid north]."""
    return float(np.degrees(np.arctan2(end[0] - start[0], end[1] - start[1])) % 360.0)
