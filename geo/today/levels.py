"""Another level than the files' for a water body: a gauge read this morning, or a question of what if."""

from collections.abc import Sequence
from dataclasses import replace
from hashlib import sha256
from math import isfinite

from geo.base.errors import BadInput
from geo.base.named import NotNamed, find_named
from geo.records.region import Region, WaterBody
from geo.records.survey import BodySurvey, RegionSurvey

# A level further above that of the outline, or below it, is taken as a slip of unit or datum (our choice, no source).
MOST_ABOVE_M = 10.0
# Above chart datum the largest tides of the world stand some 16 m (common knowledge, no source).
MOST_TIDE_M = 20.0
MOST_BELOW_M = 150.0
# A tide turns within hours: a reading of such a water that never ended would be wrong by the evening.
TIDAL = ("sea", "estuary")
ORIGIN = "level given with the question"


def with_level(
    region: Region, id_or_name: str, level_m: float, *, origin: str = ORIGIN, file: str = "--level"
) -> Region:
    """Give the region with another level of today for one water body.

    Parameters: the body's id or name; level_m, the elevation of its surface in the region's vertical datum [m]; origin,
    the words for where the level comes from; file, where a refusal says that it stands.
    Returns: Region with another fingerprint, so that its survey is kept apart.

    Raises
    ------
    BadInput: no such body, or several of that name; a level that is not finite or far from that of the outline; a body
    whose outline's level (depth_level) is unknown, so that the given level says nothing of its depths.
    """
    body = _named(region, id_or_name, level_m, file)
    datum_m = body.depth_level_m
    if not isfinite(level_m):
        raise _refusal(file, body.name, level_m, "the level is not finite", "give metres, or feet as 696ft")
    if datum_m is None:
        rule = "the level at which its depths and outline hold is unknown, so another level says nothing of its depths"
        fix = "map the column depth_level in region.toml and fill it in"
        raise _refusal(file, body.name, level_m, rule, fix)
    change_m = level_m - datum_m
    most_m = MOST_TIDE_M if body.kind in TIDAL else MOST_ABOVE_M
    if not -MOST_BELOW_M <= change_m <= most_m:
        side = "above" if change_m > 0.0 else "below"
        rule = f"it lies {abs(change_m):.1f} m {side} the level of its outline, {datum_m:.1f} m"
        fix = f"check unit and datum: metres in {region.frame.vertical_datum}, or feet as 696ft"
        raise _refusal(file, body.name, level_m, rule, fix)
    changed = replace(body, surface_elevation_m=level_m, level_change_m=change_m, level_origin=origin)
    told = "" if origin == ORIGIN else f"\n{origin}"
    return _with_body(region, changed, f"{level_m!r}{told}")


def without_level(region: Region, body_id: str, last_m: float, why: str) -> Region:
    """Give the region with the present level of one water body unknown: the last reading has expired.

    Parameters: last_m, that reading [m], which still says how high the water about lies; why, in words.
    Raises: BadArgument where the region has no such body.
    """
    body = find_named(region.bodies, body_id)
    changed = replace(body, surface_elevation_m=last_m, level_change_m=None, level_origin=why)
    return _with_body(region, changed, f"unknown since {last_m!r}\n{why}")


def _with_body(region: Region, changed: WaterBody, words: str) -> Region:
    """Give the region with one body changed, and a fingerprint of its own by the words for the change."""
    text = f"{region.fingerprint}\n{changed.body_id}\n{words}"
    return replace(
        region,
        bodies=tuple(changed if one.body_id == changed.body_id else one for one in region.bodies),
        fingerprint=sha256(text.encode()).hexdigest(),
    )


def unchanged(region: Region, before: Region, survey: RegionSurvey) -> dict[str, BodySurvey]:
    """Give, by id, the surveys of the waters that are the very records of the region before (see with_level)."""
    same = {id(body) for body in before.bodies} & {id(body) for body in region.bodies}
    ids = {body.body_id for body in region.bodies if id(body) in same}
    return {body.body_id: body for body in survey.bodies if body.body_id in ids}


def with_levels(region: Region, levels: Sequence[tuple[str, float]], *, file: str = "--level") -> Region:
    """Give the region with other levels of today for some water bodies, each by its id or name [m].

    Raises: BadInput as `with_level`, and where one water is given two different levels.
    """
    given: dict[str, float] = {}
    for name, level_m in levels:
        body = _named(region, name, level_m, file)
        other_m = given.setdefault(body.body_id, level_m)
        if other_m != level_m:
            rule = f"it is given two levels, {other_m} m and {level_m} m"
            raise _refusal(file, body.name, level_m, rule, "give the one that holds now")
        region = with_level(region, body.body_id, level_m, file=file)
    return region


def _named(region: Region, id_or_name: str, level_m: float, file: str) -> WaterBody:
    try:
        return find_named(region.bodies, id_or_name)
    except NotNamed as refusal:
        raise _refusal(file, id_or_name, level_m, refusal.rule, refusal.fix) from refusal


def _refusal(file: str, body: str, level_m: float, rule: str, fix: str) -> BadInput:
    return BadInput.of(file, rule, fix, feature=body, value=f"{level_m} m")
