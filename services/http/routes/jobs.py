"""Surveys as jobs over HTTP: started, watched and cancelled; the worker runs in `services.core.jobs`."""

from typing import Any

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, Field

from services.core import quantities
from services.core.jobs import JobRunner
from services.core.typed import TypedSurvey
from services.http.dependencies import Moment
from services.http.rights import READERS, Planner
from services.store import jobs
from services.store.jobs import JobEntry

router = APIRouter(tags=["jobs"])


class JobProgress(BaseModel):
    """How far a job is."""

    done: int
    total: int
    what: str


class Job(BaseModel):
    """A job: its state, and the result or the problem where it ended."""

    job_id: str
    kind: str
    state: str = Field(description="waiting, running, succeeded, failed or cancelled")
    question: dict[str, Any]
    asked_by: str
    asked_at: Moment
    started_at: Moment | None
    ended_at: Moment | None
    progress: JobProgress | None
    result: dict[str, Any] | None
    problem: dict[str, Any] | None = Field(description="why it failed (RFC 9457)")
    links: dict[str, str]


class Jobs(BaseModel):
    """Jobs, the newest first."""

    jobs: list[Job]


def _job(entry: JobEntry) -> Job:
    links = {"self": f"/jobs/{entry.job_id}"}
    # What if the levels were others is kept apart: /water-bodies shows today.
    if entry.state == jobs.SUCCEEDED and not entry.question.get("levels"):
        links["result"] = "/water-bodies"
    progress = None
    if entry.progress_total is not None:
        progress = JobProgress(
            done=entry.progress_done or 0, total=entry.progress_total, what=entry.progress_what or ""
        )
    return Job.model_validate(vars(entry) | {"progress": progress, "links": links})


@router.post("/surveys", status_code=202)
def start_survey(request: Request, response: Response, question: TypedSurvey, who: Planner) -> Job:
    """Survey off the request. Answers at once; the job's address is in Location."""
    for text in question.levels:
        quantities.level(text)
    runner: JobRunner = request.app.state.jobs
    job_id = runner.start(question.model_dump(), who)
    response.headers["Location"] = f"/jobs/{job_id}"
    return _job(jobs.get(request.app.state.workspace.store.engine, job_id))


@router.get("/jobs", dependencies=[READERS])
def list_jobs(request: Request) -> Jobs:
    """The last hundred jobs of this region."""
    workspace = request.app.state.workspace
    request.app.state.jobs.settle_lost()
    return Jobs(jobs=[_job(one) for one in jobs.listed(workspace.store.engine, workspace.region.name)])


@router.get("/jobs/{job_id}", dependencies=[READERS])
def find_job(request: Request, job_id: str) -> Job:
    """One job: state, progress, result or problem."""
    request.app.state.jobs.settle_lost()
    return _job(jobs.get(request.app.state.workspace.store.engine, job_id))


@router.delete("/jobs/{job_id}")
def cancel_job(request: Request, job_id: str, _: Planner) -> Job:
    """Cancel a job; its worker is ended. A job that had ended stays as it is."""
    request.app.state.jobs.cancel(job_id)
    return _job(jobs.get(request.app.state.workspace.store.engine, job_id))
