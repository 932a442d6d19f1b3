"""The last lines of a run: every skipped test is counted, and what is missing is named with what brings it."""

import pytest

from tests import needs


def test_skipped_tests_are_counted_by_reason_most_frequent_first():
    reasons = ["needs curl, ogr2ogr", "no network", "needs Chromium", "needs Chromium"]
    assert needs.table(reasons) == [
        "4 tests were skipped:",
        "    2  needs Chromium: apt install chromium",
        "    1  needs curl, ogr2ogr: apt install curl; apt install gdal-bin",
        "    1  no network",
    ]
    assert needs.table([]) == []


def test_what_is_missing_skips_and_what_is_here_does_not(monkeypatch):
    monkeypatch.setitem(needs.NEEDS, "present", needs.Need(lambda: True, "nothing"))
    monkeypatch.setitem(needs.NEEDS, "absent", needs.Need(lambda: False, "apt install absent"))
    needs.require("present")
    with pytest.raises(pytest.skip.Exception, match=r"^needs absent$"):
        needs.require("present", "absent")
    with pytest.raises(KeyError):
        needs.require("a name that nobody knows")
