"""The pieces of a bent run that are worth judging: deep, not crossed by an obstacle, with ends that are clear.

The surfaces beyond an end are those of the heading there: the aircraft comes down straight in along the first heading,
and goes on straight along the last.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from geo.records.survey import EndClearance, SurveySettings
from geo.survey.bent.pieces import RunPiece, cut_out, line_of, stations_along
from geo.survey.bent.runs import BentRun
from geo.survey.clearance import Surroundings
from geo.survey.usable.deep_water import DEPTHS_M, DeepWater
from geo.survey.usable.skyline import Skyline

# A bend must make a run longer by this share of the longest straight one that is clear (our choice, no source).
WORTH_SHARE = 0.15
# An end may lie at the ends of the run and every so far along it [m]; a run has at most so many places for an end.
STATION_M = 25.0
MOST_STATIONS = 200
# A run that turns by more than a right angle, left and right added up, is no gentle bend: whatever the wind, it has it
# across or behind somewhere. The less it turns the better, so the longest is also looked for that turns half as much
# (our choice, no source).
MOST_TURN_DEG = 90.0
MOST_TURNS_DEG = (MOST_TURN_DEG, 0.5 * MOST_TURN_DEG)
# A search finds one path. Where no piece of the longest one with so much turn is of use, the longest with more turn is
# looked through for pieces that turn less.
SEARCHED_TURNS_DEG = (MOST_TURN_DEG, 2.0 * MOST_TURN_DEG)
# Lengths within one grade [m] count as alike, and the one with less turn is taken.
LENGTH_GRADE_M = 10.0
# Distances along the drawn line and along the arcs differ by less than this.
DRAWN_M = 0.5
CLEAR, UNKNOWN, BLOCKED = 0, 1, 2


@dataclass(frozen=True, eq=False)
class Bend:
    """A piece of a bent run, as drawn; path_m: length of the run that it was cut from [m]."""

    pieces: tuple[RunPiece, ...]
    path_m: float

    @property
    def line(self) -> shapely.LineString:
        """The line with vertices along the arcs; it is never longer than the arcs."""
        return line_of(self.pieces)


def end_state(end: EndClearance) -> int:
    """Say whether the surface beyond an end is CLEAR for sure, UNKNOWN, or BLOCKED by something known."""
    if end.excess_m is not None and end.excess_m > 0.0:
        return BLOCKED
    return UNKNOWN if end.excess_m is None or end.unknown_heights else CLEAR


def least_bend_m(straight_m: float, settings: SurveySettings) -> float:
    """Give the length [m] from which a bent run is of use beside a straight one as clear as it, straight_m long [m]."""
    return max(settings.least_useful_m, (1.0 + WORTH_SHARE) * straight_m)


def flyable_bends(
    found: BentRun, least_m: tuple[float, float], deep: DeepWater, skyline: Skyline
) -> list[Bend]:
    """Give the best pieces of a bent run: for each depth the longest of it, and the longest that turns little.

    Parameters: least_m, length [m] from which a piece is of use whose ends are clear, and one whose ends may be, the
    latter no less; deep and skyline, the water's depths and what stands round it.
    Notes: where no piece is surely deep, depth does not count. A piece is no longer than useful_cap_m, turns at all,
    and keeps half the corridor's width from every obstacle that hangs or stands over the water, whatever its height. A
    piece with an end that is known to be blocked is none.
    """
    count = min(int(np.ceil(found.length_m / STATION_M)), MOST_STATIONS) + 1
    along = np.linspace(0.0, found.length_m, count)
    xy, heading = stations_along(found.pieces, along)
    low, high = _windows(along, least_m[0], found, skyline)
    if low.size == 0:
        return []
    state = _states(xy, heading, low, high, skyline.around)
    sure = deep.sure_m(xy[:, 0], xy[:, 1])
    depth = np.array([sure[a : b + 1].min() for a, b in zip(low, high, strict=True)])
    turned = _turned(found, along)
    turn = turned[high] - turned[low]
    grade = np.round((along[high] - along[low]) / LENGTH_GRADE_M)
    order = np.lexsort((turn, -grade, state))
    chosen: dict[int, None] = {}
    offered = order[along[high[order]] - along[low[order]] >= np.array([*least_m, np.inf])[state[order]]]
    for depth_m in DEPTHS_M if (depth[offered] >= DEPTHS_M[-1]).any() else (None,):
        deep_enough = offered if depth_m is None else offered[depth[offered] >= depth_m]
        for most_deg in MOST_TURNS_DEG:
            good = deep_enough[turn[deep_enough] <= most_deg]
            chosen |= {int(k): None for k in good[:1]}
    return [
        Bend(cut_out(found.pieces, float(along[low[k]]), float(along[high[k]])), found.length_m)
        for k in chosen
        if turn[k] > 0.0
    ]


def _windows(
    along: np.ndarray, least_m: float, found: BentRun, skyline: Skyline
) -> tuple[np.ndarray, np.ndarray]:
    """Give first and last station (n,) of every window that is long enough, within the cap and not crossed."""
    settings = skyline.around.settings
    low, high = np.triu_indices(len(along), 1)
    length = along[high] - along[low]
    good = (length >= least_m) & (length <= settings.useful_cap_m)
    taken = skyline.crossings(line_of(found.pieces), 0.5 * settings.corridor_width_m)
    for near_m, far_m in taken:
        # The drawn line is shorter than its arcs by some millimetres in a hundred metres.
        good &= (along[high] <= near_m - DRAWN_M) | (along[low] >= far_m + DRAWN_M)
    return low[good], high[good]


def _states(
    xy: np.ndarray, heading: np.ndarray, low: np.ndarray, high: np.ndarray, around: Surroundings
) -> np.ndarray:
    """Give the state of windows (n,), the better of both directions, each as good as its worse end."""
    steep, back = around.settings.approach_slope, (heading + 180.0) % 360.0

    def seen(which: np.ndarray, toward: np.ndarray, slope: float | None) -> np.ndarray:
        states = np.full(len(xy), BLOCKED)
        for k in np.unique(which):
            end = (float(xy[k, 0]), float(xy[k, 1]))
            states[k] = end_state(around.beyond(end, float(toward[k]), slope))
        return states[which]

    behind, ahead = seen(low, back, None), seen(high, heading, None)
    if steep is None:
        return np.maximum(behind, ahead)
    forth = np.maximum(seen(low, back, steep), ahead)
    return np.minimum(forth, np.maximum(seen(high, heading, steep), behind))


def _turned(found: BentRun, along: np.ndarray) -> np.ndarray:
    """Give how far the run has turned, left and right added up, at distances (n,) [deg]."""
    ends = np.concatenate(([0.0], np.cumsum([piece.length_m for piece in found.pieces])))
    turns = np.concatenate(([0.0], np.cumsum([abs(piece.turn_deg) for piece in found.pieces])))
    return np.interp(along, ends, turns)
