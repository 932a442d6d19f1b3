"""Rows as a data frame with exactly a layer's columns."""

from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd

from geo.base.errors import BadArgument
from geo.records.columns import Column, Kind

_TYPES: dict[Kind, Any] = {"text": object, "real": np.float64, "whole": "Int64"}


def same_named(record: object, *names: str) -> dict[str, object]:
    """Give the cells of a row that a record has under the very names of the columns."""
    return {name: getattr(record, name) for name in names}


def table(rows: Iterable[dict[str, object]], columns: tuple[Column, ...]) -> pd.DataFrame:
    """Give rows as a data frame with exactly these columns, in order, each with its type even when all is unknown.

    Raises: BadArgument for a row that lacks a column, has one too many, or holds a number that is not finite.
    """
    rows = list(rows)
    names = [column.name for column in columns]
    for row in rows:
        if set(row) != set(names):
            raise BadArgument(
                f"columns {sorted(set(row) ^ set(names))}: a row must have exactly the layer's columns"
            )
        bad = [name for name, value in row.items() if isinstance(value, float) and not np.isfinite(value)]
        if bad:
            raise BadArgument(f"columns {bad} are not finite; unknown must be None")
    # Nothing to say and nothing known are one empty cell, in every format.
    return pd.DataFrame(
        {
            c.name: pd.Series(
                [None if row[c.name] == "" else row[c.name] for row in rows], dtype=_TYPES[c.kind]
            )
            for c in columns
        }
    )
