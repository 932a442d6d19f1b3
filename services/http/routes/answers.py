"""Quick answers over HTTP, none of them kept: the order while a wind is dragged, what can be done at every water."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import JSONResponse

from services.core import answers
from services.core.typed import TypedDay, TypedList
from services.http.dependencies import Ready

router = APIRouter(tags=["rankings"])


@router.post("/answers")
def quick_answer(question: TypedList, workspace: Ready) -> JSONResponse:
    """The order of a ranking and nothing beside it: not kept, no certainty, no criteria of what is left out."""
    return JSONResponse(answers.quick_answer(workspace, question))


@router.post("/today")
def today(question: TypedDay, workspace: Ready) -> dict[str, Any]:
    """The verdict of every water for every fill method of an aircraft, in the day's weather; no fire is needed."""
    return answers.verdicts(workspace, question)
