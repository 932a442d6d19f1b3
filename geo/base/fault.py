"""What is wrong with an input, said so that a person can mend it."""

from dataclasses import dataclass
from typing import Literal

# refuse: nothing of the file is used; ask: the user must declare something first (refused until then);
# quarantine: this feature is left out and listed, the rest is used; caution: used, and said.
Severity = Literal["refuse", "ask", "quarantine", "caution"]


@dataclass(frozen=True)
class Fault:
    """One fault: where it is (file, layer, feature, field), the value met, the rule it breaks and the fix."""

    severity: Severity
    file: str
    rule: str
    cure: str
    layer: str | None = None
    feature: str | None = None
    field: str | None = None
    value: str | None = None

    def sentence(self) -> str:
        """Give the fault as one line: place, value, rule, fix."""
        place = ", ".join(
            f"{label} {text}"
            for label, text in (("layer", self.layer), ("feature", self.feature), ("field", self.field))
            if text is not None
        )
        where = f"{self.file} ({place})" if place else self.file
        value = f" [value {self.value}]" if self.value is not None else ""
        return f"{self.severity}: {where}: {self.rule}{value}. Fix: {self.cure}"

    @property
    def blocks(self) -> bool:
        """True when the region cannot be used until this is mended."""
        return self.severity in ("refuse", "ask")
