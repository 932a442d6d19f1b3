"""The no-fly areas of a region on a day, prepared once for many questions: they know neither wind nor fire."""

from collections.abc import Sequence

import shapely

from geo.base.prepared import Prepared
from geo.base.recent import Recent
from geo.flight.legs.corridor import Corridor
from geo.flight.legs.no_fly_routes import Airspace, airspace, widened
from geo.flight.routing.route_ground import RouteGround, route_ground
from geo.records.conditions import Weather
from geo.records.flight import Endpoint
from geo.records.geometry import AreaM
from geo.records.region import Closure, Obstacle, Region

# Questions of one day in other winds share these. Search grounds take 16 bytes a cell and are told apart by airspace:
# few are kept.
_grounds: Recent[RouteGround | None] = Recent(4)
_areas: Recent["NoFlyAreas"] = Recent(8)


class NoFlyAreas:
    """No-fly areas and obstacles of unknown height, and the airspaces made of them for legs between two places."""

    def __init__(
        self, closures: tuple[Closure, ...], obstacles: tuple[Obstacle, ...], half_width_m: float
    ) -> None:
        shut = [c for c in closures if c.kind == "no flying"]
        self.areas, self.names = [c.area for c in shut], [c.name or c.closure_id for c in shut]
        self._wide = [widened(area, half_width_m + 1.0) for area in self.areas]
        # Something of unknown height stands there, so its ground is kept off: the worst case.
        tall = [o for o in obstacles if o.top_elevation_m is None and o.height_above_ground_m is None]
        self._tall: list[AreaM] = [shapely.buffer(o.shape, half_width_m) for o in tall]
        self._tall_names = [f"{o.kind} {o.name} of unknown height" for o in tall]
        self._prepared_wide, self._prepared_tall = ([*map(Prepared, x)] for x in (self._wide, self._tall))
        self._airspaces: Recent[Airspace] = Recent()

    def between(self, start: Endpoint, end: Endpoint) -> Airspace:
        """Give the airspace of a leg: no-fly areas, and obstacles of unknown height but those at its own ends.

        No-fly areas are kept off by the corridor half-width (the track may be off by that much), but one that is nearer
        to an end of the leg is kept off by nothing but its outline: else no source beside it could be left. What stands
        beside a filling place is judged there, by the suitability; a leg must still be able to leave it.
        """
        tall = _without(self._prepared_tall, start, end)
        wide = _without(self._prepared_wide, start, end)

        def made() -> Airspace:
            areas = [self._wide[i] if i in wide else area for i, area in enumerate(self.areas)]
            return airspace(
                [*areas, *(self._tall[i] for i in tall)], [*self.names, *(self._tall_names[i] for i in tall)]
            )

        return self._airspaces.get((), (tall, wide), made)

    def near(self, route: shapely.LineString, reach_m: float) -> list[tuple[AreaM, str]]:
        """Give the no-fly areas within a distance [m] of a route, with their names."""
        return [(a, n) for a, n in zip(self.areas, self.names, strict=True) if route.distance(a) < reach_m]


def _without(areas: Sequence[Prepared], start: Endpoint, end: Endpoint) -> tuple[int, ...]:
    """Give the numbers of the areas that neither place lies in, their outlines included."""
    return tuple(i for i, one in enumerate(areas) if not (one.reaches(start.point) or one.reaches(end.point)))


def closures_in_force(region: Region, weather: Weather) -> tuple[Closure, ...]:
    """Give the closures that count on the day asked; without a day all count."""
    return tuple(closure for closure in region.closures if closure.in_force(weather.day))


def no_fly_areas(region: Region, weather: Weather, half_width_m: float) -> NoFlyAreas:
    """Give the no-fly areas of a region on the day asked; the last few are kept."""
    closures = closures_in_force(region, weather)
    return _areas.get(
        (region, *closures), (half_width_m,), lambda: NoFlyAreas(closures, region.obstacles, half_width_m)
    )


def search_ground(surface: Corridor, space: Airspace) -> RouteGround | None:
    """Give the ground over which routes are sought in an airspace; the last few are kept."""
    return _grounds.get((surface, space), (), lambda: route_ground(surface, space))
