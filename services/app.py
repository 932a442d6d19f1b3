"""The HTTP service put together: the same pipeline as the command line, one region per process."""

import gc
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from threading import Lock

import anyio.to_thread
from fastapi import Depends, FastAPI

from geo.base.errors import BadArgument
from services.core.field_package import PackagePages
from services.core.jobs import JobRunner
from services.core.workspace import Unsurveyed, Workspace, open_if_surveyed, open_workspace
from services.http.error_answers import PROBLEMS, LimitedApp, answer_with_problems
from services.http.head import HeadAsGet
from services.http.packing import Packed
from services.http.parameter_checks import refuse_doubled_names, refuse_unknown_parameters
from services.http.rights import keep_rights
from services.http.routes import (
    health,
    jobs,
    levels_and_closures,
    rankings,
    sheets,
    sites,
    today,
    tokens,
    waters,
)
from services.ogc import editing, reference
from services.ogc import router as features
from services.ogc.source import FeatureSource
from services.pages import packed_map
from services.pages import router as pages
from services.settings import Settings
from services.store.store import open_store

# The HTML pages of a field package, for the command line.
package_pages = PackagePages(packed_map.packed_map, packed_map.readme_page)
COMPUTING_AT_ONCE = 2
# A computing thread hands the interpreter on ten times as soon as by default: those that only read wait less.
SWITCH_S = 0.0005
# Each is a module with a `router`, whose every route states a right.
ROUTES = (
    health,
    waters,
    reference,
    rankings,
    today,
    sheets,
    jobs,
    tokens,
    features,
    editing,
    sites,
    levels_and_closures,
    pages,
)


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
        openapi_url=None,
    )
    keep_rights(app, settings)
    app.state.workspace_lock = Lock()
    first = open_workspace if settings.survey_at_start else open_if_surveyed
    app.state.workspace = first(settings.region, open_store(settings))
    app.state.features = features_of(app.state.workspace)
    app.state.jobs = job_runner(app)
    for one in ROUTES:
        app.include_router(one.router)
    # The last is outermost: a HEAD is answered with the headers of the packed answer.
    app.add_middleware(Packed)
    app.add_middleware(HeadAsGet)
    answer_with_problems(app)
    return app
