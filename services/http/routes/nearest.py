"""The simplest question over HTTP: a position and an aircraft."""

from typing import Any

from fastapi import APIRouter

from services.core import answers
from services.core.typed import TypedNearest
from services.http.dependencies import Ready

router = APIRouter(tags=["rankings"])


@router.post("/nearest")
def nearest_source(question: TypedNearest, workspace: Ready) -> dict[str, Any]:
    """The usable sources that are reached soonest from a position, and what lies nearer but does not count."""
    return answers.nearest(workspace, question)
