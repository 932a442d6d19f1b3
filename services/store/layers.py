"""The layers that a GIS sees of a region: the survey that counts today, published body by body in one transaction."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from sqlalchemy import Connection, Engine, Table, delete, select, update

from geo.records.expiring import EvidenceAge
from services.store.column_types import now
from services.store.engine import pieces, reading, writing
from services.store.tables import evidence, hover_point, region, run, state, water_body

Row = Mapping[str, Any]


@dataclass(frozen=True)
class RegionEntry:
    """What the store says of a region: box is the envelope of its water, WGS 84."""

    region_id: str
    vertical_datum: str
    crs_wkt: str
    input_fingerprint: str
    survey_key: str
    box: shapely.Polygon


def stale_bodies(engine: Engine, region_id: str, keys: Mapping[str, str]) -> set[str]:
    """Give the ids of the bodies whose published rows are not those of these body keys, gone ones included."""
    with reading(engine) as connection:
        rows = connection.execute(
            select(water_body.c.body_id, water_body.c.body_key).where(water_body.c.region_id == region_id)
        )
        shown = {row.body_id: row.body_key for row in rows}
    return {one for one in shown.keys() | keys.keys() if shown.get(one) != keys.get(one)}


def publish(
    engine: Engine,
    entry: RegionEntry,
    stale: Iterable[str],
    rows: Mapping[str, Sequence[Row]],
    day_revision: int | None = None,
) -> bool:
    """Put the new rows of the stale bodies in the place of their old ones, in one transaction.

    Parameters: rows by table name (water_body, run, hover_point, evidence); a body keeps its fid. day_revision, the
    state of levels, closures and sites that the rows show.
    Returns: False where that state is no longer the present one, and nothing was changed: another service may show it.
    """
    with writing(engine) as connection:
        if day_revision is not None and _revision(connection, "day") != day_revision:
            return False
        fids = _fids(connection, entry.region_id)
        gone = sorted(stale)
        for table in (water_body, run, hover_point, evidence):
            _delete(connection, table, entry.region_id, gone)
            new = [{**row, "region_id": entry.region_id} for row in rows.get(table.name, ())]
            if table is water_body:
                # A row that had a number keeps it; the others must go in apart, because a statement has fixed columns.
                again = [{**row, "fid": fids[row["body_id"]]} for row in new if row["body_id"] in fids]
                new = [row for row in new if row["body_id"] not in fids]
                if again:
                    connection.execute(table.insert(), again)
            if new:
                connection.execute(table.insert(), new)
        _enter(connection, entry)
        bump(connection, "survey")
        return True


def _fids(connection: Connection, region_id: str) -> dict[str, int]:
    rows = connection.execute(
        select(water_body.c.body_id, water_body.c.fid).where(water_body.c.region_id == region_id)
    )
    return {row.body_id: row.fid for row in rows}


def _delete(connection: Connection, table: Table, region_id: str, body_ids: Sequence[str]) -> None:
    for piece in pieces(body_ids):
        connection.execute(delete(table).where(table.c.region_id == region_id, table.c.body_id.in_(piece)))


def _enter(connection: Connection, entry: RegionEntry) -> None:
    values = {
        "name": entry.region_id,
        "vertical_datum": entry.vertical_datum,
        "crs_wkt": entry.crs_wkt,
        "input_fingerprint": entry.input_fingerprint,
        "survey_key": entry.survey_key,
        "updated_at": now(),
        "geom": entry.box,
    }
    done = connection.execute(update(region).where(region.c.region_id == entry.region_id).values(**values))
    if done.rowcount == 0:
        connection.execute(region.insert().values(region_id=entry.region_id, **values))


def published_survey(engine: Engine, region_id: str) -> str | None:
    """Give the key of the survey that a region's layers show, None where nothing was published."""
    with reading(engine) as connection:
        return connection.scalar(select(region.c.survey_key).where(region.c.region_id == region_id))


def evidence_ages(engine: Engine, region_id: str) -> list[EvidenceAge]:
    """Give the age of all depth evidence of a region's published waters."""
    asked = (
        select(evidence.c.body_id, water_body.c.name, evidence.c.kind, evidence.c.oldest_on)
        .join(
            water_body,
            (water_body.c.body_id == evidence.c.body_id) & (water_body.c.region_id == evidence.c.region_id),
        )
        .where(evidence.c.region_id == region_id)
    )
    with reading(engine) as connection:
        return [EvidenceAge(*row) for row in connection.execute(asked)]


def bump(connection: Connection, name: str) -> None:
    """Count a change, so that who keeps something in memory sees that it is out of date."""
    done = connection.execute(update(state).where(state.c.name == name).values(revision=state.c.revision + 1))
    if done.rowcount == 0:
        connection.execute(state.insert().values(name=name, revision=1))


def revision(engine: Engine, name: str) -> int:
    """Give how often something was changed: "day" (sites, closures, levels) or "survey" (the layers)."""
    with reading(engine) as connection:
        return _revision(connection, name)


def _revision(connection: Connection, name: str) -> int:
    return connection.scalar(select(state.c.revision).where(state.c.name == name)) or 0
