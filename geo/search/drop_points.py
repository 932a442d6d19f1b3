"""Where a load is counted as dropped: the fire's centroid, its edge nearest to the water, or a drawn flank.

Joins the fire, the region and the survey for `geo/pipeline.py`.
"""

from dataclasses import dataclass

import shapely

from geo.base.errors import BadArgument
from geo.records.extras import Target
from geo.records.geometry import PointM
from geo.records.region import Fire, Region
from geo.search.flown_legs import drop_point, waters_meeting


@dataclass(frozen=True, eq=False)
class Drop:
    """Where loads are dropped: one point, or the place of an edge that is nearest to the water."""

    whole: shapely.Geometry

    def at(self, place: PointM | None) -> PointM:
        """Give where the load of a fill at this place is dropped; a place of None asks for any."""
        if self.whole.geom_type == "Point":
            return self.whole
        return self.whole.interpolate(0.0 if place is None else self.whole.project(place))


def drop_for(target: Target, fire: Fire, region: Region) -> Drop:
    """Give where loads are dropped.

    Raises: BadArgument when the fire has no edge on land, or a flank is asked for and none is drawn.
    Notes: the nearest edge is the one in a straight line; edges on water do not count. The flank stands for its
    middle, so that all sources serve one place.
    """
    if target.kind == "edge":
        return Drop(dry_edge(fire, region))
    if target.kind == "flank":
        if target.flank is None or target.flank.length <= 0.0:
            raise BadArgument("no flank is drawn. Fix: give a GeoJSON LineString of the active flank")
        return Drop(target.flank.interpolate(0.5, normalized=True))
    return Drop(drop_point(fire, region))


def dry_edge(fire: Fire, region: Region) -> shapely.Geometry:
    """Give the fire's outer edge without the parts that lie on water.

    Raises: BadArgument when nothing of it is on land.
    """
    parts = fire.area.geoms if hasattr(fire.area, "geoms") else (fire.area,)
    outer = shapely.union_all([shapely.LineString(part.exterior.coords) for part in parts])
    wet = waters_meeting(region, outer)
    edge = outer.difference(shapely.union_all(wet)) if wet else outer
    if edge.is_empty or edge.length <= 0.0:
        raise BadArgument(f"the edge of fire {fire.name} lies wholly on water. Fix: check its outline")
    return edge


def words(target: Target) -> str:
    """Give the target as the assumption that is printed with the ranking."""
    return {
        "centroid": "the centroid of the fire's outline, or a point inside it",
        "edge": "the fire's edge on land nearest to each filling place in a straight line",
        "flank": "the middle of the drawn flank",
    }[target.kind]
