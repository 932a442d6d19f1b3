"""Criteria on leave to fill: closed areas, permission, and what people noted about the place."""

from collections.abc import Iterable, Sequence

import shapely

from geo.records.aircraft import METHOD_NAMES, FillMethod
from geo.records.region import AnnotatedSite, Closure, WaterBody
from geo.records.suitability import Criterion, State
from geo.suitability.criteria import criterion

_METHODS = {word: key for key, name in METHOD_NAMES.items() for word in (key, name)}


def closed_areas(path: shapely.Geometry, margin_m: float, closures: Sequence[Closure]) -> Criterion:
    """Judge whether the run or hover point keeps out of every closed area by margin_m. Score: 100 when it does.

    Parameters: path, the run's line or the hover point; margin_m, half the corridor or the rotor's radius with its
    margin; closures, those in force on the day. Filling and flying closures count alike: who fills also flies.
    """
    inside = [c for c in closures if shapely.distance(c.area, path) < margin_m or c.area.intersects(path)]
    if not inside:
        return criterion("closed areas", "met", "none at the filling place", hard=True, score=100.0)
    said = "; ".join(f"{c.kind.replace(' ', '-')} area {c.name} ({c.reason})" for c in inside)
    return criterion("closed areas", "not met", f"inside the {said}", hard=True)


def permission(body: WaterBody, sites: Sequence[AnnotatedSite] = ()) -> Criterion:
    """Judge the leave of the water's owner. Score: 100 when granted or not needed; a refusal vetoes.

    Parameters: sites, those of this water and method; what one of them says of the permission goes before the water's
    own record, and among several a refusal goes before all.
    """
    told: list[tuple[str | None, str | None, str]] = [
        (one.permission, one.owner or body.owner, f", says {site_title(one)}")
        for one in sites
        if one.permission
    ]
    told.append((body.permission, body.owner, ""))
    return leave(*next((one for one in told if one[0] == "refused"), told[0]))


def leave(granted: str | None, owner: str | None, by_whom: str = "") -> Criterion:
    """Judge one word on the owner's leave; by_whom ends the sentence. Score: 100 when granted or not needed."""
    of = "" if owner is None else f" by {owner}"
    if granted == "refused":
        return criterion("permission", "not met", f"refused{of}{by_whom}", hard=True)
    if granted is None:
        return criterion("permission", "unknown", "unknown", hard=False)
    reason = f"granted{of}" if granted == "granted" else "not needed"
    return criterion("permission", "met", reason + by_whom, hard=False, score=100.0)


def sites_at(body: WaterBody, sites: Iterable[AnnotatedSite]) -> tuple[AnnotatedSite, ...]:
    """Give the annotated sites of this water: those that name it, and those that name none and lie in it."""
    return tuple(
        site
        for site in sites
        if site.body_id == body.body_id or (site.body_id is None and body.polygon.covers(site.point))
    )


def sites_of(method: FillMethod, sites: Sequence[AnnotatedSite]) -> tuple[AnnotatedSite, ...]:
    """Give the sites of a water that speak of this method.

    A site whose method is empty or not one of ours speaks of every method, so that a warning is never lost to its
    spelling.
    """
    return tuple(
        site for site in sites if _METHODS.get((site.method or "").strip().lower()) in (None, method)
    )


def site_title(site: AnnotatedSite) -> str:
    """Give how a site is named in reasons: name, revision where it is edited by several, last inspection."""
    day = "not dated" if site.inspected_on is None else f"inspected {site.inspected_on.isoformat()}"
    by = f" by {site.inspected_by}" if site.inspected_by else ""
    of = "" if site.revision is None else f"{site.site_id} revision {site.revision}, "
    return f"{site.name} ({of}{day}{by})"


def site_notes(sites: Sequence[AnnotatedSite]) -> Criterion:
    """Judge what people noted; one closed site vetoes the water for its methods. Score: 100 for an open site.

    A site with the effect "note" only warns: it neither opens nor closes.
    """

    def told(site: AnnotatedSite) -> str:
        return f"{site_title(site)}{': ' + site.note if site.note else ''}"

    speaking = [site for site in sites if site.effect != "note"]
    for status in ("closed", "open"):
        some = "; ".join(told(site) for site in speaking if site.status == status)
        if some:
            closed = status == "closed"
            state: State = "not met" if closed else "met"
            score = 0.0 if closed else 100.0
            return criterion("site notes", state, f"say {status}: {some}", hard=closed, score=score)
    some = "; ".join(told(site) for site in sites)
    reason = f"of unknown status: {some}" if some else "none"
    return criterion("site notes", "unknown", reason, hard=False)


def load_limit(sites: Sequence[AnnotatedSite]) -> tuple[float, str] | None:
    """Give the least load [L] that a site's note allows, with the words for it; None where no note limits it."""
    limits = [(one.most_litres, f"site note {one.name}") for one in sites if one.most_litres is not None]
    return min(limits, default=None)


def site_cautions(sites: Sequence[AnnotatedSite]) -> list[str]:
    """Give what people wrote of wires and other hazards, wherever the site stands."""
    return [
        f"{what} noted at {site_title(site)}: {text}"
        for site in sites
        for what, text in (("wires", site.wires), ("hazards", site.hazards))
        if text
    ]
