"""Who may do what: each route states one `Right` as a dependency, and who acts is found there.

Off by default, as a lone laptop needs it: everybody reads, and who sits at this machine edits.
FETCHWATER_READING=closed asks a token of readers too; FETCHWATER_EDITING=tokens asks one of everybody who edits. It
comes as `Authorization: Bearer`, or as the password of `Basic`, which browsers and GIS programs know how to ask for.
"""

import base64
import binascii
import ipaddress
import time
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import urlsplit

import anyio.to_thread
from fastapi import Depends, FastAPI
from starlette.datastructures import Headers
from starlette.requests import HTTPConnection

from services.errors import NotAllowed, NotSignedIn, TooMany, WrongHost
from services.settings import Settings
from services.store import tokens
from services.store.tokens import ROLES

SAFE = ("GET", "HEAD", "OPTIONS")
LOCAL = "local user"


@dataclass(frozen=True)
class Actor:
    """Who acts: the token's name with its role; None for a reader whom nobody asked. signed_in: came with a token."""

    name: str
    role: str | None
    signed_in: bool = False

    def may(self, role: str) -> bool:
        """True when the actor's role is that one or above it."""
        return self.role is not None and ROLES.index(self.role) >= ROLES.index(role)


NOBODY = Actor("anybody", None)
# Who sits at this machine; where reading is closed, without a token no more than anybody.
SITTING_HERE = Actor(LOCAL, "administrator")
READING_HERE = Actor(LOCAL, None)


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


@dataclass(frozen=True)
class Right:
    """What a route asks of its callers, as its dependency; it gives who acts and notes it in the request's state.

    role: needed to use the route, None where everybody may; a reader needs a token only where reading is closed.
    counted: False for a route outside the limit of requests. crew: True for a question that a signed-in crew may
    always ask, however many requests it made.
    """

    role: str | None
    counted: bool = True
    crew: bool = False

    async def __call__(self, connection: HTTPConnection) -> Actor:
        """Give who acts.

        Raises: WrongHost, NotSignedIn, NotAllowed; TooMany above the limit of requests.
        """
        refuse_foreign_host(connection)
        refuse_foreign_origin(connection)
        rate: RateLimit = connection.app.state.rate
        host = connection.client.host if connection.client else "unknown"
        try:
            actor = await actor_of(connection)
            _refuse_without(self.role, actor, connection.app.state.settings)
        except NotSignedIn:
            rate.count(host)
            raise
        if self.counted and not (self.crew and actor.signed_in):
            rate.count(f"token {actor.name}" if actor.signed_in else host)
        connection.state.actor = actor
        return actor


def refuse_foreign_host(connection: HTTPConnection) -> None:
    """A page of another site, whose name was made to point at this machine, must not pass for the service's own.

    Such a name is the only thing that a browser tells of it, and an address in digits cannot be turned elsewhere.
    Raises: WrongHost when the request asks for a host that is neither localhost, nor an address in digits, nor a name
    of the settings.
    """
    host = connection.headers.get("host")
    if host is None:
        return
    try:
        name = urlsplit(f"//{host}").hostname or ""
        if name not in connection.app.state.host_names:
            ipaddress.ip_address(name)
    except ValueError:
        raise WrongHost(
            f"the request asks for the host {host[:100]!r}. Fix: ask by localhost or by the machine's address, or name "
            "the host in FETCHWATER_HOST_NAMES"
        ) from None


def refuse_foreign_origin(connection: HTTPConnection) -> None:
    """A page of another site must not edit through the browser of somebody who may.

    Raises: NotAllowed when the request says that it comes from another site.
    """
    origin = connection.headers.get("origin")
    if connection.scope["method"] in SAFE or origin is None:
        return
    if origin.partition("://")[2] != connection.headers.get("host"):
        raise NotAllowed(
            "the request comes from a page of another site. Fix: edit from the service's own pages"
        )


async def actor_of(connection: HTTPConnection) -> Actor:
    """Give who acts: whose token it is, else who sits at this machine, else anybody.

    Raises: NotSignedIn for a token that is not valid.
    """
    settings: Settings = connection.app.state.settings
    given = token_in(connection.headers)
    if given is not None:
        engine = connection.app.state.workspace.store.engine
        entry = await anyio.to_thread.run_sync(tokens.find, engine, given)
        if entry is None:
            raise NotSignedIn(
                "the token is not valid, has expired or was revoked. Fix: ask the administrator for one"
            )
        return Actor(entry.name, entry.role, signed_in=True)
    if settings.editing == "open" and is_local(connection.client.host if connection.client else None):
        return SITTING_HERE if settings.reading == "open" else READING_HERE
    return NOBODY


def _refuse_without(role: str | None, actor: Actor, settings: Settings) -> None:
    if role is None or (role == "reader" and settings.reading == "open") or actor.may(role):
        return
    if actor.signed_in:
        raise NotAllowed(f"{actor.name} is {actor.role}; this needs {role}. Fix: a token of that role")
    if role == "reader" or settings.editing == "tokens" or settings.reading == "closed":
        raise NotSignedIn(
            "this needs a token. Fix: send it as Authorization: Bearer, or as the password of Basic"
        )
    raise NotAllowed(
        "without tokens only this machine itself may change anything. Fix: set FETCHWATER_EDITING=tokens and make one "
        "by `fetchwater token add`"
    )


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


def keep_rights(app: FastAPI, settings: Settings) -> None:
    """Give an app what the rights of its routes need."""
    app.state.settings = settings
    app.state.rate = RateLimit(settings.requests_per_minute)
    named = (name.strip().lower() for name in (settings.host_names or "").split(","))
    app.state.host_names = {"localhost", *named} - {""}


EVERYBODY = Depends(Right(None, counted=False))
READERS = Depends(Right("reader"))
# They ask and change nothing, but their questions are too long for an address.
ASKING = Depends(Right("reader", crew=True))
PLANNERS = Depends(Right("planner"))
ADMINISTRATORS = Depends(Right("administrator"))


async def _planner(actor: Annotated[Actor, PLANNERS]) -> str:
    return actor.name


# The name of who edits, for routes that keep it.
Planner = Annotated[str, Depends(_planner)]


def sees_contacts(connection: HTTPConnection) -> bool:
    """True for who may see whom to call: people's telephone numbers are no open data, even where reading is open."""
    return connection.state.actor.may("planner")


async def _seeing(connection: HTTPConnection) -> bool:
    return sees_contacts(connection)


SeesContacts = Annotated[bool, Depends(_seeing)]
