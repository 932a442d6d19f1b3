"""Store sites as the record that the suitability judges."""

from collections.abc import Sequence
from dataclasses import fields

import shapely

from geo.records.region import AnnotatedSite
from services.store.site_record import SiteFields, SiteRecord


def annotated(records: Sequence[SiteRecord]) -> tuple[AnnotatedSite, ...]:
    """Give sites of the store as annotated sites, their points in WGS 84."""
    return tuple(annotated_site(one.site_id, one.fields, one.revision) for one in records)


def annotated_site(site_id: str, own: SiteFields, revision: int | None = None) -> AnnotatedSite:
    """Give what was written of one site as an annotated site, its point in WGS 84."""
    shared = {one.name: getattr(own, one.name) for one in fields(AnnotatedSite) if hasattr(own, one.name)}
    # What warns is text there, empty where nobody wrote any.
    texts = {name: shared[name] or "" for name in ("note", "hazards", "wires")}
    point = shapely.Point(own.longitude_deg, own.latitude_deg)
    return AnnotatedSite(site_id=site_id, point=point, revision=revision, **(shared | texts))
