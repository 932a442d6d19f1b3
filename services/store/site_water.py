"""Which water a site speaks of: a site that names one that is not there would rule nothing and nobody would know."""

from sqlalchemy import Connection, or_, select

from geo.base.errors import BadInput
from geo.base.fault import Fault
from services.store.site_record import SiteFields
from services.store.tables import region, water_body


def with_known_water(connection: Connection, region_id: str, fields: SiteFields) -> SiteFields:
    """Give a site's fields with the id of the water that they name by id or by its only name.

    Raises: BadInput where the region's surveyed waters hold none, or several, of that name.
    Notes: a region whose survey was never published has no waters to compare with; then the fields stay as they are.
    """
    named = fields.body_id
    if (
        named is None
        or connection.scalar(select(region.c.fid).where(region.c.region_id == region_id)) is None
    ):
        return fields
    asked = select(water_body.c.body_id).where(
        water_body.c.region_id == region_id,
        or_(water_body.c.body_id == named, water_body.c.name == named),
    )
    found = set(connection.scalars(asked))
    if named in found:
        return fields
    if len(found) == 1:
        return fields.model_copy(update={"body_id": found.pop()})
    rule = "several waters have this name" if found else "no water of the region has this id or name"
    raise BadInput(
        [
            Fault(
                "refuse",
                "site",
                rule,
                "name one by its id, or leave body_id out: the site then speaks of the water that it lies in",
                feature=fields.name,
                field="body_id",
                value=named,
            )
        ]
    )
