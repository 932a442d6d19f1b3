"""What can be asked over HTTP. Quantities are typed as on the command line, with units."""

from datetime import date
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from geo import pipeline
from geo.records.conditions import Weather
from geo.records.extras import ExtrasRequest
from geo.records.region import Region
from services.core import quantities


class DayQuestion(BaseModel):
    """The day's weather."""

    model_config = ConfigDict(extra="forbid", strict=True)

    wind: str = Field(description="where it blows from [deg true] / speed", examples=["300/18kt"])
    oat: str = Field(description="outside air temperature with unit", examples=["34C"])
    qnh: str = Field(description="pressure at sea level", examples=["1009"])
    station_elevation: str = Field(
        default="0m", description="where the temperature was read", examples=["120m"]
    )
    day: str | None = Field(default=None, description="date for closures, YYYY-MM-DD")


# Other levels of today: each is surveyed apart, so that only so many may be asked for at once.
Levels = Annotated[
    list[str],
    Field(
        max_length=50,
        description="other levels of waters today: id or name, =, metres or feet",
        examples=[["W04=58.8", "W05=696ft"]],
    ),
]
Aircraft = Annotated[str, Field(description="built-in aircraft profile")]
USUAL_AIRCRAFT = "heavy_tank_helicopter"


class TodayQuestion(DayQuestion):
    """What can be done at every water: an aircraft and the weather, without a fire."""

    aircraft: Aircraft = USUAL_AIRCRAFT


class FireQuestion(DayQuestion):
    """A fire, and the weather of the waters and of the legs."""

    fire: str | dict[str, Any] = Field(
        description="id or name of a fire of the region, or a GeoJSON Polygon, MultiPolygon, Point or Feature"
    )
    target: str | dict[str, Any] = Field(
        default="centroid", description="centroid, edge, or a GeoJSON LineString of the active flank"
    )
    wind_profile: str | None = Field(
        default=None,
        description="wind of the legs by height; `wind` then holds at the waters",
        examples=["power:0.14", "sea:3000ft=300/20kt,6000ft=310/30kt"],
    )
    wind_field: dict[str, Any] | None = Field(
        default=None,
        description="wind of the legs by place: longitude_deg, latitude_deg, and rows u_ms, v_ms towards east, north",
    )

    def weather(self, region: Region) -> Weather:
        """The day's weather, in the region's plane where a wind field is sent."""
        texts = self.wind, self.oat, self.qnh, self.station_elevation, self.day, self.wind_profile
        weather = quantities.weather(*texts)
        if self.wind_field is not None:
            weather = pipeline.in_wind_field(weather, self.wind_field, region)
        return weather


class QuickQuestion(FireQuestion):
    """The order alone: a fire, an aircraft, the weather."""

    aircraft: Aircraft = USUAL_AIRCRAFT
    top: int | None = Field(default=None, ge=1, le=1000, description="how many sources to list")


class RankingQuestion(QuickQuestion):
    """What is asked: a fire, an aircraft, the weather, and what is answered beside the order."""

    line: str | None = Field(default=None, description="length of a line to be covered", examples=["400m"])
    width: str | None = Field(default=None, description="its width", examples=["18m"])
    coverage: float | None = Field(
        default=None, gt=0.0, description="its level, US gallons per 100 square feet"
    )
    fuel_model: str | None = Field(
        default=None, description="instead of the level: fuel model", examples=["10"]
    )
    time: str | None = Field(default=None, description="time on the day with its zone", examples=["15:30Z"])
    perimeter: bool = Field(default=False, description="split the fire's edge by its best source")
    levels: Levels = []

    def asked(self, region: Region, day: date | None) -> ExtrasRequest:
        """What to answer beside the order."""
        return ExtrasRequest(
            line=quantities.asked_line(self.line, self.width, self.coverage, self.fuel_model),
            at=None if self.time is None else quantities.clock_time(self.time, day),
            perimeter=self.perimeter,
            target=pipeline.target(self.target, region),
        )


class FleetQuestion(FireQuestion):
    """A mixed fleet for a fire."""

    aircraft: str = Field(
        description="built-in profiles with counts",
        examples=["heavy_tank_helicopter*2,light_bucket_helicopter"],
    )
    slots: int = Field(default=2, ge=1, le=50, description="aircraft that may work one source")
    hours: float = Field(default=1.0, gt=0.0, le=48.0, description="how long small waters must last")
    levels: Levels = []
