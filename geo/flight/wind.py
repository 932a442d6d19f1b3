"""The wind triangle: track, heading, airspeed and wind. Wind is named by the direction it blows FROM.

Angles are degrees clockwise from north (true or grid, but all of one kind in a call); speeds are metres per second
(the formulas hold in any one unit). Numpy arrays broadcast against each other; numbers in, numbers out.
"""

from dataclasses import dataclass

import numpy as np

from geo.base.errors import BadArgument, NotFlyable

Number = float | np.ndarray


@dataclass(frozen=True)
class WindTriangle:
    """The answer to "which heading holds this track?". correction_deg is positive to the right."""

    correction_deg: float
    heading_deg: float
    ground_speed_ms: float


@dataclass(frozen=True)
class Drift:
    """The answer to "where does this heading take me?"."""

    track_deg: float
    ground_speed_ms: float


@dataclass(frozen=True)
class Wind:
    """A wind found from flight: direction it blows from [deg] and speed [m/s]."""

    from_deg: float
    speed_ms: float


def _checked(name: str, value: Number, lowest: float, highest: float, cure: str) -> Number:
    # NaN fails both comparisons. What is mostly given is looked at first, because a leg asks a dozen times.
    if isinstance(value, float) and lowest <= value <= highest and value != np.inf:
        return value
    array = np.asarray(value, dtype=float)
    if array.size == 0:
        return array
    least, most = array.min(), array.max()
    if least >= lowest and most <= highest and most != np.inf:
        return array
    if not np.all(np.isfinite(array)):
        raise BadArgument(f"{name} is {value}: every value must be a finite number. Fix: {cure}")
    raise BadArgument(f"{name} is {value}: it must lie from {lowest:g} to {highest:g}. Fix: {cure}")


def _direction(name: str, value: Number) -> Number:
    return _checked(name, value, -360.0, 720.0, "give a direction in degrees clockwise from north")


def _airspeed(value: Number) -> Number:
    array = _checked("tas_ms", value, 0.0, np.inf, "give the true airspeed in metres per second")
    if np.size(array) and np.min(array) == 0.0:
        raise BadArgument(
            f"tas_ms is {value}: it must be above 0. Fix: give the true airspeed in metres per second"
        )
    return array


def _wind_speed(value: Number) -> Number:
    return _checked("wind_ms", value, 0.0, np.inf, "give the wind speed in metres per second, never negative")


def _plain(array: np.ndarray) -> Number:
    return float(array) if np.ndim(array) == 0 else array


def _solve(
    track_deg: Number, tas_ms: Number, wind_from_deg: Number, wind_ms: Number
) -> tuple[np.ndarray, np.ndarray]:
    """Give sin(correction) and ground speed [m/s]; ground speed is -inf where the track cannot be held."""
    tas, wind = _airspeed(tas_ms), _wind_speed(wind_ms)
    angle = np.radians(_direction("wind_from_deg", wind_from_deg) - _direction("track_deg", track_deg))
    sine = wind / tas * np.sin(angle)
    held = np.abs(sine) <= 1.0
    cosine = np.sqrt(np.where(held, 1.0 - sine**2, 0.0))
    ground = np.where(held, tas * cosine - wind * np.cos(angle), -np.inf)
    return sine, ground


def _refuse(
    ground: np.ndarray, track_deg: Number, tas_ms: Number, wind_from_deg: Number, wind_ms: Number
) -> None:
    if not np.size(ground) or np.min(ground) > 0.0:
        return
    worst = int(np.argmin(ground))
    track, tas, source, wind = (
        float(np.broadcast_to(np.asarray(value, float), ground.shape).flat[worst])
        for value in (track_deg, tas_ms, wind_from_deg, wind_ms)
    )
    raise NotFlyable(
        f"track {track:.1f} deg cannot be flown at {tas:.1f} m/s true airspeed in a wind of {wind:.1f} m/s from "
        f"{source:.1f} deg: the wind is too strong to make way along the track. "
        "Fix: check the wind's unit and direction, or wait for less wind"
    )


def ground_speed(track_deg: Number, tas_ms: Number, wind_from_deg: Number, wind_ms: Number) -> Number:
    """Give the ground speed along a track [m/s].

    Parameters: track_deg, wind_from_deg [deg clockwise from north, same north]; tas_ms > 0, wind_ms >= 0 [m/s].
    Scalars or arrays that broadcast.
    Returns: float, or array of the broadcast shape; always above 0.
    Raises: NotFlyable naming the (worst) values when any track cannot be held or makes no way; BadArgument for a value
    that is not finite or out of range. Use `leg_time` for arrays in which some tracks may be unflyable.
    Notes: s = (W/V) sin(wd - tc), GS = V sqrt(1 - s^2) - W cos(wd - tc); refused when |s| > 1 or GS <= 0.
    References: aviation formula collection, "Headwind/crosswind, heading and ground speed"; the law of sines.
    Example: `ground_speed(90.0, 50.0, 90.0, 10.0)` is 40.0 (a head wind).
    """
    _, ground = _solve(track_deg, tas_ms, wind_from_deg, wind_ms)
    _refuse(ground, track_deg, tas_ms, wind_from_deg, wind_ms)
    return _plain(ground)


def leg_time(
    distance_m: Number, track_deg: Number, tas_ms: Number, wind_from_deg: Number, wind_ms: Number
) -> Number:
    """Give the time along straight tracks [s], inf where the wind makes the track unflyable.

    Parameters: distance_m >= 0; the others as in `ground_speed`.
    Raises: BadArgument for a value that is not finite or out of range.
    """
    distance = _checked("distance_m", distance_m, 0.0, np.inf, "give a distance in metres")
    _, ground = _solve(track_deg, tas_ms, wind_from_deg, wind_ms)
    flyable = ground > 0.0
    return _plain(np.where(flyable, distance / np.where(flyable, ground, 1.0), np.inf))


def wind_triangle(track_deg: float, tas_ms: float, wind_from_deg: float, wind_ms: float) -> WindTriangle:
    """Give wind correction, heading and ground speed for one track.

    Parameters, Raises and Notes: as `ground_speed`, scalars only.
    """
    sine, ground = _solve(track_deg, tas_ms, wind_from_deg, wind_ms)
    _refuse(ground, track_deg, tas_ms, wind_from_deg, wind_ms)
    correction = float(np.degrees(np.arcsin(sine)))
    return WindTriangle(correction, (float(track_deg) + correction) % 360.0, float(ground))


def forward(heading_deg: float, tas_ms: float, wind_from_deg: float, wind_ms: float) -> Drift:
    """Give the track and ground speed that a heading makes good (air vector plus wind vector).

    Raises: BadArgument as `ground_speed`; NotFlyable when airspeed and wind cancel exactly (no track).
    """
    heading = np.radians(_direction("heading_deg", heading_deg))
    source = np.radians(_direction("wind_from_deg", wind_from_deg))
    tas, wind = float(_airspeed(tas_ms)), float(_wind_speed(wind_ms))
    east = float(tas * np.sin(heading) - wind * np.sin(source))
    north = float(tas * np.cos(heading) - wind * np.cos(source))
    speed = float(np.hypot(east, north))
    if speed <= 1e-12 * tas:
        raise NotFlyable(
            f"heading {heading_deg} deg into a wind of {wind_ms} m/s makes no way: there is no track"
        )
    return Drift(float(np.degrees(np.arctan2(east, north)) % 360.0), speed)


def wind_from_flight(track_deg: float, ground_speed_ms: float, heading_deg: float, tas_ms: float) -> Wind:
    """Give the wind that explains a track and ground speed flown on a heading: ground vector minus air vector.

    Raises: BadArgument for a value that is not finite or out of range.
    """
    track = np.radians(_direction("track_deg", track_deg))
    heading = np.radians(_direction("heading_deg", heading_deg))
    ground = _checked(
        "ground_speed_ms", ground_speed_ms, 0.0, np.inf, "give the ground speed in metres per second"
    )
    tas = _airspeed(tas_ms)
    east = float(ground * np.sin(track) - tas * np.sin(heading))
    north = float(ground * np.cos(track) - tas * np.cos(heading))
    return Wind(float(np.degrees(np.arctan2(-east, -north)) % 360.0), float(np.hypot(east, north)))
