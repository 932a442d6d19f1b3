"""What people know of a filling place, in words for paper: what stands near, what is closed, leave, notes of crews."""

from datetime import date

import shapely
from shapely.ops import nearest_points

from geo.base.positions import bearing_text
from geo.base.unit_system import UNKNOWN, UnitSystem
from geo.export.place_text import distance_between
from geo.records.region import AnnotatedSite, Obstacle, Region, RegionFrame, WaterBody
from geo.records.survey import BodySurvey

NEAR_M = 1500.0  # what stands further off is not listed
NAMED_M = 1000.0  # every one within this distance of the water is named
MOST_LISTED = 6  # and so many at most further off
MOST_SITES = 5  # noted places on one sheet; what rules the water out comes first, the rest is counted
MOST_LETTERS = 320  # of what is said of one place


def hazards(
    region: Region, body: WaterBody, record: BodySurvey, units: UnitSystem, day: date | None
) -> list[str]:
    """List what stands near, the nearest first, and what is closed; an absent list is said to be absent."""
    return [*_obstacles(region, body, record, units), *_closures(region, body, day)]


def _obstacles(region: Region, body: WaterBody, record: BodySurvey, units: UnitSystem) -> list[str]:
    found = [] if region.obstacles_listed else ["NO LIST of masts and wires was given: expect any."]
    pairs = ((float(shapely.distance(one.shape, body.polygon)), one) for one in region.obstacles)
    near = sorted((pair for pair in pairs if pair[0] <= NEAR_M), key=lambda pair: pair[0])
    hover = record.hover_point
    middle = body.polygon.representative_point() if hover is None else hover.point
    seen_from = "the middle" if hover is None else "the hover point"
    listed = max(MOST_LISTED, sum(bool(away_m <= NAMED_M) for away_m, _ in near))
    for away_m, one in near[:listed]:
        found.append(_obstacle(one, away_m, middle, region.frame, units) + f" of {seen_from}")
    if len(near) > listed:
        found.append(f"{len(near) - listed} MORE within {units.length.text(NEAR_M)}: see the map.")
    if region.obstacles_listed and not near:
        found.append(
            f"no mast or wire listed within {units.length.text(NEAR_M)}; the list may be incomplete."
        )
    return found


def _closures(region: Region, body: WaterBody, day: date | None) -> list[str]:
    found = []
    for one in region.closures:
        if one.area.intersects(body.polygon):
            held = ""
            if day is not None:
                held = f"; {'IN FORCE' if one.in_force(day) else 'not in force'} on {day}"
            name, days = one.name or one.closure_id, span(one.valid_from, one.valid_to)
            found.append(f"CLOSED, {one.kind}: {name}, {days}{held}: {one.reason}")
    return found


def _obstacle(
    obstacle: Obstacle, away_m: float, middle: shapely.Point, frame: RegionFrame, units: UnitSystem
) -> str:
    place = nearest_points(obstacle.shape, middle)[0]
    line = distance_between(middle, place, frame)
    if obstacle.top_elevation_m is not None:
        height = f"top {units.height.text(obstacle.top_elevation_m)}"
    elif obstacle.height_above_ground_m is not None:
        height = f"{units.height.text(obstacle.height_above_ground_m)} above ground"
    else:
        height = "HEIGHT UNKNOWN"
    where = "OVER THE WATER" if away_m <= 0.0 else f"{units.length.text(away_m)} from the shore"
    name = "" if obstacle.name.lower() == obstacle.kind.lower() else f" {obstacle.name}"
    bearing = bearing_text(line.start_bearing_deg)
    return f"{obstacle.kind}{name}: {height}, {where}, {units.distance.text(line.distance_m, 2)} {bearing}"


def span(start: date | None, end: date | None) -> str:
    """Give from and to as words; open at both ends is always."""
    if start is None and end is None:
        return "always"
    return f"{'' if start is None else f'from {start} '}{'' if end is None else f'to {end}'}".strip()


def leave_and_notes(region: Region, body: WaterBody, units: UnitSystem) -> list[str]:
    """List the permission of the files, and every note on a site of this water with its days and who wrote it."""
    found = [f"permission: {body.permission or 'UNKNOWN'}" + (f", {body.owner}" if body.owner else "")]
    if body.note:
        found.append(body.note)
    here = [
        site
        for site in region.sites
        if site.body_id == body.body_id or (site.body_id is None and body.polygon.covers(site.point))
    ]
    here.sort(key=_gravity)
    found += [_cut(_site(site, units)) for site in here[:MOST_SITES]]
    if len(here) > MOST_SITES:
        found.append(f"{len(here) - MOST_SITES} MORE places are noted here: read the list of sites.")
    return found


def _gravity(site: AnnotatedSite) -> int:
    """Rank a site by what it means: 0 rules the water out, 1 limits it, 2 warns or confirms."""
    if site.effect == "veto" or site.status == "closed" or site.permission == "refused":
        return 0
    return 1 if site.effect == "limit" or site.status in ("seasonal", "unknown") else 2


def _cut(words: str) -> str:
    return words if len(words) <= MOST_LETTERS else words[: MOST_LETTERS - 8].rstrip() + " … (CUT)"


def _site(site: AnnotatedSite, units: UnitSystem) -> str:
    parts = (
        f"{site.name}: {'VETO' if site.effect == 'veto' else site.status.upper()}",
        _limit(site, units) if site.effect == "limit" else None,
        site.method.replace("_", " ") if site.method else None,
        *_days(site),
        _permission(site),
        f"owner {site.owner}" if site.owner else None,
        _inspection(site),
        *(
            f"{name}: {words}"
            for name, words in (("wires", site.wires), ("hazards", site.hazards), ("note", site.note))
            if words
        ),
    )
    known = "; ".join(part for part in parts if part is not None)
    return known if site.revision is None else f"{known} (revision {site.revision})"


def _days(site: AnnotatedSite) -> list[str]:
    found = []
    if site.valid_from is not None or site.valid_to is not None:
        found.append(span(site.valid_from, site.valid_to))
    if site.season_from is not None or site.season_to is not None:
        found.append(f"season {site.season_from or UNKNOWN} to {site.season_to or UNKNOWN}")
    return found


def _limit(site: AnnotatedSite, units: UnitSystem) -> str:
    return (
        f"limit {UNKNOWN}" if site.most_litres is None else f"at most {units.volume.text(site.most_litres)}"
    )


def _permission(site: AnnotatedSite) -> str | None:
    if site.permission is None and site.permission_to is None:
        return None
    until = "" if site.permission_to is None else f" until {site.permission_to}"
    return f"permission {site.permission or UNKNOWN}{until}"


def _inspection(site: AnnotatedSite) -> str:
    seen = "not inspected" if site.inspected_on is None else f"inspected {site.inspected_on}"
    return f"{seen} by {site.inspected_by}" if site.inspected_by else seen
