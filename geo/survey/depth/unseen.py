"""What the soundings cannot see counts: the chance that nothing unseen stands too high, and the least depth with it.

Features are a marked Poisson process whose rate has a gamma law. With A the area or length of the strip in which a
feature would not have been seen, each place weighed with the share p of features that are tall enough to matter there,
P(none) = (b / (b + A p))^a. It multiplies the chance that the bed itself is deep enough.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from scipy.spatial import cKDTree

from geo.records.region import WaterKind
from geo.records.survey import DEPTH_PROBABILITIES
from geo.survey.depth.corridor import CORRIDOR_RUNGS_M, DISC_RUNGS_M, Disc, Strip
from geo.survey.depth.features import FEATURES, Feature
from geo.survey.depth.looked import Looked, Places

# Pieces of a strip along it: enough to tell what share of it soundings and swaths reach.
STATION_M, MOST_STATIONS = 10.0, 40
# Depths that a table is worked out at: its own, and so many above, crowded towards it and down to this far off [m].
DEPTHS, DEPTHS_REACH_M, HAIR_M = 24, 60.0, 1e-6
# Depth that the words speak of, and the loss of probability from which a feature is named (our choice, no source).
WORDS_DEPTH_M, LEAST_LOSS = 2.0, 0.01
SECTORS = 12
# Draws of the bed's depth that how near it is to the surface is averaged over: a mean needs fewer than a least.
BED_DRAWS = 40


@dataclass(frozen=True, eq=False)
class Cells:
    """The pieces of a strip or circle: places (k, 2) [m], areas [m2] and lengths along the run [m] (k,)."""

    xy: np.ndarray
    area_m2: np.ndarray
    length_m: np.ndarray


def cells_of(area: Strip | Disc) -> Cells:
    """Give the pieces of a strip or circle; those of a narrower one are pieces of a wider one."""
    if isinstance(area, Disc):
        return _disc_cells(area)
    half = 0.5 * area.width_m
    inner, outer = _edges(np.concatenate(([5.0], CORRIDOR_RUNGS_M)), half)
    count = int(np.clip(np.ceil(area.line.length / STATION_M), 2, MOST_STATIONS))
    along = (np.arange(count) + 0.5) * area.line.length / count
    middle = shapely.get_coordinates(shapely.line_interpolate_point(area.line, along))
    ends = area.xy
    legs = np.diff(ends, axis=0)
    starts = np.concatenate(([0.0], np.cumsum(np.hypot(legs[:, 0], legs[:, 1]))))
    leg = np.clip(np.searchsorted(starts, along, side="right") - 1, 0, len(legs) - 1)
    unit = legs[leg] / np.hypot(legs[leg, 0], legs[leg, 1])[:, None]
    normal = np.column_stack((unit[:, 1], -unit[:, 0]))
    offset, across = 0.5 * (inner + outer), outer - inner
    sides, widths = np.concatenate((offset, -offset)), np.concatenate((across, across))
    xy = (middle[None] + sides[:, None, None] * normal[None]).reshape(-1, 2)
    step = area.line.length / count
    share = widths / max(widths.sum(), 1e-9)
    return Cells(xy, np.repeat(widths * step, count), np.repeat(share * step, count))


def _edges(rungs_m: np.ndarray, half_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Inner and outer edge of each piece from the middle to half_m; a line alone is taken as 2 m wide."""
    half = max(half_m, 1.0)
    edges = np.concatenate(([0.0], np.sort(rungs_m[rungs_m < half - 1e-6]), [half]))
    return edges[:-1], edges[1:]


def _disc_cells(area: Disc) -> Cells:
    inner, outer = _edges(DISC_RUNGS_M, area.radius_m)
    turn = np.arange(SECTORS) * (2.0 * np.pi / SECTORS)
    radius = np.repeat(0.5 * (inner + outer), SECTORS)
    turns = np.tile(turn, len(inner))
    xy = np.column_stack((area.point.x + radius * np.sin(turns), area.point.y + radius * np.cos(turns)))
    square = np.repeat(np.pi * (outer**2 - inner**2) / SECTORS, SECTORS)
    return Cells(xy, square, square / (2.0 * outer.max()))


@dataclass(frozen=True, eq=False)
class BedDepths:
    """Likely depths [m] of a bed, (k, draws), at k places (k, 2); one row and no places: the same law everywhere."""

    depth_m: np.ndarray
    xy: np.ndarray | None = None

    def closeness(self, xy: np.ndarray, height_m: float) -> np.ndarray:
        """Give log E exp(-depth / height_m) at places (n, 2): how nearly features of that height reach the surface."""
        depth_m = self.depth_m[:, :: max(self.depth_m.shape[1] // BED_DRAWS, 1)]
        least = depth_m.min(axis=1)
        above = np.exp(-(depth_m - least[:, None]) / height_m).mean(axis=1)
        found = np.log(above) - least / height_m
        if self.xy is None:
            return np.full(len(xy), found[0])
        return found[np.asarray(cKDTree(self.xy).query(xy)[1])]


@dataclass(frozen=True, eq=False)
class Unseen:
    """What may stand unseen in one strip or circle."""

    area: Strip | Disc
    looked: Looked
    kind: WaterKind
    bed: BedDepths
    level_m: float = 0.0
    finds: tuple[int, Sequence[tuple[float, float]]] = (0, ())

    @cached_property
    def _cells(self) -> Cells:
        return cells_of(self.area)

    @cached_property
    def _places(self) -> Places:
        return self.looked.at(self._cells.xy)

    def expected(self, feature: Feature, depth_m: np.ndarray) -> np.ndarray:
        """Give A p: area [m2] or length [m] unseen, weighed with the share of features that reach above depths (t,)."""
        seen, cells = self._places, self._cells
        open_ = seen.gap_m > 0.5 * feature.width_m
        if feature.line:
            open_ &= ~seen.crossed
        amount = (cells.length_m if feature.line else cells.area_m2)[open_]
        if not len(amount):
            return np.zeros(len(depth_m))
        close = self.bed.closeness(cells.xy[open_], feature.height_m)
        tall = np.exp(np.minimum(depth_m[:, None] / feature.height_m + close, 0.0))
        tall = np.maximum(tall - np.exp(-seen.found_m[open_] / feature.height_m), 0.0)
        tall[depth_m[:, None] <= seen.swept_m[open_] + self.level_m] = 0.0
        return tall @ amount

    def chance(self, feature: Feature, depth_m: np.ndarray) -> np.ndarray:
        """Give the chance that no unseen feature of one kind reaches above depths (t,) [m, today]."""
        shape, rate = feature.shape, feature.shape * feature.each
        if not feature.line:
            shape += self.finds[0]
            rate += sum(area * np.exp(-size / feature.height_m) for area, size in self.finds[1])
        return (rate / (rate + self.expected(feature, depth_m))) ** shape

    def none(self, depth_m: np.ndarray) -> np.ndarray:
        """Give the chance that nothing unseen reaches above depths (t,) [m, today]; it never rises with depth."""
        chance = np.ones(len(depth_m))
        for feature in FEATURES[self.kind]:
            chance *= self.chance(feature, depth_m)
        return chance

    def table(self, quantiles_m: tuple[float, ...]) -> tuple[float, ...]:
        """Give quantiles of the least depth at DEPTH_PROBABILITIES with unseen features, from those of the bed [m]."""
        known = np.array(quantiles_m)
        above = known[0] - DEPTHS_REACH_M * np.linspace(1.0, 0.0, DEPTHS, endpoint=False) ** 2
        # A hair above each of its depths too: where many are equal the table is a step.
        depth = np.concatenate(([max(above[0], 0.0)], above[above > 0.0], known - HAIR_M, known))
        depth = np.unique(np.maximum(depth, 0.0))
        none = self.none(depth)
        if none[-1] == 1.0:
            return quantiles_m
        deep = 1.0 - np.interp(depth, known, DEPTH_PROBABILITIES, left=0.0)
        below = np.maximum.accumulate(1.0 - deep * none)
        found = np.interp(DEPTH_PROBABILITIES, below, depth)
        # Never above the bed's own, where the lines between the depths would be.
        return tuple(float(q) for q in np.minimum(found, known))

    def words(self) -> str:
        """Say what would not have been seen, and by what; "" where that takes nothing off."""
        at = np.array([WORDS_DEPTH_M])
        lost = {one.words: 1.0 - float(self.chance(one, at)[0]) for one in FEATURES[self.kind]}
        named = [
            words for words, loss in sorted(lost.items(), key=lambda item: -item[1]) if loss >= LEAST_LOSS
        ]
        return f"{self._by()} would not see {' or '.join(named[:2])}" if named else ""

    def _by(self) -> str:
        if not self.looked.sounded:
            return "evidence that does not say how the bed was searched"
        closest = min(self.looked.sounded, key=lambda one: one.between_m)
        if not np.isfinite(closest.between_m):
            return "soundings in a line"
        size_m = closest.search.feature_m
        if size_m is not None and not np.isinf(self._places.found_m).any():
            return f"a search for features of {size_m:g} m"
        lines = closest.search.line_spacing_m is not None
        apart_m = closest.between_m
        apart = f"{5.0 * round(apart_m / 5.0):.0f}" if apart_m >= 10.0 else f"{apart_m:.0f}"
        return f"{'lines' if lines else 'soundings'} every {apart} m"
