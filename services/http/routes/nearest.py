"""The simplest question over HTTP: a position and an aircraft."""

from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from geo import pipeline
from geo.ingest.layers.aircraft import built_in_profile
from geo.records.document import document
from services.core import quantities
from services.http.dependencies import Ready

router = APIRouter(tags=["rankings"])
# Without the day's weather a hot day without wind is assumed: heat costs lift, so that the load is not said too high.
HOT_DAY = {"wind": "0/0kt", "oat": "35C", "qnh": "1013.25"}


class NearestQuestion(BaseModel):
    """Where the aircraft is and which one. The weather may be left out; what is then assumed stands in the answer."""

    model_config = ConfigDict(extra="forbid", strict=True)

    longitude_deg: Annotated[float, Field(ge=-180.0, le=180.0, description="WGS 84, east positive")]
    latitude_deg: Annotated[float, Field(ge=-90.0, le=90.0, description="WGS 84, north positive")]
    aircraft: str = Field(description="built-in aircraft profile", examples=["heavy_tank_helicopter"])
    wind: str | None = Field(
        default=None, description="where it blows from [deg true] / speed", examples=["300/18kt"]
    )
    oat: str | None = Field(default=None, description="outside air temperature with unit", examples=["34C"])
    qnh: str | None = Field(default=None, description="pressure at sea level", examples=["1009"])
    station_elevation: str = Field(default="0m", description="where the temperature was read")
    day: str | None = Field(default=None, description="date for closures, YYYY-MM-DD")
    top: int = Field(default=3, ge=1, le=100, description="how many sources to list")

    def assumed(self) -> dict[str, str]:
        """What was left out and is assumed instead."""
        return {name: text for name, text in HOT_DAY.items() if getattr(self, name) is None}


@router.post("/nearest")
def nearest_source(question: NearestQuestion, workspace: Ready) -> dict[str, Any]:
    """The usable sources that are reached soonest from a position, and what lies nearer but does not count."""
    assumed = question.assumed()
    told = {name: getattr(question, name) or text for name, text in HOT_DAY.items()}
    weather = quantities.weather(
        told["wind"], told["oat"], told["qnh"], question.station_elevation, question.day
    )
    found = pipeline.nearest(
        workspace.region,
        workspace.survey,
        (question.longitude_deg, question.latitude_deg),
        built_in_profile(question.aircraft),
        weather,
        top=question.top,
    )
    answer = document(found, workspace.region.frame)
    assert isinstance(answer, dict)
    return answer | {"weather_assumed": assumed, "data_version": workspace.survey_key}
