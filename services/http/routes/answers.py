"""Quick answers over HTTP, none of them kept: the order while a wind is dragged, what can be done at every water."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import JSONResponse
from pydantic import Field

from geo import pipeline
from geo.ingest.layers.aircraft import built_in_profile
from services.core import quantities
from services.core.page_views import VIEWS
from services.core.questions import QuickQuestion, TodayQuestion
from services.http.dependencies import Ready

router = APIRouter(tags=["rankings"])


class ListQuestion(QuickQuestion):
    """The order alone, or only what a list of it shows."""

    brief: bool = Field(default=False, description="of each source only what a list and a map show of it")


@router.post("/answers")
def quick_answer(question: ListQuestion, workspace: Ready) -> JSONResponse:
    """The order of a ranking and nothing beside it: not kept, no certainty, no criteria of what is left out."""
    return JSONResponse(
        pipeline.quick_answer(
            workspace.region,
            workspace.survey,
            pipeline.fire_asked(question.fire, workspace.region),
            built_in_profile(question.aircraft),
            question.weather(workspace.region),
            top=question.top,
            target=pipeline.target(question.target, workspace.region),
            brief=question.brief,
        )
    )


@router.post("/today")
def today(question: TodayQuestion, workspace: Ready) -> dict[str, Any]:
    """The verdict of every water for every fill method of an aircraft, in the day's weather; no fire is needed."""
    weather = quantities.weather(
        question.wind, question.oat, question.qnh, question.station_elevation, question.day
    )
    profile = built_in_profile(question.aircraft)
    return {
        "survey_version": workspace.survey_key,
        "waters": VIEWS.verdicts(workspace.region, workspace.survey, profile, weather),
    }
