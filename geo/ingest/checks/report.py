"""Where faults and row counts are gathered while a region is read."""

import re
from dataclasses import dataclass, field, replace
from typing import Any

from geo.base.errors import BadInput
from geo.base.fault import Fault, Severity

# More faults of one kind in one file than this are told as one, with their count and the first labels.
LISTED_PER_RULE = 20
LABELS_PER_RULE = 5
NUMBER = re.compile(r"\d+(\.\d+)?")


def first_of(names: list[str]) -> str:
    """List the first names of many, for a sentence."""
    return ", ".join(names[:LABELS_PER_RULE]) + (" ..." if len(names) > LABELS_PER_RULE else "")


@dataclass
class Counts:
    """Rows of one file: rows = stored + repaired + quarantined."""

    rows: int = 0
    stored: int = 0
    repaired: int = 0
    quarantined: int = 0


@dataclass
class _Kind:
    """Faults of one kind: how many there were, the first of them, the labels of the first features."""

    count: int = 0
    listed: list[Fault] = field(default_factory=list)
    labels: list[str] = field(default_factory=list)

    def add(self, fault: Fault) -> None:
        self.count += 1
        if self.count <= LISTED_PER_RULE:
            self.listed.append(fault)
        if fault.feature is not None and len(self.labels) < LABELS_PER_RULE:
            self.labels.append(fault.feature)

    def told(self) -> list[Fault]:
        """Give the faults one by one, or as one when they are too many."""
        if self.count <= LISTED_PER_RULE:
            return self.listed
        labels = ", ".join(self.labels)
        where = f"{labels} and {self.count - len(self.labels)} more" if labels else None
        rule = f"{self.count} times: {self.listed[0].rule}"
        return [replace(self.listed[0], rule=rule, feature=where, value=None)]


@dataclass
class Report:
    """All faults of one region, the rows of each of its files, and what else `check` says.

    `settled` names settings that were wrong in region.toml and have been told: what follows from their absence is not
    told again.
    """

    counts: dict[str, Counts] = field(default_factory=dict)
    summary: dict[str, Any] = field(default_factory=dict)
    settled: set[tuple[str | None, str]] = field(default_factory=set)
    _kinds: dict[Fault, _Kind] = field(default_factory=dict)
    _order: list[tuple[_Kind, int]] = field(default_factory=list)

    def about(self, file: str, layer: str | None = None) -> "FileReport":
        """Give the part of the report that is about one file."""
        return FileReport(self, file, layer)

    def add(self, fault: Fault) -> None:
        """Take a fault in. Kinds differ in severity, file, layer, field and rule, whatever numbers the rule names."""
        if fault.field is not None and {(None, fault.field), (fault.file, fault.field)} & self.settled:
            return
        key = replace(fault, rule=NUMBER.sub("#", fault.rule), cure="", feature=None, value=None)
        kind = self._kinds.setdefault(key, _Kind())
        kind.add(fault)
        if kind.count <= LISTED_PER_RULE:
            self._order.append((kind, kind.count - 1))

    def all_faults(self) -> tuple[Fault, ...]:
        """Give every fault, those that block first; more than LISTED_PER_RULE of one kind are told as one."""
        told = [(kind.told(), place) for kind, place in self._order]
        faults = [one[place] for one, place in told if place < len(one)]
        return tuple(sorted(faults, key=lambda fault: not fault.blocks))

    @property
    def blocked(self) -> bool:
        """True when something was found that keeps the region from being used."""
        return any(fault.blocks for fault in self._kinds)

    def raise_if_blocked(self) -> None:
        """Raise what keeps the input from being used.

        Raises: BadInput with every fault that blocks.
        """
        if self.blocked:
            raise BadInput([fault for fault in self.all_faults() if fault.blocks])


@dataclass
class FileReport:
    """Faults and counts of one file and layer."""

    report: Report
    file: str
    layer: str | None = None

    def ask_for(self, key: str, field: str, what: str, fix: str) -> None:
        """Ask for what a section of region.toml, `key`, does not declare; fix says how, without naming the section."""
        self.add("ask", f"{what} is not declared", f"{fix} in [{key}]", field=f"{key}.{field}")

    def add(self, severity: Severity, rule: str, fix: str, **place: Any) -> None:
        """Take a fault in; place may hold feature, field, value (given as text)."""
        words = {key: None if value is None else str(value)[:120] for key, value in place.items()}
        self.report.add(Fault(severity, self.file, rule, fix, layer=self.layer, **words))

    @property
    def counts(self) -> Counts:
        """The row counts of this file and layer."""
        name = self.file if self.layer is None else f"{self.file} ({self.layer})"
        return self.report.counts.setdefault(name, Counts())
