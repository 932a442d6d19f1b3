"""Column types that mean the same on both databases and that a GeoPackage allows."""

import json
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import DateTime, Dialect, Text
from sqlalchemy.types import TypeDecorator, TypeEngine


class GeoPackageDateTime(Text):
    """A DATETIME column of a GeoPackage: ISO 8601 text in UTC (OGC 12-128r17, table 1)."""

    __visit_name__ = "DATETIME"


class Instant(TypeDecorator):
    """A moment in UTC, whole milliseconds: `datetime` with a zone on the Python side.

    Text such as 2026-01-31T04:05:06.789Z in a GeoPackage, `timestamptz` in PostGIS; both sort by time.
    """

    impl = DateTime(timezone=True)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine:
        """Give the column type of this database."""
        return dialect.type_descriptor(
            GeoPackageDateTime() if dialect.name == "sqlite" else DateTime(timezone=True)
        )

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        """Write a moment. Raises: ValueError for one without a zone, which nobody could read again."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"the moment {value!r} has no zone")
        moment = value.astimezone(UTC)
        moment = moment.replace(microsecond=moment.microsecond // 1000 * 1000)
        return instant_text(moment) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        """Read a moment."""
        if value is None:
            return None
        return (datetime.fromisoformat(value) if isinstance(value, str) else value).astimezone(UTC)


def instant_text(moment: datetime) -> str:
    """Give a moment as 2026-01-31T04:05:06.789Z."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def now() -> datetime:
    """Give the present in UTC, whole milliseconds, as the store keeps it."""
    moment = datetime.now(UTC)
    return moment.replace(microsecond=moment.microsecond // 1000 * 1000)


class JsonText(TypeDecorator):
    """Plain JSON as text: neither database changes a figure or the order of the keys. NaN is refused."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:
        """Write a value as JSON; None is an empty cell."""
        return None if value is None else json.dumps(value, ensure_ascii=True, allow_nan=False)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:
        """Read a value."""
        return None if value is None else json.loads(value)
