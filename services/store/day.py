"""What changes from day to day: levels that were read, and closed areas. Nothing is deleted; a row that no longer
counts is withdrawn, with who did it and when."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Engine, Row, Table, func, select, update

from geo.records.day import ClosedArea, LevelReading
from services.errors import NotKept
from services.store.column_types import now
from services.store.engine import reading, writing
from services.store.layers import bump
from services.store.tables import closure, level

_AREA_COLUMNS = tuple(name for name in ClosedArea.__dataclass_fields__ if name != "outline")


def put_levels(engine: Engine, region_id: str, readings: Sequence[LevelReading], who: str) -> None:
    """Keep readings of levels, all or none; the latest reading of a water counts."""
    if not readings:
        return
    with writing(engine) as connection:
        for one in readings:
            # The same reading sent again, perhaps corrected, takes the place of the former.
            same = level.c.body_id == one.body_id, level.c.read_at == one.read_at
            _withdraw(connection, level, region_id, who, *same)
        moment = _after_all(connection, level, region_id)
        own = {"region_id": region_id, "added_by": who, "added_at": moment}
        connection.execute(level.insert(), [vars(one) | own for one in readings])
        bump(connection, "day")


def _after_all(connection: Connection, table: Table, region_id: str) -> datetime:
    """Give the present, or just after the youngest row, so that the key with `added_at` stays one of its kind."""
    moment = now()
    last = connection.scalar(select(func.max(table.c.added_at)).where(table.c.region_id == region_id))
    return moment if last is None or last < moment else last + timedelta(milliseconds=1)


def _withdraw(connection: Connection, table: Table, region_id: str, who: str, *which: Any) -> int:
    """Withdraw the rows in force that fit; give how many."""
    held = table.c.region_id == region_id, table.c.withdrawn_at.is_(None)
    asked = update(table).where(*held, *which).values(withdrawn_at=now(), withdrawn_by=who)
    return connection.execute(asked).rowcount


def withdraw_levels(engine: Engine, region_id: str, body_id: str, who: str) -> int:
    """Withdraw the readings of a water, so that its files' level counts; give how many. Raises: NotKept for none."""
    with writing(engine) as connection:
        count = _withdraw(connection, level, region_id, who, level.c.body_id == body_id)
        if count == 0:
            raise NotKept(f"no level of {body_id!r} is kept. Fix: list the levels to see which are")
        bump(connection, "day")
    return count


def levels_of(engine: Engine, region_id: str, moment: datetime) -> list[LevelReading]:
    """Give the latest reading of each water that was taken by a moment, expired ones too, by body id."""
    asked = (
        select(level)
        .where(level.c.region_id == region_id, level.c.withdrawn_at.is_(None), level.c.read_at <= moment)
        .order_by(level.c.body_id, level.c.read_at, level.c.added_at)
    )
    with reading(engine) as connection:
        latest = {row.body_id: _reading(row) for row in connection.execute(asked)}
    return list(latest.values())


def next_change(engine: Engine, region_id: str, moment: datetime) -> datetime | None:
    """Give when next, after a moment, a reading starts to count or expires; None for never."""
    held = level.c.region_id == region_id, level.c.withdrawn_at.is_(None)
    with reading(engine) as connection:
        ends = connection.scalar(select(func.min(level.c.until)).where(*held, level.c.until > moment))
        begins = connection.scalar(select(func.min(level.c.read_at)).where(*held, level.c.read_at > moment))
    return min((one for one in (ends, begins) if one is not None), default=None)


def _reading(row: Row) -> LevelReading:
    return LevelReading(**{name: getattr(row, name) for name in LevelReading.__dataclass_fields__})


def put_closures(
    engine: Engine, region_id: str, closures: Sequence[ClosedArea], who: str, *, instead: bool = False
) -> None:
    """Keep closed areas, all or none. One with the id of a kept one takes its place.

    Parameters: instead, whether they take the place of all that are kept.
    """
    with writing(engine) as connection:
        ids = [one.closure_id for one in closures]
        _withdraw(connection, closure, region_id, who, *(() if instead else (closure.c.closure_id.in_(ids),)))
        moment = _after_all(connection, closure, region_id)
        for one in closures:
            row = {name: getattr(one, name) for name in _AREA_COLUMNS} | {"geom": one.outline}
            connection.execute(
                closure.insert().values(region_id=region_id, added_at=moment, added_by=who, **row)
            )
        bump(connection, "day")


def withdraw_closure(engine: Engine, region_id: str, closure_id: str, who: str) -> None:
    """Withdraw a closure. Raises: NotKept where none of that id is in force."""
    with writing(engine) as connection:
        if _withdraw(connection, closure, region_id, who, closure.c.closure_id == closure_id) == 0:
            raise NotKept(
                f"no closure {closure_id!r} is in force. Fix: list the closures; those of the files stay"
            )
        bump(connection, "day")


def closures_of(engine: Engine, region_id: str) -> list[ClosedArea]:
    """Give the closures of a region that were not withdrawn, whatever their days, by id."""
    asked = (
        select(closure)
        .where(closure.c.region_id == region_id, closure.c.withdrawn_at.is_(None))
        .order_by(closure.c.closure_id)
    )
    with reading(engine) as connection:
        return [_area(row) for row in connection.execute(asked)]


def _area(row: Row) -> ClosedArea:
    return ClosedArea(outline=row.geom, **{name: getattr(row, name) for name in _AREA_COLUMNS})
