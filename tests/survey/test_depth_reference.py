"""The depth field beside an established kriging library on the same split.

The library is asked in three ways. Only the last is given what the field is given, the soundings and the shore, in a
form that works: zeros along the shore with one constant mean pull the water shallow.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
import shapely
from depth_study import positions
from flooded_valleys import Reservoir, inside, order_one_sd, reservoirs

from geo.survey.depth import depth_field

PLACES = 300
Answer = tuple[np.ndarray, np.ndarray]


@dataclass(frozen=True, eq=False)
class Split:
    """One body's soundings (x, y, depth, sd) and the places (px, py) nobody sounded, with their true depth, all [m]."""

    body: Reservoir
    x: np.ndarray
    y: np.ndarray
    depth: np.ndarray
    sd: np.ndarray
    px: np.ndarray
    py: np.ndarray
    truth: np.ndarray

    def error(self, answer: Answer) -> float:
        """Root mean square error [m]."""
        return float(np.sqrt(np.mean((answer[0] - self.truth) ** 2)))


def split(body: Reservoir, count: int, rng: np.random.Generator) -> Split:
    """Soundings with the noise of an order 1 survey, and PLACES held out."""
    x, y = positions(body, count, "spread", rng)
    sd = order_one_sd(body.bed(x, y))
    px, py = inside(body.polygon, PLACES, rng)
    return Split(body, x, y, body.bed(x, y) + rng.normal(size=count) * sd, sd, px, py, body.bed(px, py))


def by_field(s: Split) -> Answer:
    """Mean and standard deviation from the depth field, everything counted from the outline on."""
    field = depth_field(s.body.polygon, easting_m=s.x, northing_m=s.y, depth_m=s.depth, sd_m=s.sd)
    return field.at(s.px, s.py)


def by_kriging(s: Split) -> Answer:
    """Ordinary kriging of the soundings alone: the shore is not told."""
    from pykrige.ok import OrdinaryKriging

    reference = OrdinaryKriging(s.x, s.y, s.depth, variogram_model="spherical", pseudo_inv=True)
    mean, variance = reference.execute("points", s.px, s.py)
    return np.asarray(mean), np.sqrt(np.maximum(variance, 0.0))


def by_kriging_with_shore_zeros(s: Split) -> Answer:
    """Ordinary kriging with a depth of 0 along the shore, as far apart as the soundings are."""
    from pykrige.ok import OrdinaryKriging

    step = float(np.sqrt(s.body.polygon.area / len(s.x)))
    rings = (s.body.polygon.exterior, *s.body.polygon.interiors)
    along = [
        shapely.line_interpolate_point(ring, np.arange(0.0, ring.length - 0.5 * step, step)) for ring in rings
    ]
    shore = shapely.get_coordinates(np.concatenate(along))
    x, y = np.append(s.x, shore[:, 0]), np.append(s.y, shore[:, 1])
    depth = np.append(s.depth, np.zeros(len(shore)))
    mean, variance = OrdinaryKriging(x, y, depth, variogram_model="spherical").execute("points", s.px, s.py)
    return np.asarray(mean), np.sqrt(np.maximum(variance, 0.0))


def by_kriging_with_shore_drift(s: Split) -> Answer:
    """Universal kriging whose mean is a line in the distance to shore: the library's way to be told of the shore."""
    from pykrige.uk import UniversalKriging

    boundary = s.body.polygon.boundary
    near, far = (shapely.distance(boundary, shapely.points(a, b)) for a, b in ((s.x, s.y), (s.px, s.py)))
    reference = UniversalKriging(
        s.x, s.y, s.depth, variogram_model="spherical", drift_terms=["specified"], specified_drift=[near]
    )
    mean, variance = reference.execute("points", s.px, s.py, specified_drift_arrays=[far])
    return np.asarray(mean), np.sqrt(np.maximum(variance, 0.0))


REFERENCES: dict[str, Callable[[Split], Answer]] = {
    "ordinary kriging of the soundings alone": by_kriging,
    "ordinary kriging with zeros along the shore": by_kriging_with_shore_zeros,
    "universal kriging with the distance to shore as drift": by_kriging_with_shore_drift,
}


@pytest.mark.parametrize("count", [15, 60, 150])
def test_no_worse_than_kriging_of_the_same_soundings(count):
    rng = np.random.default_rng(count)
    # With 15 soundings the ways are close: only many bodies tell them apart.
    bodies = reservoirs() if count == 15 else reservoirs()[::3]
    splits = [split(body, count, rng) for body in bodies]
    ours = np.array([s.error(by_field(s)) for s in splits])
    assert np.isfinite(ours).all()
    for name, way in REFERENCES.items():
        ratio = ours / np.array([s.error(way(s)) for s in splits])
        assert np.exp(np.log(ratio).mean()) <= 1.0, name
