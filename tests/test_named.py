"""One record by its id or its name: the id comes first, a name must be the only one."""

import pickle
from dataclasses import dataclass

import pytest

from geo.base.errors import BadArgument
from geo.base.named import NotNamed, all_named, find_named


@dataclass(frozen=True)
class Water:
    body_id: str
    name: str


WATERS = (Water("w1", "Long Lake"), Water("w2", "Mill Pond"), Water("w3", "Mill Pond"), Water("w4", "w1"))


def test_an_id_wins_over_a_name():
    """w1 is an id, and the name of another water."""
    assert find_named(WATERS, "w1") is WATERS[0]
    assert find_named(WATERS, "Long Lake") is WATERS[0]


def test_several_of_one_name_are_told_by_their_ids():
    """Each can then be asked for by its id."""
    assert all_named(WATERS, "Mill Pond") == [WATERS[1], WATERS[2]]
    with pytest.raises(NotNamed, match=r"'Mill Pond': 2 have this name: w2, w3\. Fix: "):
        find_named(WATERS, "Mill Pond")


def test_no_record_of_that_name():
    """The error is a BadArgument that survives pickling, with its rule and fix."""
    with pytest.raises(
        BadArgument, match=r"^site 'x': no site has this id or name\. Fix: list them$"
    ) as refusal:
        find_named(WATERS, "x", "site", fix="list them")
    again = pickle.loads(pickle.dumps(refusal.value))
    assert (again.rule, again.fix, str(again)) == (refusal.value.rule, "list them", str(refusal.value))
