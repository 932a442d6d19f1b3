"""Which water suits which way of filling on one day: each judged once, at the first need."""

from geo.base.recent import Recent
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import SourceConditions, Weather
from geo.records.region import AnnotatedSite, Region
from geo.records.site_status import sites_on
from geo.records.suitability import BodyAssessment
from geo.records.survey import RegionSurvey
from geo.search.flown_legs import closures_in_force, conditions_at
from geo.search.rate_bounds import RateBounds
from geo.suitability.assess import assess_body

_prospects: Recent[RateBounds] = Recent(6)
_judges: Recent["AssessmentCache"] = Recent(6)


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
        self._kept: dict[int, tuple[BodyAssessment, SourceConditions]] = {}

    def __call__(self, index: int) -> tuple[BodyAssessment, SourceConditions]:
        """Give the assessment of a water, by its place in the survey, and the air there."""
        if index not in self._kept:
            body, water = self.rate_bounds.bodies[index], self.rate_bounds.waters[index]
            air = conditions_at(body, self._region, self._profile, self._weather, water)
            # Those that name no water may lie in this one.
            noted = (*self._noted.get(body.body_id, ()), *self._noted.get(None, ()))
            judged = assess_body(body, water, self._profile, air, self._closures, noted)
            self._kept[index] = judged, air
        return self._kept[index]


def assessments_of(
    region: Region, survey: RegionSurvey, profile: AircraftProfile, weather: Weather
) -> AssessmentCache:
    """Give the assessments of a survey, an aircraft and a weather; the last few are kept."""
    rate_bounds = _prospects.get((region, survey), (profile,), lambda: RateBounds(region, survey, profile))
    return _judges.get(
        (region, survey), (profile, weather), lambda: AssessmentCache(region, rate_bounds, profile, weather)
    )
