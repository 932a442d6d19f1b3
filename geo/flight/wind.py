"""The checked door to the wind triangle of `geo.base.wind`: bad values and tracks that cannot be flown are refused.

Angles are degrees clockwise from north (true or grid, but all of one kind in a call); speeds are metres per second
(the formulas hold in any one unit). Numpy arrays broadcast against each other; numbers in, numbers out.
"""

import numpy as np

from geo.base.errors import BadArgument, NotFlyable
from geo.base.wind import Number, speed_on_track


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


def ground_speed(track_deg: Number, tas_ms: Number, wind_from_deg: Number, wind_ms: Number) -> Number:
    """Give the ground speed along a track [m/s].

    Parameters: track_deg, wind_from_deg [deg clockwise from north, same north]; tas_ms > 0, wind_ms >= 0 [m/s].
    Scalars or arrays that broadcast.
    Returns: float, or array of the broadcast shape; always above 0.
    Raises: NotFlyable naming the (worst) values when any track cannot be held or makes no way; BadArgument for a value
    that is not finite or out of range. Where some tracks may be unflyable: `geo.base.wind.seconds_over`.
    Notes: `geo.base.wind.speed_on_track`.
    Example: `ground_speed(90.0, 50.0, 90.0, 10.0)` is 40.0 (a head wind).
    """
    tas = _airspeed(tas_ms)
    wind = _checked(
        "wind_ms", wind_ms, 0.0, np.inf, "give the wind speed in metres per second, never negative"
    )
    source, track = _direction("wind_from_deg", wind_from_deg), _direction("track_deg", track_deg)
    ground = speed_on_track(track, tas, source, wind)
    if not np.size(ground) or np.min(ground) > 0.0:
        return float(ground) if ground.ndim == 0 else ground
    worst = int(np.argmin(ground))
    values = (float(one.flat[worst]) for one in np.broadcast_arrays(track, tas, source, wind))
    track, tas, source, wind = values
    raise NotFlyable(
        f"track {track:.1f} deg cannot be flown at {tas:.1f} m/s true airspeed in a wind of {wind:.1f} m/s from "
        f"{source:.1f} deg: the wind is too strong to make way along the track. "
        "Fix: check the wind's unit and direction, or wait for less wind"
    )
