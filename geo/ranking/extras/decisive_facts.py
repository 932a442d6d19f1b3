"""The facts that would change the winner, each alone: how far it is off, and who wins then."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from geo.base.units import MS_PER_KNOT
from geo.ranking.extras.contenders import Contender, Spread
from geo.ranking.extras.retiming import Retimer
from geo.records.extras import DecisiveFact
from geo.records.survey import DEPTH_PROBABILITIES

MOST_WIND_KT = 60.0
STEP_KT = 0.5
LEAST_TOLD = DEPTH_PROBABILITIES[0]  # the survey tabulates no smaller chance


def decisive_facts(
    contenders: Sequence[Contender], retimer: Retimer, spread: Spread, wind_from_deg: float, wind_ms: float
) -> tuple[DecisiveFact, ...]:
    """Give the facts that alone would make another source the best, the nearest first in standard deviations.

    Notes: all else stays at its stated value. A wind is searched in whole degrees and half knots; times are exact;
    the depth is a yes or no, its deviations are those of a normal variable with the same chance.
    """
    if len(contenders) < 2:
        return ()
    stated = _Stated(contenders, retimer, spread, wind_from_deg, wind_ms)
    found = [_direction(stated), _speed(stated), *_times(stated), _depth(stated), _level(stated)]
    said = [one for one in found if one is not None]
    return tuple(sorted(said, key=lambda one: one.deviations if one.deviations is not None else np.inf))


@dataclass(frozen=True, eq=False)
class _Stated:
    """The sources and the wind as the ranking states them, and how each fact spreads."""

    contenders: Sequence[Contender]
    retimer: Retimer
    spread: Spread
    wind_from_deg: float
    wind_ms: float

    def rates(self) -> np.ndarray:
        """Give the litres per hour of every source in the stated wind."""
        return self.retimer.rates(np.array([self.wind_from_deg]), np.array([self.wind_ms]))[0]

    def runner_up(self) -> int | None:
        """Give the best source without number 1; None where no other delivers anything."""
        rates = self.rates()
        second = 1 + int(rates[1:].argmax())
        return second if rates[second] > 0.0 else None

    def winner_words(self, index: int | None) -> str:
        """Say what a fact does to the first place."""
        if index is None:
            return "leaves no usable source in the list"
        source = self.contenders[index].source
        return f"makes number {source.rank}, {source.name}, best"

    def fact(
        self, name: str, deviations: float | None, winner: int | None, text: str, chance: float | None = None
    ) -> DecisiveFact:
        """Build the record; the winner's words end the text."""
        body_id = None if winner is None else self.contenders[winner].source.body_id
        return DecisiveFact(name, deviations, chance, body_id, f"{text} {self.winner_words(winner)}")


def _first_change(
    retimer: Retimer, from_deg: np.ndarray, speed_ms: np.ndarray
) -> tuple[int, int | None, str] | None:
    """Give the first wind of a list in which the winner changes, the new winner, and why where a limit did it."""
    rates = retimer.rates(from_deg, speed_ms)
    best = np.where(rates.max(axis=1) > 0.0, rates.argmax(axis=1), -1)
    changed = np.flatnonzero(best != 0)
    if not len(changed):
        return None
    at = int(changed[0])
    why = " rules out number 1 and" if rates[at, 0] == 0.0 else ""
    return at, int(best[at]) if best[at] >= 0 else None, why


def _direction(stated: _Stated) -> DecisiveFact | None:
    offsets = np.array([sign * k for k in range(1, 181) for sign in (1.0, -1.0)])
    winds = (stated.wind_from_deg + offsets) % 360.0
    change = _first_change(stated.retimer, winds, np.full(len(winds), stated.wind_ms))
    if change is None:
        return None
    at, winner, why = change
    text = (
        f"wind from {winds[at]:03.0f} instead of {stated.wind_from_deg:03.0f} deg true ({offsets[at]:+.0f})"
    )
    deviations = abs(float(offsets[at])) / stated.spread.wind_direction_deg
    return stated.fact("wind direction", deviations, winner, text + why)


def _speed(stated: _Stated) -> DecisiveFact | None:
    speeds = np.arange(0.0, MOST_WIND_KT + STEP_KT, STEP_KT) * MS_PER_KNOT
    speeds = speeds[np.argsort(np.abs(speeds - stated.wind_ms), kind="stable")]
    change = _first_change(stated.retimer, np.full(len(speeds), stated.wind_from_deg), speeds)
    if change is None:
        return None
    at, winner, why = change
    text = f"wind of {speeds[at] / MS_PER_KNOT:.1f} instead of {stated.wind_ms / MS_PER_KNOT:.1f} kt"
    deviations = abs(float(speeds[at]) - stated.wind_ms) / stated.spread.wind_speed_ms(stated.wind_ms)
    return stated.fact("wind speed", deviations, winner, text + why)


def _times(stated: _Stated) -> list[DecisiveFact]:
    """Give how much longer the winner's fill and its manoeuvre may take: L1 / (T1 + x) = the next rate."""
    retimer, rates, second = stated.retimer, stated.rates(), stated.runner_up()
    if rates[0] <= 0.0 or second is None:
        return []
    more_s = 3600.0 * retimer.litres[0] * (1.0 / rates[second] - 1.0 / rates[0])
    found = []
    for fact, usual_s, share in (
        ("fill time", retimer.fill_s[0], stated.spread.fill_fraction),
        ("manoeuvre at the water", retimer.source_s[0], stated.spread.manoeuvre_fraction),
    ):
        if usual_s > 0.0 and share > 0.0:
            deviations = float(np.log1p(more_s / usual_s) / share)
            text = f"{fact} of {usual_s + more_s:.0f} instead of {usual_s:.0f} s at number 1"
            found.append(stated.fact(fact, deviations, second, text))
    return found


def _depth(stated: _Stated) -> DecisiveFact | None:
    first = stated.contenders[0]
    if first.depth_required_m is None:
        return None
    chance = 1.0 - first.depth_chance
    beyond = " or less" if chance <= LEAST_TOLD + 1e-9 else ""
    water = f"{first.depth_required_m:.1f} m of water in number 1 {first.shallowest}"
    text = f"less than {water}, chance {chance:.1%}{beyond},"
    deviations = float(np.clip(ndtri(first.depth_chance), 0.0, 8.0))
    return stated.fact("depth", deviations, stated.runner_up(), text, chance)


def _level(stated: _Stated) -> DecisiveFact | None:
    """Give how far the winner's water may fall until its depth is not sure enough: the depth criterion's margin."""
    criteria = stated.contenders[0].source.assessment.criteria
    judged = next((c for c in criteria if c.name == "depth"), None)
    if judged is None or judged.state != "met" or judged.margin is None:
        return None
    text = f"a level {judged.margin:.1f} m lower makes the depth of number 1 uncertain and"
    return stated.fact("level", None, stated.runner_up(), text)
