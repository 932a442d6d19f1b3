"""Criteria on the water itself: depth with confidence, today's level, salt, and how many loads it holds."""

from geo.records.region import SalinityClass, WaterKind
from geo.records.suitability import Criterion, State
from geo.records.survey import DEPTH_PROBABILITIES, LeastDepth, Measure
from geo.suitability.criteria import Figure, criterion, margin_points

# Waters whose level is managed or falls in drought, so that depths from another day say little (common practice). A
# water of unknown kind may be one of them: forgetting the kind must not help it.
STORED: tuple[WaterKind, ...] = ("reservoir", "dam", "unknown")
# Waters that refill as they are drained; their content limits no operation.
UNLIMITED: tuple[WaterKind, ...] = ("river", "estuary", "sea")
# Waters kept or used as fresh water, which no tide reaches (common practice, no source); natural lakes are not among
# them, many of dry country are salt, nor rivers, whose lower reaches are tidal.
FRESH_AS_A_RULE: tuple[WaterKind, ...] = ("reservoir", "dam", "pond")
MEASURED = ("soundings", "depth grid")
# A chart's depth area promises its shallower limit; the upper half of its table is its deeper limit, and what lies
# between is open. So only a chance below the table's step there speaks against the water.
CHARTED_LIMIT = 0.45
# How many times the useful loads an estimate from area and depth must show to be taken for enough (no source).
ESTIMATE_SHARE = 10.0


def depth(least: LeastDepth, required_m: float, probability: float, where: str) -> Criterion:
    """Judge the least depth met anywhere `where` ("along the run") at the required probability.

    measured is the depth [m] exceeded everywhere with that probability. Score: `margin_points` of it, scale = the
    required depth.

    Notes: Unknown, so "survey first", where nothing is known, where the only knowledge is the shape of shore and land,
    and where the probability is too low without being against the water. Not met where measured depths make it likelier
    that the bed is too shallow than that it is deep enough, or where a stated depth makes "too shallow" as sure as
    "deep enough" would have to be. What may stand on the bed unseen never makes it not met: a survey settles it.
    """
    chance = least.probability_at_least(required_m)
    known_m = least.depth_with_confidence_m(probability)
    if chance is None or known_m is None:
        reason = f"unknown {where}: {least.reason}"
        return criterion("depth", "unknown", reason, hard=True, figure=Figure(None, required_m, "m"))
    # The survey tabulates probabilities from 0.5 % to 99.5 %, so its ends mean "that or beyond".
    odds = f"{chance:.1%}" + (" or less" if chance <= DEPTH_PROBABILITIES[0] + 1e-9 else "")
    odds = f"the chance of {required_m:.1f} m everywhere is {odds}, {probability:.0%} needed ({least.data_class})"
    state: State = "unknown"
    if least.data_class == "none":
        reason = f"unknown {where}: no depth evidence, only a guess from its surroundings"
    elif chance >= probability - 1e-9:
        state = "met"
        reason = (
            f"{known_m:.1f} m or more {where} with {probability:.0%} confidence; {required_m:.1f} m needed"
        )
        reason += f" ({least.data_class})"
    elif _speaks_against(least, _bed_chance(least, required_m, chance), probability):
        state, reason = "not met", f"not enough {where}: {odds}"
    else:
        reason = f"uncertain {where}: {odds}"
        reason += f"; {least.unseen}" if least.unseen else ""
    figure = Figure(known_m, required_m, "m")
    points = margin_points(required_m, required_m) if state == "met" else ()
    return criterion("depth", state, reason, hard=True, figure=figure, points=points)


def _bed_chance(least: LeastDepth, required_m: float, chance: float) -> float:
    bed = least.bed_probability_at_least(required_m)
    return chance if bed is None else bed


def _speaks_against(least: LeastDepth, chance: float, probability: float) -> bool:
    if least.data_class == "chart":
        return chance < min(CHARTED_LIMIT, probability)
    limit = 0.5 if least.data_class in MEASURED else 1.0 - probability
    return chance < limit


def level(change_m: Measure, kind: WaterKind, dry: str = "") -> Criterion:
    """Judge whether today's level is known against the level at which depths hold. Score: 100 when known.

    Parameters: change_m, today's level minus that level [m]; dry, why no water is left, which vetoes. An unknown level
    of a stored water is a hard unknown, because its depths then say nothing of today; elsewhere it costs score and
    earns a caution.
    """
    figure = Figure(change_m.value, None, "m")
    if change_m.value is None:
        reason = f"today unknown: {change_m.origin}"
        return criterion("level", "unknown", reason, hard=kind in STORED, figure=figure)
    sign = "above" if change_m.value >= 0.0 else "below"
    reason = f"today {abs(change_m.value):.1f} m {sign} the level of the depths ({change_m.origin})"
    if dry:
        return criterion("level", "not met", f"{reason}: {dry}", hard=True, figure=figure)
    return criterion("level", "met", reason, hard=False, score=100.0, figure=figure)


def _salt_words(salinity: SalinityClass | None, why: str) -> str:
    """Say the class and its evidence once; the survey's sentence may or may not begin with the class."""
    if salinity is None:
        return f"unknown: {why.removeprefix('unknown: ')}"
    return f"{salinity} water, {why.removeprefix(salinity + ': ')}"


def salt_in_forward_flight(salinity: SalinityClass | None, why: str) -> Criterion:
    """Judge the salt for a fill in forward flight, which keeps spray behind the engines: never a veto.

    Parameters: salinity class or None; why, the survey's sentence on it. Score: fresh 100, brackish 75, salt 50 (wash
    down, heavier load).
    """
    reason = _salt_words(salinity, why)
    if salinity is None:
        return criterion("salt", "unknown", reason, hard=False)
    if salinity != "fresh":
        reason += "; forward speed keeps spray out of the engines"
    score = {"fresh": 100.0, "brackish": 75.0, "salt": 50.0}[salinity]
    return criterion("salt", "met", reason, hard=False, score=score)


def salt_in_hover(salinity: SalinityClass | None, why: str, kind: WaterKind, *, allowed: bool) -> Criterion:
    """Judge the salt for a fill from the hover, which lifts spray into the engines.

    Parameters: as for forward flight; kind of water; allowed, what the profile says of hovering over salt water.
    Score: fresh 100. Above the standard's fresh limit, brackish or salt, it is salt to the engines and vetoes, or
    scores 50 and 25 where the profile allows it. Unknown salt is a hard unknown, but for waters that are fresh as a
    rule (reservoir, dam, pond) and a profile that allows salt: there it costs score and earns a caution.
    """
    reason = _salt_words(salinity, why)
    if salinity is None:
        return criterion("salt", "unknown", reason, hard=kind not in FRESH_AS_A_RULE and not allowed)
    if salinity != "fresh" and not allowed:
        reason = f"too high for a hover: {reason}; a hover would spray it into the engines"
        return criterion("salt", "not met", reason, hard=True)
    score = {"fresh": 100.0, "brackish": 50.0, "salt": 25.0}[salinity]
    return criterion("salt", "met", reason, hard=True, score=score)


def loads_in_water(
    area_m2: float, volume_m3: float | None, depth_m: float, required_m: float, load_l: float
) -> float:
    """Give how many loads can be taken before the depth at the hover point falls to what the method needs.

    Parameters: area [m2]; volume [m3] or None; depth_m, the trusted depth at the hover point [m]; required_m [m];
    load_l [L] > 0.
    Returns: loads, not rounded; 0 when the depth is not above the required one.

    Notes: A cone with its tip at the hover point: its content is area x depth / 3 or the known volume, whichever is
    less, and required/depth cubed of it stays behind. A real bowl holds more than a cone, so this understates most
    waters; a flat pan with one deep hole holds less at depth. Inflow and evaporation are left out.
    """
    if depth_m <= required_m:
        return 0.0
    content_m3 = area_m2 * depth_m / 3.0
    if volume_m3 is not None:
        content_m3 = min(content_m3, volume_m3)
    return content_m3 * (1.0 - (required_m / depth_m) ** 3) * 1000.0 / load_l


def loads(count: float | None, useful: int, kind: WaterKind, *, volume_known: bool) -> Criterion:
    """Judge the number of loads that the water holds; fewer than one vetoes. Score: 100 x loads / useful loads.

    Where no volume is stated or surveyed, the cone of area and depth is only an estimate: below ten times the useful
    loads (no source) it counts as unknown, with score 0, and is said.
    """
    name, figure = "loads in the water", Figure(count, float(useful), "loads")
    if kind in UNLIMITED:
        reason = "flowing: not limited" if kind == "river" else "tidal: not limited"
        return criterion(name, "met", reason, hard=False, score=100.0, figure=Figure(None, None, "loads"))
    if count is None:
        reason = "unknown: they need a trusted depth and a load"
        return criterion(name, "unknown", reason, hard=False, figure=figure)
    if not volume_known and 1.0 <= count < ESTIMATE_SHARE * useful:
        reason = f"unknown: no volume is known; area and trusted depth suggest a cone of {count:,.1f} loads"
        return criterion(name, "unknown", reason, hard=False, figure=figure)
    many = "more than 10,000" if count >= 10_000.0 else f"{count:.1f}"
    reason = f"{many} before it is too shallow; {useful} wanted"
    state: State = "met" if count >= useful else "not met"
    points = ((0.0, 0.0), (float(useful), 100.0))
    return criterion(name, state, reason, hard=count < 1.0, figure=figure, points=points)
