"""Where a load is counted as dropped: the fire's centroid, its edge nearest to the water, or a drawn flank.

Joins the fire, the region and the survey for `geo/pipeline.py`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from geo.base.errors import BadArgument
from geo.base.recent import Recent
from geo.records.extras import Target
from geo.records.geometry import PointM
from geo.records.region import Closure, Fire, Region

Edge = shapely.LineString | shapely.MultiLineString

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
        return self.whole.interpolate(0.0 if place is None else self.whole.project(place))


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


def drop_for(target: Target, fire: Fire, region: Region, closures: Sequence[Closure] = ()) -> Drop:
    """Give where loads are dropped.

    Parameters: closures, those in force: where flying is not allowed, no load is dropped.
    Raises: BadArgument when the fire has no edge on land, a flank is asked for and none is drawn, or flying is not
    allowed over all of what is asked for.
    Notes: the nearest edge is the one in a straight line; edges on water do not count. The flank stands for its
    middle, so that all sources serve one place.
    """
    if target.kind == "edge":
        free = _without_no_fly(dry_edge(fire, region), fire, closures, "its edge on land")
        assert isinstance(free, Edge)
        return Drop(free)
    if target.kind == "flank":
        if target.flank is None or target.flank.length <= 0.0:
            raise BadArgument("no flank is drawn. Fix: give a GeoJSON LineString of the active flank")
        middle = target.flank.interpolate(0.5, normalized=True)
        _without_no_fly(middle, fire, closures, "the middle of the drawn flank")
        return Drop(middle)
    return Drop(drop_point(fire, region, closures))


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
        "centroid": "the centroid of the fire's outline, or a point inside it",
        "edge": "the fire's edge on land nearest to each filling place in a straight line",
        "flank": "the middle of the drawn flank",
    }[target.kind]
