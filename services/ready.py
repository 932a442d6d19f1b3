"""The workspace that this process answers for, brought up to date before a request uses it."""

from typing import Annotated

from fastapi import Depends, FastAPI, Request

from services.workspace import Workspace, today


def workspace_of(request: Request) -> Workspace:
    """The region that this process answers for, as the store has it now."""
    return up_to_date(request.app)


def up_to_date(app: FastAPI) -> Workspace:
    """Give the service's workspace with the levels, closures and sites of now; one request at a time makes it anew."""
    with app.state.workspace_lock:
        app.state.workspace = today(app.state.workspace)
        return app.state.workspace


Ready = Annotated[Workspace, Depends(workspace_of)]
