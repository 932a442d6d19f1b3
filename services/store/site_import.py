"""Takes many sites into the store at once: all of them in one transaction, or none."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Engine

from services.store.engine import writing
from services.store.site_record import SiteFields, SiteRecord
from services.store.sites import insert_site, refuse_stale, site_in, step


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
            before = site_in(connection, one.site_id, locked=True)
            after = before.model_copy(update={"fields": one.fields})
            refuse_stale(before, after, one.if_revision)
            done.append(step(connection, before, after, who, "update"))
    return done
