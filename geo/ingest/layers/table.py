"""A layer as a table of rows, read one by one: what cannot be read is unknown or left out, and said, never guessed."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, TypeVar

import numpy as np

from geo.base.fault import Severity
from geo.ingest.checks.report import FileReport

NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?")
UNKNOWN = "the value counts as unknown; mend the cell"
Cell = str | float | int | bool | None
W = TypeVar("W", bound=str)


@dataclass(eq=False)
class LayerTable:
    """One layer of n rows as the user's file has it.

    numbers: the rows' numbers in the file (n,); degrees: their shapes in WGS 84 (n,), None where a row was left out;
    cells: our name of a column -> its n cells; names: our name -> the user's. severity is that of a row left out.
    plane: the shapes in the region's metric plane (n,), once the reader has placed them; repaired: rows mended then.
    """

    file: str
    numbers: np.ndarray
    degrees: np.ndarray
    cells: Mapping[str, list[Cell]]
    names: Mapping[str, str]
    report: FileReport
    severity: Severity = "quarantine"
    plane: np.ndarray = field(init=False)
    repaired: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.plane = np.full(len(self.degrees), None, object)

    def __len__(self) -> int:
        return len(self.degrees)

    def row(self, index: int) -> "Row":
        """Give one row, counted from 0."""
        return Row(self, int(index))

    def present(self) -> list[int]:
        """Give the places of the rows that were not left out."""
        return [index for index, shape in enumerate(self.degrees) if shape is not None]

    def rows(self) -> Iterator["Row"]:
        """Give the rows that were not left out, one by one."""
        return (Row(self, index) for index in self.present())

    def count(self) -> None:
        """Fill in the row counts: rows = stored + repaired + quarantined."""
        kept = set(self.present())
        counts = self.report.counts
        counts.rows = len(self)
        counts.repaired = len(kept & self.repaired)
        counts.stored = len(kept) - counts.repaired
        counts.quarantined = counts.rows - len(kept)


@dataclass(frozen=True)
class Row:
    """One row of a table: its cells as values, its shape, and where to complain of it."""

    table: LayerTable
    index: int

    @property
    def place(self) -> str:
        """The row by its number in the file: row 7, or line 7 of a table without layers."""
        word = "line" if self.table.report.layer is None else "row"
        return f"{word} {int(self.table.numbers[self.index])}"

    @property
    def label(self) -> str:
        """The row as a fault names it: its place and the user's id."""
        name = self.text("id")
        return self.place if name is None else f"{self.place} ({name})"

    @property
    def origin(self) -> str:
        """File and place: "file row k"."""
        return f"{self.table.file} {self.place}"

    @property
    def shape(self) -> Any:
        """The shape in the metric plane."""
        return self.table.plane[self.index]

    def cell(self, name: str) -> Cell:
        """Give a cell as the file has it, None where the column is not mapped."""
        column = self.table.cells.get(name)
        return None if column is None else column[self.index]

    def leave_out(self, rule: str, fix: str, *, severity: Severity | None = None, **place: Any) -> None:
        """Leave this row out, with its fault, as severe as its layer says."""
        self.table.degrees[self.index] = None
        self.table.report.add(severity or self.table.severity, rule, fix, feature=self.label, **place)

    def caution(self, rule: str, fix: str, **place: Any) -> None:
        """Say something of the whole row."""
        self.table.report.add("caution", rule, fix, feature=self.label, **place)

    def complain(self, name: str, rule: str, fix: str = UNKNOWN, severity: Severity = "caution") -> None:
        """Report a fault of one cell of this row."""
        column = self.table.names.get(name, name)
        self.table.report.add(severity, rule, fix, feature=self.label, field=column, value=self.cell(name))

    def text(self, name: str) -> str | None:
        """Give a cell as text, None when empty. A whole number loses its decimal point."""
        value = self.cell(name)
        if value is None:
            return None
        if isinstance(value, bool):
            return str(value).lower()
        if isinstance(value, float) and value.is_integer():
            value = int(value)
        words = "".join(letter for letter in str(value) if letter.isprintable()).strip()
        return words or None

    def number_in(self, name: str, low: float, high: float, what: str, factor: float = 1.0) -> float | None:
        """Give a cell times `factor` when it lies in [low, high], else None with a caution."""
        value = self.cell(name)
        if value is None or (isinstance(value, str) and not value.strip()):
            return None
        if isinstance(value, str):
            value = float(value) if NUMBER.fullmatch(value.strip()) is not None else None
        if value is None or isinstance(value, bool):
            self.complain(name, f"{what} is not a plain number")
            return None
        number = float(value) * factor
        if not low <= number <= high:
            self.complain(name, f"{what} lies outside {low:g} to {high:g}")
            return None
        return number

    def day(self, name: str) -> date | None:
        """Give a cell as a day (ISO 8601), else None; text that is no day is reported."""
        words = self.text(name)
        if words is None:
            return None
        try:
            return date.fromisoformat(words.replace("/", "-")[:10])
        except ValueError:
            self.complain(name, "not a day of the calendar in the form year-month-day")
            return None

    def word(self, name: str, known: Mapping[str, W], allowed: tuple[W, ...], section: str) -> W | None:
        """Give our word for the user's, None (with a caution where a word stands) when it is not mapped.

        Notes: the user's table comes first; our own words are understood without being mapped.
        """
        words = self.text(name)
        if words is None:
            return None
        ours = known.get(words) or next((one for one in allowed if one == words.lower()), None)
        if ours is None:
            fix = f"map it in [{section}] to one of: {', '.join(allowed)}"
            self.complain(name, "the word is not mapped and counts as unknown", fix)
        return ours
