"""Many straight lines through a water, spread over its places and headings, each with the corridor's clear width."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from geo.base.errors import FetchwaterError
from geo.records.survey import SurveySettings
from geo.survey.depth.model import DepthModel
from geo.survey.depth.shore import Shoreline
from geo.survey.runs import run_rose
from geo.survey.usable.deep_water import DEPTHS_M, DeepWater

# Buffers are polygons: this many segments for a quarter circle, and the radius raised so that none cuts a corner.
QUARTER_SEGMENTS = 8
ROUND = 1.0 / np.cos(np.pi / (4.0 * QUARTER_SEGMENTS))
PLACES = 24
CANDIDATE_PLACES = 1500
HEADINGS_AT_A_PLACE = 6
DEEP_PARTS = 3
# A depth counts as that of the water near the shore (or of all of it) where this share of its places has it.
LEAST_DEEP_SHARE = 0.1


@dataclass(frozen=True, eq=False)
class WaterPlan:
    """One water's outline with what is asked of it again and again."""

    water: shapely.Polygon
    settings: SurveySettings

    @cached_property
    def _edges(self) -> shapely.STRtree:
        return Shoreline(self.water).edges

    def shore_m(self, shapes: np.ndarray) -> np.ndarray:
        """Give the least distance [m] of each shape to the shore."""
        (index, _), distance = self._edges.query_nearest(shapes, all_matches=False, return_distance=True)
        found = np.empty(len(shapes))
        found[index] = distance
        return found

    def holds(self, lines: np.ndarray) -> np.ndarray:
        """Say of lines whether the corridor's half width of water surrounds each (1 mm for rounding)."""
        middles = shapely.line_interpolate_point(lines, 0.5, normalized=True)
        inside = shapely.contains_xy(self.water, shapely.get_x(middles), shapely.get_y(middles))
        return inside & (self.shore_m(lines) >= 0.5 * self.settings.corridor_width_m - 1e-3)

    def narrowed(self, reach: shapely.Polygon | None = None) -> BaseGeometry:
        """Give where the middle of a run may lie: half the corridor's width off every shore; near a place only."""
        part = self.water if reach is None else self.water.intersection(reach)
        return part.buffer(-0.5 * self.settings.corridor_width_m * ROUND, quad_segs=QUARTER_SEGMENTS)


def chords_through(plan: WaterPlan, deep: DeepWater, model: DepthModel) -> list[shapely.LineString]:
    """Give lines through the water beside those of its rose: the roses of its deep parts, and some at many places.

    Notes: places lie as far from each other as they can, in the deepest water that is wide enough, no further from a
    shore than useful_cap_m; lines through a place are no longer than twice that. Every line was checked to keep the
    corridor's clear width.
    """
    lines = _deep_roses(plan, deep)
    for number, place in enumerate(_places(plan, deep)):
        lines += _through(plan, place, number)
    if not lines:
        return []
    shapes = np.array(lines, dtype=object)
    return [lines[i] for i in np.flatnonzero(plan.holds(shapes))]


def _deep_roses(plan: WaterPlan, deep: DeepWater) -> list[shapely.LineString]:
    """Give the longest line for each heading in the greatest parts that are surely deep, for two depths."""
    found: list[shapely.LineString] = []
    least_m, cap_m = plan.settings.least_useful_m, plan.settings.useful_cap_m
    headings = np.arange(0.0, 180.0, 2.0 * plan.settings.heading_step_deg)
    narrowed = None
    for depth_m in (DEPTHS_M[0], DEPTHS_M[2]):
        part = deep.part(depth_m, plan.water)
        if part.is_empty or part.area > 100.0 * cap_m * cap_m:
            continue
        narrowed = plan.narrowed() if narrowed is None else narrowed
        parts = shapely.get_parts(part.buffer(-1e-3).intersection(narrowed))
        boxes = shapely.bounds(parts)
        long_enough = np.hypot(boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1]) >= least_m
        pieces = [p for p in parts[long_enough] if p.geom_type == "Polygon"]
        for piece in sorted(pieces, key=lambda p: p.area, reverse=True)[:DEEP_PARTS]:
            try:
                rose = run_rose(piece, headings)
            except FetchwaterError:
                continue
            found += [line for line in rose.lines if line is not None and line.length >= least_m]
    return found


def _places(plan: WaterPlan, deep: DeepWater) -> np.ndarray:
    """Give places (n, 2) [m], each as far as possible from those before it."""
    water, cap_m = plan.water, plan.settings.useful_cap_m
    west, south, east, north = water.bounds
    step = float(np.sqrt(water.area / CANDIDATE_PLACES))
    step = max(step, float(np.sqrt((east - west) * (north - south) / (16.0 * CANDIDATE_PLACES))))
    x, y = (a.ravel() for a in np.meshgrid(np.arange(west, east, step), np.arange(south, north, step)))
    inside = shapely.contains_xy(water, x, y)
    xy = np.column_stack((x[inside], y[inside]))
    if len(xy) == 0:
        return xy
    shore_m = plan.shore_m(np.asarray(shapely.points(xy)))
    wide = shore_m >= 0.5 * plan.settings.corridor_width_m
    xy, shore_m = xy[wide], shore_m[wide]
    sure = deep.sure_m(xy[:, 0], xy[:, 1])
    near = shore_m <= max(cap_m, 1.5 * step)
    count = min(PLACES, max(4, int(water.area / (0.1 * cap_m * cap_m))))
    for depth_m in DEPTHS_M:
        if (sure[near] >= depth_m).sum() >= LEAST_DEEP_SHARE * near.sum() > 0:
            return _spread(xy[near & (sure >= depth_m)], count)
        if (sure >= depth_m).sum() >= LEAST_DEEP_SHARE * len(xy) > 0:
            # A sea that shoals gently is deep far out only.
            far = sure >= depth_m
            return np.concatenate([_spread(xy[near], count // 2), _spread(xy[far], count // 2)])
    return _spread(xy[near], count)


def _spread(xy: np.ndarray, count: int) -> np.ndarray:
    """Give at most count positions, each the furthest from all before it; the first is nearest to the middle."""
    if len(xy) <= count:
        return xy
    chosen = [int(np.argmin(np.hypot(*(xy - xy.mean(axis=0)).T)))]
    away = np.full(len(xy), np.inf)
    while len(chosen) < count:
        away = np.minimum(away, np.hypot(*(xy - xy[chosen[-1]]).T))
        chosen.append(int(np.argmax(away)))
    return xy[chosen]


def _through(plan: WaterPlan, place: np.ndarray, number: int) -> list[shapely.LineString]:
    """Give the lines through a place: a few headings, other ones at the next place."""
    cap_m, wide = plan.settings.useful_cap_m, plan.settings.corridor_width_m
    reach = shapely.Point(place).buffer(cap_m + 2.0 * wide, quad_segs=4)
    open_water = plan.narrowed(reach)
    here = [p for p in shapely.get_parts(open_water) if p.intersects(shapely.Point(place))]
    if not here:
        return []
    step = 180.0 / HEADINGS_AT_A_PLACE
    angle = np.radians(step * (np.arange(HEADINGS_AT_A_PLACE) + (number % 3) / 3.0))
    way = cap_m * np.column_stack((np.sin(angle), np.cos(angle)))
    rays = shapely.linestrings(np.stack((place - way, place + way), axis=1))
    parts = shapely.get_parts(shapely.intersection(rays, here[0]))
    near = shapely.distance(parts, shapely.Point(place)) < 1e-6
    kept = near & (shapely.length(parts) >= plan.settings.least_useful_m)
    return list(parts[kept])
