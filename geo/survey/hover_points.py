"""The places to hover that are kept for one water: the best of all, and those that fires on any side need."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import cos, pi

import numpy as np
import shapely

from geo.records.survey import HoverPoint
from geo.survey.any_fire import fires_round, serving, trip_s
from geo.survey.clearance import obstacle_label
from geo.survey.depth.model import DepthModel
from geo.survey.hover import hover_point
from geo.survey.open_water import OpenWater, standing_in
from geo.survey.sectors import Horizon
from geo.survey.usable.deep_water import DeepWater

# Places looked at lie one clear radius off the shore, and as many times further out, where it may be deeper.
INSETS = (1.0, 2.5, 6.0)
SPACING_M = 50.0
MOST_CANDIDATES = 600
MOST_POINTS = 32
# Points suffice when no fire's round trip is this share longer than from the best place looked at.
ENOUGH = 0.015
# A water that keeps less than the cap keeps points with this share of its greatest clear radius.
ROOM_SHARE = 0.75
# Depths [m] that are surely there at single places, for which places are chosen in turn: those of deep buckets and of
# pumps with a margin (common practice, no source).
DEPTHS_M = (2.5, 1.25)
# Where no direction has a slope below this even after the highest climb, nobody gets out (1:3; common practice).
STEEPEST_OUT = 0.35
_QUAD_SEGMENTS = 8


@dataclass(frozen=True, eq=False)
class HoverSurveyor:
    """What every hover point of one water is measured with."""

    water: shapely.Polygon
    model: DepthModel
    deep: Callable[[], DeepWater]
    horizon: Horizon

    def points(self) -> tuple[HoverPoint, ...]:
        """Give the places to hover, the best whatever the fire first; none where obstacles cover all of the water.

        Notes: further places are chosen among many at the survey's clear radius from shores and obstacles, so that for
        fires on any side the round trip from the best one is close to the best that there is; first among those that
        are surely deep. One that nobody gets out of is left out. Each has its sectors.
        """
        around = self.horizon.around
        first = hover_point(self.water, self.model, around.obstacles, around.settings)
        if first is None:
            return ()
        first = self._looked_round(first)
        return (first, *self._further(first))

    def _looked_round(self, point: HoverPoint) -> HoverPoint:
        return replace(point, sectors=self.horizon.sectors(point.point, point.clear_radius_m))

    def _further(self, first: HoverPoint) -> list[HoverPoint]:
        around = self.horizon.around
        keep_m = min(around.settings.hover_radius_cap_m, ROOM_SHARE * first.clear_radius_m)
        if first.clear_radius_m >= around.settings.hover_radius_cap_m - 1e-6:
            keep_m = around.settings.hover_radius_cap_m
        open_water = OpenWater(self.water, standing_in(self.water, around.obstacles))
        places = _candidates(open_water, keep_m)
        if len(places) == 0:
            return []
        fires = fires_round(self.water)
        found: dict[int, HoverPoint] = {}
        trips = trip_s(places, places, fires)
        at = shapely.get_coordinates(first.point)
        served = trip_s(at, at, fires)[0] if _has_way(first) else None
        clear_m = open_water.clear_m(places)

        def good(i: int) -> bool:
            found[i] = self._measured(open_water, places[i], float(clear_m[i]))
            return _has_way(found[i])

        chosen: list[int] = []
        for group in self._groups(places):
            most = MOST_POINTS - 1 - len(chosen)
            picked = serving(trips, most, ENOUGH, good, served, group)
            chosen += picked
            if picked:
                best = trips[picked].min(axis=0)
                served = best if served is None else np.minimum(served, best)
        return [found[i] for i in chosen]

    def _groups(self, places: np.ndarray) -> list[np.ndarray]:
        """Give the numbers of the places to choose from in turn: the surely deep ones, those less deep, or all."""
        sure = np.nan_to_num(self.deep().sure_m(*places.T), nan=-1.0)
        deep = [np.flatnonzero(sure >= depth_m) for depth_m in DEPTHS_M]
        groups = [group for group in deep if group.size]
        return groups if groups else [np.arange(len(places))]

    def _measured(self, water: OpenWater, place: np.ndarray, clear_m: float) -> HoverPoint:
        """Give one further place with its depth and sectors."""
        settings, point = self.horizon.around.settings, shapely.Point(place)
        return HoverPoint(
            point=point,
            clear_radius_m=clear_m,
            limited_by=water.nearest_thing(place),
            depth=self.model.least_within(point, settings.hover_circle_m),
            unknown_heights=tuple(
                obstacle_label(one)
                for one in self.horizon.around.obstacles
                if one.top_elevation_m is None
                and one.height_above_ground_m is None
                and shapely.distance(one.shape, point) <= settings.hover_radius_cap_m
            ),
            sectors=self.horizon.sectors(point, clear_m),
        )


def _has_way(point: HoverPoint) -> bool:
    """True where some direction is clear of all that is known for a steep climb after the highest climb straight up."""
    return point.sectors is not None and min(point.sectors.slopes[-1]) <= STEEPEST_OUT


def _candidates(water: OpenWater, keep_m: float) -> np.ndarray:
    """Give places (n, 2) that keep a clear radius [m]: along the line one radius off the shore, and further out."""
    slack_m = 0.02 * keep_m
    wide = (keep_m + slack_m) / cos(pi / (4 * _QUAD_SEGMENTS))
    outline = water.polygon.simplify(slack_m)
    shapes = [obstacle.shape for obstacle in water.obstacles]
    kept_off = (
        shapely.union_all(shapes).buffer(wide, quad_segs=_QUAD_SEGMENTS) if shapes else shapely.Polygon()
    )
    found = []
    for times in INSETS:
        room = outline.buffer(-times * wide, quad_segs=_QUAD_SEGMENTS).difference(kept_off)
        if room.is_empty:
            break
        edge = room.boundary
        count = int(np.clip(edge.length / (SPACING_M * times), 4, MOST_CANDIDATES / len(INSETS)))
        found.append(shapely.get_coordinates(edge.interpolate(np.arange(count) / count, normalized=True)))
    return np.concatenate(found) if found else np.empty((0, 2))
