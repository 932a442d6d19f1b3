"""How the worker says no, in a form that travels as plain JSON."""

from typing import Any


class Refusal(Exception):
    """One fault found in the worker: severity, rule, cure, and where."""

    def __init__(self, rule: str, cure: str, severity: str = "refuse", **place: Any) -> None:
        super().__init__(rule)
        self.fault = note(severity, rule, cure, **place)


def note(severity: str, rule: str, cure: str, **place: Any) -> dict[str, str | None]:
    """Give a fault as a plain dict; place may hold layer, feature, field, value."""
    words = {key: None if value is None else str(value)[:120] for key, value in place.items()}
    return {"severity": severity, "rule": rule, "cure": cure, **words}
