"""One table from errors to exit codes and HTTP status, and the problem documents (RFC 9457) made of them."""

from dataclasses import asdict

from geo.errors import BadArgument, BadInput, FetchwaterError, NotFlyable
from services.store import StoreTooNew

# error class -> (exit code of the command line, HTTP status, title)
TABLE: tuple[tuple[type[Exception], int, int, str], ...] = (
    (BadInput, 2, 422, "The input cannot be used"),
    (BadArgument, 2, 422, "A value is outside its range"),
    (NotFlyable, 3, 422, "The leg cannot be flown"),
    (StoreTooNew, 4, 503, "The store was written by a newer program"),
    (FetchwaterError, 1, 500, "The request could not be answered"),
)


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
    return document
