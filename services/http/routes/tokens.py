"""Tokens over HTTP, for administrators: who has one, and ending one. Making one is for the command line alone."""

from typing import Any

from fastapi import APIRouter, Request
from pydantic import BaseModel

from services.http.dependencies import Moment
from services.http.rights import ADMINISTRATORS
from services.store import tokens

router = APIRouter(prefix="/tokens", tags=["rights"], dependencies=[ADMINISTRATORS])


class Token(BaseModel):
    """A token's entry, without the token."""

    name: str
    role: str
    made_at: Moment
    expires_at: Moment | None
    revoked_at: Moment | None


class Tokens(BaseModel):
    """All tokens."""

    tokens: list[Token]


@router.get("", response_model=Tokens)
def list_tokens(request: Request) -> Any:
    """Every token, revoked ones too."""
    return {"tokens": tokens.listed(request.app.state.workspace.store.engine)}


@router.delete("/{name}", status_code=204)
def revoke_token(request: Request, name: str) -> None:
    """End a token from now on."""
    tokens.revoke(request.app.state.workspace.store.engine, name)
