"""A store with at least one row in every table, for tests of copies."""

from datetime import UTC, date, datetime

import shapely

from geo.records.conditions import Weather
from geo.records.day import ClosedArea, LevelReading
from geo.records.extras import Extras
from geo.records.kept import kept
from geo.records.ranking import Ranking
from services.store import day, photos, rankings, sites, surveys
from services.store.engine import writing
from services.store.site_record import SiteFields
from services.store.tables import job, token

PNG = b"\x89PNG\r\n\x1a\n" + bytes(range(256))
RAMP = SiteFields(
    name="Boat ramp 'north' – \U0001f681",
    longitude_deg=-128.1,
    latitude_deg=-47.05,
    status="open",
    effect="confirm",
    inspected_on=date(2026, 1, 3),
    inspected_by="R. Example",
    note="line one\nline two",
)
READ_AT = datetime(2026, 1, 31, 6, 0, tzinfo=UTC)


def fill(store, workspace, region_id="made"):
    """Put into a store a survey with its layers, a site with history and photo, day data, ranking, token and job."""
    from services.core.published import publish
    from services.core.workspace import _body_keys
    from services.store.surveys import SurveyRun

    keys = _body_keys(workspace.region, workspace.region)
    made = SurveyRun(
        workspace.survey, tuple(keys[one.body_id] for one in workspace.survey.bodies), {"a": "b"}, 0.1 + 0.2
    )
    surveys.save(store.engine, made)
    publish(store, workspace.region, workspace.survey, keys, made.key)
    site = sites.create(store.engine, region_id, RAMP, "anna", "S1")
    site = sites.update_site(
        store.engine, "S1", RAMP.model_copy(update={"wires": "one, 12 m"}), site.revision, "ben"
    )
    photos.add(store.engine, "S1", PNG, "anna", caption="from the south", taken_on=date(2026, 1, 3))
    day.put_levels(
        store.engine, region_id, [LevelReading("W1", 58.8, READ_AT, None, "levels.csv row 2")], "carl"
    )
    outline = shapely.box(-128.2, -47.1, -128.1, -47.0)
    day.put_closures(
        store.engine, region_id, [ClosedArea("C1", "n", "no filling", "blue-green algae", outline)], "carl"
    )
    region = workspace.region
    weather = Weather(300.0, 9.26, 34.0, 1009.0, 0.0)
    ranking = Ranking(region.name, region.fingerprint, "F1", "n", "p", "a", weather, (), (), ("c",))
    record = kept(region.frame, region.fires[0], ranking, Extras(), 3)
    rankings.save(store.engine, "k", {"fire": "F1", "x": 0.1}, {"sources": [1.5]}, region_id, record)
    with writing(store.engine) as connection:
        connection.execute(
            token.insert().values(token_id="t1", name="n", role="planner", hash="h", made_at=READ_AT)
        )
        connection.execute(
            job.insert().values(
                job_id="j1", kind="survey", question={"a": None}, state="done", asked_by="n", asked_at=READ_AT,
                cancel_asked=False,
            )
        )  # fmt: skip
