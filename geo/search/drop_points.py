"""Where a load is counted as dropped: the nearest safe edge of the fire, its head, a flank, or its middle.

Joins the fire, the region and the survey for `geo/pipeline.py`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from geo.base.errors import BadArgument
from geo.base.recent import Recent
from geo.records.conditions import Weather
from geo.records.extras import Target
from geo.records.geometry import PointM
from geo.records.region import Closure, Fire, Region
from geo.records.station import WATERWAY_M
from geo.search.fire_sides import flanks, head
from geo.search.no_fly_areas import closures_in_force

Edge = shapely.LineString | shapely.MultiLineString
_SEGMENTS = 16  # of a quarter circle

BY_WIND = "by the wind alone (no slope, no fuel)"
# Each ranking of a region asks which waters its fire meets: one tree for each region loaded lately.
_waters_by_place: Recent[shapely.STRtree] = Recent(8)


@dataclass(frozen=True, eq=False)
class Drop:
    """Where loads are dropped: one point, or the place of an edge that is nearest to the water."""

    whole: shapely.Point | Edge

    def at(self, place: PointM | None) -> PointM:
        """Give where the load of a fill at this place is dropped; a place of None asks for any."""
        if isinstance(self.whole, shapely.Point):
            return self.whole
        if place is None:
            return shapely.Point(shapely.get_coordinates(self.whole)[0])
        # Not by length along the edge: where one line of it ends, that is also the length at which the next begins.
        return nearest_points(self.whole, place)[0]


def waters_meeting(region: Region, shape: shapely.Geometry) -> list[shapely.Polygon]:
    """Give the outlines of the waters that a shape meets, in the region's order."""
    tree = _waters_by_place.get(
        (region,), (), lambda: shapely.STRtree([body.polygon for body in region.bodies])
    )
    return [region.bodies[i].polygon for i in sorted(tree.query(shape, predicate="intersects").tolist())]


def drop_point(fire: Fire, region: Region, closures: Sequence[Closure] = ()) -> shapely.Point:
    """Give where loads are counted as dropped: the outline's centroid, or a point inside the largest part where one may
    drop, where the centroid lies outside the outline, on water or in a no-fly area.

    Parameters: closures, those in force.
    Raises: BadArgument when the outline holds nothing but water, or all its land lies in no-fly areas.
    """
    wet = waters_meeting(region, fire.area)
    land = fire.area.difference(shapely.union_all(wet)) if wet else fire.area
    if land.area <= 0.0:
        raise BadArgument(f"fire {fire.name} lies wholly on water. Fix: check its outline")
    free = _without_no_fly(land, fire, closures, "its land")
    centroid = fire.area.centroid
    if free.covers(centroid):
        return centroid
    largest = max(shapely.get_parts(free), key=lambda part: part.area)
    return largest.centroid if largest.covers(largest.centroid) else largest.representative_point()


def _without_no_fly(shape: BaseGeometry, fire: Fire, closures: Sequence[Closure], what: str) -> BaseGeometry:
    """Give a shape without the no-fly areas, where no load can be dropped.

    Raises: BadArgument naming them when nothing is left: once for the fire, not once for each water.
    """
    shut = [one for one in closures if one.kind == "no flying" and one.area.intersects(shape)]
    free = shape.difference(shapely.union_all([one.area for one in shut])) if shut else shape
    if free.is_empty:
        names = ", ".join(f"'{one.name or one.closure_id}'" for one in shut)
        raise BadArgument(
            f"fire {fire.name}: {what} lies wholly inside {names}, where flying is not allowed, so no load can be "
            "dropped there. Fix: get clearance and lift the closure, give the day if it is not in force then, or check "
            "the fire's outline"
        )
    return free


def share_on_water(fire: Fire, region: Region) -> str:
    """Say which share of a fire's outline lies on water; "" where none of note (below 1 %) does."""
    wet = waters_meeting(region, fire.area)
    share = fire.area.intersection(shapely.union_all(wet)).area / fire.area.area if wet else 0.0
    if share < 0.01:
        return ""
    return f"{share:.0%} of the outline of fire {fire.name} lies on water: loads are counted on its land"


def drop_for(target: Target, fire: Fire, region: Region, weather: Weather) -> Drop:
    """Give where loads are dropped.

    Raises: BadArgument when the part of the edge that is asked for has no part on land, all of what is asked for lies
    where flying is not allowed, or in a calm the fire has no head or flanks.
    Notes: only an edge on land counts, outside the areas that nobody may fly through. Nearest is in a straight line. A
    drawn flank stands for its middle, so that all sources serve one place.
    """
    closures = closures_in_force(region, weather)
    if target.kind == "centroid":
        return Drop(drop_point(fire, region, closures))
    if target.flank is not None:
        middle = target.flank.interpolate(0.5, normalized=True)
        _without_no_fly(middle, fire, closures, "the middle of the drawn flank")
        return Drop(middle)
    edge: Edge = dry_edge(fire, region)
    if target.kind != "edge":
        sides = {"head": head, "flank": flanks}
        side = shapely.intersection(edge, sides[target.kind](fire, region.frame, weather))
        lines = [one for one in shapely.get_parts(side) if isinstance(one, shapely.LineString)]
        edge = shapely.MultiLineString(lines)
    if edge.length <= 0.0:
        raise BadArgument(
            f"the {target.kind} of fire {fire.name} has no part on land. Fix: choose another target, or check the "
            "outline"
        )
    free = _without_no_fly(edge, fire, closures, f"its {target.kind} on land")
    assert isinstance(free, Edge)
    return Drop(free)


def away_from_water(drop: Drop, fire: Fire, region: Region) -> Drop:
    """Give where retardant or foam is dropped: what of a drop lies WATERWAY_M or more from every water of the region.

    Raises: BadArgument when nothing does.
    References: USDA Forest Service, WFCS, Guidelines for aerial application of retardant or foam near waterways.
    """
    near = waters_meeting(region, shapely.buffer(drop.whole, 2.0 * WATERWAY_M))
    # A buffer's corners lie on its true outline and its sides inside: made so wide that the sides lie outside.
    wide_m = WATERWAY_M / math.cos(math.pi / (4.0 * _SEGMENTS))
    left = drop.whole.difference(
        shapely.union_all([shapely.buffer(one, wide_m, quad_segs=_SEGMENTS) for one in near])
    )
    if left.is_empty or not isinstance(left, shapely.Point | Edge):
        raise BadArgument(
            f"every place of fire {fire.name} that is asked for lies within {WATERWAY_M:.0f} m (300 ft) of a water, "
            "where no retardant or foam is dropped. Fix: choose another target"
        )
    return Drop(left)


def outer_edges(fire: Fire) -> list[shapely.LineString]:
    """Give the outlines of a fire's parts, without the islands in them."""
    parts = fire.area.geoms if isinstance(fire.area, shapely.MultiPolygon) else (fire.area,)
    return [shapely.LineString(part.exterior.coords) for part in parts]


def dry_edge(fire: Fire, region: Region) -> Edge:
    """Give the fire's outer edge without the parts that lie on water.

    Raises: BadArgument when nothing of it is on land.
    """
    edge = shapely.union_all(outer_edges(fire))
    wet = waters_meeting(region, edge)
    edge = edge.difference(shapely.union_all(wet)) if wet else edge
    if not isinstance(edge, Edge) or edge.length <= 0.0:
        raise BadArgument(f"the edge of fire {fire.name} lies wholly on water. Fix: check its outline")
    return edge


def words(target: Target) -> str:
    """Give the target as the assumption that is printed with the ranking."""
    return {
        "centroid": "the middle of the fire: the centroid of its outline, or a point inside it",
        "edge": "the fire's edge nearest to each filling place in a straight line, on land and outside no-fly areas",
        "head": f"the fire's head {BY_WIND}, there the safe edge nearest to each filling place",
        "flank": f"the fire's flanks {BY_WIND}, there the safe edge nearest to each filling place"
        if target.flank is None
        else "the middle of the drawn flank",
    }[target.kind]
