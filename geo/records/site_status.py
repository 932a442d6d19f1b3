"""What an annotated site says on one day: whether it is open, and whether leave to fill still holds."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from geo.records.region import AnnotatedSite, SiteStatus, within_days


def sites_on(sites: Sequence[AnnotatedSite], day: date | None) -> tuple[AnnotatedSite, ...]:
    """Give the sites with the status and the permission that count on a day.

    Parameters: day, None where no day was asked for. As with closures, what closes then counts whatever its days, and
    what opens or allows for some days only is unknown.
    Returns: sites whose status is open, closed or unknown; where days decided, the note says so.
    """
    return tuple(_allowed(_of_day(site, day), day) for site in sites)


def unplaced(sites: Sequence[AnnotatedSite]) -> tuple[str, ...]:
    """Give a caution for each site that would close, limit or refuse a water and belongs to none: it rules nothing."""
    return tuple(
        f"site {site.name!r} ({site.site_id}) would rule a water out or limit it, but lies at none and counts nowhere: "
        "name its water, or mend its position"
        for site in sites
        if site.body_id is None
        and (
            site.effect in ("veto", "limit")
            or site.status in ("closed", "seasonal")
            or site.permission == "refused"
        )
    )


def _of_day(site: AnnotatedSite, day: date | None) -> AnnotatedSite:
    if site.effect == "veto":
        return replace(site, status="closed")
    if site.status == "seasonal":
        return _of_season(site, day)
    if site.status == "unknown" or (site.valid_from is None and site.valid_to is None):
        return site
    days = f"{site.status} from {site.valid_from or 'ever'} to {site.valid_to or 'further notice'}"
    if day is None:
        status = site.status if site.status == "closed" else "unknown"
        return _said(site, status, f"{days}; no day was asked for")
    inside = within_days(day, site.valid_from, site.valid_to)
    return _said(site, site.status if inside else "unknown", days)


def _of_season(site: AnnotatedSite, day: date | None) -> AnnotatedSite:
    first, last = site.season_from, site.season_to
    if first is None or last is None:
        return _said(site, "unknown", "seasonal, and nobody wrote down the season")
    season = f"open from {first} to {last} of every year"
    if day is None:
        return _said(site, "closed", f"{season}; no day was asked for")
    today = f"{day:%m-%d}"
    inside = first <= today <= last if first <= last else today >= first or today <= last
    return _said(site, "open" if inside else "closed", season)


def _said(site: AnnotatedSite, status: SiteStatus, words: str) -> AnnotatedSite:
    return replace(site, status=status, note=_noted(site, words))


def _noted(site: AnnotatedSite, words: str) -> str:
    return f"{site.note}; {words}" if site.note else words


def _allowed(site: AnnotatedSite, day: date | None) -> AnnotatedSite:
    """Give the site without a permission that has run out; a refusal never runs out by itself."""
    if site.permission != "granted" or site.permission_to is None:
        return site
    if day is not None and day <= site.permission_to:
        return site
    words = "permission ran out on" if day is not None else "permission until"
    return replace(site, permission=None, note=_noted(site, f"{words} {site.permission_to}"))
