"""What people know of a filling place, in words for paper: what stands near, what is closed, leave, notes of crews."""

from datetime import date

import shapely
from shapely.ops import nearest_points

from geo.base.geodesy import plane_geodesic
from geo.base.positions import bearing_text
from geo.base.unit_system import UnitSystem
from geo.records.region import AnnotatedSite, Obstacle, Region, RegionFrame, WaterBody
from geo.records.survey import BodySurvey

NEAR_M = 1500.0  # what stands further off is not listed
MOST_LISTED = 6
MOST_SITES = 5  # noted places on one sheet; what rules the water out comes first, the rest is counted
MOST_LETTERS = 320  # of what is said of one place


def hazards(
    region: Region, body: WaterBody, record: BodySurvey, units: UnitSystem, day: date | None
) -> list[str]:
    """List what stands near, the nearest first, and what is closed; an absent list is said to be absent."""
    found = [] if region.obstacles_listed else ["NO LIST of masts and wires was given: expect any."]
    pairs = ((one.shape.distance(body.polygon), one) for one in region.obstacles)
    near = sorted((pair for pair in pairs if pair[0] <= NEAR_M), key=lambda pair: pair[0])
    hover = record.hover_point
    middle = body.polygon.representative_point() if hover is None else hover.point
    seen_from = "the middle" if hover is None else "the hover point"
    for away_m, one in near[:MOST_LISTED]:
        found.append(_obstacle(one, away_m, middle, region.frame, units) + f" of {seen_from}")
    if len(near) > MOST_LISTED:
        found.append(f"{len(near) - MOST_LISTED} MORE within {units.length.text(NEAR_M)}: see the map.")
    if region.obstacles_listed and not near:
        found.append(
            f"no mast or wire listed within {units.length.text(NEAR_M)}; the list may be incomplete."
        )
    for one in region.closures:
        if one.area.intersects(body.polygon):
            held = (
                ""
                if day is None
                else ("; IN FORCE" if one.in_force(day) else "; not in force") + f" on {day}"
            )
            name = one.name or one.closure_id
            found.append(
                f"CLOSED, {one.kind}: {name}, {span(one.valid_from, one.valid_to)}{held}: {one.reason}"
            )
    return found


def _obstacle(
    obstacle: Obstacle, away_m: float, middle: shapely.Point, frame: RegionFrame, units: UnitSystem
) -> str:
    place = nearest_points(obstacle.shape, middle)[0]
    way = plane_geodesic(frame.crs_wkt, (middle.x, middle.y), (place.x, place.y))
    if obstacle.top_elevation_m is not None:
        height = f"top {units.height.text(obstacle.top_elevation_m)}"
    elif obstacle.height_above_ground_m is not None:
        height = f"{units.height.text(obstacle.height_above_ground_m)} above ground"
    else:
        height = "HEIGHT UNKNOWN"
    where = "OVER THE WATER" if away_m <= 0.0 else f"{units.length.text(away_m)} from the shore"
    name = "" if obstacle.name.lower() == obstacle.kind.lower() else f" {obstacle.name}"
    bearing = bearing_text(way.start_bearing_deg)
    return f"{obstacle.kind}{name}: {height}, {where}, {units.distance.text(way.distance_m, 2)} {bearing}"


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
    parts = [f"{site.name}: {'VETO' if site.effect == 'veto' else site.status.upper()}"]
    if site.effect == "limit":
        parts.append(
            "limit UNKNOWN" if site.most_litres is None else f"at most {units.volume.text(site.most_litres)}"
        )
    if site.method:
        parts.append(site.method.replace("_", " "))
    if site.valid_from is not None or site.valid_to is not None:
        parts.append(span(site.valid_from, site.valid_to))
    if site.season_from is not None or site.season_to is not None:
        parts.append(f"season {site.season_from or 'UNKNOWN'} to {site.season_to or 'UNKNOWN'}")
    if site.permission is not None or site.permission_to is not None:
        until = "" if site.permission_to is None else f" until {site.permission_to}"
        parts.append(f"permission {site.permission or 'UNKNOWN'}{until}")
    if site.owner:
        parts.append(f"owner {site.owner}")
    seen = "not inspected" if site.inspected_on is None else f"inspected {site.inspected_on}"
    parts.append(seen + (f" by {site.inspected_by}" if site.inspected_by else ""))
    for name, words in (("wires", site.wires), ("hazards", site.hazards), ("note", site.note)):
        if words:
            parts.append(f"{name}: {words}")
    return "; ".join(parts) + ("" if site.revision is None else f" (revision {site.revision})")
