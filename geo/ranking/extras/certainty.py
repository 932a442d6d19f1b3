"""How sure the order is: seeded samples of wind, times and depth, and the facts that would change the winner."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from geo.base.errors import BadArgument
from geo.ranking.extras.contenders import Contender, Spread
from geo.ranking.extras.decisive_facts import decisive_facts
from geo.ranking.extras.retiming import Factors, Retimer
from geo.records.aircraft import AircraftProfile
from geo.records.extras import Certainty, SourceCertainty

SAMPLES = 1_000
SEED = 20_260_131


class Samples(NamedTuple):
    """What was drawn: winds (n,), factors on times and on the aircraft's figures, and which sources are deep enough."""

    wind_from_deg: np.ndarray
    wind_ms: np.ndarray
    factors: Factors
    deep: np.ndarray


def draw(
    chances: np.ndarray, wind_from_deg: float, wind_ms: float, spread: Spread, samples: int, seed: int
) -> Samples:
    """Give seeded samples; the same arguments give the same samples.

    Parameters: chances (sources,) of being deep enough [0-1]; samples, how many; seed.
    """
    rng = np.random.default_rng(seed)
    shape = samples, len(chances)
    speed = wind_ms + spread.wind_speed_ms(wind_ms) * rng.standard_normal(samples)
    wind_from = (wind_from_deg + spread.wind_direction_deg * rng.standard_normal(samples)) % 360.0
    fill, source = (
        np.exp(part * rng.standard_normal(shape))
        for part in (spread.fill_fraction, spread.manoeuvre_fraction)
    )
    fire = np.exp(spread.manoeuvre_fraction * rng.standard_normal(samples))
    deep = rng.random(shape) < chances
    lift = 1.0 + spread.lift_fraction * rng.standard_normal(samples)
    burn, climb, cruise = (
        np.exp(part * rng.standard_normal(samples))
        for part in (spread.burn_fraction, spread.climb_fraction, spread.cruise_fraction)
    )
    return Samples(
        wind_from, np.maximum(speed, 0.0), Factors(fill, source, fire, lift, burn, climb, cruise), deep
    )


def certainty(
    contenders: Sequence[Contender],
    wind_from_true_deg: float,
    wind_ms: float,
    profile: AircraftProfile,
    *,
    spread: Spread | None = None,
    samples: int = SAMPLES,
    seed: int = SEED,
) -> Certainty:
    """Give for each source how often it is best and in the first three, and what would change the winner.

    Parameters: contenders in the order of the ranking; the wind of the ranking [deg true, m/s]; the aircraft; spread,
    None for that of `Spread` with the profile's figures that have no source; samples, at least 1.
    Raises: BadArgument for samples below 1 or a chance outside 0 to 1.

    Notes: each sample re-times the stored pieces of every leg with its own wind and plans the tank of fuel anew, load
    by load; the transits, the routes and the runs stay. A source drops out of a sample where it is too shallow or the
    wind passes a limit of its fill. Depths of different sources are independent; the manoeuvre at the fire and the
    figures of the aircraft are one for all. With n samples a share p has the
    standard error sqrt(p (1 - p) / n): 1.6 % at most with 1,000.
    """
    spread = spread if spread is not None else Spread().for_profile(profile)
    chances = np.array([one.depth_chance for one in contenders], dtype=float)
    if samples < 1 or not np.all((chances >= 0.0) & (chances <= 1.0)):
        raise BadArgument(
            f"{samples} samples, chances {chances}: samples must be 1 or more, a chance 0 to 1. "
            "Fix: ask for at least one sample and give chances as fractions"
        )
    sources, limits = [one.source for one in contenders], [one.limits for one in contenders]
    retimer = Retimer(sources, limits, profile, (wind_from_true_deg, wind_ms))
    drawn = draw(chances, wind_from_true_deg, wind_ms, spread, samples, seed)
    rates = np.where(drawn.deep, retimer.rates(*drawn[:3]), 0.0)
    return Certainty(
        samples,
        seed,
        tuple(_shares(contenders, rates)),
        decisive_facts(contenders, retimer, spread, wind_from_true_deg, wind_ms),
        _assumptions(spread, wind_ms),
    )


def _shares(contenders: Sequence[Contender], rates: np.ndarray) -> list[SourceCertainty]:
    """Count, per source, the samples in which it is best, in the first three, usable; ties go to the better rank."""
    count = len(contenders)
    order = np.argsort(-rates, axis=1, kind="stable")
    place = np.empty_like(order)
    np.put_along_axis(place, order, np.arange(count)[None, :].repeat(len(rates), axis=0), axis=1)
    usable = rates > 0.0
    best = (usable & (place == 0)).mean(axis=0) if count else ()
    three = (usable & (place < 3)).mean(axis=0) if count else ()
    able = usable.mean(axis=0) if count else ()
    return [
        SourceCertainty(one.source.body_id, one.source.name, float(b), float(t), float(a))
        for one, b, t, a in zip(contenders, best, three, able, strict=True)
    ]


def _assumptions(spread: Spread, wind_ms: float) -> dict[str, str]:
    return {
        "spread": f"one standard deviation: wind direction {spread.wind_direction_deg:.0f} deg, wind speed "
        f"{spread.wind_speed_ms(wind_ms):.1f} m/s, fill time {spread.fill_fraction:.0%}, manoeuvres "
        f"{spread.manoeuvre_fraction:.0%} (common practice, no source)",
        "aircraft": _aircraft_words(spread),
        "legs": "each leg is timed again in each wind; a wind that changes with height or place shifts as a whole; "
        "routes, runs and the flights from and to the base stay as flown",
        "depth": "a source drops out as often as its own evidence says it is too shallow; waters are independent",
        "wind limits": "a source drops out where the wind exceeds a limit of its run or hover, even if another heading "
        "would do",
        "considered": "only the ranked sources listed here; a source that is not ranked never wins",
    }


def _aircraft_words(spread: Spread) -> str:
    parts = (
        ("weight that can be lifted", spread.lift_fraction),
        ("fuel burn", spread.burn_fraction),
        ("rate of climb", spread.climb_fraction),
        ("cruising speed", spread.cruise_fraction),
    )
    said = ", ".join(f"{what} {part:.0%}" for what, part in parts if part > 0.0)
    if not said:
        return "every figure of the aircraft has a source, so none of them varies"
    return f"figures of the profile without a source, the same for all waters: {said} (common practice, no source)"
