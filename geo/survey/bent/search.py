"""The search for a bent run in one piece of water that a point may use: several first chains, each lengthened."""

from time import perf_counter

import numpy as np
import shapely

from geo.survey.bent.graph import across, longest_chains, make_legs, spread, trace
from geo.survey.bent.polish import MOST_CORNERS, drop_corners, measure, polish, widen
from geo.survey.bent.shore import Edges

_NODES = 90
_MOST_LEGS = 1800  # where more nodes than _FEW_NODES see one another so often, only so many are used
_FEW_NODES = 48
_SHORE_SAMPLES = 300
_STARTS = 4  # for the radius asked, and as many for a tighter one that is then eased open
_TIGHTER = 0.7
_TRIALS = 3000  # random changes tried on each start
_LAST_TRIALS = 6000  # and again on the best of them
_LATE_CHARGE = 0.25  # share of the charge on turns in the last lengthening
_MOST_VERTICES = 400  # shores with more are drawn in and thinned first
_DROP = 1e-4  # share of the run's worth that a corner must bring to be kept


def thinned(part: shapely.Polygon) -> shapely.Polygon:
    """Give the polygon, or one inside it with few vertices: drawn in by as much as thinning may move the shore."""
    size = float(np.hypot(*np.ptp(shapely.get_coordinates(part), axis=0)))
    tolerance = size / 20000.0
    thin = part
    while shapely.count_coordinates(thin) > _MOST_VERTICES and tolerance < size / 50.0:
        inner = part.buffer(-tolerance, quad_segs=2).simplify(0.99 * tolerance)
        pieces = [piece for piece in shapely.get_parts(inner) if not piece.is_empty]
        if not pieces:
            break
        thin = max(pieces, key=lambda piece: piece.area)
        tolerance *= 1.6
    return thin


def edges_of(part: shapely.Polygon) -> Edges:
    """Give the shore edges (ax, ay, bx, by) of a polygon."""
    rings = [shapely.get_coordinates(ring) for ring in (part.exterior, *part.interiors)]
    start = np.concatenate([ring[:-1] for ring in rings])
    end = np.concatenate([ring[1:] for ring in rings])
    return tuple(np.ascontiguousarray(column) for column in (*start.T, *end.T))


def nodes_in(part: shapely.Polygon, shore: Edges) -> np.ndarray:
    """Give points (n, 2) spread over the water of a polygon."""
    start = np.column_stack(shore[:2])
    step = np.column_stack(shore[2:]) - start
    length = np.hypot(*step.T)
    ends = np.cumsum(length)
    at = (np.arange(_SHORE_SAMPLES) + 0.5) * (ends[-1] / _SHORE_SAMPLES)
    edge = np.minimum(np.searchsorted(ends, at), len(length) - 1)
    unit = step[edge] / np.maximum(length[edge], 1e-12)[:, None]
    on_shore = start[edge] + unit * (at - ends[edge] + length[edge])[:, None]
    inward = np.column_stack(
        [-unit[:, 1], unit[:, 0]]
    )  # water lies left of an oriented shell and of its holes
    points = across(shore, *np.ascontiguousarray(on_shore.T), np.ascontiguousarray(inward))
    return points[spread(points[:, 0].copy(), points[:, 1].copy(), _NODES)] if len(points) else points


def first_chains(
    shore: Edges, nodes: np.ndarray, radius_m: float, most_turn_rad: float, charge_m: float
) -> list[np.ndarray]:
    """Give up to four good first chains of corners (n, 2), best first, that end in different places."""
    x, y = np.ascontiguousarray(nodes.T)
    legs = make_legs(shore, x, y)
    if legs.tail.size > _MOST_LEGS:
        x, y = x[:_FEW_NODES].copy(), y[:_FEW_NODES].copy()
        legs = make_legs(shore, x, y)
    if legs.tail.size == 0:
        return []
    chains = longest_chains(shore, x, y, legs, radius_m, most_turn_rad, charge_m)
    apart = 0.08 * float(np.hypot(*np.ptp(nodes, axis=0)))
    found: list[np.ndarray] = []
    for leg in np.argsort(-chains.worth_m, kind="stable")[:200]:
        if chains.worth_m[leg] <= 0.0 or len(found) == _STARTS:
            break
        corners = trace(chains, legs, x, y, leg)
        if len(corners) <= MOST_CORNERS and all(_differ(corners, other, apart) for other in found):
            found.append(corners)
    return found


def _differ(one: np.ndarray, other: np.ndarray, apart: float) -> bool:
    """Say whether two chains, whichever way flown, differ at an end by more than `apart`."""
    tips = other[[0, -1]]
    forward = np.hypot(*(one[[0, -1]] - tips).T).max()
    return bool(min(forward, np.hypot(*(one[[-1, 0]] - tips).T).max()) > apart)


def best_chain(
    part: shapely.Polygon, radius_m: float, most_turn_rad: float, goal_m: float, deadline_s: float | None
) -> np.ndarray | None:
    """Give the corners (n, 2) of the best bent run of a polygon, or None where none longer than goal_m was found.

    deadline_s: value of the performance counter after which no further start is lengthened.
    """
    part = shapely.orient_polygons(thinned(part))
    shore = edges_of(part)
    nodes = nodes_in(part, shore)
    if len(nodes) < 3:
        return None
    rules = (radius_m, most_turn_rad)
    charge = part.area / part.length
    size = 0.1 * float(np.hypot(*np.ptp(nodes, axis=0)))
    best, kept = 0.0, None
    legs, turns = np.empty((3, MOST_CORNERS)), np.zeros(MOST_CORNERS)
    for tight in (radius_m, _TIGHTER * radius_m):
        for corners in first_chains(shore, nodes, tight, most_turn_rad, charge):
            if kept is not None and _is_late(deadline_s):
                break
            x, y = np.zeros((2, MOST_CORNERS))
            count = len(corners)
            x[:count], y[:count] = corners.T
            if tight < radius_m:
                count = widen(shore, x, y, count, tight, *rules, charge, size, _TRIALS, 1)
            if count == 0:
                continue
            _, count = polish(shore, x, y, count, *rules, charge, MOST_CORNERS, size, _TRIALS, 1)
            late = _LATE_CHARGE * charge
            worth = measure(shore, x, y, count, legs, turns, *rules, late, best)
            if worth > best:
                best, kept = worth, (x, y, count)
    if kept is None or _is_late(deadline_s):
        return None if kept is None else np.column_stack([kept[0][: kept[2]], kept[1][: kept[2]]])
    x, y, count = kept
    _, count = polish(shore, x, y, count, *rules, charge, MOST_CORNERS, 0.2 * size, _LAST_TRIALS, 2)
    count = drop_corners(shore, x, y, count, *rules, charge, _DROP * best)
    if measure(shore, x, y, count, legs, turns, *rules, 0.0, goal_m) > goal_m:
        # The way is settled: now its turns may cost less, but it gets no further ones.
        _, count = polish(
            shore, x, y, count, *rules, _LATE_CHARGE * charge, count, 0.2 * size, _LAST_TRIALS, 3
        )
    return np.column_stack([x[:count], y[:count]])


def _is_late(deadline_s: float | None) -> bool:
    return deadline_s is not None and perf_counter() > deadline_s
