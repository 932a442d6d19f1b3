"""The known wires and masts near a filling place, each named with its height, distance and bearing."""

import math
from collections.abc import Sequence

import shapely
from shapely.ops import nearest_points

from geo.records.region import Obstacle
from geo.suitability.facts import Facts

# Every known one this near is named [m].
NEAR_M = 1000.0


def named_near(
    obstacles: Sequence[Obstacle], place: shapely.Geometry, what: str, turn_deg: float
) -> list[str]:
    """Give the caution on the obstacles within 1 km of a place, the nearest first; none without any.

    Parameters: place, a run's line, a hover point or an end of a leg; what, its name in words; turn_deg, true north's
    bearing less the grid's, so that bearings are true. Every bearing is from the place.
    """
    away = [(float(shapely.distance(one.shape, place)), one) for one in obstacles]
    near = sorted(
        (pair for pair in away if pair[0] <= NEAR_M), key=lambda pair: (pair[0], pair[1].obstacle_id)
    )
    if not near:
        return []
    words = "; ".join(f"{_called(one)}, {where(one.shape, place, away_m, turn_deg)}" for away_m, one in near)
    return [f"within {NEAR_M / 1000.0:.0f} km of {what}: {words}"]


def near_fill(facts: Facts, place: shapely.Geometry, what: str) -> list[str]:
    """Give the caution on the obstacles near a run or hover point."""
    turn_deg = facts.conditions.wind_from_true_deg - facts.conditions.wind_from_grid_deg
    return named_near(facts.obstacles, place, what, turn_deg)


def where(shape: shapely.Geometry, place: shapely.Geometry, away_m: float, turn_deg: float) -> str:
    """Say how far and in which direction [deg true] the nearest part of a shape lies from a place.

    Parameters: turn_deg, true north's bearing less the grid's.
    """
    there, here = nearest_points(shape, place)
    if away_m < 0.5:
        return "over it"
    bearing = (math.degrees(math.atan2(there.x - here.x, there.y - here.y)) + turn_deg) % 360.0
    return f"{away_m:.0f} m to the {round(bearing) % 360:03d}"


def _called(one: Obstacle) -> str:
    """Name an obstacle with its height."""
    kind = one.kind or "obstacle"
    name = one.name if one.name and one.name != one.kind else one.obstacle_id
    if one.top_elevation_m is not None:
        return f"{kind} {name}, top at {one.top_elevation_m:.0f} m"
    if one.height_above_ground_m is not None:
        return f"{kind} {name}, {one.height_above_ground_m:.0f} m above ground"
    return f"{kind} {name}, HEIGHT UNKNOWN"
