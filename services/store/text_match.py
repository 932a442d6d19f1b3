"""Text conditions that mean the same on both databases: LIKE that minds case, and lower case beyond ASCII."""

import re
import sqlite3

import sqlalchemy as sa

from services.store.two_dialects import two_dialects

LOWER = "fw_lower"
# A text in lower case.
lower = two_dialects("unicode_lower", sa.Text(), f"{LOWER}({{0}})", "lower({0})")
# A text, and the same pattern in the notations of GLOB and of LIKE: SQLite's LIKE does not mind case in ASCII.
_like = two_dialects("cased_like", sa.Boolean(), "({0} GLOB {1})", "({0} LIKE {2})")


def register_lower(connection: sqlite3.Connection) -> None:
    """Give a SQLite connection a lower case of all letters; its own lower() knows ASCII only."""
    connection.create_function(
        LOWER, 1, lambda text: None if text is None else str(text).lower(), deterministic=True
    )


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
    return _like(text, sa.literal("".join(glob), sa.Text()), sa.literal("".join(plain), sa.Text()))
