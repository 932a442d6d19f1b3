"""Levels and closures of the day over HTTP: they count for the next question; only a water with another level is
surveyed anew."""

from contextlib import suppress
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Query, Request, Response
from pydantic import BaseModel, ConfigDict, Field

from services.core.day_log import DayLog
from services.core.day_rows import CLOSURE_COLUMNS, LEVEL_COLUMNS, MOST_ROWS, csv_rows
from services.errors import NotSurveyed
from services.http.dependencies import RawBody, up_to_date
from services.http.rights import READERS, Planner

router = APIRouter(tags=["levels and closures of the day"])
BODY = "request body"
CSV = {"requestBody": {"required": True, "content": {"text/csv": {"schema": {"type": "string"}}}}}
Text = Annotated[str, Field(max_length=400)]


class Sent(BaseModel):
    """What a client sends; a name that nobody answers to is refused."""

    model_config = ConfigDict(extra="forbid", populate_by_name=True)


class LevelRow(Sent):
    """A level that was read."""

    body: Text = Field(description="the water's id, or its name where only one has it", examples=["W04"])
    level: Text = Field(description="elevation of the surface: metres, or feet", examples=["58.8", "193ft"])
    read_at: Text = Field(description="moment with its zone", examples=["2026-01-31T06:00Z"])
    until: Text = Field(default="", description="until when it counts; a tide needs it")


class LevelRows(Sent):
    """Levels that were read, kept all or none."""

    levels: list[LevelRow] = Field(min_length=1, max_length=MOST_ROWS)


class ClosureRow(Sent):
    """A closed area: a whole water, a circle, or a GeoJSON outline."""

    id: Text
    kind: Text = Field(description="no filling or no flying")
    reason: Text
    name: Text = ""
    from_: Text = Field(default="", alias="from", description="first day, YYYY-MM-DD")
    to: Text = Field(default="", description="last day")
    body: Text = Field(default="", description="the water's id or name")
    longitude: Text = ""
    latitude: Text = ""
    radius: Text = Field(default="", description="with its unit", examples=["500m"])
    outline: Annotated[str, Field(max_length=500_000)] = Field(
        default="", description="GeoJSON Polygon or MultiPolygon as text"
    )


class ClosureRows(Sent):
    """Closures of the day, kept all or none."""

    closures: list[ClosureRow] = Field(min_length=1, max_length=MOST_ROWS)


class LevelKept(BaseModel):
    """The latest reading of a water; counts is false where it has expired and the present level is unknown."""

    body_id: str
    name: str | None
    level_m: float
    read_at: str
    until: str | None
    counts: bool
    origin: str


class ClosureKept(BaseModel):
    """A closure that is kept beside those of the region's files."""

    model_config = ConfigDict(populate_by_name=True)

    id: str
    name: str
    kind: str
    reason: str
    from_: str | None = Field(alias="from")
    to: str | None
    body: str | None
    origin: str


def day_log_of(request: Request) -> DayLog:
    """The levels and closures of the region that this process answers for."""
    workspace = request.app.state.workspace

    def changed() -> None:
        # Before the first survey nothing answers yet: what is kept counts when it has been made.
        with suppress(NotSurveyed):
            up_to_date(request.app)

    return DayLog(workspace.files, workspace.store, changed)


KeptDay = Annotated[DayLog, Depends(day_log_of)]
Instead = Annotated[bool, Query(description="take the place of all that are kept")]


@router.get("/levels", dependencies=[READERS], response_model=list[LevelKept])
def list_levels(kept: KeptDay) -> Any:
    """The latest reading of each water."""
    return kept.levels()


@router.post("/levels", response_model=list[LevelKept])
def put_levels(rows: LevelRows, kept: KeptDay, who: Planner) -> Any:
    """Keep levels that were read; answered when the waters with another level are surveyed anew."""
    kept.put_levels([(f"levels.{i}", row.model_dump()) for i, row in enumerate(rows.levels)], BODY, who)
    return kept.levels()


@router.post("/levels/csv", response_model=list[LevelKept], openapi_extra=CSV)
def put_levels_csv(table: RawBody, kept: KeptDay, who: Planner) -> Any:
    """The same as a CSV table with the columns body, level, read_at, until."""
    kept.put_levels(csv_rows(table, BODY, LEVEL_COLUMNS), BODY, who)
    return kept.levels()


@router.delete("/levels/{body_id}", status_code=204, response_class=Response)
def withdraw_levels(body_id: Annotated[str, Path(max_length=400)], kept: KeptDay, who: Planner) -> Response:
    """Withdraw the readings of a water: the level of the region's files counts again. They stay in the store."""
    kept.withdraw_levels(body_id, who)
    return Response(status_code=204)


@router.get("/closures", dependencies=[READERS], response_model=list[ClosureKept])
def list_closures(kept: KeptDay) -> Any:
    """The closures that are kept beside those of the files."""
    return kept.closures()


@router.post("/closures", response_model=list[ClosureKept])
def put_closures(rows: ClosureRows, kept: KeptDay, who: Planner, instead: Instead = False) -> Any:
    """Keep closures; one with the id of a kept one takes its place. No survey is needed."""
    given = [(f"closures.{i}", row.model_dump(by_alias=True)) for i, row in enumerate(rows.closures)]
    kept.put_closures(given, BODY, who, instead=instead)
    return kept.closures()


@router.post("/closures/csv", response_model=list[ClosureKept], openapi_extra=CSV)
def put_closures_csv(table: RawBody, kept: KeptDay, who: Planner, instead: Instead = False) -> Any:
    """The same as a CSV table; its columns are those of the JSON form."""
    kept.put_closures(csv_rows(table, BODY, CLOSURE_COLUMNS), BODY, who, instead=instead)
    return kept.closures()


@router.delete("/closures/{closure_id}", status_code=204, response_class=Response)
def withdraw_closure(
    closure_id: Annotated[str, Path(max_length=400)], kept: KeptDay, who: Planner
) -> Response:
    """End a closure. It stays in the store as withdrawn."""
    kept.withdraw_closure(closure_id, who)
    return Response(status_code=204)
