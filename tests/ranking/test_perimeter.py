"""The fire's edge in stretches: lengths and cuts by hand."""

import pytest
import shapely

from geo.base.errors import BadArgument
from geo.ranking.extras.perimeter import Served, points_along, stretches

SQUARE = shapely.LineString([(0, 0), (1000, 0), (1000, 600), (0, 600), (0, 0)])


def served(letters):
    return [
        Served("none")
        if letter == "-"
        else Served("", letter, f"Water {letter}", "ram_intake", 300.0 + i, 1e5 - i)
        for i, letter in enumerate(letters)
    ]


def test_points_stand_in_the_middle_of_equal_pieces():
    points = points_along(SQUARE)  # 3,200 m: 16 pieces of 200 m
    assert len(points) == 16
    assert [(p.x, p.y) for p in points[:6]] == [(100, 0), (300, 0), (500, 0), (700, 0), (900, 0), (1000, 100)]
    assert len(points_along(shapely.LineString([(0, 0), (0, 450)]))) == 3
    with pytest.raises(BadArgument):
        points_along(SQUARE, 0.0)


def test_a_closed_line_joins_its_ends():
    found = stretches(SQUARE, served("AABBBBBBBBBBBBAA"))
    assert [(s.body_id, s.points, s.length_m) for s in found] == [("A", 4, 800.0), ("B", 12, 2400.0)]
    first = found[0].line  # from 400 m before the corner to 400 m after it
    assert (first.coords[0], first.coords[-1]) == ((0.0, 400.0), (400.0, 0.0))
    assert found[0].least_round_trip_s == 300.0 and found[0].most_round_trip_s == 315.0
    assert found[0].mean_round_trip_s == pytest.approx((300 + 301 + 314 + 315) / 4)
    assert found[0].litres_per_hour == 1e5 - 15


def test_an_open_line_does_not():
    line = shapely.LineString([(0, 0), (0, 800)])
    assert [s.body_id for s in stretches(line, served("ABBA"))] == ["A", "B", "A"]


def test_one_source_all_round_is_the_whole_edge():
    (one,) = stretches(SQUARE, served("A" * 16), 5)
    assert one.number == 5 and one.length_m == SQUARE.length and one.line.is_closed


def test_an_unserved_stretch_carries_its_reason():
    found = stretches(SQUARE, served("AAAAAAAA--------"))
    assert [s.reason for s in found] == ["", "none"]
    assert found[1].body_id is None and found[1].mean_round_trip_s is None
    assert sum(s.length_m for s in found) == pytest.approx(SQUARE.length)
