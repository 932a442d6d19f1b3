"""The one question of a ranking, whole: from the command line, the service, a page or another program alike."""

from dataclasses import dataclass, field
from datetime import date

from geo.records.aircraft import AircraftProfile
from geo.records.conditions import Weather
from geo.records.extras import ExtrasRequest, Target
from geo.records.region import Fire, Region
from geo.records.survey import RegionSurvey


@dataclass(frozen=True, eq=False)
class RankingQuestion:
    """Which sources of a surveyed region serve a fire best, for an aircraft in the day's weather.

    extras: where loads are dropped, and what is answered beside the order; top: how many sources are listed, None for
    all of them.
    """

    region: Region
    survey: RegionSurvey
    fire: Fire
    aircraft: AircraftProfile
    weather: Weather
    extras: ExtrasRequest = field(default_factory=ExtrasRequest)
    top: int | None = None

    @property
    def target(self) -> Target:
        """Where loads are counted as dropped."""
        return self.extras.target

    @property
    def hours(self) -> float | None:
        """Over how long the water is wanted [h]; None: one fuel cycle with refuelling."""
        return self.extras.hours

    @property
    def day(self) -> date | None:
        """The day for which closures, sites and daylight hold; None: no day was asked for."""
        return self.weather.day
