"""Size and shape against closed forms."""

import math

import numpy as np
import pytest
import shapely

from geo.base.errors import BadArgument
from geo.survey.morphometry import morphometry


def regular_polygon(corners: int, radius_m: float) -> shapely.Polygon:
    angle = 2.0 * np.pi * np.arange(corners) / corners
    return shapely.Polygon(np.column_stack([radius_m * np.cos(angle), radius_m * np.sin(angle)]))


# P / (2 sqrt(pi A)) of each shape, closed forms: sqrt(4/pi)/1 for the square, and so on, to the printed digits.
@pytest.mark.parametrize(
    ("shape", "expected"),
    [
        (regular_polygon(20000, 400.0), 1.00000),
        (shapely.box(0, 0, 250, 250), 1.12838),
        (regular_polygon(3, 100.0), 1.28607),
        (shapely.box(10, -5, 50, 5), 1.41047),
        (shapely.box(0, 0, 30, 300), 1.96254),
    ],
    ids=["circle", "square", "triangle", "1x4", "1x10"],
)
def test_shoreline_development_of_known_shapes(shape: shapely.Polygon, expected: float) -> None:
    assert morphometry(shape).shoreline_development == pytest.approx(expected, abs=5e-6)


def test_islands_leave_area_and_stay_out_of_the_outer_shoreline() -> None:
    lake = shapely.Polygon(
        shapely.box(0, 0, 300, 200).exterior.coords, [shapely.box(50, 50, 70, 80).exterior.coords]
    )
    found = morphometry(lake)
    assert found.area_m2 == pytest.approx(60_000 - 600)
    assert found.perimeter_m == pytest.approx(1000)
    assert found.island_perimeter_m == pytest.approx(100)
    assert found.island_count == 1
    assert found.shoreline_development == pytest.approx(1000 / (2 * math.sqrt(math.pi * 59_400)))


@pytest.mark.parametrize("scale", [0.01, 3.0, 1e4])
def test_shoreline_development_does_not_depend_on_size(scale: float) -> None:
    lake = shapely.Polygon([(0, 0), (7, 1), (9, 8), (4, 3), (-2, 6)])
    larger = shapely.transform(lake, lambda xy: xy * scale)
    assert morphometry(larger).shoreline_development == pytest.approx(morphometry(lake).shoreline_development)


def test_polygon_without_area_is_refused_with_its_cure() -> None:
    with pytest.raises(BadArgument, match=r"no area.*Fix"):
        morphometry(shapely.Polygon())
    with pytest.raises(BadArgument, match="no area"):
        morphometry(shapely.Polygon([(0, 0), (1, 1), (2, 2)]))
