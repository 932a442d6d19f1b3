"""`fetchwater token`: make, list and revoke the tokens of the service."""

from typing import Annotated

import typer

from services.cli.opening import opened_store
from services.cli.options import JsonOpt

ExpiresOpt = Annotated[
    str | None,
    typer.Option("--expires", help="last day on which it is valid, YYYY-MM-DD; without it for ever"),
]
RoleOpt = Annotated[str, typer.Option("--role", help="reader, planner or administrator")]


def add(name: str, role: RoleOpt, expires: ExpiresOpt = None) -> None:
    """Make a token and print it, this once: only its hash is kept."""
    from geo.base.errors import BadArgument
    from services.core import quantities
    from services.store import tokens
    from services.store.column_types import now

    last = None if expires is None else quantities.end_of_day(expires)
    if last is not None and last < now():
        raise BadArgument(f"expires {expires}: that day is over. Fix: name the last day of its use")
    with opened_store() as store:
        made = tokens.add(store.engine, name, role, last)
    typer.echo(made)
    typer.echo(f"{name} is {role}. This token is shown once: keep it safe.", err=True)


def list_(json: JsonOpt = False) -> None:
    """List the tokens by name, role and dates; never the tokens themselves."""
    from pydantic_core import to_json

    from services.store import tokens

    with opened_store() as store:
        found = tokens.listed(store.engine)
    if json:
        typer.echo(to_json([vars(one) for one in found]).decode())
        return
    for one in found:
        ended = f", revoked {one.revoked_at:%Y-%m-%d}" if one.revoked_at else ""
        until = f", until {one.expires_at:%Y-%m-%d}" if one.expires_at else ""
        typer.echo(f"{one.name}: {one.role}, made {one.made_at:%Y-%m-%d}{until}{ended}")


def revoke(name: str) -> None:
    """End a token from now on."""
    from services.store import tokens

    with opened_store() as store:
        tokens.revoke(store.engine, name)
    typer.echo(f"{name}: revoked")
