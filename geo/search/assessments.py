"""Which water suits which method of filling on one day: each assessed once, at the first need."""

from dataclasses import replace

from geo.base.recent import Recent
from geo.flight import atmosphere, performance
from geo.flight.legs.best_leg import grid_bearing_deg
from geo.flight.legs.climb_rate import climb_gradient
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import SourceConditions, Weather
from geo.records.region import AnnotatedSite, Region, WaterBody
from geo.records.site_status import sites_on
from geo.records.suitability import BodyAssessment
from geo.records.survey import BodySurvey, RegionSurvey
from geo.search.no_fly_areas import closures_in_force
from geo.search.rate_bounds import RateBounds, density_kg_l
from geo.suitability.assess import assess_body

# Rankings, fleets and pages ask about the same survey one after another: so many aircraft and weathers are kept.
_bounds: Recent[RateBounds] = Recent(6)
_assessments: Recent["AssessmentCache"] = Recent(6)


def conditions_at(
    body: BodySurvey, region: Region, profile: AircraftProfile, weather: Weather, water: WaterBody
) -> SourceConditions:
    """Give the air at one source: temperature and density altitude at its level, the hover payload there."""
    level = body.surface_elevation_m
    middle = water.polygon.representative_point()
    from_true_deg, wind_ms = weather.wind_from_true_deg, weather.wind_ms
    from_grid_deg = grid_bearing_deg(region.frame.crs_wkt, (middle.x, middle.y), from_true_deg)
    wind, density = (from_true_deg, from_grid_deg, wind_ms), density_kg_l(body, water)
    if level.value is None:
        reason = f"elevation of the water unknown: {level.origin}"
        return SourceConditions(None, None, None, None, *wind, None, density, reason)
    elevation = level.value
    temperature = float(atmosphere.temperature_at_c(weather.oat_c, weather.station_elevation_m, elevation))
    pressure_altitude = float(atmosphere.pressure_altitude_m(elevation, weather.qnh_hpa))
    density_altitude = float(atmosphere.density_altitude_m(pressure_altitude, temperature))
    lift = performance.weigh(profile, density_altitude)
    reason = f"{temperature:.1f} degC and density altitude {density_altitude:,.0f} m at {elevation:,.0f} m"
    heights = (elevation, pressure_altitude, density_altitude)
    gradients = (
        climb_gradient(rate_ms, profile.ceiling_m, speed_ms, density_altitude)
        for rate_ms, speed_ms in (
            (profile.climb_loaded_ms, profile.climb_speed_loaded_ms),
            (profile.climb_empty_ms, profile.climb_speed_empty_ms),
        )
    )
    loaded, empty = gradients
    plain = SourceConditions(
        *heights, temperature, *wind, float(lift.hover_kg), density, reason, loaded, empty
    )
    return replace(
        plain,
        scoop_kg=float(lift.scoop_kg),
        scoop_by=lift.scoop_by,
        gross_kg=lift.gross_kg,
        gross_by=lift.gross_by,
        fuel_gain_kg_l=lift.gain_kg_l,
        weight_notes=lift.notes,
    )


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
        return assess_body(body, water, self._profile, air, self._closures, noted), air


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
