"""The facts that would change the winner, each alone: how far it is off, and who wins then."""

from collections.abc import Sequence

import numpy as np
from scipy.stats import norm

from geo.base.units import MS_PER_KNOT
from geo.ranking.extras.contenders import Contender, Spread
from geo.ranking.extras.retiming import Retimer
from geo.records.extras import DecisiveFact
from geo.records.survey import DEPTH_PROBABILITIES

MOST_WIND_KT = 60.0
STEP_KT = 0.5
LEAST_TOLD = DEPTH_PROBABILITIES[0]  # the survey tabulates no smaller chance


def turns(
    contenders: Sequence[Contender], retimer: Retimer, spread: Spread, wind_from_deg: float, wind_ms: float
) -> tuple[DecisiveFact, ...]:
    """Give the facts that alone would make another source the best, the nearest first in standard deviations.

    Notes: all else stays at its stated value. A wind is searched in whole degrees and half knots; times are exact;
    the depth is a yes or no, its deviations are those of a normal variable with the same chance.
    """
    if len(contenders) < 2:
        return ()
    found = [
        _direction(contenders, retimer, spread, wind_from_deg, wind_ms),
        _speed(contenders, retimer, spread, wind_from_deg, wind_ms),
        *_times(contenders, retimer, spread, wind_from_deg, wind_ms),
        _depth(contenders, retimer, wind_from_deg, wind_ms),
        _level(contenders, retimer, wind_from_deg, wind_ms),
    ]
    said = [one for one in found if one is not None]
    return tuple(sorted(said, key=lambda one: one.deviations if one.deviations is not None else np.inf))


def _first_change(
    retimer: Retimer, from_deg: np.ndarray, speed_ms: np.ndarray
) -> tuple[int, int | None, bool] | None:
    """Give the first wind of a list in which the winner changes, the new winner, and whether a limit did it."""
    rates = retimer.rates(from_deg, speed_ms)
    best = np.where(rates.max(axis=1) > 0.0, rates.argmax(axis=1), -1)
    changed = np.flatnonzero(best != 0)
    if not len(changed):
        return None
    at = int(changed[0])
    return at, int(best[at]) if best[at] >= 0 else None, bool(rates[at, 0] == 0.0)


def _named(contenders: Sequence[Contender], index: int | None) -> str:
    if index is None:
        return "leaves no source of the list"
    source = contenders[index].source
    return f"makes number {source.rank}, {source.name}, best"


def _id(contenders: Sequence[Contender], index: int | None) -> str | None:
    return None if index is None else contenders[index].source.body_id


def _why(lost: bool) -> str:
    return " (number 1 cannot be filled or reached in it)" if lost else ""


def _direction(
    contenders: Sequence[Contender], retimer: Retimer, spread: Spread, from_deg: float, wind_ms: float
) -> DecisiveFact | None:
    offsets = np.array([sign * k for k in range(1, 181) for sign in (1.0, -1.0)])
    winds = (from_deg + offsets) % 360.0
    change = _first_change(retimer, winds, np.full(len(winds), wind_ms))
    if change is None:
        return None
    at, winner, lost = change
    text = f"wind from {winds[at]:03.0f} instead of {from_deg:03.0f} deg true, {offsets[at]:+.0f} degrees, "
    text += _named(contenders, winner) + _why(lost)
    deviations = abs(float(offsets[at])) / spread.wind_direction_deg
    return DecisiveFact("wind direction", deviations, None, _id(contenders, winner), text)


def _speed(
    contenders: Sequence[Contender], retimer: Retimer, spread: Spread, from_deg: float, wind_ms: float
) -> DecisiveFact | None:
    speeds = np.arange(0.0, MOST_WIND_KT + STEP_KT, STEP_KT) * MS_PER_KNOT
    speeds = speeds[np.argsort(np.abs(speeds - wind_ms), kind="stable")]
    change = _first_change(retimer, np.full(len(speeds), from_deg), speeds)
    if change is None:
        return None
    at, winner, lost = change
    text = f"wind of {speeds[at] / MS_PER_KNOT:.1f} instead of {wind_ms / MS_PER_KNOT:.1f} kt "
    text += _named(contenders, winner) + _why(lost)
    deviations = abs(float(speeds[at]) - wind_ms) / spread.wind_speed_ms(wind_ms)
    return DecisiveFact("wind speed", deviations, None, _id(contenders, winner), text)


def _times(
    contenders: Sequence[Contender], retimer: Retimer, spread: Spread, from_deg: float, wind_ms: float
) -> list[DecisiveFact]:
    """Give how much longer the winner's fill and its manoeuvre may take: L1 / (T1 + x) = the next rate."""
    rates = retimer.rates(np.array([from_deg]), np.array([wind_ms]))[0]
    second = 1 + int(rates[1:].argmax())
    if rates[0] <= 0.0 or rates[second] <= 0.0:
        return []
    more_s = 3600.0 * retimer.litres[0] * (1.0 / rates[second] - 1.0 / rates[0])
    found = []
    for fact, usual_s, share in (
        ("fill time", retimer.fill_s[0], spread.fill_fraction),
        ("manoeuvre at the water", retimer.source_s[0], spread.manoeuvre_fraction),
    ):
        if usual_s > 0.0 and share > 0.0:
            deviations = float(np.log1p(more_s / usual_s) / share)
            text = f"{fact} at number 1 of {usual_s + more_s:.0f} instead of {usual_s:.0f} s "
            text += _named(contenders, second)
            found.append(DecisiveFact(fact, deviations, None, _id(contenders, second), text))
    return found


def _depth(
    contenders: Sequence[Contender], retimer: Retimer, from_deg: float, wind_ms: float
) -> DecisiveFact | None:
    first = contenders[0]
    if first.depth_required_m is None:
        return None
    rates = retimer.rates(np.array([from_deg]), np.array([wind_ms]))[0]
    second = 1 + int(rates[1:].argmax())
    winner = second if rates[second] > 0.0 else None
    chance = 1.0 - first.depth_chance
    beyond = " or less" if chance <= LEAST_TOLD + 1e-9 else ""
    text = f"below {first.depth_required_m:.1f} m {first.shallowest} (chance {chance:.1%}{beyond}) number 1 is out: "
    text += "that "
    text += _named(contenders, winner)
    deviations = float(np.clip(norm.ppf(first.depth_chance), 0.0, 8.0))
    return DecisiveFact("depth", deviations, chance, _id(contenders, winner), text)


def _level(
    contenders: Sequence[Contender], retimer: Retimer, from_deg: float, wind_ms: float
) -> DecisiveFact | None:
    """Give how far the winner's water may fall until its depth is not sure enough: the depth criterion's margin."""
    judged = next((c for c in contenders[0].source.assessment.criteria if c.name == "depth"), None)
    if judged is None or judged.state != "met" or judged.margin is None:
        return None
    rates = retimer.rates(np.array([from_deg]), np.array([wind_ms]))[0]
    second = 1 + int(rates[1:].argmax())
    winner = second if rates[second] > 0.0 else None
    text = f"a level {judged.margin:.1f} m lower at number 1 leaves its depth no longer sure enough: that "
    return DecisiveFact("level", None, None, _id(contenders, winner), text + _named(contenders, winner))
