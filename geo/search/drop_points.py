"""Where a load is counted as dropped: the nearest safe edge of the fire, its head, a flank, or its middle.

Joins the fire, the region and the survey for `geo/pipeline.py`.
"""

import math
from dataclasses import dataclass

import shapely
from shapely.ops import nearest_points

from geo.base.errors import BadArgument
from geo.base.recent import Recent
from geo.records.conditions import Weather
from geo.records.extras import Target
from geo.records.geometry import PointM
from geo.records.region import Fire, Region
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


def drop_point(fire: Fire, region: Region) -> shapely.Point:
    """Give where loads are counted as dropped: the outline's centroid, or a point inside where that lies outside it or
    on water.

    Raises: BadArgument when the outline holds nothing but water.
    """
    centroid = fire.area.centroid
    wet = waters_meeting(region, fire.area)
    land = fire.area.difference(shapely.union_all(wet)) if wet else fire.area
    if land.area <= 0.0:
        raise BadArgument(f"fire {fire.name} lies wholly on water. Fix: check its outline")
    return centroid if land.covers(centroid) else land.representative_point()


def drop_for(target: Target, fire: Fire, region: Region, weather: Weather) -> Drop:
    """Give where loads are dropped.

    Raises: BadArgument when the part of the edge that is asked for has no safe place, or in a calm has no head or
    flanks.
    Notes: safe is an edge on land, outside the areas that nobody may fly through. Nearest is in a straight line. A
    drawn flank stands for its middle, so that all sources serve one place.
    """
    if target.kind == "centroid":
        return Drop(drop_point(fire, region))
    if target.flank is not None:
        return Drop(target.flank.interpolate(0.5, normalized=True))
    edge: shapely.Geometry = dry_edge(fire, region)
    if target.kind != "edge":
        sides = {"head": head, "flank": flanks}
        side = shapely.intersection(edge, sides[target.kind](fire, region.frame, weather))
        lines = [one for one in shapely.get_parts(side) if isinstance(one, shapely.LineString)]
        edge = shapely.MultiLineString(lines)
    barred = [one.area for one in closures_in_force(region, weather) if one.kind == "no flying"]
    edge = shapely.difference(edge, shapely.union_all(barred)) if barred else edge
    if not isinstance(edge, Edge) or edge.length <= 0.0:
        raise BadArgument(
            f"the {target.kind} of fire {fire.name} has no part on land where flying is allowed. Fix: choose another "
            "target, or check the outline and the closures"
        )
    return Drop(edge)


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
