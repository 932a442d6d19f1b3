"""A layer as it is served: a table with a geometry, an id, described properties and times."""

from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from typing import Literal

import sqlalchemy as sa

# The verbs of every layer and feature, in the words of the Allow header.
READING_VERBS = "GET, HEAD, OPTIONS"
Kind = Literal["string", "number", "integer", "boolean", "date", "date-time"]


@dataclass(frozen=True)
class Property:
    """One attribute: its name, kind, unit (empty where it has none) and one phrase of meaning."""

    name: str
    kind: Kind
    unit: str
    meaning: str
    column: sa.ColumnElement

    @property
    def schema(self) -> dict:
        """The property as a JSON Schema (queryables: OGC 19-079r2, 6.2; units by the key that Part 5 uses)."""
        base = {"string": "string", "date": "string", "date-time": "string"}.get(self.kind, self.kind)
        schema: dict = {"title": self.name, "type": base, "description": self.meaning}
        if self.kind in ("date", "date-time"):
            schema["format"] = self.kind
        if self.unit:
            schema["x-ogc-unit"] = self.unit
        return schema


@dataclass(frozen=True)
class FeatureLayer:
    """One collection.

    `table` is what is selected from, `shown` which of its rows (this region's; sites not retired). `key` are the
    columns whose values, joined by dots, are a feature's id; none of them but the first may hold a dot. `times` are
    the columns of begin and end; None where the layer knows no time. `geometry_type` is the queryables' format.
    """

    layer_id: str
    title: str
    description: str
    table: sa.Table
    key: tuple[sa.Column, ...]
    geometry_type: str
    properties: tuple[Property, ...]
    shown: tuple[sa.ColumnElement[bool], ...]
    times: tuple[sa.ColumnElement, sa.ColumnElement] | None = None
    editable: bool = False

    @cached_property
    def names(self) -> tuple[str, ...]:
        """The properties' names in their order."""
        return tuple(one.name for one in self.properties)

    @property
    def geometry(self) -> sa.Column:
        """The column of the shape."""
        return self.table.c.geom

    def with_id(self, feature_id: str) -> sa.ColumnElement[bool] | None:
        """Give the condition that names one feature; None where the text can be no id of this layer."""
        parts = feature_id.rsplit(".", len(self.key) - 1)
        if len(parts) != len(self.key) or "\0" in feature_id:
            return None
        found = []
        for column, part in zip(self.key, parts, strict=True):
            whole = isinstance(column.type, sa.Integer)
            if whole and not (part.isascii() and part.isdigit() and len(part) < 10):
                return None
            found.append(column == (int(part) if whole else part))
        return sa.and_(*found)

    def property_named(self, name: str) -> Property | None:
        """Give a property by its name, or None."""
        return next((one for one in self.properties if one.name == name), None)


def time_value(column: sa.ColumnElement, moment: date | datetime) -> sa.ColumnElement:
    """Give a moment as the column keeps it: a date column takes the day."""
    if isinstance(column.type, sa.Date) and isinstance(moment, datetime):
        moment = moment.date()
    return sa.literal(moment, column.type)
