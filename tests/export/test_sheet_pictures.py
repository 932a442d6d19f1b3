"""The sheets look as they were accepted: drawn at low resolution and compared with pictures that a person looked at.

The accepted pictures are regression values of this program, looked at in colour and in grey before they were accepted.
"""

import pytest
import sheet_pictures as pictures

from tests.needs import needs

pytestmark = needs("Pango", "pdftoppm", "DejaVu Sans")


@pytest.fixture(scope="module")
def sheets():
    return {name: pictures.drawn(pdf) for name, pdf in pictures.sample_sheets().items()}


@pytest.mark.parametrize("name", ["ranking_A4", "water_A4", "water_Letter"])
def test_sheet_looks_as_accepted(sheets, name):
    changed = pictures.share_changed(sheets[name], pictures.accepted(name))
    assert changed <= pictures.MOST_CHANGED, f"{changed:.2%} of the page changed; look at it, then accept it"


def test_a_row_that_is_missing_is_seen():
    """The comparison can fail: one ranked source less is far outside the tolerance."""
    less = pictures.drawn(pictures.sample_sheets(drop_a_source=True)["ranking_A4"])
    assert pictures.share_changed(less, pictures.accepted("ranking_A4")) > 2 * pictures.MOST_CHANGED


def test_pages_are_grey_enough_to_print(sheets):
    """Black and white only: a page must hold near black and near white, and not be grey all over."""
    for name, page in sheets.items():
        assert page.min() < 90 and (page > 240).mean() > 0.4, name
