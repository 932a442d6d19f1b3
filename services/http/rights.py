"""Who may do what: one table for every request, asked before any route is.

Off by default, as a lone laptop needs it: everybody reads, and who sits at this machine edits.
FETCHWATER_READING=closed asks a token of readers too; FETCHWATER_EDITING=tokens asks one of everybody who edits. It
comes as `Authorization: Bearer`, or as the password of `Basic`, which browsers and GIS programs know how to ask for.
"""

import base64
import binascii
import ipaddress
import time
from dataclasses import dataclass
from typing import Annotated, Any

import anyio.to_thread
from fastapi import Depends
from starlette.datastructures import Headers
from starlette.requests import HTTPConnection
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Receive, Scope, Send

from geo.base.errors import FetchwaterError
from services.core.problems import classify, headers_of, problem
from services.errors import NotAllowed, NotSignedIn, TooMany
from services.http.body_limit import PROBLEM
from services.settings import Settings
from services.store import tokens
from services.store.tokens import ROLES

ALWAYS_OPEN = ("/health",)
SAFE = ("GET", "HEAD", "OPTIONS")
# They ask and change nothing, but their questions are too long for an address.
QUESTIONS = ("/rankings", "/answers", "/today", "/fleets", "/nearest", "/fires/read")
LOCAL = "local user"


@dataclass(frozen=True)
class Actor:
    """Who acts: the token's name with its role; None for a reader whom nobody asked."""

    name: str
    role: str | None

    def may(self, role: str) -> bool:
        """True when the actor's role is that one or above it."""
        return self.role is not None and ROLES.index(self.role) >= ROLES.index(role)


NOBODY = Actor("anybody", None)


def role_needed(method: str, path: str, settings: Settings) -> str | None:
    """Give the role that a request needs; None where everybody may."""
    if path in ALWAYS_OPEN:
        return None
    if path == "/tokens" or path.startswith("/tokens/"):
        return "administrator"
    if method in SAFE or path in QUESTIONS:
        return "reader" if settings.reading == "closed" else None
    return "planner"


def token_in(headers: Headers) -> str | None:
    """Give the token of a request: of Bearer, or the password of Basic; None where there is none."""
    scheme, _, rest = headers.get("authorization", "").partition(" ")
    if scheme.lower() == "bearer":
        return rest.strip()
    if scheme.lower() != "basic":
        return None
    try:
        return base64.b64decode(rest.strip(), validate=True).decode().partition(":")[2]
    except (binascii.Error, UnicodeDecodeError):
        return ""


def is_local(host: str | None) -> bool:
    """True for an address of this machine itself."""
    try:
        return host is not None and ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


async def actor_of(connection: HTTPConnection, role: str | None, settings: Settings) -> Actor:
    """Give who acts.

    Raises: NotSignedIn for a token that is not valid, or none where one is needed; NotAllowed for a role below `role`.
    """
    given = token_in(connection.headers)
    if given is not None:
        engine = connection.app.state.workspace.store.engine
        entry = await anyio.to_thread.run_sync(tokens.find, engine, given)
        if entry is None:
            raise NotSignedIn(
                "the token is not valid, has ended or was revoked. Fix: ask the administrator for one"
            )
        actor = Actor(entry.name, entry.role)
    elif settings.editing == "open" and is_local(connection.client.host if connection.client else None):
        actor = Actor(LOCAL, "administrator" if settings.reading == "open" else None)
    else:
        actor = NOBODY
    if role is None or actor.may(role):
        return actor
    if given is not None:
        raise NotAllowed(f"{actor.name} is {actor.role}; this needs {role}. Fix: a token of that role")
    if role == "reader" or settings.editing == "tokens" or settings.reading == "closed":
        raise NotSignedIn(
            "this needs a token. Fix: send it as Authorization: Bearer, or as the password of Basic"
        )
    raise NotAllowed(
        "without tokens only this machine itself may change anything. Fix: set FETCHWATER_EDITING=tokens and make one "
        "by `fetchwater token add`"
    )


def refuse_foreign_origin(connection: HTTPConnection, method: str) -> None:
    """A page of another site must not edit through the browser of somebody who may.

    Raises: NotAllowed when the request says that it comes from another site.
    """
    origin = connection.headers.get("origin")
    if method in SAFE or origin is None:
        return
    if origin.partition("://")[2] != connection.headers.get("host"):
        raise NotAllowed(
            "the request comes from a page of another site. Fix: edit from the service's own pages"
        )


class RateLimit:
    """Counts requests of each client in a running minute; 0 is no limit."""

    def __init__(self, per_minute: int) -> None:
        self.per_minute = per_minute
        self._minute = -1
        self._counts: dict[str, int] = {}

    def count(self, client: str) -> None:
        """Count one request.

        Raises: TooMany above the limit, with the seconds to wait.
        """
        if self.per_minute == 0:
            return
        now_s = time.monotonic()
        if int(now_s // 60) != self._minute:
            self._minute, self._counts = int(now_s // 60), {}
        self._counts[client] = self._counts.get(client, 0) + 1
        if self._counts[client] > self.per_minute:
            wait_s = 60 - int(now_s % 60)
            raise TooMany(
                f"more than {self.per_minute} requests in a minute. Fix: ask again in {wait_s} s", wait_s
            )


class Guard:
    """Asks the table before every request, whatever route it goes to, and notes who acts."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self.app = app
        self.settings = settings
        self.rate = RateLimit(settings.requests_per_minute)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let the request through with scope["state"]["actor"], or answer with a problem document."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        connection, method, path = HTTPConnection(scope), scope["method"], scope["path"]
        try:
            refuse_foreign_origin(connection, method)
            actor = await self._actor(connection, method, path)
        except FetchwaterError as error:
            status = classify(error)[1]
            answer = JSONResponse(problem(error, path), status, headers_of(error), PROBLEM)
            await answer(scope, receive, send)
            return
        scope.setdefault("state", {})["actor"] = actor
        await self.app(scope, receive, send)

    async def _actor(self, connection: HTTPConnection, method: str, path: str) -> Actor:
        host = connection.client.host if connection.client else "unknown"
        try:
            actor = await actor_of(connection, role_needed(method, path, self.settings), self.settings)
        except NotSignedIn:
            self.rate.count(host)
            raise
        # A signed-in crew is never held up in asking for water.
        if path not in ALWAYS_OPEN and not (
            path in QUESTIONS and actor.role is not None and actor.name != LOCAL
        ):
            self.rate.count(host if actor.name in (LOCAL, NOBODY.name) else f"token {actor.name}")
        return actor


def _acting(role: str) -> Any:
    async def name(connection: HTTPConnection) -> str:
        actor: Actor = connection.state.actor
        if not actor.may(role):
            raise NotAllowed(f"this needs the role {role}")
        return actor.name

    return Depends(name)


async def _reading(connection: HTTPConnection) -> str:
    return connection.state.actor.name


def sees_contacts(connection: HTTPConnection) -> bool:
    """True for who may see whom to call: people's telephone numbers are no open data, even where reading is open."""
    return connection.state.actor.may("planner")


async def _seeing(connection: HTTPConnection) -> bool:
    return sees_contacts(connection)


# The name of who acts, for routes that keep it. Reading was settled by the guard.
Reader = Annotated[str, Depends(_reading)]
SeesContacts = Annotated[bool, Depends(_seeing)]
Planner = Annotated[str, _acting("planner")]
Administrator = Annotated[str, _acting("administrator")]
