"""Every error of the services, and the one table from errors to exit codes and HTTP status (`STATUS_TABLE`).

All are children of `geo.base.errors.FetchwaterError`, beside those of `geo`, whose tree is drawn there.
"""

from typing import Any

from geo.base.errors import (
    BadArgument,
    BadInput,
    FetchwaterError,
    MissingLibrary,
    NotFlyable,
    SheetTooLong,
)


class StoreTooNew(FetchwaterError):
    """The store was written by a later version of the program and is left untouched."""


class StoreUnreachable(FetchwaterError):
    """The store cannot be opened, does not answer, or is busy; nothing was changed."""


class StoreBroken(FetchwaterError):
    """A file is damaged, or is no store of this program; nothing of it was taken."""


class NotKept(FetchwaterError):
    """The store holds no record of that id."""


class Conflict(FetchwaterError):
    """Somebody else changed the record since it was read; nothing was overwritten.

    present is the record as it stands, yours what was to be written; both are plain JSON values.
    """

    def __init__(self, message: str, present: dict[str, Any], yours: dict[str, Any]) -> None:
        super().__init__(message)
        self.present = present
        self.yours = yours


class BadQuery(FetchwaterError):
    """A query parameter that cannot be used: its name, what is wrong with it and how to fix it."""

    def __init__(self, field: str, rule: str, cure: str) -> None:
        super().__init__(f"{field}: {rule}. Fix: {cure}")
        self.field, self.rule, self.cure = field, rule, cure


class NoSuchThing(FetchwaterError):
    """A collection, feature, job or page that does not exist."""


class NotFresh(FetchwaterError):
    """If-Match names a state that is not the present one; nothing was changed."""


class NeedsIfMatch(FetchwaterError):
    """An edit came without If-Match, so that nobody could tell whether it overwrites another's."""


class NotSignedIn(FetchwaterError):
    """A request that needs a token came without a valid one."""

    headers = {  # noqa: RUF012
        "WWW-Authenticate": 'Bearer realm="fetchwater", Basic realm="fetchwater", charset="UTF-8"'
    }


class NotAllowed(FetchwaterError):
    """The token's role, or the place that the request comes from, does not allow it."""


class WrongHost(FetchwaterError):
    """The request names a host that this service is not known by."""


class NotSurveyed(FetchwaterError):
    """The region's waters have not been surveyed yet, so nothing can be said of them."""

    headers = {"Retry-After": "30"}  # noqa: RUF012


class TooMany(FetchwaterError):
    """More requests in a minute than one client may make, or more jobs than may wait their turn."""

    def __init__(self, message: str, wait_s: int) -> None:
        super().__init__(message)
        self.headers = {"Retry-After": str(wait_s)}


# error class -> (exit code of the command line, HTTP status, title)
STATUS_TABLE: tuple[tuple[type[Exception], int, int, str], ...] = (
    (BadInput, 2, 422, "The input cannot be used"),
    (BadArgument, 2, 422, "A value is outside its range"),
    (NotFlyable, 3, 422, "The leg cannot be flown"),
    (SheetTooLong, 2, 422, "The sheet does not fit one page"),
    (MissingLibrary, 8, 503, "A library of the system is missing"),
    (StoreTooNew, 4, 503, "The store has a version that this program does not know"),
    (StoreUnreachable, 4, 503, "The store does not answer"),
    (StoreBroken, 4, 503, "The store is damaged"),
    (NotKept, 2, 404, "There is no such record"),
    (Conflict, 5, 412, "Somebody else changed it meanwhile"),
    (BadQuery, 2, 400, "The query cannot be used"),
    (NoSuchThing, 2, 404, "There is no such thing"),
    (NotFresh, 5, 412, "It was changed meanwhile"),
    (NeedsIfMatch, 5, 428, "The edit must say which state it changes"),
    (NotSignedIn, 6, 401, "A token is needed"),
    (NotAllowed, 6, 403, "That is not allowed"),
    (WrongHost, 6, 400, "The service does not go by this name"),
    (NotSurveyed, 4, 503, "The region is not surveyed yet"),
    (TooMany, 7, 429, "Too many requests"),
    (FetchwaterError, 1, 500, "The request could not be answered"),
)


def classify(error: Exception) -> tuple[int, int, str]:
    """Give exit code, HTTP status and title of an error of ours."""
    for kind, code, status, title in STATUS_TABLE:
        if isinstance(error, kind):
            return code, status, title
    return 1, 500, "Internal error"
