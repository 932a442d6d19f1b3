"""Open water: how far it is to the shore and to what stands in the water, and where there is most room."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from geo.base.prepared import Prepared
from geo.records.region import Obstacle
from geo.survey.clearance import obstacle_label

# The search for the roomiest place ends within this share of the best radius, or this length.
RADIUS_TOLERANCE = 0.005
RADIUS_TOLERANCE_M = 0.02
MOST_CELLS = 4096
_SHORE = -1


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


def standing_in(polygon: shapely.Polygon, obstacles: Sequence[Obstacle]) -> tuple[Obstacle, ...]:
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
