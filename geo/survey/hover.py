"""The best place to hover over a water body: clear of shore and obstacles, deep, and near enough to the shore."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import cos, pi

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from geo.base.prepared import Prepared
from geo.records.region import Obstacle
from geo.records.survey import HoverPoint, LeastDepth, SurveySettings
from geo.survey.clearance import obstacle_label
from geo.survey.depth.model import DepthModel

# The depth that counts is the one exceeded with this probability (the default that hover methods ask for).
CONFIDENCE = 0.8
# More depth than this makes no hover place better: pumps and buckets need 1 to 3 m (common practice, no source).
DEEP_ENOUGH_M = 5.0
SHORE_CANDIDATES = 16
INNER_CANDIDATES = 9
# The search for the roomiest place ends within this share of the best radius, or this length.
RADIUS_TOLERANCE = 0.005
RADIUS_TOLERANCE_M = 0.02
MOST_CELLS = 4096
# Share of the cap by which the outline may be simplified for the choice of candidates.
SIMPLIFICATION = 0.02
_SHORE = -1
_QUAD_SEGMENTS = 16


@dataclass(frozen=True, eq=False)
class OpenWater:
    """Distances over a water body to its shore and to what stands in it, read for many positions at once."""

    polygon: shapely.Polygon
    obstacles: tuple[Obstacle, ...]

    @cached_property
    def _free(self) -> Prepared:
        """The water without the areas that obstacles cover."""
        areas = [part for part, _ in self._parts if part.geom_type == "Polygon"]
        return Prepared(self.polygon.difference(shapely.union_all(areas)) if areas else self.polygon)

    @cached_property
    def _parts(self) -> list[tuple[BaseGeometry, int]]:
        shapes = enumerate(obstacle.shape for obstacle in self.obstacles)
        return [(part, i) for i, shape in shapes for part in shapely.get_parts(shape)]

    @cached_property
    def _edges(self) -> tuple[shapely.STRtree, np.ndarray]:
        """All edges to keep away from, with the index of their obstacle, or _SHORE."""
        rings = shapely.get_parts(self.polygon.boundary)
        shapes = [_edges_of(ring) for ring in rings]
        owners = [np.full(len(edges), _SHORE) for edges in shapes]
        for part, owner in self._parts:
            edges = _edges_of(part.boundary if part.geom_type == "Polygon" else part)
            shapes.append(edges)
            owners.append(np.full(len(edges), owner))
        return shapely.STRtree(np.concatenate(shapes)), np.concatenate(owners)

    def clear_m(self, positions_m: np.ndarray) -> np.ndarray:
        """Give the clear radius [m] at positions (n, 2); negative on land and inside obstacles."""
        points = np.asarray(shapely.points(positions_m))
        tree, _ = self._edges
        index, distance = tree.query_nearest(points, return_distance=True, all_matches=False)
        clear = np.empty(len(points))
        clear[index[0]] = distance
        return np.where(self._free.intersects(points), clear, -clear)

    def shore_m(self, positions_m: np.ndarray) -> np.ndarray:
        """Give the distance [m] to the nearest shore at positions (n, 2)."""
        return np.asarray(shapely.distance(shapely.points(positions_m), self.polygon.boundary))

    def nearest_thing(self, position_m: np.ndarray) -> str:
        """Name what is nearest to a position: "shore" or an obstacle."""
        tree, owners = self._edges
        hit = tree.query_nearest(shapely.Point(position_m), all_matches=True)
        owner = owners[hit].max()
        return "shore" if owner == _SHORE else obstacle_label(self.obstacles[owner])


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
    water = OpenWater(polygon, _standing_in(polygon, obstacles))
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


def roomiest_place(water: OpenWater, enough_m: float = np.inf) -> tuple[np.ndarray, float]:
    """Give the position (2,) with the largest clear radius, and that radius [m]; stops early at enough_m.

    Notes: the clear radius changes by at most 1 m per m, so a square of half-diagonal h holds nothing better than
    its centre's value + h; squares that cannot win are dropped, the others quartered.
    """
    centres, half_m = _first_squares(water.polygon)
    best, best_m = centres[0], -np.inf
    while len(centres):
        clear = water.clear_m(centres)
        at = int(clear.argmax())
        if clear[at] > best_m:
            best, best_m = centres[at], float(clear[at])
        if best_m >= enough_m:
            return best, best_m
        bound = clear + half_m * np.sqrt(2.0)
        keep = np.flatnonzero(bound > best_m + max(RADIUS_TOLERANCE_M, RADIUS_TOLERANCE * best_m))
        if len(keep) > MOST_CELLS:
            keep = keep[np.argsort(-bound[keep], kind="stable")[:MOST_CELLS]]
        half_m /= 2.0
        corners = half_m * np.array([(-1, -1), (-1, 1), (1, -1), (1, 1)])
        centres = (centres[keep][:, None, :] + corners).reshape(-1, 2)
    return _polish(water, best, best_m)


def _polish(water: OpenWater, best: np.ndarray, best_m: float) -> tuple[np.ndarray, float]:
    """Climb the last millimetres: a 7 x 7 pattern round the best place, shrunk where nothing is better."""
    step = np.linspace(-1.0, 1.0, 7)
    pattern = np.stack(np.meshgrid(step, step), axis=-1).reshape(-1, 2)
    reach_m = max(RADIUS_TOLERANCE_M, RADIUS_TOLERANCE * abs(best_m)) * 2.0
    while reach_m > 1e-4:
        places = best + reach_m * pattern
        clear = water.clear_m(places)
        at = int(clear.argmax())
        if clear[at] > best_m + 1e-9:
            best, best_m = places[at], float(clear[at])
        else:
            reach_m /= 3.0
    return best, best_m


def _first_squares(polygon: shapely.Polygon) -> tuple[np.ndarray, float]:
    """Cover the polygon's box with squares: about as wide as its short side, at most 64 along the long one."""
    west, south, east, north = polygon.bounds
    side_m = max(min(east - west, north - south), max(east - west, north - south) / 64.0)
    columns, rows = int(np.ceil((east - west) / side_m)), int(np.ceil((north - south) / side_m))
    x = west + (np.arange(max(columns, 1)) + 0.5) * side_m
    y = south + (np.arange(max(rows, 1)) + 0.5) * side_m
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2), side_m / 2.0


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


def _standing_in(polygon: shapely.Polygon, obstacles: Sequence[Obstacle]) -> tuple[Obstacle, ...]:
    """Keep the obstacles that reach into the water; one on land is further off than the shore before it."""
    if len(obstacles) == 0:
        return ()
    shapes = np.array([obstacle.shape for obstacle in obstacles], dtype=object)
    return tuple(obstacles[int(i)] for i in np.flatnonzero(shapely.intersects(shapes, polygon)))


def _edges_of(shape: BaseGeometry) -> np.ndarray:
    """Give a point as itself, lines and rings as their single edges."""
    edges: list[np.ndarray] = []
    for part in shapely.get_parts(shape):
        coordinates = shapely.get_coordinates(part)
        if len(coordinates) == 1:
            edges.append(np.array([part], dtype=object))
        else:
            pieces = np.stack([coordinates[:-1], coordinates[1:]], axis=1)
            edges.append(np.asarray(shapely.linestrings(pieces)))
    return np.concatenate(edges)
