"""Bent runs: the longest run found that follows the water in turns no tighter than a bank-limited radius.

What counts as a run. A smooth path of straight pieces and arcs of one radius that keeps half the corridor width from
every shore. All its turns together, left and right added up, stay within `most_turn_deg` (at most 180): a path that
turns by less than 180 degrees in all cannot cross itself or come back on its heading, so nobody circles to fill.
A turn must pay: the search weighs a run by its length less (area / shore length) of the usable water for each radian
turned, since weaving from bank to bank of a channel wins about half of that per radian and a turn that follows the
water wins far more.

What is promised. The length given fits: every piece was measured against the true shore. It is never shorter than
the straight run. It is the best FOUND, not proved longest; `upper_bound_m` is proved, and loose.
"""

from dataclasses import dataclass
from time import perf_counter

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.base.units import turn_radius_m
from geo.survey.bent.pieces import RunPiece, least_distance_m, line_of, pieces_of
from geo.survey.bent.search import best_chain
from geo.survey.runs import LongestRun, longest_run

__all__ = ["BentRun", "bent_run", "run_bound_m", "turn_radius_m"]

CLEARANCE_SLACK_M = 1e-6
LEAST_GAIN = 0.01  # share by which a bent run must beat the straight one to be worth its turns (our choice)
_INSET_M = 0.01  # the search stays this much further inside, so that the drawn chords keep clear as well
_QUARTER_SEGMENTS = 16


@dataclass(frozen=True)
class BentRun:
    """The longest run found, bent or straight, with what was checked about it.

    length_m [m] along arcs (0 and no line where the corridor does not fit); line: drawn with chords within 5 mm of the
    arcs; pieces: straights and arcs in order; radius_m: the radius asked for; least_radius_m: tightest turn flown,
    None when straight; total_turn_deg: all turns added up; start_heading_deg, end_heading_deg [clockwise from grid
    north]; certified_inside: the whole path, arcs exact, keeps corridor_width_m / 2 from the shore within 1e-6 m;
    straight_length_m: the straight run of the same water; upper_bound_m: no run of these rules is longer.
    """

    length_m: float
    line: shapely.LineString | None
    pieces: tuple[RunPiece, ...]
    radius_m: float
    least_radius_m: float | None
    total_turn_deg: float
    start_heading_deg: float | None
    end_heading_deg: float | None
    corridor_width_m: float
    certified_inside: bool
    straight_length_m: float
    upper_bound_m: float

    @property
    def is_bent(self) -> bool:
        """Say whether the run turns at all."""
        return self.least_radius_m is not None


def bent_run(
    polygon: shapely.Polygon,
    radius_m: float,
    corridor_width_m: float = 0.0,
    at_least_m: float = 0.0,
    time_budget_s: float | None = None,
    most_turn_deg: float = 180.0,
    straight: LongestRun | None = None,
) -> BentRun:
    """Give the longest run found in a water polygon with turns no tighter than a radius; never below the straight run.

    Parameters
    ----------
    polygon : valid, non-empty polygon in metres, islands as holes.
    radius_m : least radius of a turn [m], positive.
    corridor_width_m : width of water that the run needs [m]; half of it is kept from every shore, ends included.
    at_least_m : length that a bent run must beat to be of use [m]; no search where upper_bound_m shows it cannot.
    time_budget_s : stop lengthening after this much time [s]; None: a fixed amount of work, same result each time.
    most_turn_deg : sum of all turns, left and right, that a run may make [deg], 0 to 180.
    straight : the longest straight run of the same polygon and corridor where it is known already.

    Returns
    -------
    BentRun; the straight run (is_bent False) where no bent one found is at least 1 % longer and beats at_least_m.

    Raises
    ------
    BadArgument : empty, invalid or non-polygon geometry, or a number outside its range.

    Notes
    -----
    Search: longest chain of legs between points spread over the water (`geo.survey.bent.graph`), then random
    lengthening (`geo.survey.bent.polish`), in the polygon drawn in by half the corridor and 1 cm; shores of more than
    400 vertices are drawn in a little more and thinned. Then each piece is measured against the true shore. Bound: see
    `run_bound_m`.
    """
    _check(polygon, radius_m, corridor_width_m, at_least_m, most_turn_deg)
    start_s = perf_counter()
    deadline = None if time_budget_s is None else start_s + time_budget_s
    origin = np.floor(shapely.get_coordinates(polygon).mean(axis=0))
    bound = run_bound_m(polygon, corridor_width_m, most_turn_deg)
    if straight is None:
        straight = longest_run(polygon, corridor_width_m, time_budget_s)
    bound = max(bound, straight.length_m)
    best = _straight_run(polygon, straight, radius_m, corridor_width_m, bound)
    goal = max(at_least_m, best.length_m * (1.0 + LEAST_GAIN))
    if bound <= goal or most_turn_deg == 0.0:
        return best
    local = shapely.transform(polygon, lambda points: points - origin)
    pieces = _best_pieces(local, radius_m, corridor_width_m, np.radians(most_turn_deg), goal, deadline)
    if pieces is None:
        return best
    return _bent(pieces, origin, radius_m, corridor_width_m, best.length_m, bound)


def run_bound_m(
    polygon: shapely.Polygon, corridor_width_m: float = 0.0, most_turn_deg: float = 180.0
) -> float:
    """Give a length that no path in a polygon exceeds whose turns add up to at most most_turn_deg [m].

    Notes
    -----
    Cauchy and Crofton: a path's length is half the integral, over the half circle of directions, of how far its
    shadow on that direction travels. The shadow turns back k times, and k integrates to at most the total turn T;
    each pass is at most the water's width in that direction. So length <= (P + D T) / 2 with P and D perimeter and
    diameter of the convex hull. Straight (T = 0, P near 2 D for a narrow water): near D.
    """
    usable = polygon
    if corridor_width_m > 0.0:
        # GEOS may keep a shore point that lies up to about 1 % of the distance too near: 2 % less covers it.
        usable = polygon.buffer(-0.49 * corridor_width_m, quad_segs=_QUARTER_SEGMENTS)
    bounds = [0.0]
    for part in shapely.get_parts(usable):
        if part.is_empty:
            continue
        hull = shapely.get_coordinates(part.convex_hull)
        if len(hull) <= 1000:
            across = np.hypot(*(hull[:, None] - hull[None]).transpose(2, 0, 1)).max()
        else:
            across = np.hypot(*np.ptp(hull, axis=0))
        bounds.append(0.5 * (part.convex_hull.length + across * np.radians(most_turn_deg)))
    return float(max(bounds))


def _check(polygon: shapely.Polygon, radius: float, width: float, at_least: float, most_turn: float) -> None:
    """Refuse what the search cannot handle."""
    if not isinstance(polygon, shapely.Polygon | shapely.MultiPolygon) or polygon.is_empty:
        raise BadArgument(
            f"polygon is {polygon!r}; a non-empty polygon in metres is needed: pass one water body"
        )
    if not polygon.is_valid:
        raise BadArgument(
            f"polygon is invalid ({shapely.is_valid_reason(polygon)}): repair it before the survey"
        )
    if not 0.0 < radius < np.inf:
        raise BadArgument(f"radius_m is {radius}; it must be positive and finite: see turn_radius_m")
    if not 0.0 <= width < np.inf or not 0.0 <= at_least < np.inf:
        raise BadArgument(
            f"corridor_width_m is {width} and at_least_m {at_least}; neither may be negative: give >= 0"
        )
    if not 0.0 <= most_turn <= 180.0:
        raise BadArgument(f"most_turn_deg is {most_turn}; beyond 180 a run may cross itself: give 0 to 180")


def _best_pieces(
    polygon: shapely.Polygon,
    radius: float,
    width: float,
    most_turn: float,
    goal: float,
    deadline: float | None,
) -> tuple[RunPiece, ...] | None:
    """Give the pieces of the longest bent run over `goal` that was found and measured to keep clear, or None."""
    margin = 0.5 * width / np.cos(np.pi / (4 * _QUARTER_SEGMENTS)) + _INSET_M
    join = "round" if width > 0.0 else "mitre"
    best = None
    for _ in range(3):
        shortfall = 0.0
        usable = polygon.buffer(-margin, quad_segs=_QUARTER_SEGMENTS, join_style=join)
        for part in sorted(shapely.get_parts(usable), key=lambda each: -each.length):
            if part.is_empty or run_bound_m(part, 0.0, np.degrees(most_turn)) <= goal:
                continue
            corners = best_chain(part, radius, most_turn, goal, deadline)
            pieces = () if corners is None else pieces_of(corners, radius)
            length = sum(piece.length_m for piece in pieces)
            if length <= goal:
                continue
            short = 0.5 * width - least_distance_m(pieces, polygon)
            if short > CLEARANCE_SLACK_M or not _starts_inside(pieces, polygon):
                shortfall = max(shortfall, short)
            else:
                best, goal = pieces, length
        if shortfall == 0.0:
            return best
        margin += (
            1.05 * shortfall + 0.001
        )  # the buffer was drawn too near the shore somewhere: keep further off
    return best


def _starts_inside(pieces: tuple[RunPiece, ...], polygon: shapely.Polygon) -> bool:
    middle = pieces[0].point_at(0.5 * pieces[0].length_m)
    return bool(shapely.covers(polygon, shapely.Point(middle)))


def _straight_run(
    polygon: shapely.Polygon, straight: LongestRun, radius: float, width: float, bound: float
) -> BentRun:
    """Give the straight run as a bent run without bends."""
    line, length = straight.line, straight.length_m
    if line is None:
        return BentRun(0.0, None, (), radius, None, 0.0, None, None, width, False, 0.0, bound)
    (x1, y1), (x2, y2) = line.coords[0], line.coords[-1]
    heading = float(np.degrees(np.arctan2(x2 - x1, y2 - y1)) % 360.0)
    if width > 0.0:
        near = line.distance(polygon.boundary) < 0.5 * width - CLEARANCE_SLACK_M
        inside = not near and polygon.covers(line)
    else:  # it may graze headlands: exactly on the shore is inside
        inside = polygon.buffer(CLEARANCE_SLACK_M, join_style="mitre").covers(line)
    piece = RunPiece(x1, y1, heading, length)
    return BentRun(
        length, line, (piece,), radius, None, 0.0, heading, heading, width, bool(inside), length, bound
    )


def _bent(
    pieces: tuple[RunPiece, ...],
    origin: np.ndarray,
    radius: float,
    width: float,
    straight: float,
    bound: float,
) -> BentRun:
    """Give the run of measured pieces, moved back to where the polygon lies."""
    east, north = (float(value) for value in origin)
    moved = tuple(
        RunPiece(p.easting_m + east, p.northing_m + north, p.heading_deg, p.length_m, p.radius_m, p.turn_deg)
        for p in pieces
    )
    line = shapely.transform(line_of(pieces), lambda points: points + origin)
    turn = sum(abs(piece.turn_deg) for piece in pieces)
    tight = min((p.radius_m for p in pieces if p.radius_m is not None), default=None)
    end = (pieces[-1].heading_deg + pieces[-1].turn_deg) % 360.0
    length = sum(piece.length_m for piece in pieces)
    return BentRun(
        length, line, moved, radius, tight, turn, pieces[0].heading_deg, end, width, True, straight, bound
    )
