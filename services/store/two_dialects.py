"""SQL functions that each database writes in its own way."""

from collections.abc import Callable
from typing import Any

import sqlalchemy as sa
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.functions import FunctionElement


def two_dialects(
    name: str, type_: sa.types.TypeEngine, sqlite: str, postgresql: str
) -> Callable[..., sa.ColumnElement]:
    """Give a SQL function of any arguments.

    Parameters: sqlite and postgresql, how each writes it, {0} the first argument.
    """
    made = type(name, (FunctionElement,), {"inherit_cache": True, "name": name, "type": type_})
    for dialect, words in (("sqlite", sqlite), ("postgresql", postgresql)):
        compiles(made, dialect)(_writer(words))
    return made


def _writer(words: str) -> Callable[..., str]:
    def write(element: FunctionElement, compiler: Any, **kw: Any) -> str:
        return words.format(*(compiler.process(one, **kw) for one in element.clauses))

    return write
