"""Where faults and row counts are gathered while a region is read."""

from dataclasses import dataclass, field, replace
from typing import Any

from geo.records.fault import Fault, Severity

# Of faults that differ only in the feature, this many are listed; the rest are counted in one line.
LISTED_PER_RULE = 50


@dataclass
class Counts:
    """Rows of one file: rows = stored + repaired + quarantined."""

    rows: int = 0
    stored: int = 0
    repaired: int = 0
    quarantined: int = 0


@dataclass
class Report:
    """All faults of one region, and the rows of each of its files."""

    faults: list[Fault] = field(default_factory=list)
    counts: dict[str, Counts] = field(default_factory=dict)
    _seen: dict[Fault, int] = field(default_factory=dict)

    def about(self, file: str, layer: str | None = None) -> "FileReport":
        """Give the part of the report that is about one file."""
        return FileReport(self, file, layer)

    def add(self, fault: Fault) -> None:
        """Take a fault in; after LISTED_PER_RULE of the same kind in one file it is only counted."""
        key = replace(fault, cure="", feature=None, value=None)
        self._seen[key] = self._seen.get(key, 0) + 1
        if self._seen[key] <= LISTED_PER_RULE:
            self.faults.append(fault)

    def all_faults(self) -> tuple[Fault, ...]:
        """Give every fault, those that block first, with one line for each kind that was too many to list."""
        rest = [
            replace(
                kind,
                rule=f"{count - LISTED_PER_RULE} more of the same kind: {kind.rule}",
                cure="mend them as the ones listed",
            )
            for kind, count in self._seen.items()
            if count > LISTED_PER_RULE
        ]
        return tuple(sorted([*self.faults, *rest], key=lambda fault: not fault.blocks))

    @property
    def blocked(self) -> bool:
        """True when something was found that keeps the region from being used."""
        return any(fault.blocks for fault in self.faults)


@dataclass
class FileReport:
    """Faults and counts of one file and layer."""

    report: Report
    file: str
    layer: str | None = None

    def add(self, severity: Severity, rule: str, cure: str, **place: Any) -> None:
        """Take a fault in; place may hold feature, field, value (given as text)."""
        words = {key: None if value is None else str(value)[:120] for key, value in place.items()}
        self.report.add(Fault(severity, self.file, rule, cure, layer=self.layer, **words))

    @property
    def counts(self) -> Counts:
        """The row counts of this file and layer."""
        name = self.file if self.layer is None else f"{self.file} ({self.layer})"
        return self.report.counts.setdefault(name, Counts())
