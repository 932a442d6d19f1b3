"""The best place to hover over a water body: clear of shore and obstacles, deep, and near enough to the shore."""

from collections.abc import Callable, Sequence
from math import cos, pi

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from geo.records.region import Obstacle
from geo.records.survey import HoverPoint, LeastDepth, SurveySettings
from geo.survey.clearance import obstacle_label
from geo.survey.depth.model import DepthModel
from geo.survey.open_water import OpenWater, roomiest_place, standing_in

# The depth that counts is the one exceeded with this probability (the default that hover methods ask for).
CONFIDENCE = 0.8
# More depth than this makes no hover place better: pumps and buckets need 1 to 3 m (common practice, no source).
DEEP_ENOUGH_M = 5.0
SHORE_CANDIDATES = 16
INNER_CANDIDATES = 9
# Share of the cap by which the outline may be simplified for the choice of candidates.
SIMPLIFICATION = 0.02
_QUAD_SEGMENTS = 16


def hover_point(
    polygon: shapely.Polygon,
    depth_model: DepthModel | None,
    obstacles: Sequence[Obstacle],
    settings: SurveySettings,
) -> HoverPoint | None:
    """Give the best place to hover over a water polygon, or None where obstacles cover all of it.

    Parameters: polygon [m]; depth_model with least_within, or None; obstacles, all that may stand in the water.
    Returns: HoverPoint; clear_radius_m [m] is the true distance to the nearest shore or obstacle, in plan.

    Notes: The clear radius is maximised as far as hover_radius_cap_m; its value is within 0.5 % or 0.02 m of the
    greatest possible one (search by quartering with a bound, so no better place is missed, unless more than 4,096
    places tie). Where the cap can be kept, the place is chosen among 16 points one cap from the shore: the deepest one
    first (depth exceeded with probability 0.8, counted to 5 m), then the one nearest the roomiest place; if none of
    them is 5 m deep, points further out too. Near the shore the pilot has height cues, which the middle of a large
    water lacks. Every obstacle in the water counts whatever its height, and its distance is taken in plan. Obstacles of
    unknown height within the cap of the place are listed in unknown_heights.
    References: Choice of a point near the shore on large reservoirs: Spanish professional helicopter pilots' college,
    2018.
    """
    water = OpenWater(polygon, standing_in(polygon, obstacles))
    cap_m = settings.hover_radius_cap_m
    place, radius_m = roomiest_place(water, enough_m=cap_m)
    if radius_m <= 0.0:
        return None
    depth_at = _depth_reader(depth_model, settings.hover_circle_m)
    if radius_m >= cap_m:
        place = _choose(water, place, cap_m, depth_at)
    unknown = tuple(
        obstacle_label(obstacle)
        for obstacle in obstacles
        if obstacle.top_elevation_m is None
        and obstacle.height_above_ground_m is None
        and shapely.distance(obstacle.shape, shapely.Point(place)) <= cap_m
    )
    return HoverPoint(
        point=shapely.Point(place),
        clear_radius_m=float(water.clear_m(place[None])[0]),
        limited_by=water.nearest_thing(place),
        depth=depth_at(place),
        unknown_heights=unknown,
    )


def _choose(
    water: OpenWater, roomiest: np.ndarray, cap_m: float, depth_at: Callable[[np.ndarray], LeastDepth]
) -> np.ndarray:
    """Choose among places that keep the cap: deep enough first, then near the shore, then near the roomiest."""
    by_shore, inner = _candidates(water, roomiest, cap_m)
    ranked = [(_counted_depth(depth_at(place)), place) for place in by_shore]
    known = any(depth is not None for depth, _ in ranked)
    if known and max(depth for depth, _ in ranked if depth is not None) < DEEP_ENOUGH_M:
        ranked += [(_counted_depth(depth_at(place)), place) for place in inner]
    # sorted() is stable and the candidates come nearest to the shore first, so equal depths keep that order.
    return max(ranked, key=lambda pair: -np.inf if pair[0] is None else pair[0])[1]


def _candidates(water: OpenWater, roomiest: np.ndarray, cap_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Give places one cap from the shore, and places further out: both nearest the preferred ones first."""
    # The outline is simplified for speed and eroded by as much more, and by the sag of the arcs of a buffer.
    slack_m = SIMPLIFICATION * cap_m
    wide_m = (cap_m + slack_m) / cos(pi / (4 * _QUAD_SEGMENTS))
    spacious: BaseGeometry = water.polygon.simplify(slack_m).buffer(-wide_m, quad_segs=_QUAD_SEGMENTS)
    if water.obstacles and not spacious.is_empty:
        shapes = [obstacle.shape for obstacle in water.obstacles]
        spacious = spacious.difference(shapely.union_all(shapes).buffer(wide_m, quad_segs=_QUAD_SEGMENTS))
    if spacious.is_empty:
        return roomiest[None], np.empty((0, 2))
    edge = spacious.boundary
    spots = edge.interpolate(np.arange(SHORE_CANDIDATES) / SHORE_CANDIDATES, normalized=True)
    nearest = shapely.shortest_line(edge, shapely.Point(roomiest)).coords[0]
    by_shore = np.vstack([[nearest], shapely.get_coordinates(spots)])
    at_shore = water.shore_m(by_shore) <= (1.0 + 2.0 * SIMPLIFICATION) * cap_m + 1.0
    by_shore = by_shore[at_shore] if at_shore.any() else by_shore[:1]
    order = np.argsort(np.hypot(*(by_shore - roomiest).T), kind="stable")
    inner = np.vstack([_spread(spacious), [roomiest]])
    return by_shore[order], inner[np.argsort(water.shore_m(inner), kind="stable")]


def _spread(area: BaseGeometry) -> np.ndarray:
    """Give about nine places spread evenly over an area, from a lattice over its box."""
    west, south, east, north = area.bounds
    share = (np.arange(2 * INNER_CANDIDATES) + 0.5) / (2 * INNER_CANDIDATES)
    lattice = np.stack(np.meshgrid(west + share * (east - west), south + share * (north - south)), axis=-1)
    lattice = lattice.reshape(-1, 2)
    inside = lattice[shapely.intersects_xy(area, lattice[:, 0], lattice[:, 1])]
    return inside[np.linspace(0, len(inside) - 1, min(INNER_CANDIDATES, len(inside))).astype(int)]


def _counted_depth(depth: LeastDepth) -> float | None:
    confident_m = depth.depth_with_confidence_m(CONFIDENCE)
    return None if confident_m is None else min(confident_m, DEEP_ENOUGH_M)


def _depth_reader(model: DepthModel | None, circle_m: float) -> Callable[[np.ndarray], LeastDepth]:
    if model is None:
        nothing = LeastDepth("none", None, "no depth model for this water", "none")
        return lambda place: nothing
    return lambda place: model.least_within(shapely.Point(place), circle_m)
