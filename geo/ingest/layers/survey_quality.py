"""What the class of a survey says: how uncertain a depth is, sqrt(a^2 + (b d)^2) at 95 %, how the bed was searched.

Classes that state a + b d are put in the same form.
"""

from dataclasses import dataclass, replace

import numpy as np

from geo.ingest.checks.report import FileReport
from geo.ingest.settings import Searched, Uncertain
from geo.records.bed_search import BedSearch, search_of_order, search_of_zone

SIGMA_OF_95 = 1.96  # one-dimensional 95 % of a normal distribution

# IHO S-44 Edition 6 (2020), Table 1, total vertical uncertainty: a [m], b.
S44_ORDERS = {
    "exclusive": (0.15, 0.0075),
    "special": (0.25, 0.0075),
    "1a": (0.5, 0.013),
    "1b": (0.5, 0.013),
    "2": (1.0, 0.023),
}
# IHO S-68 Edition 1.1.0 (2025), Table A-1, depth accuracy a + b d: a [m], b. D is only "worse than C" there, and S-67
# section 5.1 treats U like D: both get C's values doubled (no source).
CATZOC_ZONES = {
    "A1": (0.5, 0.01),
    "A2": (1.0, 0.02),
    "B": (1.0, 0.02),
    "C": (2.0, 0.05),
    "D": (4.0, 0.10),
    "U": (4.0, 0.10),
}
DOUBLED = ("D", "U")


@dataclass(frozen=True)
class Uncertainty:
    """Depth uncertainty at 95 % with a [m] and b; `added` tells a + b d from sqrt(a^2 + (b d)^2)."""

    a_m: float
    b: float
    added: bool
    origin: str

    def at_95_m(self, depth_m: np.ndarray | float) -> np.ndarray:
        """Give the uncertainty [m] at 95 % of depths [m]."""
        slope = self.b * np.abs(depth_m)
        return self.a_m + slope if self.added else np.hypot(self.a_m, slope)

    def quadrature_terms(self) -> tuple[float, float]:
        """Give a and b for sqrt(a^2 + (b d)^2) that is never less than this uncertainty.

        Notes: (a + b d)^2 <= 2 (a^2 + (b d)^2), so both terms of the added form grow by sqrt(2). At most 41 % too
        careful.
        """
        grow = np.sqrt(2.0) if self.added else 1.0
        return float(self.a_m * grow), float(self.b * grow)


def declared_uncertainty(section: Uncertain, report: FileReport) -> Uncertainty | None:
    """Give the uncertainty that a section declares by order, zone or numbers, None when it declares none.

    Notes: two declarations at once are refused.
    """
    ways = (section.survey_order, section.catzoc, section.uncertainty_a_m)
    if sum(way is not None for way in ways) > 1:
        rule = "the uncertainty is declared in more than one way"
        report.add("refuse", rule, "keep one of them", field=section.key)
    if section.uncertainty_a_m is not None:
        a_m, b = section.uncertainty_a_m, section.uncertainty_b or 0.0
        return Uncertainty(a_m, b, False, f"declared {a_m:g} m and {b:g} of depth")
    if section.survey_order is not None:
        return Uncertainty(*S44_ORDERS[section.survey_order], False, f"S-44 order {section.survey_order}")
    if section.catzoc is not None:
        doubled = ", C's doubled, no source" if section.catzoc in DOUBLED else ""
        return Uncertainty(*CATZOC_ZONES[section.catzoc], True, f"CATZOC {section.catzoc}{doubled}")
    return None


# What each way to search needs to be worth anything.
NEEDED = {"lines": "line_spacing_m", "swath": "swath_m", "swept": "swept_depth_m"}


def declared_search(section: Searched, report: FileReport, key: str) -> BedSearch:
    """Give how a survey searched the bed, from its order or zone and from what is declared beside it.

    Parameters: key, the section's name in region.toml. Returns: a search of "none" where nothing is declared.
    Notes: a declared bed_search counts before that of an order. A search that lacks what it needs is asked for, and
    counts for nothing.
    """
    found = BedSearch()
    if section.survey_order is not None:
        found = search_of_order(section.survey_order)
    elif section.catzoc is not None:
        found = search_of_zone(section.catzoc)
    names = ("feature_m", "swath_m", "line_spacing_m", "swept_depth_m", "features_found")
    given = {name: getattr(section, name) for name in names if getattr(section, name) is not None}
    found = replace(found, **given)
    if section.bed_search is None:
        return found
    found = replace(found, method=section.bed_search, origin=f"declared {section.bed_search}")
    lacking = [NEEDED[found.method]] if found.method in NEEDED else []
    lacking += ["feature_m"] if found.method in ("full", "swath") else []
    for name in lacking:
        if getattr(found, name) is None:
            rule = f'bed_search = "{found.method}" needs {name}'
            report.add("ask", rule, f"declare {name} in [{key}]", field=f"{key}.{name}")
            return BedSearch()
    return found
