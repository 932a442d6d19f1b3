"""The runs that are worth judging: pieces of chords, cut to sure depth and clear ends, clearly different ones kept.

The survey knows no aircraft. So it keeps the best pieces for several least depths: who needs 1 m finds long ones, who
needs 3 m finds those that are surely deep.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from geo.records.survey import SurveySettings
from geo.survey.usable.chord import Chord
from geo.survey.usable.deep_water import DEPTHS_M, DeepWater

STATION_M = 25.0
MOST_STATIONS = 400
# Two runs are clearly different with middles this share of the cap apart, or headings this far apart.
APART_SHARE = 0.5
APART_DEG = 30.0
# A piece shorter than this share of a chosen one beside it, and no deeper, adds nothing.
LONGER_SHARE = 0.95
# Lengths within one grade [m] count as alike.
LENGTH_GRADE_M = 50.0
# So many pieces are kept where none is clear or none surely deep.
FEW = 3
CLEAR, UNKNOWN, BLOCKED = 0, 1, 2


@dataclass(frozen=True, eq=False)
class Piece:
    """A piece of a chord. state: CLEAR both ends are clear for sure in a direction, UNKNOWN they may be, BLOCKED."""

    line: shapely.LineString
    chord: Chord
    low_m: float
    high_m: float
    sure_depth_m: float
    state: int

    @property
    def length_m(self) -> float:
        """Length [m]."""
        return self.high_m - self.low_m

    def middle(self) -> np.ndarray:
        """Middle (2,) [m]."""
        return self.chord.axis.start + 0.5 * (self.low_m + self.high_m) * self.chord.axis.direction


def pieces_of(found: Chord, deep: DeepWater, settings: SurveySettings) -> list[Piece]:
    """Give the pieces of one chord: for each depth the longest ones up to the cap, and those at any depth."""
    length_m = found.axis.length_m
    count = int(min(max(np.ceil(length_m / STATION_M), 1), MOST_STATIONS)) + 1
    station = np.linspace(0.0, length_m, count)
    xy = found.axis.start + station[:, None] * found.axis.direction
    sure = deep.sure_m(xy[:, 0], xy[:, 1])
    stretches = [(0.0, length_m)]
    for depth_m in DEPTHS_M:
        stretches += _stretches(station, sure >= depth_m)
    ends = dict.fromkeys(w for s in dict.fromkeys(stretches) for w in _windows(found, *s, settings))
    return [_piece(found, low, high, state, station, sure) for low, high, state in ends]


def _stretches(station: np.ndarray, good: np.ndarray) -> list[tuple[float, float]]:
    """Give the stretches between the first and last good station of every unbroken row of them."""
    edge = np.diff(np.concatenate(([0], good.astype(int), [0])))
    first, last = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1) - 1
    return [(float(station[a]), float(station[b])) for a, b in zip(first, last, strict=True) if b > a]


def _windows(
    found: Chord, from_m: float, to_m: float, settings: SurveySettings
) -> Iterable[tuple[float, float, int]]:
    """Give low and high end [m] and state of the windows of a stretch, no longer than the cap, with good ends."""
    cap_m, least_m = settings.useful_cap_m, min(settings.least_useful_m, found.axis.length_m)
    if to_m - from_m < least_m:
        return
    if to_m - from_m <= cap_m:
        starts = np.array([from_m])
    else:
        count = int(np.ceil((to_m - from_m - cap_m) / (0.25 * cap_m))) + 1
        starts = np.linspace(from_m, to_m - cap_m, min(count, MOST_STATIONS))
    directions = (True,) if found.same_both_ways else (True, False)
    for start in starts:
        end = min(float(start) + cap_m, to_m)
        for ahead in directions:
            for sure, state in ((True, CLEAR), (False, UNKNOWN)):
                best = found.longest(ahead, sure, float(start), end)
                if best is not None and best[1] - best[0] >= least_m:
                    yield (*_shifted(found, ahead, sure, best, from_m, to_m, cap_m), state)
                    break
            else:
                yield from _between_obstacles(found, float(start), end, least_m)


def _shifted(
    found: Chord, ahead: bool, sure: bool, best: tuple[float, float], from_m: float, to_m: float, cap_m: float
) -> tuple[float, float]:
    """Lengthen a window that its ends cut short, to the cap, where the stretch goes on."""
    low, high = best
    if high - low >= cap_m - 1.0:
        return best
    longer = [best]
    for a, b in ((low, min(low + cap_m, to_m)), (max(high - cap_m, from_m), high)):
        other = found.longest(ahead, sure, a, b)
        if other is not None:
            longer.append(other)
    return max(longer, key=lambda ends: ends[1] - ends[0])


def _between_obstacles(
    found: Chord, from_m: float, to_m: float, least_m: float
) -> Iterable[tuple[float, float, int]]:
    for start, end in found.gaps:
        low, high = max(start, from_m), min(end, to_m)
        if high - low >= least_m:
            yield low, high, BLOCKED


def _piece(
    found: Chord, low_m: float, high_m: float, state: int, station: np.ndarray, sure: np.ndarray
) -> Piece:
    a = max(int(np.searchsorted(station, low_m, side="right")) - 1, 0)
    b = int(np.searchsorted(station, high_m, side="left"))
    part = sure[a : b + 1]
    depth = float(part.min()) if part.size and not np.isnan(part).any() else 0.0
    return Piece(found.piece(low_m, high_m), found, low_m, high_m, depth, state)


def chosen_pieces(pieces: Sequence[Piece], count: int, settings: SurveySettings) -> list[Piece]:
    """Give at most count pieces, in turn the best for each depth, clearly different from the ones already chosen.

    Notes: best is clear before unknown, then longer (up to the cap), then furthest from the ones already chosen. For
    one depth a piece is left out when a chosen one lies beside it (same place, same heading) that is as clear, as
    deep as that depth asks and at least 95 % as long. Pieces without a clear end, and pieces of no sure depth, are of
    use to nobody; a few are kept only where there is nothing better, so that reasons can be given with figures.
    """
    if not pieces:
        return []
    table = _Table(pieces, settings)
    chosen: list[int] = []
    open_depths = list(DEPTHS_M)
    while open_depths and len(chosen) < count:
        for depth_m in list(open_depths):
            found = table.best(depth_m, chosen)
            if found is None:
                open_depths.remove(depth_m)
            elif len(chosen) < count:
                chosen.append(found)
    known = any(p.sure_depth_m > 0.0 for p in pieces)
    while len(chosen) < (FEW if known else count):
        found = table.best(-np.inf, chosen)
        if found is None:
            break
        chosen.append(found)
    return sorted((pieces[i] for i in chosen), key=lambda p: (p.state, -round(p.length_m), -p.sure_depth_m))


class _Table:
    """Pieces as arrays, for choosing among many."""

    def __init__(self, pieces: Sequence[Piece], settings: SurveySettings) -> None:
        self.cap_m = settings.useful_cap_m
        self.middle = np.array([p.middle() for p in pieces])
        self.axis_deg = np.array([_axis_deg(p) for p in pieces])
        self.state = np.array([p.state for p in pieces])
        self.length_m = np.array([p.length_m for p in pieces])
        self.depth_m = np.array([p.sure_depth_m for p in pieces])
        self.offered = self.state < BLOCKED
        if not self.offered.any():
            # The longest ones only: they carry the reason.
            self.offered = self.length_m >= np.sort(self.length_m)[-min(FEW, len(pieces))]

    def best(self, depth_m: float, chosen: list[int]) -> int | None:
        """Give the best piece for a depth that no chosen one makes needless, or None."""
        left = self.offered & (self.depth_m >= depth_m)
        away = np.full(len(left), np.inf)
        for i in chosen:
            apart = np.hypot(*(self.middle - self.middle[i]).T)
            turn = np.abs(self.axis_deg - self.axis_deg[i])
            beside = (apart < APART_SHARE * self.cap_m) & (np.minimum(turn, 180.0 - turn) < APART_DEG)
            as_deep = self.depth_m[i] >= np.minimum(depth_m, self.depth_m)
            as_long = self.length_m[i] >= LONGER_SHARE * self.length_m
            left &= ~(beside & as_deep & as_long & (self.state[i] <= self.state))
            left[i] = False
            away = np.minimum(away, apart)
        at = np.flatnonzero(left)
        if at.size == 0:
            return None
        grade = np.round(self.length_m[at] / LENGTH_GRADE_M)
        far = np.minimum(away[at], 1e9)
        return int(at[np.lexsort((-self.depth_m[at], -far, -grade, self.state[at]))[0]])


def _axis_deg(piece: Piece) -> float:
    east, north = piece.chord.axis.direction
    return float(np.degrees(np.arctan2(east, north)) % 180.0)
