"""The workspace that this process answers for, brought up to date before a request uses it."""

from datetime import datetime
from typing import Annotated

from fastapi import Depends, FastAPI, Request
from pydantic import BeforeValidator

from services.core.workspace import Unsurveyed, Workspace, open_if_surveyed, today, with_files_of_now
from services.errors import NotSurveyed
from services.store.layers import published_survey


def workspace_of(request: Request) -> Workspace:
    """The region that this process answers for, as the store has it now. Raises: NotSurveyed."""
    return up_to_date(request.app)


def opened(request: Request) -> Workspace | Unsurveyed:
    """The region that this process answers for, also where its waters are not surveyed yet."""
    found: Workspace | Unsurveyed = request.app.state.workspace
    try:
        return up_to_date(request.app)
    except NotSurveyed:
        return found


def up_to_date(app: FastAPI) -> Workspace:
    """Give the service's workspace with the levels, closures and sites of now; one request at a time makes it anew.

    Raises: NotSurveyed before the first survey.
    """
    with app.state.workspace_lock:
        found: Workspace | Unsurveyed = app.state.workspace
        if isinstance(found, Unsurveyed):
            # Another service on the same store, or the command line, may have made it.
            if published_survey(found.store.engine, found.region.name) is not None:
                app.state.workspace = open_if_surveyed(app.state.settings.region, found.store)
        else:
            app.state.workspace = today(with_files_of_now(found, app.state.settings.region))
        if isinstance(app.state.workspace, Unsurveyed):
            raise NotSurveyed(
                f"no water of {app.state.workspace.region.name} has been surveyed. Fix: start the survey on the map "
                "page, by POST /surveys, or by `fetchwater survey`"
            )
        return app.state.workspace


def _moment_text(moment: object) -> object:
    return moment.isoformat() if isinstance(moment, datetime) else moment


async def raw_body(request: Request) -> bytes:
    """The bytes of the body, as they were sent."""
    return await request.body()


# A moment of a stored record as it is answered.
Moment = Annotated[str, BeforeValidator(_moment_text)]
RawBody = Annotated[bytes, Depends(raw_body)]
Ready = Annotated[Workspace, Depends(workspace_of)]
Opened = Annotated[Workspace | Unsurveyed, Depends(opened)]
