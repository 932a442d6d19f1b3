"""Salinity classes against the Venice System and the practical salinity scale."""

from datetime import date

import gsw
import pytest

from geo.errors import BadArgument
from geo.records.region import SalinityEvidence
from geo.survey.salinity import class_of_salinity, salinity_class


def measured(salinity: float | None, stated: str | None = None) -> SalinityEvidence:
    return SalinityEvidence(stated, salinity, "water.csv row 7", date(2024, 2, 3))  # type: ignore[arg-type]


# Venice System 1958: limnetic < 0.5, mixohaline 0.5-30, euhaline from 30.
@pytest.mark.parametrize(
    ("salinity", "expected"),
    [
        (0.0, "fresh"),
        (0.49, "fresh"),
        (0.5, "brackish"),
        (29.99, "brackish"),
        (30.0, "salt"),
        (35.0, "salt"),
        (41.0, "salt"),
    ],
)
def test_class_limits(salinity: float, expected: str) -> None:
    assert class_of_salinity(salinity) == expected


# Conductivity at 25 degrees C (IPTS-68) for S = 0.5 and 30, computed from PSS-78: 1.0146 and 46.2478 mS/cm. One per
# cent to either side must fall into the neighbouring classes.
@pytest.mark.parametrize(
    ("conductivity_ms_cm", "below", "above"), [(1.0146, "fresh", "brackish"), (46.2478, "brackish", "salt")]
)
def test_conductivity_at_the_class_limits(conductivity_ms_cm: float, below: str, above: str) -> None:
    t90 = 25.0 / 1.00024
    assert class_of_salinity(float(gsw.SP_from_C(conductivity_ms_cm * 0.99, t90, 0.0))) == below
    assert class_of_salinity(float(gsw.SP_from_C(conductivity_ms_cm * 1.01, t90, 0.0))) == above


@pytest.mark.parametrize("kind", ["lake", "reservoir", "dam", "pond", "river", "estuary", "unknown"])
@pytest.mark.parametrize("evidence", [None, SalinityEvidence(None, None, "water.gpkg", None)])
def test_nothing_known_is_never_fresh(kind: str, evidence: SalinityEvidence | None) -> None:
    found, reason = salinity_class(kind, evidence)  # type: ignore[arg-type]
    assert found is None
    assert reason.startswith("unknown")


def test_sea_without_evidence_is_salt() -> None:
    # common practice, no source
    assert salinity_class("sea", None)[0] == "salt"


def test_evidence_beats_the_kind() -> None:
    assert salinity_class("sea", measured(6.5))[0] == "brackish"
    assert salinity_class("lake", measured(33.0))[0] == "salt"
    assert salinity_class("estuary", measured(0.2))[0] == "fresh"


@pytest.mark.parametrize(
    ("salinity", "stated", "expected"),
    [
        (12.0, "fresh", "brackish"),
        (0.1, "salt", "salt"),
        (0.1, "fresh", "fresh"),
        (None, "brackish", "brackish"),
    ],
)
def test_the_saltier_of_two_statements_holds(salinity: float | None, stated: str, expected: str) -> None:
    found, reason = salinity_class("lake", measured(salinity, stated))
    assert found == expected
    assert "water.csv row 7" in reason and "2024-02-03" in reason


def test_fresh_sea_is_a_contradiction_and_unknown() -> None:
    found, reason = salinity_class("sea", measured(None, "fresh"))
    assert found is None
    assert "contradicts" in reason


@pytest.mark.parametrize("value", [-0.1, float("nan"), float("inf")])
def test_impossible_salinity_is_refused(value: float) -> None:
    with pytest.raises(BadArgument, match="Cure"):
        salinity_class("lake", measured(value))
