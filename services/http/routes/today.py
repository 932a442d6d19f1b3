"""What can be done at every water in the day's weather, over HTTP; no fire is needed and nothing is kept."""

from typing import Any

from fastapi import APIRouter

from services.core import answers
from services.core.typed import TypedDay
from services.http.dependencies import Ready
from services.http.rights import ASKING

router = APIRouter(tags=["rankings"], dependencies=[ASKING])


@router.post("/today")
def today(question: TypedDay, workspace: Ready) -> dict[str, Any]:
    """The verdict of every water for every fill method of an aircraft, in the day's weather; no fire is needed."""
    return answers.verdicts(workspace, question)
