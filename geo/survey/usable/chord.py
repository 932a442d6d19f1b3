"""One line through the water with all that bars touch-downs and lift-offs on it, and the longest piece it leaves."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from geo.survey.usable.barred import Barred, barred, lift_off_barred
from geo.survey.usable.skyline import Axis, Risings, Skyline, axis_of


@dataclass(frozen=True, eq=False)
class Chord:
    """A run inside the water with all that bars touch-downs and lift-offs on it.

    touch_down, lift_off: barred places by (ahead, sure): flown from the first to the last point or back; with what is
    unknown counted as barring or not. gaps: stretches [m] of the line that no obstacle crosses.
    """

    line: shapely.LineString
    axis: Axis
    touch_down: dict[tuple[bool, bool], Barred]
    lift_off: dict[tuple[bool, bool], Barred]
    gaps: tuple[tuple[float, float], ...]
    crossing: tuple[str, ...]

    def longest(
        self, ahead: bool, sure: bool, from_m: float = 0.0, to_m: float | None = None
    ) -> tuple[float, float] | None:
        """Give the longest usable stretch within a part of the line, as distances from its start [m], or None."""
        to_m = self.axis.length_m if to_m is None else to_m
        low_rule, high_rule = self.touch_down[ahead, sure], self.lift_off[ahead, sure]
        if not ahead:
            low_rule, high_rule = high_rule, low_rule
        best: tuple[float, float] | None = None
        for gap in self.gaps:
            start, end = max(gap[0], from_m), min(gap[1], to_m)
            if end > start:
                low, high = float(low_rule.first_free(start)), float(high_rule.last_free(end))
                if high > low and (best is None or high - low > best[1] - best[0]):
                    best = (low, high)
        return best

    def piece(self, low_m: float, high_m: float) -> shapely.LineString:
        """Give a stretch of the line, pointing as the line does."""
        ends = self.axis.start + np.array([[low_m], [high_m]]) * self.axis.direction
        return shapely.LineString(ends)

    @cached_property
    def same_both_ways(self) -> bool:
        """True where approach and departure surfaces are the same, so that both directions are."""
        return all(self.touch_down[True, sure] is self.lift_off[False, sure] for sure in (True, False))


def chord(line: shapely.LineString, skyline: Skyline) -> Chord:
    """Give a run with all that bars its ends; the water's level must be known, or every end is barred as unknown."""
    axis, chosen = axis_of(line), skyline.around.settings
    if skyline.around.ground.surface_m is None:
        return _unknown_chord(line, axis)
    things = skyline.along(axis)
    half_m, steep = chosen.corridor_width_m / 2.0, chosen.approach_slope
    touch_down: dict[tuple[bool, bool], Barred] = {}
    lift_off: dict[tuple[bool, bool], Barred] = {}
    for ahead in (True, False):
        seen = things if ahead else things.reversed(axis.length_m)
        for sure in (True, False):
            rule = (half_m, chosen.surface_slope, chosen.surface_divergence, chosen.end_look_m)
            found = lift_off_barred(seen, *rule, sure=sure)
            lift_off[ahead, sure] = found if ahead else found.reversed(axis.length_m)
            # The approach surface behind a touch-down is the departure surface of the opposite direction.
            if steep is None:
                touch_down[not ahead, sure] = lift_off[ahead, sure]
            else:
                found = lift_off_barred(seen, rule[0], steep, *rule[2:], sure=sure)
                touch_down[not ahead, sure] = found if ahead else found.reversed(axis.length_m)
    gaps, crossing = _gaps(things, axis.length_m, half_m)
    return Chord(line, axis, touch_down, lift_off, gaps, crossing)


def _unknown_chord(line: shapely.LineString, axis: Axis) -> Chord:
    never, always = barred(np.empty(0), np.empty(0)), barred(np.array([-np.inf]), np.array([np.inf]))
    rules = {(ahead, sure): always if sure else never for ahead in (True, False) for sure in (True, False)}
    return Chord(line, axis, rules, dict(rules), ((0.0, axis.length_m),), ())


def _gaps(
    things: Risings, length_m: float, half_m: float
) -> tuple[tuple[tuple[float, float], ...], tuple[str, ...]]:
    """Give the stretches of a line that no obstacle in its corridor crosses, and the names of those that do."""
    on = (
        things.solid
        & (things.aside_m < half_m)
        & (things.far_m >= -half_m)
        & (things.near_m <= length_m + half_m)
    )
    taken = barred(things.near_m[on] - half_m, things.far_m[on] + half_m)
    starts = np.maximum(np.concatenate(([0.0], taken.high_m)), 0.0)
    ends = np.minimum(np.concatenate((taken.low_m, [length_m])), length_m)
    gaps = tuple((s, e) for s, e in zip(starts.tolist(), ends.tolist(), strict=True) if e > s)
    names = tuple(dict.fromkeys(things.labels[k] for k in things.label[on]))
    return gaps, names
