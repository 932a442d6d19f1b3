"""The HTTP service: the same pipeline as the command line, one region per process."""

import gc
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from threading import Lock
from typing import Any

import anyio.to_thread
from fastapi import APIRouter, Depends, FastAPI
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from geo import pipeline
from geo.base.errors import BadArgument
from geo.ingest.layers.aircraft import built_in_profile
from geo.records.document import document
from services.core import quantities
from services.core.questions import FleetQuestion, RankingQuestion
from services.core.workspace import Unsurveyed, Workspace, ask, at_levels, open_if_surveyed, open_workspace
from services.http.body_limit import LimitedApp
from services.http.dependencies import Opened, Ready
from services.http.head import HeadAsGet
from services.http.middleware import (
    PROBLEMS,
    answer_with_problems,
    refuse_doubled_names,
    refuse_unknown_parameters,
)
from services.http.rights import Guard
from services.http.routes.answers import router as quick_router
from services.http.routes.day import router as day_router
from services.http.routes.jobs import JobRunner
from services.http.routes.jobs import router as jobs_router
from services.http.routes.nearest import router as nearest_router
from services.http.routes.reference import router as reference_router
from services.http.routes.sheets import router as sheets_router
from services.http.routes.sites import router as sites_router
from services.http.routes.tiles import TileSource
from services.http.routes.tiles import router as tiles_router
from services.http.routes.tokens import router as tokens_router
from services.ogc.editing import router as editing_router
from services.ogc.router import router as features_router
from services.ogc.source import FeatureSource
from services.pages.router import router as pages_router
from services.pages.router import static_files
from services.settings import Settings
from services.store.store import open_store

COMPUTING_AT_ONCE = 2
# A computing thread hands the interpreter on ten times as soon as by default: those that only read wait less.
SWITCH_S = 0.0005
router = APIRouter()


class GeoJSONResponse(JSONResponse):
    """An answer in GeoJSON (RFC 7946)."""

    media_type = "application/geo+json"


@router.get("/health")
async def health() -> dict[str, str]:
    """Say that the process answers. Touches nothing."""
    return {"status": "ok"}


@router.get("/region")
def region_summary(workspace: Opened) -> dict[str, Any]:
    """What the region holds: counts, datum, data version (null: not surveyed yet), fires, aircraft, cautions."""
    version = workspace.survey_key if isinstance(workspace, Workspace) else None
    return pipeline.summary(workspace.region) | {"survey_version": version}


@router.get("/water-bodies", response_class=GeoJSONResponse)
def water_bodies(workspace: Ready) -> GeoJSONResponse:
    """All surveyed water bodies as a GeoJSON FeatureCollection (RFC 7946)."""
    return GeoJSONResponse(pipeline.water_features(workspace.region, workspace.survey))


@router.get("/water-bodies/{body_id}")
def water_body(body_id: str, workspace: Ready) -> dict[str, Any]:
    """The whole survey of one water body."""
    for body in workspace.survey.bodies:
        if body.body_id == body_id:
            return document(body, workspace.region.frame)  # type: ignore[return-value]
    raise HTTPException(404, f"no water body {body_id!r}; /water-bodies lists them")


NOT_KEPT = {200: {"description": "Answered, but not kept: ranking_id is null, the first caution says why"}}


@router.post("/rankings", status_code=201, responses=NOT_KEPT)
def make_ranking(question: RankingQuestion, workspace: Ready) -> JSONResponse:
    """Rank the sources for a fire. The answer's permanent link is in Location; 200 without one where it is not kept."""
    weather = question.weather(workspace.region)
    workspace = at_levels(workspace, [quantities.level(text) for text in question.levels])
    fire = pipeline.fire_asked(question.fire, workspace.region)
    asked = question.asked(workspace.region, weather.day)
    answer = ask(workspace, fire, built_in_profile(question.aircraft), weather, question.top, asked)
    body = answer.document | {"ranking_id": answer.ranking_id}
    if answer.ranking_id is None:
        return JSONResponse(body)
    return JSONResponse(body, 201, {"Location": f"/rankings/{answer.ranking_id}"})


@router.post("/fleets")
def send_fleet(question: FleetQuestion, workspace: Ready) -> dict[str, Any]:
    """Send a mixed fleet to the sources for the most litres per hour. Nothing is kept."""
    weather = question.weather(workspace.region)
    workspace = at_levels(workspace, [quantities.level(text) for text in question.levels])
    plan = pipeline.fleet(
        workspace.region,
        workspace.survey,
        pipeline.fire_asked(question.fire, workspace.region),
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


def features_of(workspace: Workspace | Unsurveyed) -> FeatureSource:
    """Give the features of a workspace's region."""
    frame = workspace.region.frame
    centre_deg = (frame.centre_longitude_deg, frame.centre_latitude_deg)
    return FeatureSource(workspace.store.engine, workspace.region.name, centre_deg)


def job_runner(app: FastAPI) -> JobRunner:
    """Give what runs the jobs of an app; after a survey of the region's files the app answers from it."""
    settings, workspace = app.state.settings, app.state.workspace

    def reopen() -> None:
        found = open_workspace(settings.region, workspace.store)
        with app.state.workspace_lock:
            app.state.workspace = found
        gc.freeze()

    return JobRunner(settings, workspace.store, workspace.region.name, reopen)


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    # Few requests compute at once, so that /health, which needs no thread, is answered between them (measured by
    # tests/bench/bench_service.py): each computing thread may hold the interpreter for its switch interval.
    anyio.to_thread.current_default_thread_limiter().total_tokens = COMPUTING_AT_ONCE
    before_s = sys.getswitchinterval()
    sys.setswitchinterval(SWITCH_S)
    # A full collection walks every record of the region and stops all threads meanwhile: 0.2 s measured on the demo
    # region. What stays for the life of the process is taken out of its sight.
    gc.collect()
    gc.freeze()
    yield
    gc.unfreeze()
    sys.setswitchinterval(before_s)
    app.state.jobs.close()
    app.state.workspace.store.close()


def create_app(settings: Settings) -> FastAPI:
    """Make the service for one region: used by the server, the tests and the command line alike.

    Raises: BadArgument without a region; BadInput when the region's files cannot be used.
    """
    if settings.region is None:
        raise BadArgument("no region to serve. Fix: name its folder, or set FETCHWATER_REGION")
    app = LimitedApp(
        title="Fetchwater",
        version="0.1.0",
        description="Ranked water sources for tank helicopters. Advisory only: the pilot in command decides.",
        max_body_size=settings.max_body_bytes,
        dependencies=[Depends(refuse_unknown_parameters), Depends(refuse_doubled_names)],
        responses=PROBLEMS,
        lifespan=_lifespan,
        docs_url=None,
        redoc_url=None,
    )
    app.state.settings = settings
    app.state.workspace_lock = Lock()
    first = open_workspace if settings.survey_at_start else open_if_surveyed
    app.state.workspace = first(settings.region, open_store(settings))
    app.state.features = features_of(app.state.workspace)
    app.state.tiles = TileSource(app.state.features)
    app.state.jobs = job_runner(app)
    for one in (
        router,
        reference_router,
        quick_router,
        sheets_router,
        nearest_router,
        jobs_router,
        tokens_router,
        tiles_router,
        features_router,
        editing_router,
        sites_router,
        day_router,
        pages_router,
    ):
        app.include_router(one)
    app.mount("/static", static_files(), name="static")
    app.add_middleware(Guard, settings=settings)
    app.add_middleware(HeadAsGet)
    answer_with_problems(app)
    return app
