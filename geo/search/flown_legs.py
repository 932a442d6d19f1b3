"""What one ranking flies: the air at each source, and the legs from each fill to the fire and back.

Joins flight to suitability and ranking for `geo/pipeline.py`, of which it is the second page.
"""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import shapely

from geo.base.errors import BadArgument, NotFlyable
from geo.base.grid import Grid
from geo.base.prepared import Prepared
from geo.base.recent import Recent
from geo.flight import atmosphere, performance
from geo.flight.legs.best_leg import LegCache, grid_bearing_deg
from geo.flight.legs.climb_rate import climb_clock
from geo.flight.legs.corridor import Corridor, corridor
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.side_view import side_of
from geo.flight.winds import winds_of
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import SourceConditions, Weather
from geo.records.flight import Leg, LegSide
from geo.records.ranking import Candidate, RankedSource
from geo.records.region import Base, Closure, Fire, Region, WaterBody
from geo.records.suitability import MethodAssessment
from geo.records.survey import BodySurvey, RegionSurvey
from geo.search.no_fly_areas import closed_air


def conditions_at(
    body: BodySurvey, region: Region, profile: AircraftProfile, weather: Weather, water: WaterBody
) -> SourceConditions:
    """Give the air at one source: temperature and density altitude at its level, what can be lifted there."""
    elevation = body.surface_elevation_m.value
    middle = water.polygon.representative_point()
    wind_grid = grid_bearing_deg(region.frame.crs_wkt, (middle.x, middle.y), weather.wind_from_true_deg)
    salinity = water.salinity.practical_salinity if water.salinity is not None else None
    density = performance.water_density_kg_l(body.salinity_class, salinity)
    if elevation is None:
        reason = f"elevation of the water unknown: {body.surface_elevation_m.origin}"
        return SourceConditions(
            None,
            None,
            None,
            None,
            weather.wind_from_true_deg,
            wind_grid,
            weather.wind_ms,
            None,
            density,
            reason,
        )
    temperature = atmosphere.temperature_at_c(weather.oat_c, weather.station_elevation_m, elevation)
    pressure_altitude = atmosphere.pressure_altitude_m(elevation, weather.qnh_hpa)
    density_altitude = atmosphere.density_altitude_m(pressure_altitude, temperature)
    return SourceConditions(
        elevation,
        pressure_altitude,
        density_altitude,
        temperature,
        weather.wind_from_true_deg,
        wind_grid,
        weather.wind_ms,
        performance.liftable_kg(profile.hover_payload, density_altitude),
        density,
        f"{temperature:.1f} degC and density altitude {density_altitude:,.0f} m at {elevation:,.0f} m",
    )


def closures_in_force(region: Region, weather: Weather) -> tuple[Closure, ...]:
    """Give the closures that count on the day asked; without a day all count."""
    return tuple(closure for closure in region.closures if closure.in_force(weather.day))


@lru_cache(maxsize=8)
def _corridor_of(region: Region, levels_m: tuple[float | None, ...], half_width_m: float) -> Corridor:
    # Region compares by identity, so this keeps one prepared surface per loaded region, water levels and half-width.
    return corridor(_terrain_with_water(region, levels_m), half_width_m, region.obstacles)


def _surface(region: Region, survey: RegionSurvey, half_width_m: float) -> Corridor:
    levels = {body.body_id: body.surface_elevation_m.value for body in survey.bodies}
    return _corridor_of(region, tuple(levels.get(body.body_id) for body in region.bodies), half_width_m)


# By survey, because to compare the levels of a hundred thousand waters takes a noticeable part of a question.
_surfaces: Recent[Corridor] = Recent(8)


def _terrain_with_water(region: Region, levels_m: tuple[float | None, ...]) -> Grid | None:
    """Give the terrain with its holes over known water filled at the water's level; other holes stay unknown.

    Parameters: levels_m, one surface elevation per body of the region [m], None where it is unknown.
    """
    grid = region.flown_terrain
    if grid is None or not np.isnan(grid.values).any():
        return grid
    row, column = np.nonzero(np.isnan(grid.values))
    easting = grid.west_m + (column + 0.5) * grid.cell_east_m
    northing = grid.north_m - (row + 0.5) * grid.cell_north_m
    values = grid.values.copy()
    for body, level in zip(region.bodies, levels_m, strict=True):
        if level is not None:
            held = shapely.contains_xy(body.polygon, easting, northing)
            values[row[held], column[held]] = level
    return replace(grid, values=values)


class FlightContext:
    """What every leg of one ranking shares: terrain corridor, closed air, wind, aircraft."""

    def __init__(
        self, region: Region, survey: RegionSurvey, profile: AircraftProfile, weather: Weather
    ) -> None:
        half_width_m = profile.corridor_half_width_m
        self.closed = closed_air(region, closures_in_force(region, weather), half_width_m)
        self.surface = _surfaces.get(
            (region, survey), (half_width_m,), lambda: _surface(region, survey, half_width_m)
        )
        self.clearance_m = profile.ground_clearance_m + region.counted_terrain_error_m
        self.region, self.profile, self.weather = region, profile, weather
        self.winds = winds_of(weather)
        self.book = LegCache(self.surface, region.frame.crs_wkt)
        self._states = {loaded: self._state(loaded) for loaded in (True, False)}

    def _state(self, loaded: bool) -> FlightState:
        profile, weather = self.profile, self.weather
        clock = climb_clock(
            profile.climb_loaded_ms if loaded else profile.climb_empty_ms,
            profile.ceiling_m,
            weather.oat_c,
            weather.station_elevation_m,
            weather.qnh_hpa,
        )
        return FlightState(
            profile.cruise_loaded_ms if loaded else profile.cruise_empty_ms,
            profile.climb_speed_loaded_ms if loaded else profile.climb_speed_empty_ms,
            clock,
            profile.descent_ms,
            self.clearance_m,
            profile.corridor_half_width_m,
            min(profile.ceiling_m, clock.top_m),
            weather.wind_from_true_deg,
            weather.wind_ms,
            winds=self.winds,
        )

    @property
    def greatest_wind_ms(self) -> float:
        """A wind speed [m/s] that no leg meets exceeded: what a bound on times must count from behind."""
        return self._states[True].greatest_wind_ms

    def state(self, *, loaded: bool) -> FlightState:
        """Give the aircraft in the day's air, loaded or empty; its climb falls with density altitude."""
        return self._states[loaded]

    def fly(
        self, start: shapely.Point, start_m: float, end: shapely.Point, end_m: float, *, loaded: bool
    ) -> Leg:
        """Fly one leg, loaded or empty.

        Raises: NotFlyable with the reason and the place.
        """
        closed = self.closed.between(start, end)
        return self.book.fly(start, start_m, end, end_m, self._states[loaded], closed)


@lru_cache(maxsize=8)
def _waters_by_place(region: Region) -> shapely.STRtree:
    # Region compares by identity, so one tree is kept per loaded region.
    return shapely.STRtree([body.polygon for body in region.bodies])


def waters_meeting(region: Region, shape: shapely.Geometry) -> list[shapely.Polygon]:
    """Give the outlines of the waters that a shape meets, in the region's order."""
    found = _waters_by_place(region).query(shape, predicate="intersects")
    return [region.bodies[index].polygon for index in sorted(found.tolist())]


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


def ground_m(region: Region, point: shapely.Point, what: str) -> float:
    """Give the height of the ground [m] under a place.

    Raises: BadArgument where the terrain does not reach or is unknown; it is never taken as 0.
    """
    height = np.nan if region.terrain is None else float(region.terrain.bilinear(point.x, point.y))
    if not np.isfinite(height):
        raise BadArgument(
            f"{what} lies where the terrain does not reach or has a hole, so its height and the way to it are unknown. "
            "Fix: give a terrain file that covers it"
        )
    return height


def with_legs(
    context: FlightContext, burning: Prepared, one: Candidate, drop: shapely.Point, drop_m: float
) -> Candidate:
    """Fly both legs of one usable method, straight or round closed air: from the run's far end, back to its near end.

    `geo/search/terrain_routes.py` then looks for quicker ways round high ground.

    Of the method's runs (the best one and its alternatives, all with the same load) the one with the shortest way out
    and back for this fire is kept, and its assessment with it. Where there is none, `leg_problem` says why.
    """
    method, air = one.assessment, one.conditions
    if method.verdict != "usable" or method.fill_point is None:
        return one
    if air.elevation_m is None:
        return replace(one, leg_problem=air.reason)
    flown: tuple[MethodAssessment, Leg, Leg] | None = None
    problem = ""
    for run in sorted((method, *method.alternatives), key=lambda m: least_s(context, m, drop)):
        if flown is not None and least_s(context, run, drop) >= flown[1].time_s + flown[2].time_s:
            break
        if in_fire(run, burning):
            problem = problem or "the filling place lies inside the fire's outline"
            continue
        near, far = ends(run)
        try:
            loaded = context.fly(far, air.elevation_m, drop, drop_m, loaded=True)
            empty = context.fly(drop, drop_m, near, air.elevation_m, loaded=False)
        except NotFlyable as reason:
            problem = problem or str(reason)
            continue
        if flown is None or loaded.time_s + empty.time_s < flown[1].time_s + flown[2].time_s:
            flown = run, loaded, empty
    if flown is None:
        return replace(one, leg_problem=problem)
    best = replace(flown[0], alternatives=())
    return replace(one, assessment=best, loaded_leg=flown[1], empty_leg=flown[2])


def with_transits(context: FlightContext, one: Candidate, drop: shapely.Point, drop_m: float) -> Candidate:
    """Give a candidate that has legs with its ways from and to the base too, straight or round closed air.

    They decide whether a source is in reach and what a tank of fuel delivers, not its rate.
    """
    base, height_m = context.region.base, one.conditions.elevation_m
    if base is None or one.loaded_leg is None or height_m is None:
        return one
    base_m = ground_m(context.region, base.point, f"base {base.name}")
    near, _ = ends(one.assessment)
    try:
        return replace(
            one,
            transit_to=context.fly(base.point, base_m, near, height_m, loaded=False),
            transit_from=context.fly(drop, drop_m, base.point, base_m, loaded=False),
        )
    except NotFlyable as reason:
        return without_legs(one, f"{way_of_base(base)}: {reason}")


def way_of_base(base: Base) -> str:
    """Say of which way a refusal speaks."""
    return f"the way from or to the base {base.name}"


def without_legs(one: Candidate, why: str) -> Candidate:
    """Give a candidate that cannot be flown, with the reason."""
    return replace(one, loaded_leg=None, empty_leg=None, transit_to=None, transit_from=None, leg_problem=why)


def in_fire(method: MethodAssessment, burning: Prepared) -> bool:
    """True when the filling place or the run meets the fire's outline."""
    place = method.run_line if method.run_line is not None else method.fill_point
    return bool(burning.intersects(place))


def ends(method: MethodAssessment) -> tuple[shapely.Point, shapely.Point]:
    """Give where the aircraft comes down and where it lifts off."""
    if method.run_line is None:
        return method.fill_point, method.fill_point  # type: ignore[return-value]
    return shapely.Point(method.run_line.coords[0]), shapely.Point(method.run_line.coords[-1])


def least_s(context: FlightContext, method: MethodAssessment, drop: shapely.Point) -> float:
    """Give a time [s] that no flight out and back can beat: the straight line with the whole wind from behind.

    Half a per cent is left for the difference between the plane and the ellipsoid.
    """
    near, far = ends(method)
    loaded_ms, empty_ms = context.profile.cruise_loaded_ms, context.profile.cruise_empty_ms
    return 0.995 * (
        far.distance(drop) / (loaded_ms + context.greatest_wind_ms)
        + near.distance(drop) / (empty_ms + context.greatest_wind_ms)
    )


def cycle_sides(context: FlightContext, source: RankedSource) -> tuple[LegSide, LegSide]:
    """Give the loaded and the empty leg of a ranked source seen from the side.

    Raises: BadArgument where the source's level or the drop's height is unknown.
    """
    loaded, empty = source.cycle.loaded_leg, source.cycle.empty_leg
    water_m = source.conditions.elevation_m
    if water_m is None or loaded.descent is None:
        raise BadArgument(
            f"{source.name}: its level or the height of the drop is unknown, so no side can be drawn"
        )
    drop_m, crs_wkt = loaded.descent.to_m, context.region.frame.crs_wkt
    return (
        side_of(loaded, context.surface, context.state(loaded=True), (water_m, drop_m), crs_wkt),
        side_of(empty, context.surface, context.state(loaded=False), (drop_m, water_m), crs_wkt),
    )
