"""Ways in and out of a hover: which directions the aircraft can come from and leave by, in the day's air and wind.

The survey looked round each hover point once and kept, by direction, the least slope that clears everything. Here the
aircraft's gradients of the day are held against these slopes.
"""

from dataclasses import dataclass

import numpy as np

from geo.base.units import MS_PER_KNOT
from geo.records.aircraft import HoverFill
from geo.records.conditions import SourceConditions
from geo.records.suitability import Criterion, Ways
from geo.records.survey import HoverPoint, Sectors
from geo.suitability.criteria import WIND_TOLERANCE_MS, Figure, criterion, margin_points, worst_parts

# Where the profile states none: the published 8:1 surface (14 CFR Part 77, heliport approach surface), and limits that
# are common practice, no source.
APPROACH_SLOPE = 0.125
CROSSWIND_LIMIT_MS, TAILWIND_LIMIT_MS = 15.0 * MS_PER_KNOT, 5.0 * MS_PER_KNOT
# An aircraft that breaks off its approach turns no further than this from its way in (common practice, no source).
BALKED_TURN_DEG = 90.0
# Share of what can be lifted out of ground effect that stays unused where the way out is straight up, and the speed of
# that climb: 300 ft/min (both common practice, no source).
VERTICAL_MARGIN = 0.1
VERTICAL_CLIMB_MS = 1.524
# The score of a way out that only a climb straight up opens.
VERTICAL_SCORE = 25.0


@dataclass(frozen=True)
class JudgedWays:
    """The criteria "way in" and "way out", and the ways themselves (None where there is none)."""

    criteria: tuple[Criterion, Criterion]
    ways: Ways | None

    @property
    def climb_m(self) -> float:
        """Climb straight up before leaving [m]."""
        return 0.0 if self.ways is None else self.ways.out_climb_m


def judged_ways(point: HoverPoint, fill: HoverFill, air: SourceConditions) -> JudgedWays:
    """Judge the ways in and out of a hover point.

    Notes: a direction serves the way out where its least slope is no more than the climb gradient loaded, in still air,
    at once or after one of the survey's climbs straight up; the way in where it is no more than the steepest approach
    and a balked approach gets out: within 90 degrees ahead there is a direction that the climb gradient empty clears,
    after the survey's highest climb at most. The wind on the way must be within the limits. Where only things of
    unknown height, missing terrain or the terrain's own error stand against every direction, it is unknown.
    """
    sectors = point.sectors
    if sectors is None:
        return _unknown("nobody looked round the hover point; survey again")
    if air.climb_gradient_loaded is None or air.climb_gradient_empty is None:
        return _unknown(air.reason)
    seen = _Seen(sectors, fill, air)
    out, climb_m, way_out = seen.way_out(air.climb_gradient_loaded)
    into, way_in = seen.way_in(seen.approach_slope, air.climb_gradient_empty)
    if not (out.any() and into.any()):
        return JudgedWays((way_in, way_out), None)
    ways = Ways(seen.true_deg(into), seen.true_deg(out), climb_m)
    return JudgedWays((way_in, way_out), ways)


def _unknown(why: str) -> JudgedWays:
    both = (criterion(name, "unknown", f"unknown: {why}", hard=True) for name in ("way in", "way out"))
    return JudgedWays(tuple(both), None)  # type: ignore[arg-type]


class _Seen:
    """The sectors of one point in the day's wind; arrays by direction."""

    def __init__(self, sectors: Sectors, fill: HoverFill, air: SourceConditions) -> None:
        self._sectors = sectors
        self._slopes, self._without = np.array(sectors.slopes), np.array(sectors.without_error)
        self._known = np.array([not each for each in sectors.unknown])
        count = len(sectors.unknown)
        self._grid_deg = 360.0 / count * np.arange(count)
        self._to_true_deg = air.wind_from_true_deg - air.wind_from_grid_deg
        self._profiled = fill.approach_slope is not None
        self.approach_slope = APPROACH_SLOPE if fill.approach_slope is None else fill.approach_slope
        cross_ms = CROSSWIND_LIMIT_MS if fill.crosswind_limit_ms is None else fill.crosswind_limit_ms
        tail_ms = TAILWIND_LIMIT_MS if fill.tailwind_limit_ms is None else fill.tailwind_limit_ms

        def within(heading_deg: float) -> bool:
            head, aside = worst_parts(air, heading_deg)
            return aside <= cross_ms + WIND_TOLERANCE_MS and head >= -tail_ms - WIND_TOLERANCE_MS

        # Who comes from a direction flies the other way.
        self._wind_out, self._wind_in = (
            np.array([within(deg) for deg in self._grid_deg + turned]) for turned in (0.0, 180.0)
        )

    def true_deg(self, which: np.ndarray) -> tuple[float, ...]:
        """Give some directions against true north."""
        return tuple(np.round((self._grid_deg[which] + self._to_true_deg) % 360.0, 1).tolist())

    def way_out(self, gradient: float) -> tuple[np.ndarray, float, Criterion]:
        """Give the directions that serve, the climb before them [m], and the criterion."""
        climbs = f"this aircraft climbs {gradient:.1%} loaded in still air"
        for climb_m, slopes in zip(self._sectors.climbs_m, self._slopes, strict=True):
            serves = self._wind_out & self._known & (slopes <= gradient)
            if serves.any():
                reason = f"{self._best(slopes, serves, 'towards')}; {climbs}; {_count(serves)}"
                points = margin_points(gradient, gradient, most=True)
                if climb_m > 0.0:
                    reason = f"only after a climb of {climb_m:.0f} m straight up: {reason}"
                    points = ((gradient, VERTICAL_SCORE),)
                figure = Figure(float(slopes[serves].min()), gradient, "1", most=True)
                met = criterion("way out", "met", reason, hard=True, figure=figure, points=points)
                return serves, climb_m, met
        perhaps = self._wind_out & (self._without[-1] <= gradient)
        highest = f"at once or {self._sectors.climbs_m[-1]:.0f} m up"
        return (
            perhaps & False,
            0.0,
            self._none("way out", perhaps, self._wind_out, gradient, f"{climbs}, {highest}"),
        )

    def way_in(self, slope: float, gradient_empty: float) -> tuple[np.ndarray, Criterion]:
        """Give the directions that serve, and the criterion."""
        how = f"this aircraft comes down {slope:.1%}" + (
            "" if self._profiled else ", the published 8:1 surface"
        )
        gets_out = self._wind_out & (self._slopes[-1] <= gradient_empty)
        serves = (
            self._wind_in & self._known & (self._slopes[0] <= slope) & self._ahead(gets_out & self._known)
        )
        if serves.any():
            reason = f"{self._best(self._slopes[0], serves, 'from')}; {how}; {_count(serves)}"
            least = float(self._slopes[0][serves].min())
            figure = Figure(least, slope, "1", most=True)
            points = margin_points(slope, slope, most=True)
            return serves, criterion("way in", "met", reason, hard=True, figure=figure, points=points)
        perhaps_out = self._wind_out & (self._without[-1] <= gradient_empty)
        perhaps = self._wind_in & (self._without[0] <= slope) & self._ahead(perhaps_out)
        clear = self._wind_in & self._known & (self._slopes[0] <= slope)
        if clear.any() and not self._ahead(perhaps_out)[clear].any():
            how += f"; a balked approach finds no way out within {BALKED_TURN_DEG:.0f} degrees ahead"
        return serves, self._none("way in", perhaps, self._wind_in, slope, how)

    def _ahead(self, gets_out: np.ndarray) -> np.ndarray:
        """Say of each direction that one comes from whether a direction ahead, within the turn, gets out."""
        count = gets_out.size
        turn = int(BALKED_TURN_DEG / 360.0 * count + 1e-9)
        found = np.zeros(count, bool)
        for k in range(-turn, turn + 1):
            found |= np.roll(gets_out, -(count // 2) + k)
        return found

    def _best(self, slopes: np.ndarray, which: np.ndarray, towards: str) -> str:
        """Say the least slope of some directions, where it lies and what sets it; towards: "towards" or "from"."""
        at = int(np.flatnonzero(which)[slopes[which].argmin()])
        rules = self._sectors.ruling[at]
        what = "nothing rises there" if rules is None else self._sectors.things[rules]
        return f"{slopes[at]:.1%} {towards} {self.true_deg(np.array([at]))[0]:03.0f} true clears everything ({what})"

    def _none(self, name: str, perhaps: np.ndarray, wind: np.ndarray, limit: float, how: str) -> Criterion:
        """Say why no direction serves: unknown where some would, were what is unknown out of the way."""
        slopes, side = self._slopes[0], "from" if name == "way in" else "towards"
        figure = Figure(float(slopes[wind].min()) if wind.any() else None, limit, "1", most=True)
        if perhaps.any():
            things = [
                self._sectors.things[k] for i in np.flatnonzero(perhaps) for k in self._sectors.unknown[i]
            ]
            why = "unknown: " + "; ".join(list(dict.fromkeys(things))[:3])
            if not things:
                why = f"not sure, only the terrain's error bars it: {self._best(slopes, perhaps, side)}"
            return criterion(name, "unknown", f"{why}; {how}", hard=True, figure=figure)
        if not wind.any():
            return criterion(
                name, "not met", "none: no direction is within the wind limits", hard=True, figure=figure
            )
        reason = f"none within the wind limits: at best {self._best(slopes, wind, side)}; {how}"
        return criterion(name, "not met", reason, hard=True, figure=figure)


def _count(serves: np.ndarray) -> str:
    return f"{serves.sum()} of {serves.size} directions serve"
