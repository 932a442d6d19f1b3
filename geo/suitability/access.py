"""Criteria on leave to fill: closed areas, permission, and what people noted about the place."""

from collections.abc import Sequence

import shapely

from geo.records.aircraft import METHOD_NAMES, FillMethod
from geo.records.region import AnnotatedSite, Closure, Permission, WaterBody
from geo.records.suitability import Criterion
from geo.suitability.criteria import criterion


def closed_areas(path: shapely.Geometry, margin_m: float, closures: Sequence[Closure]) -> Criterion:
    """Judge whether the run or hover point keeps out of every closed area by margin_m. Score: 100 when it does.

    Parameters: path, the run's line or the hover point; margin_m, half the corridor or the rotor's radius with its
    margin; closures, those in force on the day. Filling and flying closures count alike: who fills also flies.
    """
    inside = [c for c in closures if shapely.distance(c.area, path) < margin_m or c.area.intersects(path)]
    if not inside:
        return criterion("closed areas", "met", "no closed area at the filling place", hard=True, score=100.0)
    said = "; ".join(f"{c.kind} area {c.name} ({c.reason})" for c in inside)
    return criterion("closed areas", "not met", f"inside the {said}", hard=True)


def permission(granted: Permission | None, owner: str | None) -> Criterion:
    """Judge the leave of the water's owner. Score: 100 when granted or not needed; a refusal vetoes."""
    of = "" if owner is None else f" by {owner}"
    if granted == "refused":
        return criterion("permission", "not met", f"permission refused{of}", hard=True)
    if granted is None:
        return criterion("permission", "unknown", "permission unknown", hard=False)
    reason = f"permission granted{of}" if granted == "granted" else "permission not needed"
    return criterion("permission", "met", reason, hard=False, score=100.0)


def sites_of(
    body: WaterBody, method: FillMethod, sites: Sequence[AnnotatedSite]
) -> tuple[AnnotatedSite, ...]:
    """Give the annotated sites that speak of this method at this water.

    A site belongs to the water that it names, or to the water that it lies in when it names none. A site whose
    method is empty or not one of ours speaks of every method, so that a warning is never lost to its spelling.
    """
    words = {word: key for key, name in METHOD_NAMES.items() for word in (key, name)}
    found = []
    for site in sites:
        here = site.body_id == body.body_id or (site.body_id is None and body.polygon.covers(site.point))
        meant = words.get((site.method or "").strip().lower())
        if here and meant in (None, method):
            found.append(site)
    return tuple(found)


def site_notes(sites: Sequence[AnnotatedSite]) -> Criterion:
    """Judge what people noted; one closed site vetoes the water for its methods. Score: 100 for an open site."""

    def told(site: AnnotatedSite) -> str:
        day = "not dated" if site.inspected_on is None else f"inspected {site.inspected_on.isoformat()}"
        return f"{site.name} ({day}){': ' + site.note if site.note else ''}"

    for status in ("closed", "open"):
        some = "; ".join(told(site) for site in sites if site.status == status)
        if some:
            state = "not met" if status == "closed" else "met"
            reason = f"site noted as {status}: {some}"
            return criterion(
                "site notes", state, reason, hard=status == "closed", score=100.0 * (state == "met")
            )
    some = "; ".join(told(site) for site in sites)
    reason = f"site of unknown status: {some}" if some else "nobody noted an inspection here"
    return criterion("site notes", "unknown", reason, hard=False)
