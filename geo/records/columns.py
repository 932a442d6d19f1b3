"""The columns of every exported layer: name, type, unit, meaning. Documents and files both read this, nothing else.

The table is `columns.csv`, one column a line, in the order in which the files have them.
"""

import csv
from dataclasses import dataclass
from importlib.resources import files
from typing import Literal, cast

Kind = Literal["text", "real", "whole"]


@dataclass(frozen=True)
class Column:
    """One column. unit "" means a plain text or count; an empty cell always means unknown or not applicable."""

    name: str
    kind: Kind
    unit: str
    meaning: str


def _layers() -> dict[str, tuple[Column, ...]]:
    found: dict[str, tuple[Column, ...]] = {}
    rows = csv.DictReader(
        files("geo.records").joinpath("columns.csv").read_text(encoding="utf-8").splitlines()
    )
    for row in rows:
        column = Column(row["name"], cast(Kind, row["kind"]), row["unit"], row["meaning"])
        found[row["layer"]] = (*found.get(row["layer"], ()), column)
    return found


LAYERS = _layers()
