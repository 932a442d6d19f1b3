"""What the command line and the service both need: a region, its stored or fresh survey, and questions asked of it."""

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from geo import pipeline
from geo.base.errors import FetchwaterError
from geo.records.extras import Extras
from geo.records.kept import kept
from geo.records.question import RankingQuestion
from geo.records.ranking import Ranking
from geo.records.region import Region
from geo.records.survey import RegionSurvey
from services.core.annotations import annotated
from services.core.published import publish
from services.errors import StoreUnreachable
from services.store import day, rankings, sites, surveys
from services.store.column_types import now
from services.store.layers import published_survey, revision
from services.store.store import Store
from services.store.surveys import SurveyRun, any_known, body_key, known_bodies, survey_key

# A region folder read with every fault, or opened as its files say it; nothing is surveyed.
check_folder, load_files = pipeline.check, pipeline.load


@dataclass(frozen=True)
class Workspace:
    """A loaded region with its survey and the store that keeps both questions and answers.

    levels: other levels than the files' [m] that were asked for, by the id or name given; files: the region as its
    files say it; day_revision and until: the state of the store's levels, closures and sites that `region` shows, and
    when it changes by itself; not_kept: what the store could be read for but would not take, each with its reason;
    survey_revision: the state of the store's layers when it was made.
    """

    region: Region
    survey: RegionSurvey
    store: Store
    levels: tuple[tuple[str, float], ...] = ()
    files: Region | None = None
    day_revision: int = 0
    until: datetime | None = None
    not_kept: tuple[str, ...] = ()
    survey_revision: int = 0

    @property
    def survey_key(self) -> str:
        """The data version: same inputs, settings and code give the same key."""
        return survey_key(self.survey.fingerprint, self.survey.settings)

    def document(self, record: object) -> dict[str, Any]:
        """Give a record of this region as JSON values, its shapes in WGS 84."""
        found = pipeline.document(record, self.region.frame)
        assert isinstance(found, dict)
        return found


def open_workspace(
    folder: Path,
    store: Store,
    progress: pipeline.Progress | None = None,
    levels: Sequence[tuple[str, float]] = (),
) -> Workspace:
    """Load a region as it is today and take its survey from the store, or survey it and keep the result.

    Parameters: levels, other levels of today [m] for water bodies by id or name; their survey is kept apart.
    Raises: BadInput with every fault of the region's files, or for a level that cannot be used.
    """
    return at_levels(_of_today(pipeline.load(folder), store, progress), levels, progress)


@dataclass(frozen=True)
class Unsurveyed:
    """A region none of whose waters has been surveyed, as its files say it, and the store that will keep the survey."""

    region: Region
    store: Store

    @property
    def files(self) -> Region:
        """The region as its files say it."""
        return self.region


def open_if_surveyed(folder: Path, store: Store) -> Workspace | Unsurveyed:
    """Open a workspace only where the store holds a survey of some of its waters; a first survey takes minutes.

    Raises: BadInput with every fault of the region's files.
    """
    files = pipeline.load(folder)
    keys = _body_keys(files, files)
    if keys and not any_known(store.engine, list(keys.values())):
        return Unsurveyed(files, store)
    return _of_today(files, store, None)


def today(workspace: Workspace, progress: pipeline.Progress | None = None) -> Workspace:
    """Give the workspace with the levels, closures and sites that the store holds now: the same one where none changed.

    Notes: only waters with another level are surveyed anew; what the store would not take is offered again.
    """
    due = workspace.until is not None and now() >= workspace.until
    same = revision(workspace.store.engine, "day") == workspace.day_revision
    if same and not due and not workspace.not_kept:
        return workspace
    assert workspace.files is not None
    return _of_today(workspace.files, workspace.store, progress, workspace)


def with_files_of_now(workspace: Workspace, folder: Path) -> Workspace:
    """Give the workspace from the region's files as they are now, where another service has surveyed them anew.

    Notes: the files are read only after the store's layers changed and show another survey. Where they cannot be used,
    or are the same (the other service reads another copy of them), the workspace stays.
    """
    present = revision(workspace.store.engine, "survey")
    if present == workspace.survey_revision:
        return workspace
    seen = replace(workspace, survey_revision=present)
    if published_survey(workspace.store.engine, workspace.region.name) == workspace.survey_key:
        return seen
    try:
        files = pipeline.load(folder)
    except FetchwaterError:
        return seen
    if workspace.files is None or files.fingerprint == workspace.files.fingerprint:
        return seen
    return _of_today(files, workspace.store, None)


def _of_today(
    files: Region, store: Store, progress: pipeline.Progress | None, before: Workspace | None = None
) -> Workspace:
    moment = now()
    # Read before the rows: a change that comes between is then seen the next time.
    day_revision, survey_revision = (revision(store.engine, name) for name in ("day", "survey"))
    region = pipeline.with_readings(files, day.levels_of(store.engine, files.name, moment), moment)
    region = pipeline.with_closures(region, day.closures_of(store.engine, files.name))
    region = pipeline.with_sites(region, annotated(sites.listed(store.engine, files.name)))
    found = _surveyed(region, files, store, progress, before)
    keys = _body_keys(region, files)
    lost = found.not_kept
    try:
        publish(store, region, found.survey, keys, found.survey_key, day_revision)
    except StoreUnreachable as error:
        lost = (*lost, f"the layers of the store do not show this survey: {error}")
    until = day.next_change(store.engine, files.name, moment)
    return replace(
        found, day_revision=day_revision, until=until, not_kept=lost, survey_revision=survey_revision
    )


def at_levels(
    workspace: Workspace, levels: Sequence[tuple[str, float]], progress: pipeline.Progress | None = None
) -> Workspace:
    """Give the workspace with other levels of today [m] for water bodies by id or name; its survey is kept apart.

    Raises: BadInput for a level that cannot be used. Notes: only the waters that are given a level are surveyed anew.
    """
    if not levels:
        return workspace
    region = pipeline.with_levels(workspace.region, levels)
    files = workspace.files if workspace.files is not None else workspace.region
    found = _surveyed(region, files, workspace.store, progress, workspace)
    return replace(
        found,
        levels=(*workspace.levels, *levels),
        day_revision=workspace.day_revision,
        until=workspace.until,
        survey_revision=workspace.survey_revision,
    )


def _body_keys(region: Region, files: Region) -> dict[str, str]:
    settings = pipeline.settings_of(region)
    return {body.body_id: body_key(files.fingerprint, body, settings) for body in region.bodies}


def _surveyed(
    region: Region,
    files: Region,
    store: Store,
    progress: pipeline.Progress | None,
    before: Workspace | None = None,
) -> Workspace:
    """Give the workspace of a region, each water's survey taken from where it is known, else made and kept."""
    if before is not None and before.region.fingerprint == region.fingerprint and not before.not_kept:
        return Workspace(region, before.survey, store, files=files)
    lost: tuple[str, ...] = ()
    survey = surveys.find(store.engine, region.fingerprint, pipeline.settings_of(region))
    if survey is None:
        keys = _body_keys(region, files)
        known = {} if before is None else pipeline.unchanged(region, before.region, before.survey)
        missing = {body_id: key for body_id, key in keys.items() if body_id not in known}
        known |= known_bodies(store.engine, missing)
        begun_s = time.monotonic()
        survey = pipeline.survey(region, progress=progress, known=known)
        took_s = time.monotonic() - begun_s
        inputs = {**files.inputs, **_levels_asked(region, files)}
        made = SurveyRun(survey, tuple(keys[one.body_id] for one in survey.bodies), inputs, took_s)
        try:
            surveys.save(store.engine, made)
        except StoreUnreachable as error:
            lost = (f"the survey is not kept, and the next question needs it anew: {error}",)
    return Workspace(region, survey, store, files=files, not_kept=lost)


def _levels_asked(region: Region, files: Region) -> dict[str, str]:
    """Give, beside the files' fingerprints, the levels that are not those of the files."""
    pairs = zip(region.bodies, files.bodies, strict=True)
    return {
        f"level of {own.body_id}": f"{own.surface_elevation_m} m, {own.level_origin}"
        for own, filed in pairs
        if own is not filed
    }


@dataclass(frozen=True)
class Answer:
    """A ranking with the id under which question and answer can be looked up again.

    ranking_id: None where the store would not take it; not_kept then says why, and what else it did not take. The same
    sentences lead the cautions of ranking and document.
    """

    ranking: Ranking
    further: Extras
    ranking_id: str | None
    document: dict
    not_kept: tuple[str, ...] = ()


def ask(workspace: Workspace, question: RankingQuestion) -> Answer:
    """Rank the sources, with what else is asked; keep question and answer, and give both.

    Parameters: question, of the workspace's region and survey.
    Raises: BadArgument as `pipeline.answer_question`.
    Notes: on the day an answer that is not kept is better than none: where the store takes no writes the answer is
    given all the same, with a caution and without an id.
    """
    ranking, further = pipeline.answer_question(question)
    answer = workspace.document(ranking) | workspace.document(further)
    asked = {
        "region": workspace.region.name,
        "fire": workspace.document(question.fire),
        "aircraft": workspace.document(question.aircraft),
        "weather": workspace.document(question.weather),
        "top": question.top,
        "asked": workspace.document(question.extras),
        "levels": dict(workspace.levels),
    }
    record = kept(workspace.region.frame, question.fire, ranking, further, workspace.day_revision)
    lost, ranking_id = workspace.not_kept, None
    try:
        ranking_id = rankings.save(
            workspace.store.engine, workspace.survey_key, asked, answer, workspace.region.name, record
        )
    except StoreUnreachable as error:
        lost = (f"not kept, so that nobody can look this answer up afterwards: {error}", *lost)
    if lost:
        ranking = replace(ranking, cautions=(*lost, *ranking.cautions))
        answer = answer | {"cautions": list(ranking.cautions)}
    return Answer(ranking, further, ranking_id, answer, lost)
