"""Flown legs in another wind: their pieces timed anew, for many winds and sources at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from geo.base.wind import blow_of, seconds_over, speed_on_track, speed_towards
from geo.ranking.extras.sampled_loads import LoadsOfTanks
from geo.records.aircraft import AircraftProfile
from geo.records.flight import Segment
from geo.records.ranking import Cycle, RankedSource

# Samples timed at once in a changing wind, where legs have many pieces: bounds the memory.
AT_ONCE = 50
# A wind that was asked for at a limit must not pass it by rounding.
_ROUNDING_MS = 1e-9


@dataclass(frozen=True)
class WindLimits:
    """The winds [m/s] that a fill bears; the heading [deg true] is that of the run, None for a hover."""

    wind_ms: float
    run_heading_true_deg: float | None = None
    crosswind_ms: float | None = None
    tailwind_ms: float | None = None

    def scaled(self, factor: float) -> "WindLimits":
        """Give the limits of a mean wind whose gusts are 1 / factor of it."""
        parts = (None if one is None else one * factor for one in (self.crosswind_ms, self.tailwind_ms))
        return WindLimits(self.wind_ms * factor, self.run_heading_true_deg, *parts)

    def bears(self, wind_from_deg: np.ndarray, wind_ms: np.ndarray) -> np.ndarray:
        """Give which winds (n,) the fill bears.

        Notes: the same limits as the wind criteria of `geo.suitability`, there for one wind and here for many. A wind
        at its limit is borne.
        """
        borne = wind_ms <= self.wind_ms + _ROUNDING_MS
        if self.run_heading_true_deg is None:
            return borne
        angle = np.radians(wind_from_deg - self.run_heading_true_deg)
        if self.crosswind_ms is not None:
            borne &= np.abs(wind_ms * np.sin(angle)) <= self.crosswind_ms + _ROUNDING_MS
        if self.tailwind_ms is not None:
            borne &= -wind_ms * np.cos(angle) <= self.tailwind_ms + _ROUNDING_MS
        return borne


def times_s(
    distance_m: np.ndarray,
    track_deg: np.ndarray,
    tas_ms: np.ndarray,
    wind_from_deg: np.ndarray,
    wind_ms: np.ndarray,
) -> np.ndarray:
    """Give the times [s] of k straight pieces in n winds, shape (n, k); inf where a piece makes no way.

    Parameters: pieces (k,) [m, deg, m/s]; winds (n,) [deg from, m/s], against the same north.
    """
    speeds = speed_on_track(track_deg[None, :], tas_ms[None, :], wind_from_deg[:, None], wind_ms[:, None])
    return seconds_over(distance_m, speeds)


class Factors(NamedTuple):
    """Factors on the stated figures, each a number or one per sample (n,), of fill and source also (n, m).

    fill, source, fire: times of the fill, and of the manoeuvres at the source and at the fire; lift: the whole weight
    that can be lifted; burn, climb, cruise: of the aircraft.
    """

    fill: np.ndarray | float = 1.0
    source: np.ndarray | float = 1.0
    fire: np.ndarray | float = 1.0
    lift: np.ndarray | float = 1.0
    burn: np.ndarray | float = 1.0
    climb: np.ndarray | float = 1.0
    cruise: np.ndarray | float = 1.0


class Retimer:
    """The round trips and fuel plans of m sources as arrays, so that n samples cost one pass of numpy.

    Parameters: profile, the aircraft that flew them; asked, the wind [deg true FROM, m/s] of the ranking. A leg's piece
    that was flown in another wind (winds aloft, a field) keeps its difference from it in every sample: the changing
    wind shifts as a whole. The transits stay as flown.
    """

    def __init__(
        self,
        sources: Sequence[RankedSource],
        limits: Sequence[WindLimits],
        profile: AircraftProfile,
        asked: tuple[float, float] | None = None,
    ) -> None:
        cycles = [one.cycle for one in sources]
        times = [(c.fill_s, c.manoeuvre_source_s, c.manoeuvre_fire_s, c.drop_s, _climbs_s(c)) for c in cycles]
        columns = np.array(times, dtype=float).reshape(-1, 5).T
        self.fill_s, self.source_s, self.fire_s, self._drop_s, self._climbs_s = columns
        legs = np.array([(c.loaded_leg.time_s, c.empty_leg.time_s) for c in cycles]).reshape(-1, 2)
        self._back = legs[:, 1] / np.maximum(legs.sum(axis=1), 1e-9)
        self.loads = LoadsOfTanks(sources, profile)
        pieces = [[*c.loaded_leg.segments, *c.empty_leg.segments] for c in cycles]
        self._owner = np.repeat(np.arange(len(cycles)), [len(one) for one in pieces])
        segments = [segment for one in pieces for segment in one]
        # Distance [m], true track [deg] and airspeed [m/s] of the pieces, (3, k).
        rows = [(one.distance_m, one.track_true_deg, one.true_airspeed_ms) for one in segments]
        self._pieces = np.array(rows, dtype=float).reshape(-1, 3).T
        self._limits = tuple(limits)
        self._apart = None if asked is None else _apart(segments, asked)

    def flight_s(self, wind_from_deg: np.ndarray, wind_ms: np.ndarray) -> np.ndarray:
        """Give the time over the pieces of both legs [s], (n, m), in n winds."""
        total = np.zeros((len(wind_ms), len(self.fill_s)))
        if self._apart is None:
            distance_m, track_deg, tas_ms = self._pieces
            each = times_s(distance_m, track_deg, tas_ms, wind_from_deg, wind_ms)
            np.add.at(total.T, self._owner, each.T)
            return total
        for first in range(0, len(wind_ms), AT_ONCE):
            some = slice(first, first + AT_ONCE)
            each = _times_apart_s(self._pieces, self._apart, wind_from_deg[some], wind_ms[some])
            np.add.at(total[some].T, self._owner, each.T)
        return total

    def borne(self, wind_from_deg: np.ndarray, wind_ms: np.ndarray) -> np.ndarray:
        """Give which fills bear which winds, (n, m)."""
        columns = [limit.bears(wind_from_deg, wind_ms) for limit in self._limits]
        return np.stack(columns, axis=1) if columns else np.zeros((len(wind_ms), 0), dtype=bool)

    def rates(
        self, wind_from_deg: np.ndarray, wind_ms: np.ndarray, factors: Factors | None = None
    ) -> np.ndarray:
        """Give sustained litres per hour (n, m); 0 where a leg cannot be flown or the wind passes a limit of the fill.

        Parameters: winds (n,); factors on the times and on the aircraft's figures.
        Notes: the time of level flight goes with 1 / cruise, that of climb and descent with 1 / climb.
        """
        by = factors if factors is not None else Factors()
        legs_s = self.flight_s(wind_from_deg, wind_ms) / _column(by.cruise)
        legs_s = legs_s + self._climbs_s / _column(by.climb)
        at_fire_s = self.fire_s * _column(by.fire)
        rest_s = self.source_s * by.source + at_fire_s + self._drop_s + legs_s
        after_drop_s = at_fire_s + self._back * legs_s
        rates = self.loads.sustained(rest_s, after_drop_s, by.fill, _column(by.lift), _column(by.burn))
        return np.where(self.borne(wind_from_deg, wind_ms), rates, 0.0)


def _column(factor: np.ndarray | float) -> np.ndarray:
    return np.reshape(factor, (-1, 1))


def _apart(segments: Sequence[Segment], asked: tuple[float, float]) -> np.ndarray | None:
    """Give by how much the wind of each piece differs from that asked with, (2, k) [m/s]; None where none does."""
    winds = [asked if s.wind_ms is None else (s.wind_from_true_deg, s.wind_ms) for s in segments]
    if all(wind == asked for wind in winds):
        return None
    source, speed = np.array(winds, dtype=float).T
    return np.array(blow_of(source, speed)) - np.array(blow_of(*asked))[:, None]


def _times_apart_s(
    pieces: np.ndarray, apart_ms: np.ndarray, wind_from_deg: np.ndarray, wind_ms: np.ndarray
) -> np.ndarray:
    """Give the times [s] of k pieces in n winds (n, k), each piece's wind apart by its own vector (2, k)."""
    distance_m, track_deg, tas_ms = pieces
    east, north = np.array(blow_of(wind_from_deg, wind_ms))[:, :, None] + apart_ms[:, None, :]
    track = np.radians(track_deg)
    return seconds_over(distance_m, speed_towards(np.sin(track), np.cos(track), tas_ms, east, north))


def _climbs_s(cycle: Cycle) -> float:
    """Give the time of climb, descent and turns of both legs [s], which no wind changes here."""
    return cycle.loaded_leg.extra_s + cycle.empty_leg.extra_s
