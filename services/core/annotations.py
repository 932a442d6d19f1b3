"""Store sites as the record that the suitability judges."""

from collections.abc import Sequence
from dataclasses import fields

import shapely

from geo.records.region import AnnotatedSite
from services.store.site_record import SiteRecord


def annotated(records: Sequence[SiteRecord]) -> tuple[AnnotatedSite, ...]:
    """Give sites of the store as annotated sites, their points in WGS 84."""
    return tuple(_annotated(record) for record in records)


def _annotated(record: SiteRecord) -> AnnotatedSite:
    own = record.fields
    shared = {one.name: getattr(own, one.name) for one in fields(AnnotatedSite) if hasattr(own, one.name)}
    # What warns is text there, empty where nobody wrote any.
    texts = {name: shared[name] or "" for name in ("note", "hazards", "wires")}
    point = shapely.Point(own.longitude_deg, own.latitude_deg)
    return AnnotatedSite(site_id=record.site_id, point=point, revision=record.revision, **(shared | texts))
