"""The memory for costly values: what is the same, what is forgotten, and who waits for whom."""

from concurrent.futures import ThreadPoolExecutor
from threading import Event

import pytest

from geo.base.recent import Recent

# So long a stuck test waits before it fails; nothing is measured.
STUCK_S = 60.0


class Record:
    """All records are equal; only identity tells them apart."""

    def __eq__(self, other):
        return True

    __hash__ = None


def test_records_by_identity_questions_by_equality():
    memory, one, other = Recent(4), Record(), Record()
    assert memory.get((one,), ("a", 1.0), lambda: "first") == "first"
    assert memory.get((one,), ("a", 1.0), lambda: "again") == "first"
    assert memory.get((other,), ("a", 1.0), lambda: "other") == "other"
    assert memory.get((one,), ("b", 1.0), lambda: "second") == "second"


def test_what_was_not_asked_for_longest_is_forgotten():
    memory = Recent(2)
    for name in ("a", "b", "a", "c"):
        memory.get((), (name,), lambda name=name: name)
    assert memory.get((), ("a",), lambda: "made again") == "a"
    assert memory.get((), ("b",), lambda: "made again") == "made again"


def test_a_failure_is_not_kept():
    memory = Recent()
    with pytest.raises(ZeroDivisionError):
        memory.get((), ("a",), lambda: 1 / 0)
    assert memory.get((), ("a",), lambda: "well") == "well"


def test_one_makes_it_the_same_wait_and_others_go_on():
    memory, begun, go_on, made = Recent(), Event(), Event(), []

    def slow():
        begun.set()
        assert go_on.wait(STUCK_S)
        made.append("slow")
        return "slow"

    with ThreadPoolExecutor(3) as pool:
        try:
            first = pool.submit(memory.get, (), ("slow",), slow)
            assert begun.wait(STUCK_S)
            same = pool.submit(memory.get, (), ("slow",), slow)
            other = pool.submit(memory.get, (), ("quick",), lambda: "quick")
            assert other.result(STUCK_S) == "quick"
            assert not first.done() and not same.done()
        finally:
            go_on.set()
        assert (first.result(STUCK_S), same.result(STUCK_S)) == ("slow", "slow")
    assert made == ["slow"]
