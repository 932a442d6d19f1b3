"""Tables as a migration writes them down: frozen, so that later changes of `tables.py` do not change old migrations."""

from sqlalchemy import (
    Boolean,
    Column,
    Date,
    Double,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)
from sqlalchemy.types import TypeEngine

from services.store.column_types import Instant, JsonText
from services.store.geometry import Geometry

_TYPES: dict[str, TypeEngine] = {
    "text": Text(),
    "int": Integer(),
    "real": Double(),
    "date": Date(),
    "instant": Instant(),
    "json": JsonText(),
    "bytes": LargeBinary(),
    "flag": Boolean(create_constraint=False),
}


def column(words: str) -> Column:
    """Give a column from "name type", with ! behind the type where it must not be empty; geometries by their kind."""
    name, kind = words.split()
    needed = kind.endswith("!")
    kind = kind.rstrip("!")
    type_ = Geometry(kind) if kind.isupper() else _TYPES[kind]
    return Column(name, type_, nullable=not needed)


def table(name: str, key: str, columns: str, indexes: str = "") -> Table:
    """Give a table from its words: key columns, columns, and indexes as "name: column column", by commas."""
    made = Table(
        name,
        MetaData(),
        Column("fid", Integer, primary_key=True, autoincrement=True),
        *(column(words) for words in columns.replace("\n", " ").split(",")),
        UniqueConstraint(*key.split(), name=f"{name}_key"),
        sqlite_autoincrement=True,
    )
    for words in filter(None, (one.strip() for one in indexes.split(","))):
        index, names = words.split(":")
        Index(index, *(made.c[one] for one in names.split()))
    return made
