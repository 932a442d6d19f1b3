"""Takes many sites into the store at once: all of them in one transaction, or none."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Engine

from geo.base.errors import BadArgument
from services.errors import Conflict
from services.store.engine import writing
from services.store.site_record import SiteFields, SiteRecord
from services.store.sites import insert_site, locked_site, step


@dataclass(frozen=True)
class Wanted:
    """A site as it is to be: a new one where if_revision is None, else the next revision of a kept one."""

    site_id: str | None
    fields: SiteFields
    if_revision: int | None


def take_in(engine: Engine, region_id: str, wanted: Sequence[Wanted], who: str) -> list[SiteRecord]:
    """Make the new sites and change the kept ones; each change is kept in its site's history.

    Raises: Conflict where a site is no longer at its if_revision, BadArgument for a retired one and for an id that is
    taken; NotKept. Then no site of them all has changed.
    """
    with writing(engine) as connection:
        done = []
        for one in wanted:
            if one.if_revision is None:
                done.append(insert_site(connection, region_id, one.fields, who, one.site_id))
                continue
            assert one.site_id is not None
            before = locked_site(connection, one.site_id)
            after = before.model_copy(update={"fields": one.fields})
            if before.revision != one.if_revision:
                raise Conflict(
                    f"site {one.site_id}: {before.updated_by} changed it meanwhile (revision {before.revision}, you "
                    f"saw {one.if_revision}); nothing was imported. Fix: look at both versions and import again",
                    before.document(),
                    after.document(),
                )
            if before.retired:
                raise BadArgument(f"site {one.site_id} is retired. Fix: restore it before you change it")
            done.append(step(connection, before, after, who, "update"))
    return done
