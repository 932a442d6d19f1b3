"""The wind triangle, once: ground speeds and times from track, airspeed and wind, for numbers and for arrays.

A wind is named by the direction it blows FROM [deg clockwise from north]; its blow is where it blows TO, as parts
towards east and north [m/s]. Track and wind rest on the same north. Nothing is checked here: `geo.flight.wind` is the
checked door. The compiled search has one twin, `geo.flight.routing.route_kernels.ground_speed_ms`.
References: aviation formula collection, "Headwind/crosswind, heading and ground speed"; the law of sines.
"""

import numpy as np

Number = float | np.ndarray


def blow_of(from_deg: Number, wind_ms: Number) -> tuple[Number, Number]:
    """Give where a wind blows to, east and north [m/s], from where it blows from [deg] and its speed [m/s]."""
    angle = np.radians(from_deg)
    return -wind_ms * np.sin(angle), -wind_ms * np.cos(angle)


def wind_of(east_ms: Number, north_ms: Number) -> tuple[Number, Number]:
    """Give where a wind blows from [deg, 0 to 360] and its speed [m/s]: the inverse of `blow_of`."""
    return np.degrees(np.arctan2(-east_ms, -north_ms)) % 360.0, np.hypot(east_ms, north_ms)


def speed_on_track(track_deg: Number, tas_ms: Number, wind_from_deg: Number, wind_ms: Number) -> np.ndarray:
    """Give the ground speed along a track [m/s], -inf where the track cannot be held; arrays broadcast.

    Notes: s = (W/V) sin(wd - tc), GS = V sqrt(1 - s^2) - W cos(wd - tc); held where |s| <= 1.
    """
    angle = np.radians(wind_from_deg - track_deg)
    sine = wind_ms / tas_ms * np.sin(angle)
    held = np.abs(sine) <= 1.0
    cosine = np.sqrt(np.where(held, 1.0 - sine**2, 0.0))
    return np.where(held, tas_ms * cosine - wind_ms * np.cos(angle), -np.inf)


def speed_towards(
    unit_east: Number, unit_north: Number, tas_ms: Number, blow_east_ms: Number, blow_north_ms: Number
) -> np.ndarray:
    """Give the ground speed along a unit vector [m/s], -inf where it cannot be held: the triangle by its parts.

    Notes: with the blow's parts along and across the track, GS = along + sqrt(V^2 - across^2).
    """
    along = blow_east_ms * unit_east + blow_north_ms * unit_north
    across = blow_north_ms * unit_east - blow_east_ms * unit_north
    left = np.asarray(tas_ms**2 - across**2)
    return np.where(left >= 0.0, along + np.sqrt(np.maximum(left, 0.0)), -np.inf)


def seconds_over(distance_m: Number, ground_ms: np.ndarray) -> np.ndarray:
    """Give the time over distances at ground speeds [s], inf where the speed is not above 0."""
    makes_way = ground_ms > 0.0
    return np.where(makes_way, distance_m / np.where(makes_way, ground_ms, 1.0), np.inf)


def displacement_s(
    east_m: np.ndarray, north_m: np.ndarray, tas_ms: float, blow_ms: tuple[float, float]
) -> np.ndarray:
    """Give the time over straight displacements [s] in one wind weaker than the airspeed; 0 for none.

    Notes: the root of |d / t - w| = V; unlike the others it needs no length to divide by.
    """
    blow = np.array(blow_ms)
    left = tas_ms**2 - float(blow @ blow)
    along = east_m * blow[0] + north_m * blow[1]
    return (np.sqrt(along**2 + left * (east_m**2 + north_m**2)) - along) / left
