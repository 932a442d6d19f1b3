"""Tokens over HTTP, for administrators: who has one, and ending one. Making one is for the command line alone."""

from fastapi import APIRouter, Request
from pydantic import BaseModel

from services.http.rights import ADMINISTRATORS
from services.store import tokens

router = APIRouter(prefix="/tokens", tags=["rights"], dependencies=[ADMINISTRATORS])


class Token(BaseModel):
    """A token's entry, without the token."""

    name: str
    role: str
    made_at: str
    expires_at: str | None
    revoked_at: str | None


class Tokens(BaseModel):
    """All tokens."""

    tokens: list[Token]


@router.get("")
def list_tokens(request: Request) -> Tokens:
    """Every token, revoked ones too."""
    return Tokens(
        tokens=[
            Token(
                name=one.name,
                role=one.role,
                made_at=one.made_at.isoformat(),
                expires_at=None if one.expires_at is None else one.expires_at.isoformat(),
                revoked_at=None if one.revoked_at is None else one.revoked_at.isoformat(),
            )
            for one in tokens.listed(request.app.state.workspace.store.engine)
        ]
    )


@router.delete("/{name}", status_code=204)
def revoke_token(request: Request, name: str) -> None:
    """End a token from now on."""
    tokens.revoke(request.app.state.workspace.store.engine, name)
