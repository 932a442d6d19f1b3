"""A depth area of a chart promises its shallower limit: what lies between its limits speaks neither for nor against."""

import numpy as np
import pytest
from scipy.special import ndtri

from geo.records.survey import DEPTH_PROBABILITIES, LeastDepth
from geo.suitability.water import depth


def charted(least_m: float, greatest_m: float, sd_m: float = 0.5) -> LeastDepth:
    """The table that the survey makes of one area: the shallower limit up to the median, the deeper one above."""
    z = ndtri(np.array(DEPTH_PROBABILITIES))
    limit_m = np.where(z <= 1e-9, least_m, greatest_m)
    return LeastDepth(
        "chart", tuple(np.maximum(limit_m + z * sd_m, 0.0).tolist()), "from a depth area", "chart"
    )


@pytest.mark.parametrize("probability", [0.5, 0.8, 0.95])
@pytest.mark.parametrize(
    ("limits", "state"),
    [((6.0, 10.0), "met"), ((0.0, 10.0), "unknown"), ((1.0, 5.0), "unknown"), ((0.0, 1.0), "not met")],
)
def test_three_metres_by_the_chart(limits, state, probability):
    found = depth(charted(*limits), 3.0, probability, "along the run")
    assert found.state == state, found.reason
    assert "(chart)" in found.reason
