"""The facts that would change the winner, each alone: how far it is off, and who wins then."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from geo.base.units import MS_PER_KNOT
from geo.ranking.extras.contenders import Contender, Spread
from geo.ranking.extras.retiming import Factors, Retimer
from geo.records.extras import DecisiveFact
from geo.records.survey import DEPTH_PROBABILITIES

MOST_WIND_KT = 60.0
STEP_KT = 0.5
MOST_DEVIATIONS, DEVIATION_STEP = 8.0, 0.1
LEAST_TOLD = DEPTH_PROBABILITIES[0]  # the survey tabulates no smaller chance


def decisive_facts(
    contenders: Sequence[Contender], retimer: Retimer, spread: Spread, wind_from_deg: float, wind_ms: float
) -> tuple[DecisiveFact, ...]:
    """Give the facts that alone would make another source the best, the nearest first in standard deviations.

    Notes: all else stays at its stated value. A wind is searched in whole degrees and half knots, a time and a figure
    of the aircraft in tenths of a standard deviation up to 8; the depth is a yes or no, its deviations are those of a
    normal variable with the same chance.
    """
    if len(contenders) < 2:
        return ()
    stated = _Stated(contenders, retimer, spread, wind_from_deg, wind_ms)
    found = [_direction(stated), _speed(stated), *_factors(stated), _depth(stated), _level(stated)]
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


def _first_change(rates: np.ndarray) -> tuple[int, int | None, str] | None:
    """Give the first row of rates (n, m) in which the winner changes, the new winner, and why where a limit did it."""
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
    change = _first_change(stated.retimer.rates(winds, np.full(len(winds), stated.wind_ms)))
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
    change = _first_change(stated.retimer.rates(np.full(len(speeds), stated.wind_from_deg), speeds))
    if change is None:
        return None
    at, winner, why = change
    text = f"wind of {speeds[at] / MS_PER_KNOT:.1f} instead of {stated.wind_ms / MS_PER_KNOT:.1f} kt"
    deviations = abs(float(speeds[at]) - stated.wind_ms) / stated.spread.wind_speed_ms(stated.wind_ms)
    return stated.fact("wind speed", deviations, winner, text + why)


def _factors(stated: _Stated) -> list[DecisiveFact]:
    """Give how far one time of the winner, or one figure of the aircraft, may be off until another source is best."""
    retimer, spread = stated.retimer, stated.spread
    if stated.rates()[0] <= 0.0:
        return []
    asked = (
        ("fill time", "fill", retimer.fill_s[0], spread.fill_fraction),
        ("manoeuvre at the water", "source", retimer.source_s[0], spread.manoeuvre_fraction),
        ("weight that can be lifted", "lift", None, spread.lift_fraction),
        ("fuel burn", "burn", None, spread.burn_fraction),
        ("rate of climb", "climb", None, spread.climb_fraction),
        ("cruising speed", "cruise", None, spread.cruise_fraction),
    )
    found = [_factor(stated, *one) for one in asked if one[3] > 0.0 and one[2] != 0.0]
    return [one for one in found if one is not None]


def _factor(
    stated: _Stated, fact: str, name: str, usual_s: float | None, share: float
) -> DecisiveFact | None:
    """Search one factor outwards from 1: of the winner's time upwards, of an aircraft's figure both ways."""
    steps = np.arange(1, int(MOST_DEVIATIONS / DEVIATION_STEP) + 1) * DEVIATION_STEP
    if usual_s is None:
        steps = np.stack([steps, -steps], axis=1).ravel()
    factor = 1.0 + share * steps if name == "lift" else np.exp(share * steps)
    given = factor
    if usual_s is not None:
        given = np.ones((len(steps), len(stated.contenders)))
        given[:, 0] = factor
    winds = np.full(len(steps), stated.wind_from_deg), np.full(len(steps), stated.wind_ms)
    change = _first_change(stated.retimer.rates(*winds, Factors(**{name: given})))
    if change is None:
        return None
    at, winner, _ = change
    text = f"{fact} {factor[at] - 1.0:+.0%} on the profile's figure"
    if usual_s is not None:
        text = f"{fact} of {usual_s * factor[at]:.0f} instead of {usual_s:.0f} s at number 1"
    return stated.fact(fact, float(abs(steps[at])), winner, text)


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
