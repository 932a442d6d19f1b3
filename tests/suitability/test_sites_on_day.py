"""What a site says on a day, and how it confirms, limits or vetoes. The rules are ours; REFERENCE.md states them."""

from dataclasses import replace
from datetime import date

import pytest
import shapely

from geo.records.region import AnnotatedSite
from geo.records.site_status import sites_on
from tests.suitability.test_assess import criterion_of, judge

SITE = AnnotatedSite("S1", "North Bay", shapely.Point(0, 0), "L1", None, "open", "", date(2026, 1, 3))


def on(site, day):
    (found,) = sites_on((site,), day)
    return found


@pytest.mark.parametrize(
    ("first", "last", "day", "status"),
    [
        ("11-01", "03-31", "2026-11-01", "open"),
        ("11-01", "03-31", "2026-10-31", "closed"),
        ("11-01", "03-31", "2026-01-15", "open"),
        ("11-01", "03-31", "2026-03-31", "open"),
        ("11-01", "03-31", "2026-04-01", "closed"),
        ("05-01", "09-30", "2026-07-01", "open"),
        ("05-01", "09-30", "2026-12-01", "closed"),
        ("05-01", "09-30", None, "closed"),
    ],
)
def test_seasons(first, last, day, status):
    site = replace(SITE, status="seasonal", season_from=first, season_to=last)
    found = on(site, None if day is None else date.fromisoformat(day))
    assert found.status == status and first in found.note


@pytest.mark.parametrize(
    ("status", "day", "wanted"),
    [
        ("closed", "2026-01-10", "closed"),
        ("closed", "2026-01-09", "unknown"),
        ("closed", "2026-01-21", "unknown"),
        ("closed", None, "closed"),
        ("open", "2026-01-20", "open"),
        ("open", "2026-01-21", "unknown"),
        ("open", None, "unknown"),
    ],
)
def test_days_of_a_status(status, day, wanted):
    site = replace(SITE, status=status, valid_from=date(2026, 1, 10), valid_to=date(2026, 1, 20))
    assert on(site, None if day is None else date.fromisoformat(day)).status == wanted


def test_a_permission_holds_to_its_last_day():
    site = replace(SITE, permission="granted", permission_to=date(2026, 1, 20))
    assert on(site, date(2026, 1, 20)).permission == "granted"
    assert on(site, date(2026, 1, 21)).permission is None
    assert "ran out on 2026-01-20" in on(site, date(2026, 1, 21)).note
    assert on(site, None).permission is None
    assert on(replace(SITE, permission="refused"), date(2030, 1, 1)).permission == "refused"


@pytest.mark.parametrize("method", ["ram_intake", "hover_pump"])
def test_the_site_that_rules_is_named(method):
    """Confirm raises the score, limit caps the load, veto rules out, note only warns."""
    plain = judge(method)
    of_store = replace(SITE, site_id="S7", revision=4, inspected_by="R. Example")
    confirmed = judge(method, sites=sites_on((of_store,), None))
    assert confirmed.score > plain.score
    reason = criterion_of(confirmed, "site notes").reason
    assert "North Bay (S7 revision 4, inspected 2026-01-03 by R. Example)" in reason
    most_l = 0.8 * plain.litres
    limited = judge(method, sites=(replace(of_store, effect="limit", most_litres=most_l),))
    assert (limited.litres, limited.litres_ruled_by) == (most_l, "site note North Bay")
    wide = judge(method, sites=(replace(of_store, effect="limit", most_litres=99_000.0),))
    assert (wide.litres, wide.litres_ruled_by) == (plain.litres, plain.litres_ruled_by)
    vetoed = judge(method, sites=sites_on((replace(of_store, status="unknown", effect="veto"),), None))
    assert vetoed.verdict == "not usable" and "S7 revision 4" in vetoed.reason
    noted = judge(method, sites=(replace(of_store, effect="note", wires="one at 12 m"),))
    assert (noted.verdict, noted.score) == (plain.verdict, plain.score)
    assert any(text.startswith("wires noted at North Bay") and "12 m" in text for text in noted.cautions)


def test_a_refusal_of_a_site_goes_before_all():
    granted, refused = (
        replace(SITE, permission="granted"),
        replace(SITE, permission="refused", owner="the station"),
    )
    assert judge(sites=(granted,)).verdict == "usable"
    judged = judge(sites=(granted, refused))
    assert judged.verdict == "not usable" and "refused by the station, says North Bay" in judged.reason
