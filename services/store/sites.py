"""Annotated sites: every change is kept with who, when, before and after; nothing is deleted for good.

Who changes a site says which revision was seen. Where somebody else was faster, Conflict carries both versions and
nothing is overwritten.
"""

from collections.abc import Mapping
from typing import Any
from uuid import uuid4

from sqlalchemy import Connection, Engine, select, update
from sqlalchemy.exc import IntegrityError

from geo.base.errors import BadArgument
from geo.records.expiring import SiteDates
from services.errors import Conflict, NotKept
from services.store.column_types import instant_text, now
from services.store.engine import reading, writing
from services.store.geometry import envelope_meets
from services.store.layers import bump
from services.store.site_record import SiteFields, SiteRecord, record_of
from services.store.site_water import with_known_water
from services.store.tables import site, site_change

Box = tuple[float, float, float, float]


def create(
    engine: Engine, region_id: str, fields: SiteFields, who: str, site_id: str | None = None
) -> SiteRecord:
    """Keep a new site; give its record, revision 1.

    Raises: BadArgument for a site_id that is taken, by a retired site too.
    """
    with writing(engine) as connection:
        return insert_site(connection, region_id, fields, who, site_id)


def insert_site(
    connection: Connection, region_id: str, fields: SiteFields, who: str, site_id: str | None = None
) -> SiteRecord:
    """Keep a new site inside a writing transaction.

    Raises: BadArgument for a site_id that is taken; BadInput for a body_id that is no water of the region.
    """
    fields = with_known_water(connection, region_id, fields.with_contact_of(None))
    site_id = site_id if site_id is not None else uuid4().hex[:12]
    moment = now()
    try:
        connection.execute(
            site.insert().values(
                **fields.row(),
                site_id=site_id,
                region_id=region_id,
                revision=1,
                retired=False,
                created_at=moment,
                updated_at=moment,
                updated_by=who,
            )
        )
    except IntegrityError as problem:
        raise BadArgument(
            f"site {site_id!r}: this id is taken. Fix: choose another, or leave it out"
        ) from problem
    made = site_in(connection, site_id)
    note_change(connection, None, made, "create")
    return made


def get(engine: Engine, site_id: str) -> SiteRecord:
    """Give a site, a retired one too. Raises: NotKept."""
    with reading(engine) as connection:
        return site_in(connection, site_id)


def listed(
    engine: Engine, region_id: str | None = None, *, retired: bool = False, box: Box | None = None
) -> list[SiteRecord]:
    """Give the sites of a region by name.

    Parameters: retired, whether retired ones are listed too; box, west, south, east, north in WGS 84 [deg].
    """
    asked = select(site).order_by(site.c.name, site.c.site_id)
    if region_id is not None:
        asked = asked.where(site.c.region_id == region_id)
    if not retired:
        asked = asked.where(site.c.retired.is_(False))
    if box is not None:
        asked = asked.where(envelope_meets(site.c.geom, *box))
    with reading(engine) as connection:
        return [record_of(row) for row in connection.execute(asked)]


def changed(present: SiteRecord, changes: Mapping[str, Any]) -> SiteFields:
    """Give a site's fields with some of them changed, None emptying one.

    Raises: pydantic.ValidationError where they do not fit.
    """
    wanted = present.fields.model_dump() | dict(changes)
    return SiteFields.model_validate({name: value for name, value in wanted.items() if value is not None})


def update_site(engine: Engine, site_id: str, fields: SiteFields, if_revision: int, who: str) -> SiteRecord:
    """Put new fields in the place of a site's old ones.

    Raises: NotKept; Conflict where if_revision is not the present one; BadArgument for a retired site.
    """
    return _change(engine, site_id, if_revision, who, "update", fields=fields)


def retire(engine: Engine, site_id: str, if_revision: int, who: str) -> SiteRecord:
    """Retire a site: it no longer counts, stays in the store and can be restored. Raises: NotKept, Conflict."""
    return _change(engine, site_id, if_revision, who, "retire", retired=True)


def restore(engine: Engine, site_id: str, if_revision: int, who: str) -> SiteRecord:
    """Restore a retired site. Raises: NotKept, Conflict."""
    return _change(engine, site_id, if_revision, who, "restore", retired=False)


def undo(
    engine: Engine, site_id: str, if_revision: int, who: str, to_revision: int | None = None
) -> SiteRecord:
    """Bring a site back to an earlier revision, by default the one before; the undone change stays in its history.

    Raises: NotKept for a revision that never was, BadArgument where there is none before; Conflict.
    """
    wanted = if_revision - 1 if to_revision is None else to_revision
    if wanted < 1:
        raise BadArgument(f"site {site_id}: nothing came before revision 1. Fix: retire the site instead")
    with reading(engine) as connection:
        after = connection.scalar(
            select(site_change.c.after).where(
                site_change.c.site_id == site_id, site_change.c.revision == wanted
            )
        )
    if after is None:
        raise NotKept(f"site {site_id}: there is no revision {wanted}. Fix: its history lists them")
    fields = SiteFields.model_validate({name: after[name] for name in SiteFields.model_fields})
    return _change(engine, site_id, if_revision, who, "undo", fields=fields, retired=after["retired"])


def history(engine: Engine, site_id: str) -> list[dict[str, Any]]:
    """Give every change of a site, the newest first: revision, changed_at, changed_by, action, before, after.

    Raises: NotKept.
    """
    columns = (
        site_change.c[name] for name in ("revision", "changed_at", "changed_by", "action", "before", "after")
    )
    asked = select(*columns).where(site_change.c.site_id == site_id).order_by(site_change.c.revision.desc())
    with reading(engine) as connection:
        site_in(connection, site_id)
        rows = connection.execute(asked).mappings().all()
    return [{**row, "changed_at": instant_text(row["changed_at"])} for row in rows]


def dates_of(engine: Engine, region_id: str) -> list[SiteDates]:
    """Give the dates of a region's sites that are not retired, by name."""
    asked = select(*(site.c[name] for name in SiteDates.__dataclass_fields__))
    asked = asked.where(site.c.region_id == region_id, site.c.retired.is_(False))
    with reading(engine) as connection:
        return [SiteDates(*row) for row in connection.execute(asked.order_by(site.c.name, site.c.site_id))]


def site_in(connection: Connection, site_id: str, *, locked: bool = False) -> SiteRecord:
    """Give a site inside a transaction; locked, kept from other writers until it ends. Raises: NotKept."""
    asked = select(site).where(site.c.site_id == site_id)
    row = connection.execute(asked.with_for_update() if locked else asked).one_or_none()
    if row is None:
        raise NotKept(f"no site {site_id!r} is kept. Fix: list the sites to see their ids")
    return record_of(row)


def _change(
    engine: Engine,
    site_id: str,
    if_revision: int,
    who: str,
    action: str,
    *,
    fields: SiteFields | None = None,
    retired: bool | None = None,
) -> SiteRecord:
    with writing(engine) as connection:
        before = site_in(connection, site_id, locked=True)
        changes = {"fields": fields, "retired": retired}
        wanted = before.model_copy(update={name: one for name, one in changes.items() if one is not None})
        refuse_stale(before, wanted, if_revision, update=action == "update")
        return step(connection, before, wanted, who, action)


def refuse_stale(before: SiteRecord, wanted: SiteRecord, if_revision: int, *, update: bool = True) -> None:
    """Refuse a change of a site that is not at the revision that was seen, and an update of a retired one.

    Raises: Conflict with both versions; BadArgument.
    """
    if before.revision != if_revision:
        raise Conflict(
            f"site {before.site_id}: {before.updated_by} changed it meanwhile (revision {before.revision}, you saw "
            f"{if_revision}); nothing was changed. Fix: look at both versions, then change the present one",
            before.document(),
            wanted.document(),
        )
    if update and before.retired:
        raise BadArgument(f"site {before.site_id} is retired. Fix: restore it before you change it")


def step(connection: Connection, before: SiteRecord, wanted: SiteRecord, who: str, action: str) -> SiteRecord:
    """Write a site's next revision and its change, inside a writing transaction that has locked it.

    Raises: BadInput for an update with a body_id that is no water of the region.
    """
    if action == "update":
        given = wanted.fields.with_contact_of(before.fields)
        fields = with_known_water(connection, before.region_id, given)
        wanted = wanted.model_copy(update={"fields": fields})
    connection.execute(
        update(site)
        .where(site.c.site_id == before.site_id, site.c.revision == before.revision)
        .values(
            **wanted.fields.row(),
            retired=wanted.retired,
            revision=before.revision + 1,
            updated_at=now(),
            updated_by=who,
        )
    )
    after = site_in(connection, before.site_id)
    note_change(connection, before, after, action)
    return after


def note_change(connection: Connection, before: SiteRecord | None, after: SiteRecord, action: str) -> None:
    """Keep one change of a site: who, when, before, after."""
    connection.execute(
        site_change.insert().values(
            site_id=after.site_id,
            revision=after.revision,
            changed_at=after.updated_at,
            changed_by=after.updated_by,
            action=action,
            before=None if before is None else before.document(),
            after=after.document(),
        )
    )
    bump(connection, "day")
