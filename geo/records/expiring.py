"""What expires before a day, the season's first for example: inspections, permissions, depth evidence."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from dateutil.relativedelta import relativedelta


@dataclass(frozen=True)
class SiteDates:
    """The dates of an annotated site, the last day each holds; contact, whom to call."""

    site_id: str
    name: str
    inspected_on: date | None
    inspection_due: date | None
    permission_to: date | None
    depth_evidence_to: date | None
    contact: str | None


@dataclass(frozen=True)
class EvidenceAge:
    """Depth evidence of one kind of one water; oldest_on, the day of its oldest figure (None: undated)."""

    body_id: str
    name: str | None
    kind: str
    oldest_on: date | None


@dataclass(frozen=True)
class Expiring:
    """One item that expires. site_id: None for a water's evidence; on: None where it is undated or was never made."""

    site_id: str | None
    name: str
    what: str
    on: date | None
    contact: str | None


def expiring(
    sites: Iterable[SiteDates],
    evidence: Iterable[EvidenceAge],
    before: date,
    evidence_years: int | None = None,
) -> list[Expiring]:
    """Give what expires before a day, the soonest first; what is undated or was never made leads.

    Parameters: evidence_years, after how many years the depth evidence of any water expires; None leaves it out.
    """
    found = [] if evidence_years is None else list(_old(evidence, before, evidence_years))
    for site in sites:
        found += _of_site(site, before)
    return sorted(found, key=lambda one: (one.on or date.min, one.name, one.what))


def _of_site(site: SiteDates, before: date) -> Iterator[Expiring]:
    if site.inspected_on is None and site.inspection_due is None:
        yield Expiring(site.site_id, site.name, "inspection, never made", None, site.contact)
    for what, day in (
        ("inspection", site.inspection_due),
        ("permission", site.permission_to),
        ("depth evidence", site.depth_evidence_to),
    ):
        if day is not None and day < before:
            yield Expiring(site.site_id, site.name, what, day, site.contact)


def _old(evidence: Iterable[EvidenceAge], before: date, years: int) -> Iterator[Expiring]:
    for one in evidence:
        # The day before an anniversary of 29 February is its 28th.
        last = None if one.oldest_on is None else one.oldest_on + relativedelta(years=years)
        if last is None or last < before:
            age = "undated" if last is None else f"of {one.oldest_on}"
            yield Expiring(None, one.name or one.body_id, f"{one.kind}, {age}", last, None)
