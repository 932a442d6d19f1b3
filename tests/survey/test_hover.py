"""The hover point against shapes with a known roomiest place."""

import numpy as np
import pytest
import shapely

from geo.records.region import Obstacle
from geo.records.survey import DEPTH_PROBABILITIES, LeastDepth, SurveySettings
from geo.survey.hover import hover_point
from geo.survey.open_water import OpenWater, roomiest_place

WIDE = SurveySettings(hover_radius_cap_m=10_000.0)
SETTINGS = SurveySettings()


def obstacle(shape: shapely.Geometry, name: str = "W3", height: float | None = 12.0) -> Obstacle:
    return Obstacle(name, "", "wire", shape, None, height, "obstacles.csv row 1")


class Bed:
    """A bed of known depth: every quantile is depth(x, y)."""

    def __init__(self, depth) -> None:
        self.depth = depth

    def least_within(self, point: shapely.Point, radius_m: float) -> LeastDepth:
        value = self.depth(point.x, point.y)
        if value is None:
            return LeastDepth("none", None, "nothing known here", "none")
        return LeastDepth("soundings", (float(value),) * len(DEPTH_PROBABILITIES), "", "test bed")


def circle(radius_m: float, corners: int = 720) -> shapely.Polygon:
    angle = 2.0 * np.pi * np.arange(corners) / corners
    return shapely.Polygon(np.column_stack([50 + radius_m * np.cos(angle), -20 + radius_m * np.sin(angle)]))


# Closed forms: a circle's centre, a square's centre, and the L of two arms of width a, where the largest circle touches
# both outer sides and the inner corner: r = a (2 - sqrt 2) x ... solved from (a - r) sqrt 2 = r: r = a sqrt2/(1+sqrt2).
@pytest.mark.parametrize(
    ("shape", "radius_m", "place"),
    [
        (circle(200.0), 200.0 * np.cos(np.pi / 720), (50.0, -20.0)),
        (shapely.box(0, 0, 80, 80), 40.0, (40.0, 40.0)),
        (
            shapely.Polygon([(0, 0), (400, 0), (400, 100), (100, 100), (100, 400), (0, 400)]),
            100 * np.sqrt(2) / (1 + np.sqrt(2)),
            (100 * np.sqrt(2) / (1 + np.sqrt(2)),) * 2,
        ),
    ],
    ids=["circle", "square", "L"],
)
def test_roomiest_place_of_known_shapes(
    shape: shapely.Polygon, radius_m: float, place: tuple[float, float]
) -> None:
    found = hover_point(shape, None, (), WIDE)
    assert found is not None
    assert found.clear_radius_m == pytest.approx(radius_m, abs=0.005)
    assert (found.point.x, found.point.y) == pytest.approx(place, abs=0.1)
    assert found.limited_by == "shore"


def test_long_pond_has_many_equal_places() -> None:
    found = hover_point(shapely.box(0, 0, 3000, 24), None, (), WIDE)
    assert found is not None
    assert found.clear_radius_m == pytest.approx(12.0, abs=0.01)


@pytest.mark.parametrize("seed", range(12))
def test_no_lattice_point_is_roomier(seed: int) -> None:
    # Independent brute force: distances of a fine lattice by a plain polygon distance.
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0.0, 2.0 * np.pi, 24))
    radius = rng.uniform(60.0, 300.0, 24)
    shape = shapely.Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])).buffer(0)
    shape = max(shapely.get_parts(shape), key=lambda part: part.area)
    wires = (obstacle(shapely.LineString([(-40, -300), (30, 300)])),)
    found = hover_point(shape, None, wires, WIDE)
    assert found is not None
    x, y = np.meshgrid(np.linspace(-300, 300, 241), np.linspace(-300, 300, 241))
    points = shapely.points(x.ravel(), y.ravel())
    points = points[shapely.contains(shape, points)]
    clear = np.minimum(shapely.distance(points, shape.boundary), shapely.distance(points, wires[0].shape))
    assert found.clear_radius_m >= clear.max() * 0.995 - 0.02
    true = min(found.point.distance(shape.boundary), found.point.distance(wires[0].shape))
    assert found.clear_radius_m == pytest.approx(true, abs=1e-9)


def test_wire_across_a_square_halves_the_room() -> None:
    # Square of 100 m, wire at 60 m: the larger part is 60 m wide: radius 30 m; both limit, the wire is named.
    found = hover_point(
        shapely.box(0, 0, 100, 100), None, (obstacle(shapely.LineString([(60, -50), (60, 150)])),), WIDE
    )
    assert found is not None
    assert found.clear_radius_m == pytest.approx(30.0, abs=0.01)
    assert found.point.x == pytest.approx(30.0, abs=0.02)


def test_obstacle_that_limits_is_named() -> None:
    mast = obstacle(shapely.Point(50, 50), "M9")
    found = hover_point(shapely.box(0, 0, 100, 100), None, (mast,), WIDE)
    # equal distance r to two sides and the centre: (50 - r) sqrt 2 = r
    assert found is not None
    assert found.clear_radius_m == pytest.approx(50 * np.sqrt(2) / (1 + np.sqrt(2)), abs=0.01)
    water = OpenWater(shapely.box(0, 0, 100, 100), (mast,))
    assert water.nearest_thing(np.array([45.0, 50.0])) == "wire M9"
    assert water.nearest_thing(np.array([5.0, 50.0])) == "shore"


def test_obstacle_areas_are_kept_out_of() -> None:
    reeds = obstacle(shapely.box(0, 0, 60, 100))
    found = hover_point(shapely.box(0, 0, 100, 100), None, (reeds,), WIDE)
    assert found is not None
    assert found.clear_radius_m == pytest.approx(20.0, abs=0.01)
    assert found.point.x == pytest.approx(80.0, abs=0.1)
    assert (
        hover_point(shapely.box(0, 0, 100, 100), None, (obstacle(shapely.box(-9, -9, 200, 200)),), WIDE)
        is None
    )


def test_islands_limit_like_any_shore() -> None:
    ring = circle(200.0).difference(circle(100.0))
    _, radius_m = roomiest_place(OpenWater(ring, ()))
    assert radius_m == pytest.approx(50.0, abs=0.02)


def test_large_water_keeps_the_cap_and_stays_near_the_shore() -> None:
    found = hover_point(shapely.box(0, 0, 4000, 3000), None, (), SETTINGS)
    assert found is not None
    assert 60.0 - 1e-9 <= found.clear_radius_m <= 63.0


def test_deeper_place_is_preferred_where_the_cap_is_kept() -> None:
    # Deep enough only in the east: the point goes to the eastern shore, still one cap away from it.
    found = hover_point(
        shapely.box(0, 0, 2000, 800), Bed(lambda x, y: 6.0 if x > 1700 else 0.5), (), SETTINGS
    )
    assert found is not None
    assert found.point.x > 1700
    assert 60.0 - 1e-9 <= found.clear_radius_m <= 63.0
    assert found.depth.depth_with_confidence_m(0.8) == pytest.approx(6.0)


def test_shallow_margins_send_the_point_out() -> None:
    # A bowl: 1 m at 100 m from the shore, deeper inside.
    shore = shapely.box(0, 0, 1000, 1000).boundary
    found = hover_point(
        shapely.box(0, 0, 1000, 1000),
        Bed(lambda x, y: shore.distance(shapely.Point(x, y)) / 100),
        (),
        SETTINGS,
    )
    assert found is not None
    assert found.depth.depth_with_confidence_m(0.8) > 3.0


def test_unknown_depth_here_and_there_never_wins() -> None:
    found = hover_point(
        shapely.box(0, 0, 2000, 800), Bed(lambda x, y: 1.2 if x < 400 else None), (), SETTINGS
    )
    assert found is not None
    assert found.depth.quantiles_m is not None


def test_unknown_heights_near_by_are_listed() -> None:
    pond = shapely.box(0, 0, 60, 60)
    near = obstacle(shapely.Point(75, 30), "P1", None)
    far = obstacle(shapely.Point(500, 30), "P2", None)
    found = hover_point(pond, None, (near, far), SETTINGS)
    assert found is not None
    assert found.unknown_heights == ("wire P1",)
    assert found.depth.quantiles_m is None
