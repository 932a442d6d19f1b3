"""Ground speeds along a route: the wind triangle integrated over each piece, in a uniform or a changing wind."""

from dataclasses import dataclass

import numpy as np

from geo.base.errors import NotFlyable
from geo.base.wind import seconds_over, speed_on_track, wind_of
from geo.flight.legs.track import WEIGHTS, Track
from geo.flight.wind import ground_speed
from geo.records.flight import Segment


@dataclass(frozen=True, eq=False)
class Speeds:
    """Per piece (k,): the mean ground speed (length over exact time), and the mean wind it rests on [m/s, deg FROM]."""

    ground_ms: np.ndarray
    wind_from_true_deg: np.ndarray
    wind_ms: np.ndarray

    def segments(self, track: Track, tas_ms: float) -> tuple[Segment, ...]:
        """Give the pieces as records."""
        lengths, tracks = np.diff(track.piece_end_m), track.middle_track_deg
        columns = (lengths, tracks, self.ground_ms, self.wind_from_true_deg, self.wind_ms)
        return tuple(
            Segment(length, heading, float(tas_ms), ground, length / ground, source, wind)
            for length, heading, ground, source, wind in zip(*(c.tolist() for c in columns), strict=True)
        )


def uniform_speeds(track: Track, tas_ms: float, wind_from_true_deg: float, wind_ms: float) -> Speeds:
    """Give the speeds in a wind that is the same everywhere. Raises: NotFlyable, BadArgument."""
    at_nodes = ground_speed(track.node_track_deg, tas_ms, wind_from_true_deg, wind_ms)
    mean = 2.0 / ((1.0 / np.asarray(at_nodes)) @ WEIGHTS)
    return Speeds(mean, np.full(len(mean), float(wind_from_true_deg)), np.full(len(mean), float(wind_ms)))


def changing_speeds(track: Track, tas_ms: float, blow_ms: tuple[np.ndarray, np.ndarray]) -> Speeds:
    """Give the speeds in a wind given at the integration nodes: parts towards true east and north (k, 3) [m/s].

    Raises: NotFlyable, with the place, where the wind is unknown or too strong for the track.
    """
    east, north = blow_ms
    unknown = ~np.isfinite(east + north)
    if np.any(unknown):
        unknown_m = float(np.sum(np.diff(track.piece_end_m) * 0.5 * (unknown @ WEIGHTS)))
        raise NotFlyable(
            f"the wind is unknown over {max(0.1, unknown_m / 1000.0):.1f} km of the leg, first near "
            f"{_first_place(track, unknown)}. Fix: give a wind field that covers the route, without holes"
        )
    source, speed = map(np.asarray, wind_of(east, north))
    slowness = seconds_over(1.0, speed_on_track(track.node_track_deg, tas_ms, source, speed))
    stuck = ~np.isfinite(slowness)
    if np.any(stuck):
        at = np.unravel_index(np.argmax(stuck), stuck.shape)
        raise NotFlyable(
            f"a wind of {speed[at]:.1f} m/s from {source[at]:.0f} deg true near {_first_place(track, stuck)} "
            f"is too strong to make way along track {track.node_track_deg[at]:.0f} deg at {tas_ms:.1f} m/s true "
            "airspeed. Fix: check the wind's unit and direction, or wait for less wind"
        )
    mean = wind_of(0.5 * (east @ WEIGHTS), 0.5 * (north @ WEIGHTS))
    return Speeds(2.0 / (slowness @ WEIGHTS), *map(np.asarray, mean))


def _first_place(track: Track, nodes: np.ndarray) -> str:
    return track.words_at(float(track.node_distance_m[nodes].min()))
