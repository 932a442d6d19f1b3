"""Salinity classes against the Venice System and the practical salinity scale."""

from datetime import date, timedelta

import gsw
import pytest

from geo.base.errors import BadArgument
from geo.records.region import SalinityEvidence
from geo.survey.salinity import class_of_salinity, salinity_caution, salinity_class


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
    assert salinity_class("estuary", measured(6.5))[0] == "brackish"


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
    with pytest.raises(BadArgument, match="Fix"):
        salinity_class("lake", measured(value))


def near_mouth(
    distance_m: float | None, salinity: float | None = None, stated: str | None = None
) -> SalinityEvidence:
    return SalinityEvidence(stated, salinity, "water.csv row 7", date(2024, 2, 3), distance_m)  # type: ignore[arg-type]


# The reach of 20 km is this program's own rule (no source): the tests hold it to what it promises, never fresh.
@pytest.mark.parametrize("kind", ["estuary", "river", "lake", "unknown"])
def test_near_its_mouth_an_unknown_water_is_the_worst_case(kind: str) -> None:
    for distance_m in (0.0, 3_000.0, 20_000.0):
        found, reason = salinity_class(kind, near_mouth(distance_m))  # type: ignore[arg-type]
        assert found == "salt" and "km from the mouth" in reason
    assert salinity_class(kind, near_mouth(20_001.0))[0] is None  # type: ignore[arg-type]
    assert salinity_class(kind, near_mouth(None))[0] is None  # type: ignore[arg-type]


def test_tidal_water_is_never_fresh() -> None:
    found, reason = salinity_class("estuary", near_mouth(8_000.0, 0.2))
    assert found is None and "8.0 km" in reason and "2024-02-03" in reason and "next tide" in reason
    assert salinity_class("estuary", near_mouth(8_000.0, 33.0))[0] == "salt"
    assert salinity_class("estuary", near_mouth(25_000.0, 0.2), elevation_m=0.0)[0] is None
    assert salinity_class("river", near_mouth(8_000.0, None, "fresh"))[0] is None
    assert salinity_class("river", near_mouth(25_000.0, None, "fresh"))[0] == "fresh"


# 10 m: half the greatest tidal range known, 16 m (from memory of tide tables), and 2 m for surge (our choice).
@pytest.mark.parametrize("kind", ["river", "unknown"])
@pytest.mark.parametrize(
    ("elevation_m", "expected"), [(None, None), (0.0, None), (10.0, None), (10.1, "fresh")]
)
def test_a_river_is_fresh_where_no_tide_can_reach_it(kind, elevation_m, expected) -> None:
    found, reason = salinity_class(kind, near_mouth(None, 0.2), elevation_m=elevation_m)
    assert found == expected and (expected == "fresh" or "may be tidal" in reason)


def test_without_a_date_or_with_an_old_one_nothing_is_fresh() -> None:
    undated = SalinityEvidence("fresh", 0.2, "water.csv row 7", None)
    for kind in ("lake", "reservoir", "dam", "pond", "river", "unknown"):
        found, reason = salinity_class(kind, undated, elevation_m=300.0)  # type: ignore[arg-type]
        assert found is None and "without a date" in reason and "salinity_date" in reason
    assert salinity_class("lake", SalinityEvidence("salt", None, "row 7", None))[0] == "salt"
    assert salinity_class("lake", SalinityEvidence(None, 2.0, "row 7", None))[0] == "brackish"
    day = date(2024, 2, 3)
    assert salinity_class("lake", measured(0.2), as_of=day + timedelta(days=1095))[0] == "fresh"
    assert salinity_class("lake", measured(0.2), as_of=day + timedelta(days=1096))[0] is None
    assert salinity_class("lake", measured(0.2), as_of=day - timedelta(days=1))[0] is None
    assert salinity_class("lake", measured(12.0), as_of=day + timedelta(days=9000))[0] == "brackish"


HOVERS = {"fresh": 2, None: 1, "brackish": 0, "salt": 0}  # usable, survey first, not usable


@pytest.mark.parametrize("kind", ["lake", "reservoir", "dam", "pond", "river", "estuary", "sea", "unknown"])
@pytest.mark.parametrize("stated", [None, "fresh", "brackish", "salt"])
@pytest.mark.parametrize("salinity", [None, 0.1, 0.5, 12.0, 30.0, 35.0])
@pytest.mark.parametrize("mouth_m", [None, 5_000.0, 50_000.0])
@pytest.mark.parametrize("elevation_m", [None, 2.0, 200.0])
def test_more_salt_or_a_fact_forgotten_never_makes_a_water_better(
    kind, stated, salinity, mouth_m, elevation_m
):
    def worth(stated_, salinity_, day, mouth, kind_=kind, height=elevation_m):
        evidence = SalinityEvidence(stated_, salinity_, "row 7", day, mouth)
        return HOVERS[salinity_class(kind_, evidence, elevation_m=height)[0]]

    day = date(2024, 2, 3)
    known = worth(stated, salinity, day, mouth_m)
    assert worth(stated, salinity, None, mouth_m) <= known
    assert worth(stated, salinity, day, mouth_m, height=None) <= known
    if salinity is not None:
        assert worth(stated, salinity + 15.0, day, mouth_m) <= known
    if known == 2:
        # What is forgotten was good news; that a bad measurement can be forgotten no rule can prevent.
        assert worth(None, None, day, mouth_m) < 2
        assert worth(stated, salinity, day, mouth_m, kind_="unknown") <= known
    if kind not in ("lake", "sea"):
        # A lake beside the sea is taken as inland until somebody says how near its mouth lies.
        assert known == 2 or worth(stated, salinity, day, None) < 2


def test_no_tide_reaches_a_dam() -> None:
    assert salinity_class("dam", near_mouth(500.0))[0] is None
    assert salinity_class("dam", near_mouth(500.0, 0.2))[0] == "fresh"


# How long a sample holds is this program's own rule (no source): 30 days in flowing water, 3 years in still water.
@pytest.mark.parametrize(
    ("kind", "days", "said"),
    [("lake", 1095, ""), ("lake", 1096, "1096 days old"), ("estuary", 30, ""), ("river", 31, "31 days old"),
     ("sea", 9000, ""), ("lake", -1, "check the date")],
)  # fmt: skip
def test_old_samples_are_cautioned(kind: str, days: int, said: str) -> None:
    caution = salinity_caution(kind, measured(0.2), date(2024, 2, 3) + timedelta(days=days))  # type: ignore[arg-type]
    assert (said in caution) if said else caution == ""


def test_undated_samples_are_cautioned_and_without_a_day_nothing_is() -> None:
    undated = SalinityEvidence("fresh", None, "water.csv row 7", None)
    assert "without a date" in salinity_caution("lake", undated, date(2026, 1, 1))
    assert salinity_caution("lake", undated, None) == salinity_caution("lake", None, date(2026, 1, 1)) == ""
