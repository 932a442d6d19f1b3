"""`fetchwater token`: make, list and revoke the tokens of the service."""

from collections.abc import Callable
from typing import Annotated, Any

import typer

ExpiresOpt = Annotated[
    str | None,
    typer.Option("--expires", help="last day on which it is valid, YYYY-MM-DD; without it for ever"),
]
RoleOpt = Annotated[str, typer.Option("--role", help="reader, planner or administrator")]


def token_commands(answers_errors: Callable) -> typer.Typer:
    """Give the commands; `answers_errors` turns the program's errors into messages and exit codes."""
    commands = typer.Typer(
        no_args_is_help=True, help="Named tokens for readers, planners and administrators."
    )

    @commands.command()
    @answers_errors
    def add(name: str, role: RoleOpt, expires: ExpiresOpt = None) -> None:
        """Make a token and print it, this once: only its hash is kept."""
        from geo.base.errors import BadArgument
        from services.core import quantities
        from services.store import tokens
        from services.store.column_types import now

        last = None if expires is None else quantities.end_of_day(expires)
        if last is not None and last < now():
            raise BadArgument(f"expires {expires}: that day is over. Fix: name the last day of its use")
        made = tokens.add(_engine(), name, role, last)
        typer.echo(made)
        typer.echo(f"{name} is {role}. This token is shown once: keep it safe.", err=True)

    @commands.command("list")
    @answers_errors
    def list_(json: Annotated[bool, typer.Option("--json", help="print one JSON document")] = False) -> None:
        """List the tokens by name, role and dates; never the tokens themselves."""
        from pydantic_core import to_json

        from services.store import tokens

        found = tokens.listed(_engine())
        if json:
            typer.echo(to_json([vars(one) for one in found]).decode())
            return
        for one in found:
            ended = f", revoked {one.revoked_at:%Y-%m-%d}" if one.revoked_at else ""
            until = f", until {one.expires_at:%Y-%m-%d}" if one.expires_at else ""
            typer.echo(f"{one.name}: {one.role}, made {one.made_at:%Y-%m-%d}{until}{ended}")

    @commands.command()
    @answers_errors
    def revoke(name: str) -> None:
        """End a token from now on."""
        from services.store import tokens

        tokens.revoke(_engine(), name)
        typer.echo(f"{name}: revoked")

    return commands


def _engine() -> Any:
    from services.settings import read_settings
    from services.store.store import open_store

    return open_store(read_settings()).engine
