"""Turns a user's cells into values: numbers, words, days. What cannot be read is unknown and is said, never guessed."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from geo.ingest.checks.report import FileReport

NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?")
UNKNOWN = "the value counts as unknown; mend the cell"
Cell = str | float | int | bool | None


@dataclass(frozen=True)
class Row:
    """One row of a layer: its cells under our names, the user's names of the columns, and where to complain."""

    number: int
    label: str
    cells: Mapping[str, Cell]
    columns: Mapping[str, str]
    report: FileReport

    def complain(self, field: str, rule: str, cure: str = UNKNOWN, severity: str = "caution") -> None:
        """Report a fault of one cell of this row."""
        self.report.add(
            severity,
            rule,
            cure,
            feature=self.label,
            field=self.columns.get(field, field),
            value=self.cells.get(field),
        )

    def text(self, field: str) -> str | None:
        """Give a cell as text, None when empty. A whole number loses its decimal point."""
        value = self.cells.get(field)
        if value is None or isinstance(value, bool):
            return None if value is None else str(value).lower()
        if isinstance(value, float) and value.is_integer():
            value = int(value)
        words = "".join(letter for letter in str(value) if letter.isprintable()).strip()
        return words or None

    def number_in(self, field: str, low: float, high: float, what: str, factor: float = 1.0) -> float | None:
        """Give a cell times `factor` when it lies in [low, high], else None with a caution."""
        value = self.cells.get(field)
        if value is None or (isinstance(value, str) and not value.strip()):
            return None
        if isinstance(value, str):
            value = float(value) if NUMBER.fullmatch(value.strip()) is not None else None
        if value is None or isinstance(value, bool):
            self.complain(field, f"{what} is not a plain number")
            return None
        number = float(value) * factor
        if not low <= number <= high:
            self.complain(field, f"{what} lies outside {low:g} to {high:g}")
            return None
        return number

    def day(self, field: str) -> date | None:
        """Give a cell as a day (ISO 8601), else None; text that is no day is reported."""
        words = self.text(field)
        if words is None:
            return None
        try:
            return date.fromisoformat(words.replace("/", "-")[:10])
        except ValueError:
            self.complain(field, "not a day of the calendar in the form year-month-day")
            return None

    def word(
        self, field: str, known: Mapping[str, str], allowed: tuple[str, ...], section: str
    ) -> str | None:
        """Give our word for the user's, None (with a caution where a word stands) when it is not mapped.

        Notes: the user's table comes first; our own words are understood without being mapped.
        """
        words = self.text(field)
        if words is None:
            return None
        if words in known:
            return known[words]
        if words.lower() in allowed:
            return words.lower()
        self.complain(
            field,
            "the word is not mapped and counts as unknown",
            f"map it in [{section}] to one of: {', '.join(allowed)}",
        )
        return None
