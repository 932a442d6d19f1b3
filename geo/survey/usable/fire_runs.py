"""Runs for fires on any side of a water: of very many straight lines near its shores, those that shorten round trips.

The lines are cheap to place; only those chosen are looked at with all that rises beyond their ends.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from geo.base.prepared import Prepared
from geo.survey.any_fire import fires_round, serving, trip_s
from geo.survey.usable.chord import chord
from geo.survey.usable.chords import WaterPlan
from geo.survey.usable.deep_water import DeepWater
from geo.survey.usable.pieces import BLOCKED, Piece, pieces_of
from geo.survey.usable.skyline import Skyline

# Lengths as shares of useful_cap_m: a shorter run fits nearer to the fire, and most aircraft need no longer one.
LENGTH_SHARES = (1.0, 0.75)
# Lines begin, end or have their middle on lines so far off the shore [m] beyond the corridor's half width.
INSETS_M = (1.0, 120.0, 370.0)
SPACING_M = 100.0
MOST_PLACES = 160
HEADINGS = 12
STATIONS = 7
# Depths [m] that are surely there along a line, for which runs are chosen in turn (those of `deep_water`).
DEPTHS_M = (2.5, 1.25)
ENOUGH = 0.015
# A piece that its ends cut below this share of its line is another run than the one that was chosen.
LEAST_KEPT = 0.9


@dataclass(frozen=True, eq=False)
class FireRuns:
    """The search for the runs of one water."""

    plan: WaterPlan
    deep: DeepWater
    skyline: Skyline

    def beside(self, kept: list[Piece], most: int) -> list[Piece]:
        """Give at most so many further pieces beside those that are kept already."""
        lines = self._lines()
        if len(lines) == 0:
            return []
        fires, sure_m = fires_round(self.plan.water), self._sure_m(lines)
        trips = trip_s(lines[:, 0], lines[:, -1], fires)
        found: dict[int, Piece] = {}

        def good(i: int) -> bool:
            piece = self._piece(lines[i])
            if piece is not None:
                found[i] = piece
            return piece is not None

        chosen: list[Piece] = []
        groups = [(depth_m, np.flatnonzero(sure_m >= depth_m)) for depth_m in DEPTHS_M]
        if not any(group.size for _, group in groups):
            groups = [(-np.inf, np.arange(len(lines)))]
        for depth_m, group in groups:
            served = _served([*kept, *chosen], depth_m, fires)
            picked = serving(trips, most - len(chosen), ENOUGH, good, served, group)
            chosen += [found[i] for i in picked]
        return chosen

    def _lines(self) -> np.ndarray:
        """Give the two ends (n, 2, 2) [m] of lines that keep the corridor's half width to the shores."""
        settings, water = self.plan.settings, self.plan.water
        half_m, outline = 0.5 * settings.corridor_width_m, water.simplify(1.0)
        places = []
        for inset_m in INSETS_M:
            edge = outline.buffer(-half_m - inset_m, quad_segs=4).boundary
            if edge.is_empty:
                break
            count = int(np.clip(edge.length / SPACING_M, 4, MOST_PLACES))
            places.append(
                shapely.get_coordinates(edge.interpolate(np.arange(count) / count, normalized=True))
            )
        if not places:
            return np.empty((0, 2, 2))
        at = np.concatenate(places)
        angle = np.pi * np.arange(HEADINGS) / HEADINGS
        lengths_m = [max(share * settings.useful_cap_m, settings.least_useful_m) for share in LENGTH_SHARES]
        way = np.column_stack((np.sin(angle), np.cos(angle)))[:, None] * np.array(lengths_m)[:, None]
        way = way.reshape(-1, 2)
        starts = [at[:, None] - share * way for share in (0.0, 0.5, 1.0)]
        lines = np.concatenate([np.stack((start, start + way), axis=2).reshape(-1, 2, 2) for start in starts])
        inner = Prepared(self.plan.narrowed())
        return lines[inner.covers(np.asarray(shapely.linestrings(lines)))]

    def _sure_m(self, lines: np.ndarray) -> np.ndarray:
        """Give the sure depth [m] at the shallowest of some stations of each line; -1 where unknown."""
        share = np.linspace(0.0, 1.0, STATIONS)[:, None, None]
        stations = (1.0 - share) * lines[None, :, 0] + share * lines[None, :, 1]
        return np.nan_to_num(self.deep.sure_m(stations[..., 0], stations[..., 1]), nan=-1.0).min(axis=0)

    def _piece(self, line: np.ndarray) -> Piece | None:
        """Give the longest clear piece of a line, or the longest that may be clear; None where little is left of it."""
        found = chord(shapely.LineString(line), self.skyline)
        pieces = pieces_of(found, self.deep, self.plan.settings)
        long = [
            one for one in pieces if one.length_m >= LEAST_KEPT * found.axis.length_m and one.state < BLOCKED
        ]
        return min(long, key=lambda one: (one.state, -one.length_m), default=None)


def _served(pieces: list[Piece], depth_m: float, fires: np.ndarray) -> np.ndarray | None:
    """Give the best round trips [s] by pieces that are deep enough, None without any."""
    ends = [shapely.get_coordinates(one.line)[[0, -1]] for one in pieces if one.sure_depth_m >= depth_m]
    if not ends:
        return None
    both = np.array(ends)
    return trip_s(both[:, 0], both[:, 1], fires).min(axis=0)
