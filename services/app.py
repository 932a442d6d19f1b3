"""The HTTP service: the same pipeline as the command line, one region per process."""

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Depends, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, ConfigDict, Field
from starlette.exceptions import HTTPException

from geo import pipeline
from geo.errors import BadArgument, FetchwaterError
from geo.export.document import document
from geo.ingest.aircraft import built_in_profile
from geo.records.region import Region
from geo.records.supply import Asked
from services import quantities
from services.problems import classify, problem
from services.settings import Settings
from services.store import Store
from services.workspace import Workspace, ask, open_workspace

PROBLEM = "application/problem+json"
GEOJSON = "application/geo+json"
router = APIRouter()


class RankingQuestion(BaseModel):
    """What is asked: a fire, an aircraft, the weather. Quantities are typed as on the command line, with units."""

    model_config = ConfigDict(extra="forbid")

    fire: str | dict[str, Any] = Field(
        description="id or name of a fire of the region, or a GeoJSON Polygon, MultiPolygon or Feature"
    )
    wind: str = Field(description="where it blows from [deg true] / speed", examples=["300/18kt"])
    oat: str = Field(description="outside air temperature with unit", examples=["34C"])
    qnh: str = Field(description="pressure at sea level", examples=["1009"])
    aircraft: str = Field(default="heavy_tank_helicopter", description="built-in aircraft profile")
    station_elevation: str = Field(
        default="0m", description="where the temperature was read", examples=["120m"]
    )
    day: str | None = Field(default=None, description="date for closures, YYYY-MM-DD")
    top: int | None = Field(default=None, ge=1, le=1000, description="how many sources to list")
    line: str | None = Field(default=None, description="length of a line to be covered", examples=["400m"])
    width: str | None = Field(default=None, description="its width", examples=["18m"])
    coverage: float | None = Field(
        default=None, gt=0.0, description="its level, US gallons per 100 square feet"
    )
    fuel_model: str | None = Field(
        default=None, description="instead of the level: fuel model", examples=["10"]
    )
    time: str | None = Field(default=None, description="time on the day with its zone", examples=["15:30Z"])
    target: str | dict[str, Any] = Field(
        default="centroid", description="centroid, edge, or a GeoJSON LineString of the active flank"
    )
    perimeter: bool = Field(default=False, description="split the fire's edge by its best source")

    def asked(self, region: Region, day: date | None) -> Asked:
        """What to answer beside the order."""
        return Asked(
            line=quantities.asked_line(self.line, self.width, self.coverage, self.fuel_model),
            at=None if self.time is None else quantities.clock_time(self.time, day),
            perimeter=self.perimeter,
            target=pipeline.target(self.target, region),
        )


class FleetQuestion(BaseModel):
    """A mixed fleet for a fire. Quantities are typed as on the command line, with units."""

    model_config = ConfigDict(extra="forbid")

    fire: str | dict[str, Any] = Field(description="as for a ranking")
    wind: str = Field(description="where it blows from [deg true] / speed", examples=["300/18kt"])
    oat: str = Field(description="outside air temperature with unit", examples=["34C"])
    qnh: str = Field(description="pressure at sea level", examples=["1009"])
    aircraft: str = Field(
        description="built-in profiles with counts",
        examples=["heavy_tank_helicopter*2,light_bucket_helicopter"],
    )
    station_elevation: str = Field(default="0m", description="where the temperature was read")
    day: str | None = Field(default=None, description="date for closures, YYYY-MM-DD")
    target: str | dict[str, Any] = Field(default="centroid", description="as for a ranking")
    slots: int = Field(default=2, ge=1, le=50, description="aircraft that may work one source")
    hours: float = Field(default=1.0, gt=0.0, le=48.0, description="how long small waters must last")


def workspace_of(request: Request) -> Workspace:
    """The region that this process answers for."""
    return request.app.state.workspace


Ready = Annotated[Workspace, Depends(workspace_of)]


@router.get("/health")
async def health() -> dict[str, str]:
    """Say that the process answers. Touches nothing."""
    return {"status": "ok"}


@router.get("/region")
def region_summary(workspace: Ready) -> dict[str, Any]:
    """What the region holds: counts, datum, data version, fires, aircraft, cautions."""
    return pipeline.summary(workspace.region) | {"survey_version": workspace.survey_key}


@router.get("/water-bodies", response_class=JSONResponse)
def water_bodies(workspace: Ready) -> JSONResponse:
    """All surveyed water bodies as a GeoJSON FeatureCollection (RFC 7946)."""
    return JSONResponse(pipeline.water_features(workspace.region, workspace.survey), media_type=GEOJSON)


@router.get("/water-bodies/{body_id}")
def water_body(body_id: str, workspace: Ready) -> dict[str, Any]:
    """The whole survey of one water body."""
    for body in workspace.survey.bodies:
        if body.body_id == body_id:
            return document(body, workspace.region.frame)  # type: ignore[return-value]
    raise HTTPException(404, f"no water body {body_id!r}; /water-bodies lists them")


@router.post("/rankings", status_code=201)
def make_ranking(question: RankingQuestion, workspace: Ready) -> JSONResponse:
    """Rank the sources for a fire. The answer carries its permanent link in Location."""
    weather = quantities.weather(
        question.wind, question.oat, question.qnh, question.station_elevation, question.day
    )
    fire = pipeline.fire_asked(question.fire, workspace.region)
    asked = question.asked(workspace.region, weather.day)
    answer = ask(workspace, fire, built_in_profile(question.aircraft), weather, question.top, asked)
    return JSONResponse(
        answer.document | {"ranking_id": answer.ranking_id},
        status_code=201,
        headers={"Location": f"/rankings/{answer.ranking_id}"},
    )


@router.post("/fleets")
def send_fleet(question: FleetQuestion, workspace: Ready) -> dict[str, Any]:
    """Send a mixed fleet to the sources for the most litres per hour. Nothing is kept."""
    weather = quantities.weather(
        question.wind, question.oat, question.qnh, question.station_elevation, question.day
    )
    plan = pipeline.fleet(
        workspace.region,
        workspace.survey,
        pipeline.fire(question.fire, workspace.region),
        [built_in_profile(name) for name in quantities.fleet(question.aircraft)],
        weather,
        slots=question.slots,
        hours=question.hours,
        target=pipeline.target(question.target, workspace.region),
    )
    return document(plan, workspace.region.frame)  # type: ignore[return-value]


@router.get("/rankings/{ranking_id}")
def find_ranking(ranking_id: str, workspace: Ready) -> dict[str, Any]:
    """What was asked and answered, with the data version."""
    found = workspace.store.find_ranking(ranking_id)
    if found is None:
        raise HTTPException(404, f"no ranking {ranking_id!r} is kept")
    return found


def _answer_own_error(request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, FetchwaterError)
    body = problem(error, request.url.path)
    return JSONResponse(body, status_code=classify(error)[1], media_type=PROBLEM)


def _answer_http_error(request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, HTTPException)
    body = {
        "type": "about:blank",
        "title": error.detail,
        "status": error.status_code,
        "instance": request.url.path,
    }
    return JSONResponse(body, status_code=error.status_code, media_type=PROBLEM, headers=error.headers)


def _answer_invalid_request(request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, RequestValidationError)
    # The value sent is left out on purpose: a large or secret input must not be echoed.
    faults = [{"field": ".".join(str(part) for part in e["loc"]), "rule": e["msg"]} for e in error.errors()]
    body = {
        "type": "about:blank",
        "title": "The request does not fit",
        "status": 422,
        "detail": "; ".join(f"{fault['field']}: {fault['rule']}" for fault in faults),
        "instance": request.url.path,
        "errors": faults,
    }
    return JSONResponse(body, status_code=422, media_type=PROBLEM)


def create_app(settings: Settings) -> FastAPI:
    """Make the service for one region: used by the server, the tests and the command line alike.

    Raises: BadArgument without a region; BadInput when the region's files cannot be used.
    """
    if settings.region is None:
        raise BadArgument("no region to serve. Cure: name its folder, or set FETCHWATER_REGION")
    app = FastAPI(
        title="Fetchwater",
        version="0.1.0",
        description="Ranked water sources for tank helicopters. Advisory only: the pilot in command decides.",
        max_body_size=settings.max_body_bytes,
    )
    app.state.settings = settings
    app.state.workspace = open_workspace(settings.region, Store(settings.data_dir))
    app.include_router(router)
    app.add_exception_handler(FetchwaterError, _answer_own_error)
    app.add_exception_handler(HTTPException, _answer_http_error)
    app.add_exception_handler(RequestValidationError, _answer_invalid_request)
    return app
