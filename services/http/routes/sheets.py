"""Sheets over HTTP: one page of PDF for a water, one for a kept ranking."""

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Response

from services.core import quantities
from services.core.sheets import ranking_sheet, water_sheet
from services.core.views import surveyed_water
from services.http.dependencies import Ready
from services.http.rights import READERS

PDF = "application/pdf"
_DOCUMENTED: dict[int | str, dict[str, Any]] = {
    200: {"description": "one page", "content": {PDF: {"schema": {"type": "string", "format": "binary"}}}}
}
router = APIRouter(tags=["sheets"], dependencies=[READERS])
Paper = Annotated[Literal["A4", "Letter"], Query(description="size of the page")]
Units = Annotated[Literal["trade", "si", "us"], Query(description="units of the figures")]


def _pdf(content: bytes, name: str) -> Response:
    return Response(
        content,
        media_type=PDF,
        headers={"Content-Disposition": f'inline; filename="{name}.pdf"', "Cache-Control": "no-cache"},
    )


@router.get("/water-bodies/{body_id}/sheet.pdf", response_class=Response, responses=_DOCUMENTED)
def sheet_of_water(
    body_id: str,
    workspace: Ready,
    paper: Paper = "A4",
    units: Units = "trade",
    day: Annotated[
        str | None, Query(description="day for closures and magnetic headings, YYYY-MM-DD")
    ] = None,
) -> Response:
    """The sheet of one water body: map, run with both ends, hover point, depth, wires, permission, cautions."""
    record = surveyed_water(workspace, body_id)
    asked = None if day is None else quantities.day(day)
    return _pdf(water_sheet(workspace, record, paper, units, asked), "water")


@router.get("/rankings/{ranking_id}/sheet.pdf", response_class=Response, responses=_DOCUMENTED)
def sheet_of_ranking(
    ranking_id: str, workspace: Ready, paper: Paper = "A4", units: Units = "trade"
) -> Response:
    """The sheet of a kept ranking: its figures as they were answered, with what changed since said on it."""
    return _pdf(ranking_sheet(workspace, ranking_id, paper, units), "ranking")
