"""The problem documents (RFC 9457) made of errors; `services.errors.STATUS_TABLE` gives each its HTTP status."""

from dataclasses import asdict

from geo.base.errors import BadInput, FetchwaterError
from services.errors import BadQuery, Conflict, classify

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
