"""How the worker says no, in a form that travels as plain JSON."""

from typing import Any, SupportsInt

Note = dict[str, Any]


class Refusal(Exception):
    """One fault found in the worker: severity, rule, fix, and where."""

    def __init__(self, rule: str, fix: str, severity: str = "refuse", **place: Any) -> None:
        super().__init__(rule)
        self.fault = note(severity, rule, fix, **place)


def note(severity: str, rule: str, fix: str, **place: Any) -> Note:
    """Give a fault as a plain dict; place may hold layer, feature, field, value."""
    words = {key: None if value is None else str(value)[:120] for key, value in place.items()}
    return {"severity": severity, "rule": rule, "cure": fix, **words}


def caution(rule: str, fix: str, **place: Any) -> Note:
    """Give a caution as a plain dict: what was found is used, and said."""
    return note("caution", rule, fix, **place)


def left_out(row: SupportsInt, rule: str, fix: str, **place: Any) -> Note:
    """Give the fault for which one row is left out, by its number in the file, as a plain dict."""
    return {**note("quarantine", rule, fix, **place), "row": int(row)}
