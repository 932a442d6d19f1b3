"""What one ranking flies: the air at each source, and the legs from each fill to the fire and back.

Joins flight to suitability and ranking for `geo/pipeline.py`, of which it is the second page.
"""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import shapely

from geo.errors import BadArgument, NotFlyable
from geo.flight import atmosphere, performance
from geo.flight.best_leg import best_leg, grid_bearing_deg
from geo.flight.corridor import Corridor, corridor
from geo.flight.ways import Airspace, airspace
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import SourceConditions, Weather
from geo.records.flight import Leg
from geo.records.ranking import Candidate
from geo.records.region import Closure, Fire, Region, WaterBody
from geo.records.suitability import MethodAssessment
from geo.records.survey import BodySurvey


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
def _corridor_of(region: Region, half_width_m: float) -> Corridor:
    # Region compares by identity, so this keeps one prepared surface per loaded region and half-width.
    return corridor(region.terrain, half_width_m, region.obstacles)


class Sky:
    """What every leg of one ranking shares: terrain corridor, closed air, wind, aircraft."""

    def __init__(self, region: Region, profile: AircraftProfile, weather: Weather) -> None:
        closed = [c for c in closures_in_force(region, weather) if c.kind == "no flying"]
        self.closed: Airspace = airspace([c.area for c in closed], [c.name or c.closure_id for c in closed])
        self.surface = _corridor_of(region, profile.corridor_half_width_m)
        self.clearance_m = profile.ground_clearance_m + (region.terrain_error_m or 0.0)
        self.region, self.profile, self.weather = region, profile, weather

    def fly(
        self, start: shapely.Point, start_m: float, end: shapely.Point, end_m: float, *, loaded: bool
    ) -> Leg:
        """Fly one leg, loaded or empty.

        Raises: NotFlyable with the reason and the place.
        """
        profile = self.profile
        return best_leg(
            start,
            end,
            self.region.frame.crs_wkt,
            start_m,
            end_m,
            profile.cruise_loaded_ms if loaded else profile.cruise_empty_ms,
            profile.climb_speed_loaded_ms if loaded else profile.climb_speed_empty_ms,
            profile.climb_loaded_ms if loaded else profile.climb_empty_ms,
            profile.descent_ms,
            self.clearance_m,
            profile.corridor_half_width_m,
            profile.ceiling_m,
            self.surface,
            (),
            self.closed,
            self.weather.wind_from_true_deg,
            self.weather.wind_ms,
        )


def drop_point(fire_: Fire) -> shapely.Point:
    """Give where loads are counted as dropped: the outline's centroid, or a point inside where that lies outside."""
    centroid = fire_.area.centroid
    return centroid if fire_.area.covers(centroid) else fire_.area.representative_point()


def ground_m(region: Region, point: shapely.Point, what: str) -> float:
    """Give the height of the ground [m] under a place.

    Raises: BadArgument where the terrain does not reach or is unknown; it is never taken as 0.
    """
    height = np.nan if region.terrain is None else float(region.terrain.bilinear(point.x, point.y))
    if not np.isfinite(height):
        raise BadArgument(
            f"{what} lies outside the terrain, so its height and the way to it are unknown. "
            "Cure: give a terrain file that covers it, or another fire"
        )
    return height


def candidate(
    sky: Sky,
    body: BodySurvey,
    method: MethodAssessment,
    air: SourceConditions,
    drop: shapely.Point,
    drop_m: float,
) -> Candidate:
    """Fly both legs of one usable method: out from the run's far end, back to its near end."""
    plain = Candidate(body.body_id, body.name, body.kind, method, air, None, None, None, None, None)
    if method.verdict != "usable" or method.fill_point is None:
        return plain
    if air.elevation_m is None:
        return replace(plain, leg_problem=air.reason)
    ends = (method.fill_point, method.fill_point)
    if method.run_line is not None:
        ends = (shapely.Point(method.run_line.coords[0]), shapely.Point(method.run_line.coords[-1]))
    base = sky.region.base
    try:
        loaded = sky.fly(ends[1], air.elevation_m, drop, drop_m, loaded=True)
        empty = sky.fly(drop, drop_m, ends[0], air.elevation_m, loaded=False)
        transit: tuple[Leg | None, Leg | None] = (None, None)
        if base is not None:
            base_m = ground_m(sky.region, base.point, f"base {base.name}")
            transit = (
                sky.fly(base.point, base_m, ends[0], air.elevation_m, loaded=False),
                sky.fly(drop, drop_m, base.point, base_m, loaded=False),
            )
    except NotFlyable as problem:
        return replace(plain, leg_problem=str(problem))
    return replace(plain, loaded_leg=loaded, empty_leg=empty, transit_to=transit[0], transit_from=transit[1])
