"""A prepared shape: the same answers as the plain one, from many threads at once, and no mark on the shape given."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import shapely

from geo.base.prepared import Prepared


def wavy(corners: int) -> shapely.Polygon:
    turn = np.linspace(0.0, 2.0 * np.pi, corners, endpoint=False)
    radius = 1000.0 + 200.0 * np.sin(17.0 * turn)
    return shapely.Polygon(np.column_stack((radius * np.cos(turn), radius * np.sin(turn))))


def test_answers_are_those_of_the_plain_shape():
    shape = wavy(300)
    rng = np.random.default_rng(1)
    places = rng.uniform(-1300.0, 1300.0, (200, 2))
    points = shapely.points(places)
    lines = shapely.linestrings(rng.uniform(-1300.0, 1300.0, (200, 2, 2)))
    asked = Prepared(shape)
    assert np.array_equal(asked.intersects(lines), [shape.intersects(line) for line in lines])
    assert np.array_equal(asked.covers(points), [shape.covers(point) for point in points])
    assert np.array_equal(asked.contains_xy(*places.T), [shape.contains(point) for point in points])
    assert np.array_equal(asked.distance(points), [shape.distance(point) for point in points])
    assert 0 < np.count_nonzero(asked.covers(points)) < len(points)


def test_the_shape_given_is_not_marked():
    shape = wavy(30)
    Prepared(shape).intersects(shapely.Point(0.0, 0.0))
    assert not shapely.is_prepared(shape)


def test_many_threads_may_ask_at_once():
    # Without the lock this ends the process now and then: GEOS' prepared geometries are not thread-safe.
    rng = np.random.default_rng(2)
    lines = shapely.linestrings(rng.uniform(-1300.0, 1300.0, (50, 2, 2)))
    for corners in range(200, 260):
        shape = wavy(corners)
        expected = shapely.intersects(shape, lines)
        asked = Prepared(shape)
        with ThreadPoolExecutor(4) as pool:
            found = list(pool.map(lambda _, asked=asked: asked.intersects(lines), range(8)))
        assert all(np.array_equal(one, expected) for one in found)
