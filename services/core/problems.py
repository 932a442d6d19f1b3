"""One table from errors to exit codes and HTTP status, and the problem documents (RFC 9457) made of them."""

from dataclasses import asdict

from geo.base.errors import BadArgument, BadInput, FetchwaterError, NotFlyable, SheetTooLong
from services.errors import (
    BadQuery,
    NeedsIfMatch,
    NoSuchThing,
    NotAllowed,
    NotFresh,
    NotSignedIn,
    NotSurveyed,
    TooMany,
)
from services.store.errors import Conflict, NotKept, StoreBroken, StoreTooNew, StoreUnreachable

# error class -> (exit code of the command line, HTTP status, title)
TABLE: tuple[tuple[type[Exception], int, int, str], ...] = (
    (BadInput, 2, 422, "The input cannot be used"),
    (BadArgument, 2, 422, "A value is outside its range"),
    (NotFlyable, 3, 422, "The leg cannot be flown"),
    (SheetTooLong, 2, 422, "The sheet does not fit one page"),
    (StoreTooNew, 4, 503, "The store was written by a newer program"),
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
    (NotSurveyed, 4, 503, "The region is not surveyed yet"),
    (TooMany, 7, 429, "Too many requests"),
    (FetchwaterError, 1, 500, "The request could not be answered"),
)

# What every problem document holds (RFC 9457), for both OpenAPI documents.
PROBLEM_SCHEMA = {
    "type": "object",
    "required": ["type", "title", "status"],
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "instance": {"type": "string"},
        "errors": {"type": "array", "items": {"type": "object"}},
    },
}


def classify(error: Exception) -> tuple[int, int, str]:
    """Give exit code, HTTP status and title of an error of ours."""
    for kind, code, status, title in TABLE:
        if isinstance(error, kind):
            return code, status, title
    return 1, 500, "Internal error"


def problem(error: FetchwaterError, instance: str) -> dict:
    """Give the problem document of an error: type, title, status, detail, instance and the faults one by one."""
    _, status, title = classify(error)
    document: dict = {
        "type": "about:blank",
        "title": title,
        "status": status,
        "detail": str(error),
        "instance": instance,
    }
    if isinstance(error, BadInput):
        document["errors"] = [
            {key: value for key, value in asdict(fault).items() if value is not None}
            for fault in error.faults
        ]
    if isinstance(error, Conflict):
        document |= {"present": error.present, "yours": error.yours}
    if isinstance(error, BadQuery):
        document["errors"] = [{"field": error.field, "rule": error.rule, "cure": error.cure}]
    return document


def headers_of(error: FetchwaterError) -> dict[str, str] | None:
    """Give the headers that go with an error: what to sign in with, how long to wait."""
    return getattr(error, "headers", None)
