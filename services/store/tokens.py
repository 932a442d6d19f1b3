"""Named tokens with a role. A token is shown once, when it is made; the store keeps its SHA-256 only."""

import secrets
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import Literal, get_args

from sqlalchemy import Engine, Select, or_, select, update

from geo.base.errors import BadArgument
from services.errors import NotKept
from services.store.column_types import now
from services.store.engine import reading, writing
from services.store.tables import token

Role = Literal["reader", "planner", "administrator"]
ROLES: tuple[str, ...] = get_args(Role)
# 256 random bits: guessing is hopeless, so that a fast hash is enough (no password is kept here).
TOKEN_BYTES = 32
PREFIX = "fw_"


@dataclass(frozen=True)
class TokenEntry:
    """What is known of a token; never the token itself."""

    name: str
    role: str
    made_at: datetime
    expires_at: datetime | None
    revoked_at: datetime | None


def digest(text: str) -> str:
    """Give what the store keeps of a token."""
    return sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def add(engine: Engine, name: str, role: str, expires_at: datetime | None = None) -> str:
    """Make a token; give it, this once.

    Raises: BadArgument for an empty or long name, an unknown role, or a name that is in use.
    """
    if not name.strip() or len(name) > 80 or not name.isprintable():
        raise BadArgument(
            "a token needs a name of 1 to 80 printable characters, so that edits say who made them"
        )
    if role not in ROLES:
        raise BadArgument(f"role {role!r} is not known. Fix: {', '.join(ROLES)}")
    made = PREFIX + secrets.token_urlsafe(TOKEN_BYTES)
    with writing(engine) as connection:
        used = select(token.c.fid).where(token.c.name == name, token.c.revoked_at.is_(None))
        if connection.execute(used).first() is not None:
            raise BadArgument(
                f"a token named {name!r} is in use. Fix: another name, or revoke that one first"
            )
        row = {"name": name, "role": role, "hash": digest(made), "made_at": now(), "expires_at": expires_at}
        connection.execute(token.insert().values(token_id=secrets.token_hex(8), **row))
    return made


def find(engine: Engine, text: str) -> TokenEntry | None:
    """Give the entry of a token that is valid now; None for any other text."""
    valid = (token.c.revoked_at.is_(None), or_(token.c.expires_at.is_(None), token.c.expires_at > now()))
    with reading(engine) as connection:
        # Looked up by hash: how long a comparison takes tells nothing of the token.
        row = connection.execute(_entries().where(token.c.hash == digest(text), *valid)).first()
    return None if row is None else TokenEntry(*row)


def listed(engine: Engine) -> list[TokenEntry]:
    """Give every token, revoked ones too, in the order in which they were made."""
    with reading(engine) as connection:
        return [TokenEntry(*row) for row in connection.execute(_entries().order_by(token.c.fid))]


def revoke(engine: Engine, name: str) -> None:
    """End a token from now on.

    Raises: NotKept when no token of that name is in use.
    """
    with writing(engine) as connection:
        done = connection.execute(
            update(token).where(token.c.name == name, token.c.revoked_at.is_(None)).values(revoked_at=now())
        )
        if done.rowcount == 0:
            raise NotKept(f"no token named {name!r} is in use. Fix: `fetchwater token list` names them")


def _entries() -> Select:
    return select(token.c.name, token.c.role, token.c.made_at, token.c.expires_at, token.c.revoked_at)
