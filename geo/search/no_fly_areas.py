"""The closed air of a region on a day, prepared once for many questions: it knows neither wind nor fire."""

from collections.abc import Sequence

import shapely

from geo.base.prepared import Prepared
from geo.base.recent import Recent
from geo.flight.legs.corridor import Corridor
from geo.flight.legs.no_fly_routes import Airspace, airspace, widened
from geo.flight.routing.route_ground import RouteGround, route_ground
from geo.records.region import Closure, Obstacle, Region

# Search grounds take 16 bytes a cell and are told apart by airspace: few are kept.
_grounds: Recent[RouteGround | None] = Recent(4)
_closed: Recent["ClosedAir"] = Recent(8)


class ClosedAir:
    """No-fly areas and obstacles of unknown height, and the airspaces made of them for legs between two places."""

    def __init__(
        self, closures: tuple[Closure, ...], obstacles: tuple[Obstacle, ...], half_width_m: float
    ) -> None:
        closed = [c for c in closures if c.kind == "no flying"]
        self.areas, self.names = [c.area for c in closed], [c.name or c.closure_id for c in closed]
        self._widened = [Prepared(widened(area, half_width_m + 1.0)) for area in self.areas]
        # Something of unknown height stands there, so its ground is kept off: the worst case.
        tall = [o for o in obstacles if o.top_elevation_m is None and o.height_above_ground_m is None]
        self._tall = [Prepared(o.shape.buffer(half_width_m)) for o in tall]
        self._tall_names = [f"{o.kind} {o.name} of unknown height" for o in tall]
        self._kept: dict[tuple[tuple[int, ...], tuple[int, ...]], Airspace] = {}

    def between(self, start: shapely.Point, end: shapely.Point) -> Airspace:
        """Give the closed air of a leg: no-fly areas, and obstacles of unknown height but those at its own ends.

        No-fly areas are kept off by the corridor half-width (the track may be off by that much), but one that is nearer
        to an end of the leg is kept off by nothing but its outline: else no source beside it could be left. What stands
        beside a filling place is judged there, by the suitability; a leg must still be able to leave it.
        """
        kept = _without(self._tall, start, end)
        wide = _without(self._widened, start, end)
        if (kept, wide) not in self._kept:
            areas = [self._widened[i].shape if i in wide else area for i, area in enumerate(self.areas)]
            made = airspace(
                [*areas, *(self._tall[i].shape for i in kept)],
                [*self.names, *(self._tall_names[i] for i in kept)],
            )
            # Of two threads that made it at once, both take the same: legs are kept by airspace.
            self._kept.setdefault((kept, wide), made)
        return self._kept[kept, wide]

    def near(self, route: shapely.LineString, reach_m: float) -> list[tuple[shapely.Geometry, str]]:
        """Give the no-fly areas within a distance [m] of a way, with their names."""
        return [(a, n) for a, n in zip(self.areas, self.names, strict=True) if route.distance(a) < reach_m]


def _without(areas: Sequence[Prepared], start: shapely.Point, end: shapely.Point) -> tuple[int, ...]:
    """Give the numbers of the areas that neither place lies in, their outlines included."""
    return tuple(i for i, area in enumerate(areas) if not (area.reaches(start) or area.reaches(end)))


def closed_air(region: Region, closures: tuple[Closure, ...], half_width_m: float) -> ClosedAir:
    """Give the closed air of a region with the closures in force; the last few are kept."""
    return _closed.get(
        (region, *closures), (half_width_m,), lambda: ClosedAir(closures, region.obstacles, half_width_m)
    )


def search_ground(surface: Corridor, closed: Airspace) -> RouteGround | None:
    """Give the ground over which ways are sought in an airspace; the last few are kept."""
    return _grounds.get((surface, closed), (), lambda: route_ground(surface, closed))
