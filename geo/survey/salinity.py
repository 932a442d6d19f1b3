"""The salinity class of a water body from what is known of its salt. Nothing known never becomes fresh."""

from datetime import date
from math import isfinite

from geo.base.errors import BadArgument
from geo.records.region import SalinityClass, SalinityEvidence, WaterKind

# Venice System (Symposium on the Classification of Brackish Waters, 1958), practical salinity: limnetic below 0.5,
# mixohaline (brackish) 0.5 to 30, euhaline and above from 30. A value on a limit goes to the saltier class.
FRESH_BELOW = 0.5
SALT_FROM = 30.0
# Salt goes up tidal rivers for some kilometres to some tens of kilometres, with tide and flow. A water within this way
# of its mouth is taken as reached by it (our choice, no source).
TIDAL_REACH_M = 20_000.0
# A river above this height is beyond any tide: the greatest range known, 16 m in one bay, is 8 m above its middle, and
# 2 m for surge (the range from memory of tide tables; the surge our choice, no source).
TIDAL_HEIGHT_M = 10.0
# Waters that no tide reaches, whatever their distance from a mouth.
STILL: tuple[WaterKind, ...] = ("reservoir", "dam", "pond")
# A water of unknown kind may be a river: forgetting the kind must not help it.
FLOWING: tuple[WaterKind, ...] = ("river", "estuary", "unknown")
# How long a sample holds [days], in still and in flowing water (our choice, no source).
FRESH_FOR_DAYS = (3 * 365, 30)
_SALTIER: tuple[SalinityClass, ...] = ("fresh", "brackish", "salt")


def class_of_salinity(practical_salinity: float) -> SalinityClass:
    """Give the class of a practical salinity (PSS-78, no unit).

    Parameters: practical_salinity, finite and at least 0.
    Returns: "fresh" below 0.5, "brackish" from 0.5, "salt" from 30.
    Raises: BadArgument: the value is negative or not a number.

    Notes: The limits are about 1,015 uS/cm and 46,250 uS/cm as conductivity at 25 degrees C. PSS-78 is defined from 2
    to 42; below 2 the library that computed the value extends it, which moves no class limit by more than a few per
    cent.
    References: Venice System, 1958: limnetic < 0.5, mixohaline 0.5-30, euhaline 30-40, hyperhaline > 40. UNESCO
    Technical Papers in Marine Science 44, 1983 (PSS-78).
    """
    if not isfinite(practical_salinity) or practical_salinity < 0.0:
        raise BadArgument(
            f"practical salinity {practical_salinity}: it must be a number of 0 or more. Fix: measure the "
            "conductivity again, or leave it out"
        )
    if practical_salinity < FRESH_BELOW:
        return "fresh"
    return "brackish" if practical_salinity < SALT_FROM else "salt"


def salinity_class(
    kind: WaterKind,
    evidence: SalinityEvidence | None,
    *,
    elevation_m: float | None = None,
    as_of: date | None = None,
) -> tuple[SalinityClass | None, str]:
    """Give the salinity class of a water body, or None when it is unknown, with the reason in one sentence.

    Parameters: kind of the water; evidence, or None; elevation_m of its surface above the sea, None where unknown;
    as_of, the day for which evidence is aged, None for no day.
    Returns: (class or None, reason).
    Raises: BadArgument: the evidence holds a salinity that cannot be.

    Notes: Where a stated class and a measured salinity disagree the saltier one holds. A sea without evidence is salt
    (common practice, no source); a sea said to be fresh is a contradiction, so its class is unknown. Fresh is only what
    a dated sample or statement calls fresh, in a water that no tide reaches: without a date, older than FRESH_FOR_DAYS
    of its kind on the day as_of, or in tidal water it is unknown, because the next tide or season may bring salt. What
    is brackish or salt stays so without a date. An estuary is tidal; so is, up to TIDAL_HEIGHT_M or at an
    unknown height, what lies within TIDAL_REACH_M of its mouth (without evidence salt, the worst case), and a river or
    a water of unknown kind whose distance from the mouth nobody gave. Inland water can be salty too: without
    evidence it is unknown.
    """
    mouth_m = None if evidence is None else evidence.mouth_distance_m
    tidal = _tidal(kind, mouth_m, elevation_m)
    if evidence is None or (evidence.stated_class is None and evidence.practical_salinity is None):
        return _without_evidence(kind, tidal, mouth_m)
    found, reason = _with_evidence(evidence)
    if found != "fresh":
        return found, reason
    if kind == "sea":
        return None, f"unknown: {reason} contradicts its kind, sea. Correct one of the two"
    if tidal:
        return None, f"unknown: {tidal}, where one sample says nothing of the next tide; {reason}"
    doubt = _doubt_of_age(kind, evidence, as_of)
    return (None, f"unknown: {doubt}; {reason}") if doubt else (found, reason)


def _doubt_of_age(kind: WaterKind, evidence: SalinityEvidence, as_of: date | None) -> str:
    """Say why the date of evidence does not let it count as fresh; "" where it does."""
    if evidence.measured_on is None:
        return "evidence without a date may be of any age, state salinity_date"
    if as_of is None:
        return ""
    age, limit = (as_of - evidence.measured_on).days, FRESH_FOR_DAYS[kind in FLOWING]
    if age < 0:
        return f"evidence of {evidence.measured_on}, after {as_of}, check the date"
    return f"evidence {age} days old, more than {limit}, measure again" if age > limit else ""


def salinity_caution(kind: WaterKind, evidence: SalinityEvidence | None, as_of: date | None) -> str:
    """Give a sentence on evidence too old to be relied on for a day; "" where there is none or no day is given.

    Notes: a sample or a statement holds for FRESH_FOR_DAYS of its kind of water (our choice, no source): a river or
    estuary changes with flow and tide, a still water with the seasons. Without a date it may be of any age.
    """
    if as_of is None or evidence is None or kind == "sea":
        return ""
    if evidence.stated_class is None and evidence.practical_salinity is None:
        return ""
    doubt = _doubt_of_age(kind, evidence, as_of)
    return f"salinity ({evidence.origin}): {doubt}" if doubt else ""


def _tidal(kind: WaterKind, mouth_m: float | None, elevation_m: float | None) -> str:
    """Say why a water is or may be tidal; "" where no tide reaches it."""
    above = elevation_m is not None and elevation_m > TIDAL_HEIGHT_M
    if kind in STILL or kind == "sea" or (above and kind != "estuary"):
        return ""
    if mouth_m is not None and mouth_m <= TIDAL_REACH_M:
        reach = f"within {TIDAL_REACH_M / 1000.0:.0f} km (rule of this program)"
        return f"{mouth_m / 1000.0:.1f} km from the mouth, {reach}"
    if kind == "estuary":
        where = "" if mouth_m is None else f", {mouth_m / 1000.0:.1f} km from its mouth"
        return f"an estuary{where} is fresh to salt with place and tide"
    return _perhaps_a_tidal_river(kind, elevation_m) if mouth_m is None else ""


def _perhaps_a_tidal_river(kind: WaterKind, elevation_m: float | None) -> str:
    if kind not in FLOWING:
        return ""
    height = "at an unknown height" if elevation_m is None else f"{elevation_m:.1f} m above the sea"
    who = "a river" if kind == "river" else "a water of unknown kind"
    return f"{who} {height} may be tidal (state mouth_distance_m)"


def _without_evidence(kind: WaterKind, tidal: str, mouth_m: float | None) -> tuple[SalinityClass | None, str]:
    if kind == "sea":
        return "salt", "salt: a sea is taken as salt water (common practice; no evidence was given)"
    if tidal and mouth_m is not None and mouth_m <= TIDAL_REACH_M:
        return "salt", f"salt: nothing was measured {tidal}: taken as the worst case"
    if tidal:
        return None, f"unknown: no evidence was given, and {tidal}"
    return None, "unknown: neither a salinity class nor a conductivity was given"


def _with_evidence(evidence: SalinityEvidence) -> tuple[SalinityClass, str]:
    day = f", {evidence.measured_on.isoformat()}" if evidence.measured_on is not None else ", no date"
    place = f"({evidence.origin}{day})"
    stated = evidence.stated_class
    if evidence.practical_salinity is None:
        assert stated is not None
        return stated, f"{stated}: stated {place}"
    measured = class_of_salinity(evidence.practical_salinity)
    figure = f"practical salinity {evidence.practical_salinity:.2f} {place}"
    if stated is None:
        return measured, f"{measured}: {figure}; {_limits(measured)}"
    if stated == measured:
        return measured, f"{measured}: stated, and {figure}; {_limits(measured)}"
    worse = max(stated, measured, key=_SALTIER.index)
    return worse, f"{worse}: stated {stated}, but {figure} is {measured}; the saltier one holds"


def _limits(found: SalinityClass) -> str:
    text = {"fresh": "below 0.5", "brackish": "0.5 to below 30", "salt": "30 or more"}[found]
    return f"{found} is {text} (Venice System)"
