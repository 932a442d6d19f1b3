"""Least-time routes round areas where flying is not allowed, in a uniform wind: an exact visibility graph.

In a uniform wind below the airspeed the least-time route among polygons is a polyline whose inner corners are convex
corners of the polygons (time is a norm plus a term that depends on the end points only), so a shortest path over the
corner graph with wind-triangle edge times is exact, not a grid's approximation.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import networkx as nx
import numpy as np
import shapely

from geo.base.errors import BadArgument, NotFlyable
from geo.base.prepared import Prepared
from geo.base.wind import seconds_over, speed_on_track
from geo.records.geometry import AreaM

# Visibility is tested against obstacles shrunk by this share of their size, while the corners stay where they are: a
# route along an obstacle's own edge would otherwise be seen as blocked or not by rounding.
SHRINK_SHARE = 2e-5
# Areas nearer to each other than this leave no route between them.
LEAST_GAP_M = 2.0
# Rings with more corners than this are simplified, outward only, by at most this much.
MOST_CORNERS = 400
OUTWARD_M = 25.0


@dataclass(frozen=True, eq=False)
class Airspace:
    """No-fly areas prepared once for many routes.

    areas, names: as given. shrunk: their union, a little smaller, which lines must not cross (prepared). corners_m,
    before_m, after_m (n, 2): convex corners with the neighbours on their ring; seen: (n, n) bool, which corners see
    each other.
    """

    areas: tuple[AreaM, ...]
    names: tuple[str, ...]
    shrunk: Prepared
    corners_m: np.ndarray
    before_m: np.ndarray
    after_m: np.ndarray
    seen: np.ndarray

    @cached_property
    def edges(self) -> tuple[np.ndarray, np.ndarray]:
        """The corners that each edge between corners leaves and enters, (k,) each."""
        first, second = np.nonzero(self.seen)
        return first, second

    @cached_property
    def outline_m(self) -> np.ndarray:
        """The edges of `shrunk`, which neither a route nor a circle may meet: east, north, east, north [m] (m, 4)."""
        parts = [part for part in shapely.get_parts(self.shrunk.shape) if isinstance(part, shapely.Polygon)]
        rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
        rows = [np.hstack((points[:-1], points[1:])) for points in map(shapely.get_coordinates, rings)]
        return np.ascontiguousarray(np.concatenate(rows)) if rows else np.empty((0, 4))

    @cached_property
    def graph(self) -> nx.DiGraph:
        """The graph start -> corners -> end; an edge has its number: between corners as in `edges`, then from the start
        to every corner, then from every corner to the end. Seconds depend on the leg and its wind."""
        corners = range(len(self.corners_m))
        pairs = [*zip(*(ends.tolist() for ends in self.edges), strict=True)]
        pairs += [("start", corner) for corner in corners] + [(corner, "end") for corner in corners]
        graph: nx.DiGraph = nx.DiGraph()
        graph.add_nodes_from(("start", "end"))
        graph.add_edges_from((*pair, {"number": number}) for number, pair in enumerate(pairs))
        return graph


def _outward(part: shapely.Polygon) -> shapely.Geometry:
    """Thin out rings with very many corners; the result contains the part."""
    if shapely.get_num_coordinates(part) <= MOST_CORNERS:
        return part
    grown = part.buffer(OUTWARD_M, join_style="mitre")
    thin = grown.simplify(OUTWARD_M * 0.9)
    return thin if thin.is_valid and thin.contains(part) else part


def _merge(areas: Sequence[AreaM]) -> shapely.Geometry:
    """Unite areas and close gaps too narrow to be a route."""
    merged = shapely.union_all([_outward(part) for area in areas for part in shapely.get_parts(area)])
    parts = [part for part in shapely.get_parts(merged) if part.geom_type == "Polygon" and part.area > 0.0]
    bridges: list[shapely.Geometry] = []
    if len(parts) < 2:
        return shapely.union_all(parts)
    tree = shapely.STRtree(parts)
    for first, second in tree.query(parts, predicate="dwithin", distance=LEAST_GAP_M).T:
        if first < second:
            near = parts[int(first)].buffer(LEAST_GAP_M).intersection(parts[int(second)].buffer(LEAST_GAP_M))
            bridges.append(near)
    return shapely.union_all([*parts, *bridges])


def _shrink(merged: shapely.Geometry) -> shapely.Geometry:
    kept = []
    for part in shapely.get_parts(merged):
        by = SHRINK_SHARE * math.sqrt(part.area)
        smaller = part.buffer(-by, join_style="mitre")
        kept.append(part if smaller.is_empty else smaller)
    return shapely.union_all(kept)


def _corners(merged: shapely.Geometry) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Give the convex corners of an area with their neighbours before and after, each (n, 2)."""
    rows: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
    for part in shapely.get_parts(merged):
        oriented = shapely.geometry.polygon.orient(part.simplify(0.0))
        for ring in (oriented.exterior, *oriented.interiors):
            points = shapely.get_coordinates(ring)[:-1]
            before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
            convex = _cross(points - before, after - points) > 0.0
            rows.append((points[convex], before[convex], after[convex]))
    if not rows:
        return np.empty((0, 2)), np.empty((0, 2)), np.empty((0, 2))
    points, before, after = (np.concatenate(column) for column in zip(*rows, strict=True))
    return points, before, after


def _cross(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def _touches_only(
    points: np.ndarray, before: np.ndarray, after: np.ndarray, towards: np.ndarray
) -> np.ndarray:
    """True where the line through a corner towards a place leaves both ring neighbours on one side (a tangent)."""
    ahead = towards - points
    left, right = _cross(ahead, before - points), _cross(ahead, after - points)
    size = np.hypot(ahead[..., 0], ahead[..., 1])
    slack = 1e-9 * size * (np.hypot(*(before - points).T).T + np.hypot(*(after - points).T).T)
    return ~(((left > slack) & (right < -slack)) | ((left < -slack) & (right > slack)))


def _clear(shrunk: Prepared, starts: np.ndarray, ends: np.ndarray) -> np.ndarray:
    """True where the straight line from each start to each end crosses no area. starts, ends (n, 2)."""
    if len(starts) == 0:
        return np.empty(0, dtype=bool)
    return ~shrunk.intersects(shapely.linestrings(np.stack((starts, ends), axis=1)))


def is_clear(prepared: Airspace, route_m: np.ndarray) -> bool:
    """Give True where no piece of a route (n, 2) [m] enters an area (touching an edge is not entering)."""
    return bool(np.all(_clear(prepared.shrunk, route_m[:-1], route_m[1:])))


def widened(area: AreaM, margin_m: float) -> AreaM:
    """Give a no-fly area with a margin [m] kept from its outline.

    Raises: BadArgument for a margin that is not finite or is negative.
    Notes: corners stay corners (at most twice the margin away), so that the route round them stays exact.
    """
    if not (math.isfinite(margin_m) and margin_m >= 0.0):
        raise BadArgument(f"margin_m is {margin_m}: it must be a finite number of metres, 0 or more")
    return area.buffer(margin_m, join_style="mitre", mitre_limit=2.0)


def airspace(no_fly: Sequence[AreaM], names: Sequence[str] | None = None) -> Airspace:
    """Prepare no-fly areas for many routes.

    Parameters: no_fly polygons in the region's plane [m], `widened` beforehand where a margin is wanted; names for
    messages, one for each.
    Raises: BadArgument for an area that is empty, not valid, or not a polygon, or when names do not match.
    """
    labels = tuple(names) if names is not None else tuple(f"no-fly area {i + 1}" for i in range(len(no_fly)))
    if len(labels) != len(no_fly):
        raise BadArgument(f"{len(labels)} names for {len(no_fly)} no-fly areas: give one name for each")
    for label, area in zip(labels, no_fly, strict=True):
        if area.geom_type not in ("Polygon", "MultiPolygon") or area.is_empty or not area.is_valid:
            raise BadArgument(f"{label} is not a valid polygon with an area. Fix: mend the outline")
    merged = _merge(no_fly)
    shrunk = Prepared(_shrink(merged))
    points, before, after = _corners(merged)
    seen = np.zeros((len(points), len(points)), dtype=bool)
    first, second = np.triu_indices(len(points), 1)
    tangent = _touches_only(points[first], before[first], after[first], points[second])
    tangent &= _touches_only(points[second], before[second], after[second], points[first])
    first, second = first[tangent], second[tangent]
    clear = _clear(shrunk, points[first], points[second])
    seen[first[clear], second[clear]] = True
    return Airspace(tuple(no_fly), labels, shrunk, points, before, after, seen | seen.T)


def _seconds(
    starts: np.ndarray, ends: np.ndarray, wind_from_grid_deg: float, wind_ms: float, tas_ms: float
) -> np.ndarray:
    east, north = ends[..., 0] - starts[..., 0], ends[..., 1] - starts[..., 1]
    track = np.degrees(np.arctan2(east, north)) % 360.0
    return seconds_over(np.hypot(east, north), speed_on_track(track, tas_ms, wind_from_grid_deg, wind_ms))


def _refuse_inside(prepared: Airspace, place: np.ndarray, which: str) -> None:
    point = shapely.Point(place)
    if not prepared.shrunk.intersects(point):
        return
    inside = [
        name for name, area in zip(prepared.names, prepared.areas, strict=True) if area.intersects(point)
    ]
    what = " and ".join(f"'{name}'" for name in inside) or "the gap between no-fly areas that all but touch"
    raise NotFlyable(
        f"the {which} of the leg (easting {place[0]:.0f} m, northing {place[1]:.0f} m) lies inside {what}, where "
        "flying is not allowed. Fix: another place for that end, or clearance from the airspace's owner"
    )


def find_route(
    prepared: Airspace,
    start: tuple[float, float],
    end: tuple[float, float],
    wind_from_grid_deg: float,
    wind_ms: float,
    tas_ms: float,
) -> shapely.LineString:
    """Give the least-time route from start to end that enters no no-fly area.

    Parameters: start, end (easting_m, northing_m) in the plane of the areas; wind_from_grid_deg [deg clockwise from
    GRID north] and wind_ms, uniform; tas_ms [m/s].
    Returns: LineString of 2 points when the straight line is free, else with corners of the areas between. The route
    may touch an area's edge; see `widened` where a margin is wanted.
    Raises: NotFlyable when start or end lies inside an area (named), when the areas leave no route, or when the wind is
    not below the airspeed.
    Notes: exact for the polygons given (see the module); rings of more than 400 corners are first simplified outward by
    at most 50 m. Two areas less than 2 m apart leave no route between them.
    """
    if not wind_ms < tas_ms:
        raise NotFlyable(
            f"the wind of {wind_ms:.1f} m/s is not below the true airspeed of {tas_ms:.1f} m/s: no route can be "
            "planned. Fix: check the wind's unit, or wait for less wind"
        )
    ends = np.array([start, end], dtype=float)
    for place, which in zip(ends, ("start", "end"), strict=True):
        _refuse_inside(prepared, place, which)
    if _clear(prepared.shrunk, ends[:1], ends[1:])[0]:
        return shapely.LineString(ends)  # optimal by the triangle inequality
    seconds = _edge_seconds(prepared, ends, (wind_from_grid_deg, wind_ms, tas_ms))
    try:
        nodes = nx.dijkstra_path(
            prepared.graph, "start", "end", weight=lambda _, __, edge: seconds[edge["number"]]
        )
    except nx.NetworkXNoPath:
        raise NotFlyable(
            f"no route from easting {start[0]:.0f} m, northing {start[1]:.0f} m to easting {end[0]:.0f} m, northing "
            f"{end[1]:.0f} m: no-fly areas ({', '.join(prepared.names)}) close it off. Fix: another source"
        ) from None
    return shapely.LineString([ends[0], *(prepared.corners_m[node] for node in nodes[1:-1]), ends[1]])


def _edge_seconds(
    prepared: Airspace, ends: np.ndarray, air: tuple[float, float, float]
) -> list[float | None]:
    """Give the exact seconds of each edge of the prepared graph, None where a corner is hidden from an end."""
    corners = prepared.corners_m
    first, second = prepared.edges
    seconds: list[float | None] = _seconds(corners[first], corners[second], *air).tolist()
    for going, place in ((True, ends[0]), (False, ends[1])):
        here = np.broadcast_to(place, corners.shape)
        tangent = np.flatnonzero(_touches_only(corners, prepared.before_m, prepared.after_m, here))
        visible = tangent[_clear(prepared.shrunk, here[tangent], corners[tangent])]
        pair = (here[visible], corners[visible]) if going else (corners[visible], here[visible])
        there: list[float | None] = [None] * len(corners)
        for node, taken in zip(visible.tolist(), _seconds(*pair, *air).tolist(), strict=True):
            there[node] = taken
        seconds += there
    return seconds
