"""The depth field beside an established kriging library on the same split; skipped where it is not installed."""

import numpy as np
import pytest
from depth_study import surveyed
from flooded_valleys import inside, reservoirs

pytest.importorskip("pykrige", reason="the reference library pykrige is not installed")


def errors_of_both(body, count: int, rng: np.random.Generator) -> tuple[float, float]:
    """Root mean square error [m] of the field and of the library at 300 places nobody sounded."""
    from pykrige.ok import OrdinaryKriging

    field = surveyed(body, count, "spread", rng)
    p = field.process
    x, y = inside(body.polygon, 300, rng)
    truth = body.bed(x, y)
    reference = OrdinaryKriging(
        p.easting_m, p.northing_m, p.depth_m, variogram_model="spherical", pseudo_inv=True
    )
    predicted, _variance = reference.execute("points", x, y)
    mean, _sd = field.at(x, y)
    return float(np.sqrt(np.nanmean((mean - truth) ** 2))), float(np.sqrt(np.mean((predicted - truth) ** 2)))


@pytest.mark.parametrize("count", [15, 60, 150])
def test_no_worse_than_ordinary_kriging_of_the_same_soundings(count):
    rng = np.random.default_rng(count)
    pairs = np.array([errors_of_both(body, count, rng) for body in reservoirs()[:12]])
    ratio = pairs[:, 0] / pairs[:, 1]
    assert np.exp(np.log(ratio).mean()) <= 1.0, pairs
