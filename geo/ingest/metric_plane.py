"""Chooses the region's metric plane and says how true its lengths are."""

import numpy as np
import shapely
from pyproj import CRS, Proj
from pyproj.exceptions import CRSError, ProjError

from geo.base.geodesy import local_crs, to_degrees, to_plane
from geo.ingest.checks.report import FileReport
from geo.records.region import RegionFrame

CENTRE_STEP_DEG = 0.01
SCALE_CAUTION = 5e-4
SCALE_LIMIT = 5e-3
WIDE_REGION_M = 200_000.0


def centre_of(shapes: np.ndarray) -> tuple[float, float]:
    """Give the middle of the bounds of shapes in degrees, rounded to 0.01 degrees, right across the antimeridian.

    Notes: longitudes are taken in -180..180 and in 0..360, whichever makes the smaller box.
    """
    coordinates = shapely.get_coordinates(shapes)
    east = np.mod(coordinates[:, 0] + 180.0, 360.0) - 180.0
    wrapped = np.mod(coordinates[:, 0], 360.0)
    if np.ptp(wrapped) < np.ptp(east):
        east = wrapped
    longitude = (east.min() + east.max()) / 2.0
    latitude = (coordinates[:, 1].min() + coordinates[:, 1].max()) / 2.0
    longitude = (round(longitude / CENTRE_STEP_DEG) * CENTRE_STEP_DEG + 180.0) % 360.0 - 180.0
    return round(longitude, 2) + 0.0, round(round(latitude / CENTRE_STEP_DEG) * CENTRE_STEP_DEG, 2) + 0.0


def choose_frame(
    shapes: np.ndarray, metric_crs: str, vertical_datum: str, settings: FileReport, water: FileReport
) -> RegionFrame | None:
    """Give the frame for the water's shapes in degrees, None (with a fault) when the user's own CRS does not fit.

    Notes: "auto" is an azimuthal equidistant CRS at the centre. A caution says when lengths may be wrong by more than
    0.05 % at the corners of the water; more than 0.5 % is refused.
    """
    longitude, latitude = centre_of(shapes)
    crs = local_crs(longitude, latitude) if metric_crs == "auto" else _user_crs(metric_crs, settings)
    if crs is None:
        return None
    frame = RegionFrame(crs.to_wkt(), longitude, latitude, vertical_datum)
    return frame if _check_scale(frame, shapes, settings, water) else None


def _user_crs(metric_crs: str, settings: FileReport) -> CRS | None:
    place = {"field": "metric_crs", "value": metric_crs}
    try:
        crs = CRS.from_user_input(metric_crs.upper())
    except CRSError:
        settings.add("refuse", "the coordinate system is unknown", 'use "auto" or a known EPSG code', **place)
        return None
    if not crs.is_projected or any(axis.unit_conversion_factor != 1.0 for axis in crs.axis_info[:2]):
        settings.add("refuse", "the metric CRS must be projected and in metres", 'use "auto"', **place)
        return None
    return crs


def _check_scale(frame: RegionFrame, shapes: np.ndarray, settings: FileReport, water: FileReport) -> bool:
    coordinates = shapely.get_coordinates(shapes)
    try:
        east, north = to_plane(frame.crs_wkt, coordinates[:, 0], coordinates[:, 1])
    except ProjError:
        rule = "the metric CRS does not reach the water"
        settings.add("refuse", rule, 'use metric_crs = "auto"', field="metric_crs")
        return False
    box_east = np.array([east.min(), east.max(), east.min(), east.max()])
    box_north = np.array([north.min(), north.min(), north.max(), north.max()])
    half_m = float(np.hypot(np.ptp(east), np.ptp(north)) / 2.0)
    longitude, latitude = to_degrees(frame.crs_wkt, box_east, box_north)
    factors = Proj(CRS.from_wkt(frame.crs_wkt)).get_factors(longitude, latitude)
    # The largest and smallest scale in any direction: the semi-axes of Tissot's ellipse.
    error = float(np.max(np.abs(np.concatenate([factors.tissot_semimajor, factors.tissot_semiminor]) - 1.0)))
    if not np.isfinite(error) or error > SCALE_LIMIT:
        wrong = f"wrong by up to {100 * error:.2g} % over the water; the limit is 0.5 %"
        fix = 'use metric_crs = "auto", or divide the region'
        settings.add("refuse", f"lengths in this metric CRS are {wrong}", fix, field="metric_crs")
        return False
    if error > SCALE_CAUTION or half_m > WIDE_REGION_M:
        wrong = f"lengths may be wrong by {100 * error:.2g} %"
        rule = f"the water reaches {half_m / 1000:.0f} km from its centre; {wrong}"
        water.add("caution", rule, "divide the region")
    return True
