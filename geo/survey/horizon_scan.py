"""The scan of the horizon from one point: slopes by direction, from terrain cells and from things with corners.

A thing counts in each direction whose surface its plan touches: half_m wide to each side at the point, diverging.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import chain

import numpy as np

from geo.records.survey import Sectors
from geo.survey.clearance import LEAST_SLOPE_DISTANCE_M, length_words

DIRECTIONS = 36
# Heights [m] of a climb straight up before leaving, for which slopes are kept. The last is about 100 ft, the height of
# tall trees: nobody is asked to climb further with a load in the hover (common practice, no source).
CLIMBS_M = (0.0, 15.0, 30.0)
# What lies further aside than ahead is abeam of the hover, where the rotor's clear circle counts: it is taken to stand
# at least this share of its distance ahead (the cosine of 45 degrees; our choice, no source).
ABEAM = float(np.sqrt(0.5))
# Kept slopes are rounded up to this many decimals.
SLOPE_DECIMALS = 4
# Cells that more directions than this to either side may see are looked at corner by corner in all directions.
FEW = 2
_STEP = 2.0 * np.pi / DIRECTIONS
_AHEAD = np.column_stack((np.sin(_STEP * np.arange(DIRECTIONS)), np.cos(_STEP * np.arange(DIRECTIONS))))


@dataclass(frozen=True, eq=False)
class Cells:
    """Terrain cells near a point: middles (n, 2) from the point and half sizes (2,) [m], rise above the water with the
    terrain's error (n,; NaN unknown), that error [m], and row and column where their land parts are to be asked for."""

    middle: np.ndarray
    half: np.ndarray
    rise_m: np.ndarray
    error_m: float
    place: tuple[np.ndarray, np.ndarray] | None = None

    def some(self, which: np.ndarray) -> "Cells":
        """Give some of the cells."""
        place = None if self.place is None else (self.place[0][which], self.place[1][which])
        return Cells(self.middle[which], self.half, self.rise_m[which], self.error_m, place)


@dataclass(frozen=True, eq=False)
class Things:
    """Things near a point: corners (p, 2) from the point [m], first corner of each (n,), rise above the water (NaN
    unknown) with its error, that error [m], and the number of each one's name."""

    corners: np.ndarray
    start: np.ndarray
    rise_m: np.ndarray
    error_m: float
    name: np.ndarray


def things_at(
    at: np.ndarray, corners: list[np.ndarray], rise_m: np.ndarray, error_m: float, name: np.ndarray
) -> Things:
    """Give things by the corners of each (k, 2) [m]; those without corners drop out."""
    counts = np.array([len(each) for each in corners], int)
    there = counts > 0
    if not there.any():
        return Things(np.empty((0, 2)), np.empty(0, int), np.empty(0), error_m, np.empty(0, int))
    start = np.concatenate(([0], np.cumsum(counts[there])[:-1]))
    return Things(np.concatenate(corners) - at, start, rise_m[there], error_m, name[there])


class Scan:
    """What was seen so far from one point: slopes by with or without error, climb and direction (2, climbs, n)."""

    def __init__(
        self, at: np.ndarray, half_m: float, divergence: float, look_m: float, names: list[str]
    ) -> None:
        self.at, self.half_m, self.divergence, self.look_m, self._names = (
            at,
            half_m,
            divergence,
            look_m,
            names,
        )
        self._slopes = np.zeros((2, len(CLIMBS_M), DIRECTIONS))
        self._ruling: list[tuple[int, float, float] | None] = [None] * DIRECTIONS
        self._unknown: list[dict[str, None]] = [{} for _ in range(DIRECTIONS)]

    def bar(self, why: Mapping[int, str]) -> None:
        """Take in that directions are unknown, with words on it."""
        for i, words in why.items():
            self._unknown[i][words] = None

    def look_at_cells(
        self, cells: Cells, corners_of: Callable[[np.ndarray, np.ndarray], list[np.ndarray]] | None
    ) -> None:
        """Take in terrain; corners_of gives the land parts of shore cells by row and column, None: whole cells.

        Notes: far cells are taken whole, in the few directions that can see them; near ones corner by corner.
        """
        if cells.rise_m.size == 0:
            return
        near_m = np.hypot(*np.maximum(np.abs(cells.middle) - cells.half, 0.0).T)
        wide_m = self.half_m + float(np.hypot(*cells.half))
        aside = np.arctan(self.divergence) + np.arcsin(np.minimum(wide_m / np.maximum(near_m, wide_m), 1.0))
        spread = np.minimum(np.ceil(aside / _STEP + 0.5), DIRECTIONS // 2).astype(int)
        unknown = np.isnan(cells.rise_m)
        if unknown.any():
            self._unknown_ground(cells.middle[unknown], near_m[unknown], spread[unknown])
        few = (spread <= FEW) & ~unknown & (corners_of is None)
        self._far(cells.some(np.flatnonzero(few)), near_m[few])
        some = cells.some(np.flatnonzero(~few & ~unknown))
        if corners_of is None:
            box = some.middle[:, None, :] + cells.half * np.array([(-1, -1), (-1, 1), (1, 1), (1, -1)])
            corners = list(box)
            at = np.zeros(2)
        else:
            assert some.place is not None
            corners, at = corners_of(*some.place), self.at
        self.look_at(things_at(at, corners, some.rise_m, cells.error_m, np.zeros(len(corners), int)))

    def _unknown_ground(self, middle: np.ndarray, near_m: np.ndarray, spread: np.ndarray) -> None:
        """Bar every direction that may see a cell of unknown height; the nearest one is told."""
        least = np.full(DIRECTIONS, np.inf)
        number = _numbers(middle)
        for k in range(-int(spread.max(initial=0)), int(spread.max(initial=0)) + 1):
            seen = np.abs(k) <= spread
            np.minimum.at(least, (number[seen] + k) % DIRECTIONS, near_m[seen])
        inside = np.flatnonzero(least < self.look_m)
        self.bar({int(i): f"no {self._names[0]} from {length_words(float(least[i]))} on" for i in inside})

    def _far(self, cells: Cells, near_m: np.ndarray) -> None:
        """Take in cells that only the nearest directions can see."""
        if near_m.size == 0:
            return
        number = _numbers(cells.middle)
        order = np.argsort(number, kind="stable")
        number, cells, near_m = number[order], cells.some(order), near_m[order]
        start = np.flatnonzero(np.diff(number, prepend=-1))
        for k in range(-FEW, FEW + 1):
            seen = (number + k) % DIRECTIONS
            east, north = _AHEAD[seen].T
            along = cells.middle[:, 0] * east + cells.middle[:, 1] * north
            across = np.abs(cells.middle[:, 0] * north - cells.middle[:, 1] * east)
            half_along = cells.half[0] * np.abs(east) + cells.half[1] * np.abs(north)
            half_across = cells.half[0] * np.abs(north) + cells.half[1] * np.abs(east)
            touches = self._touches(along - half_along, along + half_along, across - half_across)
            away_m = _counted(along - half_along, near_m)
            self._take(
                seen[start], start, np.where(touches, cells.rise_m, -np.inf), cells.error_m, away_m, near_m
            )

    def _touches(self, near: np.ndarray, far: np.ndarray, aside: np.ndarray) -> np.ndarray:
        reach = self.half_m + self.divergence * np.minimum(far, self.look_m)
        return (far > 0.0) & (near < self.look_m) & (aside < reach)

    def _take(
        self,
        seen: np.ndarray,
        start: np.ndarray,
        rise_m: np.ndarray,
        error_m: float,
        away_m: np.ndarray,
        near_m: np.ndarray,
    ) -> None:
        """Raise the slopes of the directions `seen`, one for each group of cells that begins at `start`."""
        before = self._slopes[0, 0, seen]
        for e, error in enumerate((0.0, error_m)):
            for c, climb in enumerate(CLIMBS_M):
                highest = np.maximum.reduceat((rise_m - error - climb) / away_m, start)
                self._slopes[e, c, seen] = np.maximum(self._slopes[e, c, seen], highest)
        ends = np.append(start[1:], len(rise_m))
        for i in np.flatnonzero(self._slopes[0, 0, seen] > before):
            at = start[i] + int((rise_m[start[i] : ends[i]] / away_m[start[i] : ends[i]]).argmax())
            self._ruling[int(seen[i])] = (0, float(away_m[at]), float(rise_m[at]))

    def look_at(self, things: Things) -> None:
        """Take in things in all directions, corner by corner."""
        if things.start.size == 0:
            return
        along = _AHEAD @ things.corners.T
        across = _AHEAD[:, ::-1] * (1.0, -1.0) @ things.corners.T
        near, far = (f.reduceat(along, things.start, axis=1) for f in (np.minimum, np.maximum))
        low, high = (f.reduceat(across, things.start, axis=1) for f in (np.minimum, np.maximum))
        touches = self._touches(near, far, np.maximum(low, -high))
        near_m = _nearest_m(things)
        unknown = np.isnan(things.rise_m)
        for i in np.flatnonzero(touches[:, unknown].any(axis=1)):
            row = touches[i, unknown]
            self._unknown_things(int(i), things.name[unknown][row], near_m[unknown][row])
        rise = np.where(touches & ~unknown, np.nan_to_num(things.rise_m), -np.inf)
        away_m, before = _counted(near, near_m), self._slopes[0, 0].copy()
        for e, error in enumerate((0.0, things.error_m)):
            for c, climb in enumerate(CLIMBS_M):
                highest = ((rise - error - climb) / away_m).max(axis=1)
                self._slopes[e, c] = np.maximum(self._slopes[e, c], highest)
        for i in np.flatnonzero(self._slopes[0, 0] > before):
            at = int((rise[i] / away_m[i]).argmax())
            self._ruling[i] = (int(things.name[at]), float(away_m[i, at]), float(rise[i, at]))

    def _unknown_things(self, direction: int, name: np.ndarray, near_m: np.ndarray) -> None:
        """Bar a direction by things of unknown height, each name once, at its nearest."""
        for number in np.unique(name):
            away = length_words(float(near_m[name == number].min()))
            self.bar({direction: f"{self._names[number]} (height unknown) {away} away"})

    def _words(self, name: int, away_m: float, rise_m: float) -> str:
        return f"{self._names[name]} {length_words(away_m)} away, {rise_m:.0f} m above the water"

    def result(self) -> Sectors:
        """Give what was seen as a record."""
        rules = [None if one is None else self._words(*one) for one in self._ruling]
        words = list(dict.fromkeys([*filter(None, rules), *chain.from_iterable(self._unknown)]))
        number = {word: i for i, word in enumerate(words)}
        scale = 10.0**SLOPE_DECIMALS
        kept = (np.maximum(np.ceil(self._slopes * scale - 1e-6), 0.0) / scale).round(SLOPE_DECIMALS).tolist()
        slopes, without = (tuple(tuple(row) for row in rows) for rows in kept)
        ruling = tuple(None if word is None else number[word] for word in rules)
        unknown = tuple(tuple(number[word] for word in each) for each in self._unknown)
        width = self.half_m, self.divergence, self.look_m
        return Sectors(CLIMBS_M, slopes, without, ruling, unknown, tuple(words), *width)


def _numbers(middle: np.ndarray) -> np.ndarray:
    """Give the number of the direction nearest to each position (n, 2)."""
    return np.rint(np.arctan2(middle[:, 0], middle[:, 1]) / _STEP).astype(int) % DIRECTIONS


def _counted(near_m: np.ndarray, nearest_m: np.ndarray) -> np.ndarray:
    """Give how far ahead things count [m], from where they begin ahead and their distance in plan."""
    return np.maximum(np.maximum(near_m, ABEAM * nearest_m), LEAST_SLOPE_DISTANCE_M)


def _nearest_m(things: Things) -> np.ndarray:
    """Give the distance [m] of each thing from the point, by its corners and the edges between them."""
    points, start = things.corners, things.start
    away = np.hypot(*points.T)
    if len(points) > 1:
        way = np.diff(points, axis=0)
        share = np.clip(-(points[:-1] * way).sum(axis=1) / np.maximum((way**2).sum(axis=1), 1e-12), 0.0, 1.0)
        edge = np.hypot(*(points[:-1] + share[:, None] * way).T)
        edge[start[1:] - 1] = np.inf
        away[:-1] = np.minimum(away[:-1], edge)
    return np.minimum.reduceat(away, start)
