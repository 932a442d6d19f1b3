"""Flown legs in another wind: their pieces timed anew, for many winds and sources at once."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geo.records.flight import Leg, Segment
from geo.records.ranking import Cycle

# Samples timed at once in a changing wind, where legs have many pieces: bounds the memory.
AT_ONCE = 50


@dataclass(frozen=True)
class WindLimits:
    """The winds [m/s] that a fill bears; the heading [deg true] is that of the run, None for a hover."""

    wind_ms: float
    run_heading_true_deg: float | None = None
    crosswind_ms: float | None = None
    tailwind_ms: float | None = None


def times_s(
    distance_m: np.ndarray,
    track_deg: np.ndarray,
    tas_ms: np.ndarray,
    wind_from_deg: np.ndarray,
    wind_ms: np.ndarray,
) -> np.ndarray:
    """Give the times [s] of k straight pieces in n winds, shape (n, k); inf where a piece makes no way.

    Parameters: pieces (k,) [m, deg, m/s]; winds (n,) [deg from, m/s], against the same north.
    Notes: s = (W/V) sin(wd - tc), GS = V sqrt(1 - s^2) - W cos(wd - tc), the wind triangle's law of sines.
    """
    angle = np.radians(wind_from_deg[:, None] - track_deg[None, :])
    sine = wind_ms[:, None] / tas_ms[None, :] * np.sin(angle)
    along = tas_ms * np.sqrt(np.clip(1.0 - sine**2, 0.0, None)) - wind_ms[:, None] * np.cos(angle)
    flyable = (np.abs(sine) <= 1.0) & (along > 0.0)
    return np.where(flyable, distance_m / np.where(flyable, along, 1.0), np.inf)


class Retimer:
    """The cycles of m sources as arrays, so that n samples cost one pass of numpy.

    Parameters: asked, the wind [deg true FROM, m/s] of the ranking. A leg's piece that was flown in another wind (winds
    aloft, a field) keeps its difference from it in every sample: the changing wind shifts as a whole.
    """

    def __init__(
        self,
        cycles: Sequence[Cycle],
        limits: Sequence[WindLimits],
        asked: tuple[float, float] | None = None,
    ) -> None:
        self.litres = np.array([c.litres for c in cycles])
        self.fill_s = np.array([c.fill_s for c in cycles])
        self.source_s = np.array([c.manoeuvre_source_s for c in cycles])
        self.fire_s = np.array([c.manoeuvre_fire_s for c in cycles])
        legs = [(c.loaded_leg, c.empty_leg) for c in cycles]
        self.kept_s = np.array(
            [c.drop_s + _kept_s(o) + _kept_s(b) for c, (o, b) in zip(cycles, legs, strict=True)]
        )
        pieces = [_pieces(out) + _pieces(back) for out, back in legs]
        self._owner = np.repeat(np.arange(len(cycles)), [len(one) for one in pieces])
        self._pieces = np.array([piece for one in pieces for piece in one], dtype=float).reshape(-1, 3).T
        self._limits = tuple(limits)
        segments = [s for out, back in legs for leg in (out, back) for s in leg.segments]
        self._apart = None if asked is None else _apart(segments, asked)

    def flight_s(self, wind_from_deg: np.ndarray, wind_ms: np.ndarray) -> np.ndarray:
        """Give the time over the pieces of both legs [s], (n, m), in n winds."""
        total = np.zeros((len(wind_ms), len(self.litres)))
        if self._apart is None:
            np.add.at(total.T, self._owner, times_s(*self._pieces, wind_from_deg, wind_ms).T)
            return total
        for first in range(0, len(wind_ms), AT_ONCE):
            some = slice(first, first + AT_ONCE)
            each = _times_apart_s(self._pieces, self._apart, wind_from_deg[some], wind_ms[some])
            np.add.at(total[some].T, self._owner, each.T)
        return total

    def borne(self, wind_from_deg: np.ndarray, wind_ms: np.ndarray) -> np.ndarray:
        """Give which fills bear which winds, (n, m)."""
        columns = [_bears(limit, wind_from_deg, wind_ms) for limit in self._limits]
        return np.stack(columns, axis=1) if columns else np.zeros((len(wind_ms), 0), dtype=bool)

    def rates(
        self,
        wind_from_deg: np.ndarray,
        wind_ms: np.ndarray,
        fill_factor: np.ndarray | float = 1.0,
        source_factor: np.ndarray | float = 1.0,
        fire_factor: np.ndarray | None = None,
    ) -> np.ndarray:
        """Give litres per hour (n, m); 0 where a leg cannot be flown or the wind passes a limit of the fill.

        Parameters: winds (n,); factors on fill and manoeuvre at the source (n, m), on manoeuvre at the fire (n,).
        """
        fire = 1.0 if fire_factor is None else fire_factor[:, None]
        trip_s = self.fill_s * fill_factor + self.source_s * source_factor + self.fire_s * fire + self.kept_s
        trip_s = trip_s + self.flight_s(wind_from_deg, wind_ms)
        return np.where(self.borne(wind_from_deg, wind_ms), 3600.0 * self.litres / trip_s, 0.0)


def _blow_ms(from_deg: np.ndarray, wind_ms: np.ndarray) -> np.ndarray:
    """Give where winds blow to: parts towards east and north, (2, n)."""
    angle = np.radians(from_deg)
    return -wind_ms * np.stack((np.sin(angle), np.cos(angle)))


def _apart(segments: Sequence[Segment], asked: tuple[float, float]) -> np.ndarray | None:
    """Give by how much the wind of each piece differs from that asked with, (2, k) [m/s]; None where none does."""
    winds = [asked if s.wind_ms is None else (s.wind_from_true_deg, s.wind_ms) for s in segments]
    if all(wind == asked for wind in winds):
        return None
    source, speed = np.array(winds, dtype=float).T
    return _blow_ms(source, speed) - _blow_ms(*(np.array([value]) for value in asked))


def _times_apart_s(
    pieces: np.ndarray, apart_ms: np.ndarray, wind_from_deg: np.ndarray, wind_ms: np.ndarray
) -> np.ndarray:
    """Give the times [s] of k pieces in n winds (n, k), each piece's wind apart by its own vector (2, k)."""
    distance_m, track_deg, tas_ms = pieces
    east, north = _blow_ms(wind_from_deg, wind_ms)[:, :, None] + apart_ms[:, None, :]
    sine, cosine = np.sin(np.radians(track_deg)), np.cos(np.radians(track_deg))
    left = tas_ms**2 - (east * cosine - north * sine) ** 2
    ground_ms = east * sine + north * cosine + np.sqrt(np.clip(left, 0.0, None))
    flyable = (left >= 0.0) & (ground_ms > 0.0)
    return np.where(flyable, distance_m / np.where(flyable, ground_ms, 1.0), np.inf)


def _kept_s(leg: Leg) -> float:
    return leg.climb_extra_s + leg.descent_extra_s


def _pieces(leg: Leg) -> list[tuple[float, float, float]]:
    return [_piece(segment) for segment in leg.segments]


def _piece(segment: Segment) -> tuple[float, float, float]:
    return segment.distance_m, segment.track_true_deg, segment.true_airspeed_ms


def _bears(limit: WindLimits, wind_from_deg: np.ndarray, wind_ms: np.ndarray) -> np.ndarray:
    held = wind_ms <= limit.wind_ms + 1e-9
    if limit.run_heading_true_deg is None:
        return held
    angle = np.radians(wind_from_deg - limit.run_heading_true_deg)
    if limit.crosswind_ms is not None:
        held &= np.abs(wind_ms * np.sin(angle)) <= limit.crosswind_ms + 1e-9
    if limit.tailwind_ms is not None:
        held &= -wind_ms * np.cos(angle) <= limit.tailwind_ms + 1e-9
    return held
