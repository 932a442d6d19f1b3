"""Another level than the files' for a water body: a gauge read this morning, or a question of what if."""

from dataclasses import replace
from hashlib import sha256
from math import isfinite

from geo.errors import BadInput
from geo.records.fault import Fault
from geo.records.region import Region, WaterBody

# A level further above that of the outline, or below it, is taken as a slip of unit or datum (our choice, no source).
MOST_ABOVE_M = 10.0
MOST_BELOW_M = 150.0
ORIGIN = "level given with the question"


def with_level(region: Region, id_or_name: str, level_m: float) -> Region:
    """Give the region with another level of today for one water body.

    Parameters: the body's id or name; level_m, the elevation of its surface in the region's vertical datum [m].
    Returns: Region with another fingerprint, so that its survey is kept apart.

    Raises
    ------
    BadInput: no such body, or several of that name; a level that is not finite or far from that of the outline; a body
    whose outline's level (depth_level) is unknown, so that the given level says nothing of its depths.
    """
    body = _named(region, id_or_name, level_m)
    if not isfinite(level_m):
        raise _refusal(body.name, level_m, "the level is not finite", "give metres, or feet as 696ft")
    datum_m = body.depth_level_m
    if datum_m is None:
        rule = "the level at which its depths and outline hold is unknown, so another level says nothing of its depths"
        raise _refusal(body.name, level_m, rule, "map the column depth_level in region.toml and fill it in")
    change_m = level_m - datum_m
    if not -MOST_BELOW_M <= change_m <= MOST_ABOVE_M:
        side = "above" if change_m > 0.0 else "below"
        rule = f"it lies {abs(change_m):.1f} m {side} the level of its outline, {datum_m:.1f} m"
        cure = f"check unit and datum: metres in {region.frame.vertical_datum}, or feet as 696ft"
        raise _refusal(body.name, level_m, rule, cure)
    changed = replace(body, surface_elevation_m=level_m, level_change_m=change_m, level_origin=ORIGIN)
    text = f"{region.fingerprint}\n{body.body_id}\n{level_m!r}"
    return replace(
        region,
        bodies=tuple(changed if one.body_id == body.body_id else one for one in region.bodies),
        fingerprint=sha256(text.encode()).hexdigest(),
    )


def _named(region: Region, id_or_name: str, level_m: float) -> WaterBody:
    by_id = [body for body in region.bodies if body.body_id == id_or_name]
    found = by_id if by_id else [body for body in region.bodies if body.name == id_or_name]
    if len(found) == 1:
        return found[0]
    rule = f"no water body of {region.name} has this id or name"
    if found:
        rule = f"{len(found)} water bodies have this name: {', '.join(body.body_id for body in found)}"
    raise _refusal(id_or_name, level_m, rule, "name one by its id; `fetchwater survey --json` lists them")


def _refusal(body: str, level_m: float, rule: str, cure: str) -> BadInput:
    return BadInput([Fault("refuse", "--level", rule, cure, feature=body, value=f"{level_m} m")])
