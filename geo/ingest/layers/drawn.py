"""GeoJSON that somebody drew and that comes over the network or in a small file: what fires and flanks share."""

import math
from typing import Any, TypeGuard

import numpy as np

from geo.base.errors import BadInput
from geo.base.geodesy import to_plane
from geo.ingest.files.shape_check import MAX_LATITUDE_DEG
from geo.records.region import RegionFrame

BODY = "request body"
FARTHEST_M = 500_000.0
MOST_POSITIONS = 20_000


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
