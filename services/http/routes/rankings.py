"""Questions for a source over HTTP: a ranking that is kept, and the quick answers, fleets and nearest that are not."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import JSONResponse

from services.core import answers
from services.core.question import ranking_question, with_levels_of
from services.core.sheets import kept_question
from services.core.typed import TypedFleet, TypedList, TypedNearest, TypedRanking
from services.core.workspace import ask
from services.http.dependencies import Ready
from services.http.rights import ASKING, READERS

router = APIRouter(tags=["rankings"])
NOT_KEPT: dict[int | str, dict[str, Any]] = {
    200: {"description": "Answered, but not kept: ranking_id is null, the first caution says why"}
}


@router.post("/rankings", status_code=201, responses=NOT_KEPT, dependencies=[ASKING])
def make_ranking(question: TypedRanking, workspace: Ready) -> JSONResponse:
    """Rank the sources for a fire. The answer's permanent link is in Location; 200 without one where it is not kept."""
    workspace = with_levels_of(question, workspace)
    answer = ask(workspace, ranking_question(question, workspace))
    body = answer.document | {"ranking_id": answer.ranking_id}
    if answer.ranking_id is None:
        return JSONResponse(body)
    return JSONResponse(body, 201, {"Location": f"/rankings/{answer.ranking_id}"})


@router.get("/rankings/{ranking_id}", dependencies=[READERS])
def find_ranking(ranking_id: str, workspace: Ready) -> dict[str, Any]:
    """What was asked and answered, with the data version."""
    return kept_question(workspace, ranking_id)


@router.post("/answers", dependencies=[ASKING])
def quick_answer(question: TypedList, workspace: Ready) -> JSONResponse:
    """The order of a ranking and nothing beside it: not kept, no certainty, no criteria of what is left out."""
    return JSONResponse(answers.quick_answer(workspace, question))


@router.post("/nearest", dependencies=[ASKING])
def nearest_source(question: TypedNearest, workspace: Ready) -> dict[str, Any]:
    """The usable sources that are reached soonest from a position, and what lies nearer but does not count."""
    return answers.nearest(workspace, question)


@router.post("/fleets", dependencies=[ASKING])
def send_fleet(question: TypedFleet, workspace: Ready) -> dict[str, Any]:
    """Send a mixed fleet to the sources for the most litres per hour. Nothing is kept."""
    workspace = with_levels_of(question, workspace)
    return workspace.document(answers.fleet(workspace, question))
