"""The exact longest straight run in a water body, the longest for each heading, and `usable_run` of one of them.

Definitions. A run is a straight segment inside the closed polygon: it may graze a headland, pass between two islands
that touch, and lie along the shore. With a corridor of width w the run keeps at least w/2 of water from every shore:
on both sides AND beyond both ends, so the water holds the run with a round end of radius w/2 at either end. A
square-ended corridor of the same width that fits is at most w longer than such a run.

Every part of a multi-part polygon is searched on its own: a run never crosses from one part to another, even where
parts touch.
"""

import threading
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.survey.longest.frame import Rings
from geo.survey.longest.headings import heading_fan
from geo.survey.longest.limits import ENDLESS, SearchLimits, is_over, no_limits
from geo.survey.longest.rings import polygon_parts, shore_of
from geo.survey.longest.scratch import make_scratch
from geo.survey.longest.search import (
    SECTORS,
    SEED_HALVINGS,
    UNLIMITED,
    search_all,
    search_headings,
    seed_headings,
)
from geo.survey.usable.run import usable_run

__all__ = ["LongestRun", "RunRose", "longest_run", "run_rose", "usable_run"]

_CERTIFIED_GAP = 1e-9
GAP_FROM_HALVINGS = 9
_FIRST_LOOK = 2  # headings that are searched whatever the time budget, so that there is a run to give


@dataclass(frozen=True)
class LongestRun:
    """The longest run found, with what is proven of it.

    length_m, line: the run; a polygon too narrow for the corridor has length_m = 0.0 and line None. upper_bound_m: no
    run of this corridor is longer. part_index: the part of the polygon that holds it. certified: upper_bound_m is
    within 1e-9 of length_m (relative), so the run is the longest; False only where time_budget_s or a gap ended the
    search.
    """

    length_m: float
    line: shapely.LineString | None
    upper_bound_m: float
    part_index: int
    certified: bool
    corridor_width_m: float


@dataclass(frozen=True, eq=False)
class RunRose:
    """The longest run for each heading.

    headings_deg: as asked [deg clockwise from grid north]. lengths_m: (n,) [m], 0.0 where no run exists. lines: one
    per heading, pointing along it, or None where no run exists.
    """

    headings_deg: np.ndarray
    lengths_m: np.ndarray
    lines: tuple[shapely.LineString | None, ...]


class _Clock:
    """Raises a flag that compiled code reads when the time is up."""

    def __init__(self, seconds: float | None) -> None:
        self.halt = np.zeros(1, np.int64)
        self._timer = threading.Timer(seconds, self._stop) if seconds is not None else None

    def _stop(self) -> None:
        self.halt[0] = 1

    def __enter__(self) -> "_Clock":
        if self._timer is not None:
            self._timer.daemon = True
            self._timer.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._timer is not None:
            self._timer.cancel()


def longest_run(
    polygon: shapely.Polygon | shapely.MultiPolygon,
    corridor_width_m: float = 0.0,
    time_budget_s: float | None = None,
    gap: float = 0.0,
    effort_edges: int | None = None,
) -> LongestRun:
    """Give the longest straight run inside a polygon with islands.

    Parameters: polygon, easting and northing [m]; corridor_width_m, clear width of the run [m]; time_budget_s, time
    after which the search stops and states the gap it leaves [s]; gap, relative gap at which it may stop, with the same
    answer every time, unlike a budget (a round lake with a corridor has thousands of almost longest runs);
    effort_edges, shore edges that each part's search for the exact answer may look at, and then once more that for one
    within the gap, after which it stops and states the gap it leaves, in the same place on every machine.
    Returns: LongestRun; its line heads between grid north and grid south by east.
    Raises: BadArgument for an empty or invalid polygon, a coordinate that is no number, a negative width or budget, and
    where the budget ended before any run was found though there may be one.

    Notes: exact. Without a corridor the run goes through two shore vertices, sides are decided without rounding error
    and the length is right to a few units in the last place; its ends are rounded to the nearest double. With a
    corridor it is within 4e-10 of the bound. The validity check is never cut short by the budget.

    References: the two-vertex property is set out in `search`; branch and bound over bundles of lines is our own.
    """
    _check_width(corridor_width_m)
    for name, most in (("time_budget_s", time_budget_s), ("effort_edges", effort_edges)):
        if most is not None and not most > 0:
            raise BadArgument(f"{name} is {most}: it must be above 0, or None for no limit.")
    radius = 0.5 * corridor_width_m
    best, best_part, bound = np.zeros(5), 0, 0.0
    best_origin = np.zeros(2)
    with _Clock(time_budget_s) as clock:
        parts = polygon_parts(polygon)
        plan = _Plan(time_budget_s is not None or gap > 0.0 or effort_edges is not None, gap, effort_edges)
        for number, part in enumerate(parts):
            shore, origin = shore_of(part)
            before = best[0]
            bound = max(bound, _search_part(shore, radius, best, clock.halt, plan))
            if best[0] > before:
                best_part, best_origin = number, origin
    length = float(best[0])
    bound = max(bound, length)
    if length == 0.0 and bound > 0.0 and plan.stepwise:
        _check_too_narrow(parts, radius, bound)
        bound = 0.0
    line = _line(best, best_origin, None) if length > 0.0 else None
    return LongestRun(
        length, line, bound, best_part, bound <= length * (1.0 + _CERTIFIED_GAP), corridor_width_m
    )


def run_rose(
    polygon: shapely.Polygon | shapely.MultiPolygon,
    headings_deg: Sequence[float] | np.ndarray,
    corridor_width_m: float = 0.0,
) -> RunRose:
    """Give the longest straight run inside a polygon for each heading.

    Parameters: polygon, easting and northing [m]; headings_deg (n,) [deg clockwise from grid north]; corridor_width_m,
    clear width of the run [m].
    Returns: RunRose. A heading and its opposite have the same run, with the line turned round.
    Raises: BadArgument as `longest_run`, and for a heading that is no finite number.

    Notes: exact in the closed polygon. For a fixed heading the length is linear in the offset between two vertices
    (convex, with a corridor), so only lines through vertices count. Vertices within 1e-12 of the body's size of a line
    count as on it, because the heading is not known better than that.
    """
    _check_width(corridor_width_m)
    directions, line_of, sense = heading_fan(np.asarray(headings_deg, float))
    best, origins = np.zeros((len(directions), 5)), np.zeros((len(directions), 2))
    for part in polygon_parts(polygon):
        shore, origin = shore_of(part)
        before = best[:, 0].copy()
        scratch = make_scratch(shore.x.size // 2)
        search_headings(shore, scratch, directions, 0.5 * corridor_width_m, best, no_limits())
        origins[best[:, 0] > before] = origin
    lines = [
        _line(best[k], origins[k], way * directions[k]) if best[k, 0] > 0.0 else None
        for k, way in zip(line_of, sense, strict=True)
    ]
    return RunRose(np.array(headings_deg, float), best[line_of, 0], tuple(lines))


def _check_width(corridor_width_m: float) -> None:
    if not (corridor_width_m >= 0.0 and np.isfinite(corridor_width_m)):
        raise BadArgument(
            f"corridor_width_m is {corridor_width_m}: it must be a finite width of 0 m or more."
        )


@dataclass(frozen=True)
class _Plan:
    """How a search may end early: stepwise, gap and effort_edges as in `longest_run`."""

    stepwise: bool
    gap: float
    effort_edges: int | None

    def halvings(self) -> tuple[int, ...]:
        """Give the depths to search to; the last once more where one direction may have used up its share of effort."""
        again = (UNLIMITED,) if self.effort_edges is not None else ()
        return (3, 5, 7, 9, 12, UNLIMITED, *again) if self.stepwise else (UNLIMITED,)

    def limits(self, halt: np.ndarray, gap: float = 0.0) -> SearchLimits:
        work = ENDLESS if self.effort_edges is None else self.effort_edges
        return SearchLimits(halt, np.full(1, work), gap)


def _check_too_narrow(parts: Sequence[shapely.Polygon], radius: float, bound_m: float) -> None:
    """Raise BadArgument unless surely no circle of a radius fits into any part."""
    near = 1e-4 * radius  # how far GEOS may stay below the widest circle
    if any(shapely.maximum_inscribed_circle(part, near).length + near >= radius for part in parts):
        raise BadArgument(
            f"No run was found before the search had to stop, yet one of up to {bound_m:.1f} m may exist: water "
            "that is hardly wider than the corridor. Allow more time_budget_s and effort_edges, or None for no limit, "
            "or ask for a narrower corridor."
        )


def _search_part(shore: Rings, radius: float, best: np.ndarray, halt: np.ndarray, plan: _Plan) -> float:
    """Improve best (5,) by one part; give a bound on every run of it [m].

    Stepwise: go through all bundles coarsely first, then finer, so that the bound is worth something whenever the
    search ends; where the effort for an exact answer ends it, once more with the gap.
    """
    scratch = make_scratch(shore.x.size // 2)
    if plan.stepwise:
        search_all(shore, scratch, True, _FIRST_LOOK, radius, SEED_HALVINGS, best, no_limits())
    limits = plan.limits(halt)
    search_all(shore, scratch, True, seed_headings(shore), radius, SEED_HALVINGS, best, limits)
    bound = np.inf
    for deepest in plan.halvings():
        bound = min(bound, search_all(shore, scratch, False, SECTORS, radius, deepest, best, limits))
        # The gap is taken only once shallow bundles are done, so that ordinary waters are still solved exactly.
        allowed = plan.gap if deepest >= GAP_FROM_HALVINGS else 0.0
        if is_over(limits) or bound <= best[0] * (1.0 + allowed):
            break
    if halt[0] == 0 and plan.gap > 0.0 and bound > best[0] * (1.0 + plan.gap):
        limits = plan.limits(halt, plan.gap)
        bound = min(bound, search_all(shore, scratch, False, SECTORS, radius, UNLIMITED, best, limits))
    return float(max(bound, best[0]))


def _line(best: np.ndarray, origin: np.ndarray, along: np.ndarray | None) -> shapely.LineString:
    """Give the run as a line in the polygon's coordinates, pointing `along`, or between north and south by east."""
    start, end = best[1:3], best[3:5]
    step = end - start
    ahead = step @ along if along is not None else (step[0] if step[0] != 0.0 else step[1])
    if ahead < 0.0:
        start, end = end, start
    return shapely.LineString([start + origin, end + origin])
