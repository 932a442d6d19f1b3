"""Store sites as the record that the suitability judges."""

from collections.abc import Sequence

import shapely

from geo.records.region import AnnotatedSite
from services.store.site_record import SiteRecord


def annotated(records: Sequence[SiteRecord]) -> tuple[AnnotatedSite, ...]:
    """Give sites of the store as annotated sites, their points in WGS 84."""
    return tuple(_annotated(record) for record in records)


def _annotated(record: SiteRecord) -> AnnotatedSite:
    own = record.fields
    return AnnotatedSite(
        site_id=record.site_id,
        name=own.name,
        point=shapely.Point(own.longitude_deg, own.latitude_deg),
        body_id=own.body_id,
        method=own.method,
        status=own.status,
        note=own.note or "",
        inspected_on=own.inspected_on,
        valid_from=own.valid_from,
        valid_to=own.valid_to,
        season_from=own.season_from,
        season_to=own.season_to,
        effect=own.effect,
        most_litres=own.most_litres,
        hazards=own.hazards or "",
        wires=own.wires or "",
        owner=own.owner,
        permission=own.permission,
        permission_to=own.permission_to,
        inspected_by=own.inspected_by,
        revision=record.revision,
    )
