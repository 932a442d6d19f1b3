"""Text conditions that mean the same on both databases: LIKE that minds case, and lower case beyond ASCII."""

import re
import sqlite3
from typing import Any

import sqlalchemy as sa
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.functions import FunctionElement

LOWER = "fw_lower"


def register_lower(connection: sqlite3.Connection) -> None:
    """Give a SQLite connection a lower case of all letters; its own lower() knows ASCII only."""
    connection.create_function(
        LOWER, 1, lambda text: None if text is None else str(text).lower(), deterministic=True
    )


class _Like(FunctionElement):
    """A text, and the same pattern in the notations of GLOB and of LIKE."""

    inherit_cache = True
    name = "cased_like"
    type = sa.Boolean()


@compiles(_Like, "sqlite")
def _glob(element: _Like, compiler: Any, **kw: Any) -> str:
    # SQLite's LIKE does not mind case in ASCII; GLOB does.
    text, glob, _ = (compiler.process(one, **kw) for one in element.clauses)
    return f"({text} GLOB {glob})"


@compiles(_Like, "postgresql")
def _like(element: _Like, compiler: Any, **kw: Any) -> str:
    text, _, like = (compiler.process(one, **kw) for one in element.clauses)
    return f"({text} LIKE {like})"


def like(text: sa.ColumnElement, pattern: str) -> sa.ColumnElement[bool]:
    """Give the condition that a text fits a CQL2 pattern: % any run, _ one character, a backslash escapes."""
    glob, plain = [], []
    for escaped, one in re.findall(r"(\\?)(.)", pattern, flags=re.S):
        if escaped or one not in "%_":
            glob.append(f"[{one}]" if one in "*?[" else one)
            plain.append(f"\\{one}" if one in "%_\\" else one)
        else:
            glob.append("*" if one == "%" else "?")
            plain.append(one)
    return _Like(text, sa.literal("".join(glob), sa.Text()), sa.literal("".join(plain), sa.Text()))


class _Lower(FunctionElement):
    """A text in lower case."""

    inherit_cache = True
    name = "unicode_lower"
    type = sa.Text()


@compiles(_Lower, "sqlite")
def _sqlite_lower(element: _Lower, compiler: Any, **kw: Any) -> str:
    return f"{LOWER}({compiler.process(element.clauses, **kw)})"


@compiles(_Lower, "postgresql")
def _postgres_lower(element: _Lower, compiler: Any, **kw: Any) -> str:
    return f"lower({compiler.process(element.clauses, **kw)})"


def lower(text: sa.ColumnElement) -> sa.ColumnElement[str]:
    """Give a text in lower case."""
    return _Lower(text)
