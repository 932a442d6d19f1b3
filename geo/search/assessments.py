"""Which water suits which method of filling on one day: each assessed once, at the first need."""

from dataclasses import replace

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.base.geodesy import to_degrees
from geo.base.positions import magnetic_variation_deg
from geo.base.recent import Recent
from geo.flight import atmosphere, performance
from geo.flight.legs.best_leg import grid_bearing_deg
from geo.flight.legs.climb_rate import climb_gradient
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import SourceConditions, Weather
from geo.records.geometry import PointM
from geo.records.region import AnnotatedSite, Obstacle, Region, WaterBody
from geo.records.site_status import sites_on
from geo.records.suitability import BodyAssessment
from geo.records.survey import BodySurvey, Measure, RegionSurvey
from geo.search.no_fly_areas import closures_in_force
from geo.search.rate_bounds import RateBounds, density_kg_l
from geo.suitability.assess import assess_body
from geo.suitability.near_obstacles import NEAR_M

# Rankings, fleets and pages ask about the same survey one after another: so many aircraft and weathers are kept.
_bounds: Recent[RateBounds] = Recent(6)
_assessments: Recent["AssessmentCache"] = Recent(6)
_obstacles: Recent[shapely.STRtree] = Recent(6)


def conditions_at(
    body: BodySurvey, region: Region, profile: AircraftProfile, weather: Weather, water: WaterBody
) -> SourceConditions:
    """Give the air at one water: temperature and density altitude at its level, what can be lifted there, and the
    magnetic variation on the day."""
    middle = water.polygon.representative_point()
    return air_at(middle, body.surface_elevation_m, density_kg_l(body, water), region, profile, weather)


def air_at(
    middle: PointM,
    level: Measure,
    density: float,
    region: Region,
    profile: AircraftProfile,
    weather: Weather,
) -> SourceConditions:
    """Give the air at one place [plane m] and level [m], for a load of a density [kg/L]."""
    air = _air_at(middle, level, density, region, profile, weather)
    variation_deg = _variation_deg(region, weather, middle, air.elevation_m)
    return replace(
        air, variation_deg=variation_deg, gust_ms=weather.gust_ms, wind_variable=weather.wind_variable
    )


def _variation_deg(
    region: Region, weather: Weather, place: PointM, elevation_m: float | None
) -> float | None:
    """Give the magnetic variation [deg] at a place on the day, None where no model holds."""
    longitude, latitude = to_degrees(region.frame.crs_wkt, np.array([place.x]), np.array([place.y]))
    try:
        return magnetic_variation_deg(
            float(longitude[0]), float(latitude[0]), weather.compass_day, elevation_m
        )
    except BadArgument:
        return None


def _air_at(
    middle: PointM,
    level: Measure,
    density: float,
    region: Region,
    profile: AircraftProfile,
    weather: Weather,
) -> SourceConditions:
    from_true_deg, wind_ms = weather.wind_from_true_deg, weather.wind_ms
    from_grid_deg = grid_bearing_deg(region.frame.crs_wkt, (middle.x, middle.y), from_true_deg)
    wind = from_true_deg, from_grid_deg, wind_ms
    if level.value is None:
        reason = f"elevation of the source unknown: {level.origin}"
        return SourceConditions(None, None, None, None, *wind, None, density, reason)
    elevation = level.value
    temperature = float(atmosphere.temperature_at_c(weather.oat_c, weather.station_elevation_m, elevation))
    pressure_altitude = float(atmosphere.pressure_altitude_m(elevation, weather.qnh_hpa))
    density_altitude = float(atmosphere.density_altitude_m(pressure_altitude, temperature))
    lift = performance.weigh(profile, density_altitude)
    reason = f"{temperature:.1f} degC and density altitude {density_altitude:,.0f} m at {elevation:,.0f} m"
    heights = (elevation, pressure_altitude, density_altitude)
    loaded = climb_gradient(
        profile.climb_loaded_ms, profile.ceiling_m, profile.climb_speed_loaded_ms, density_altitude
    )
    empty = climb_gradient(
        profile.climb_empty_ms, profile.ceiling_m, profile.climb_speed_empty_ms, density_altitude
    )
    hover_kg = float(lift.hover_kg)
    plain = SourceConditions(*heights, temperature, *wind, hover_kg, density, reason, loaded, empty)
    return replace(
        plain,
        scoop_kg=float(lift.scoop_kg),
        scoop_by=lift.scoop_by,
        gross_kg=lift.gross_kg,
        gross_by=lift.gross_by,
        fuel_gain_kg_l=lift.gain_kg_l,
        weight_notes=lift.notes,
    )


def obstacles_near(region: Region, shape: shapely.Geometry) -> tuple[Obstacle, ...]:
    """Give the obstacles within 1 km of a shape, in the region's order."""
    if not region.obstacles:
        return ()
    tree = _obstacles.get((region,), (), lambda: shapely.STRtree([one.shape for one in region.obstacles]))
    found = tree.query(shape, predicate="dwithin", distance=NEAR_M)
    return tuple(region.obstacles[i] for i in sorted(found.tolist()))


class AssessmentCache:
    """The assessments of one survey for one aircraft in one weather, each made once, at the first need."""

    def __init__(
        self, region: Region, rate_bounds: RateBounds, profile: AircraftProfile, weather: Weather
    ) -> None:
        self._region, self._profile, self._weather = region, profile, weather
        self.rate_bounds = rate_bounds
        self._closures = closures_in_force(region, weather)
        self._noted: dict[str | None, list[AnnotatedSite]] = {}
        for site in sites_on(region.sites, weather.day):
            self._noted.setdefault(site.body_id, []).append(site)
        self._made: Recent[tuple[BodyAssessment, SourceConditions]] = Recent()

    def __call__(self, index: int) -> tuple[BodyAssessment, SourceConditions]:
        """Give the assessment of a water, by its place in the survey, and the air there."""
        return self._made.get((), (index,), lambda: self._make(index))

    def _make(self, index: int) -> tuple[BodyAssessment, SourceConditions]:
        body, water = self.rate_bounds.bodies[index], self.rate_bounds.waters[index]
        air = conditions_at(body, self._region, self._profile, self._weather, water)
        # Those that name no water may lie in this one.
        noted = (*self._noted.get(body.body_id, ()), *self._noted.get(None, ()))
        near = obstacles_near(self._region, water.polygon)
        return assess_body(body, water, self._profile, air, self._closures, noted, near), air


def assessments_of(
    region: Region, survey: RegionSurvey, profile: AircraftProfile, weather: Weather
) -> AssessmentCache:
    """Give the assessments of a survey, an aircraft and a weather; the last few are kept."""
    bounds = _bounds.get((region, survey), (profile,), lambda: RateBounds(region, survey, profile))
    return _assessments.get(
        (region, survey), (profile, weather), lambda: AssessmentCache(region, bounds, profile, weather)
    )


def assess(
    region: Region, survey_: RegionSurvey, profile: AircraftProfile, weather: Weather
) -> tuple[tuple[BodyAssessment, SourceConditions], ...]:
    """Judge every water body for every fill method of the aircraft in the day's air.

    Raises: BadArgument for weather out of range.
    """
    assessments = assessments_of(region, survey_, profile, weather)
    return tuple(assessments(index) for index in range(len(survey_.bodies)))
