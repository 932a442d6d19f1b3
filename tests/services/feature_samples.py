"""A small store with known features, and the features served from it: made by hand, so that each answer is obvious."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from threading import Thread
from types import SimpleNamespace

import shapely
import uvicorn
from fastapi import FastAPI
from sqlalchemy import Engine

from services.http.error_answers import answer_with_problems
from services.http.rights import keep_rights
from services.ogc.editing import router as editing_router
from services.ogc.router import router
from services.ogc.source import FeatureSource
from services.settings import Settings
from services.store.engine import writing
from services.store.layers import bump
from services.store.tables import closure, evidence, hover_point, region, run, site, water_body
from tests.services.postgis import free_port

REGION = "Sample"
MADE = datetime(2026, 1, 15, 12, tzinfo=UTC)
# body_id, name, kind, area, run, shape. Degrees, longitude first; the fifth lies on both sides of 180 degrees.
WATERS = (
    ("A1", "Ash Lake", "lake", 500.0, 800.0, shapely.box(10.0, -40.0, 10.1, -39.9)),
    ("A2", "Birch Dam", "dam", 50.0, None, shapely.box(10.5, -40.0, 10.6, -39.9)),
    ("B1", "Cedar_50%", "lake", 5000.0, 2500.0, shapely.Polygon([(11, -41), (11.5, -40.5), (11.5, -41)])),
    ("B2", "Äspen Pond", "pond", 5.0, None, shapely.box(12.0, -41.0, 12.01, -40.99)),
    (
        "D/5",
        "Dateline Bay",
        "sea",
        90000.0,
        5000.0,
        shapely.MultiPolygon(
            [shapely.box(179.9, -45.0, 180.0, -44.9), shapely.box(-180.0, -45.0, -179.9, -44.9)]
        ),
    ),
)


def fill(engine: Engine) -> None:
    """Put the sample's rows into an empty store."""
    common = {"region_id": REGION, "body_key": "k", "surveyed_at": MADE}
    with writing(engine) as connection:
        connection.execute(
            region.insert().values(
                region_id=REGION,
                name=REGION,
                vertical_datum="none",
                crs_wkt="",
                input_fingerprint="f",
                survey_key="s",
                updated_at=MADE,
                geom=shapely.box(-180.0, -45.0, 180.0, -39.9),
            )
        )
        for body_id, name, kind, area_m2, run_m, shape in WATERS:
            connection.execute(
                water_body.insert().values(
                    **common,
                    body_id=body_id,
                    name=name,
                    kind=kind,
                    area_m2=area_m2,
                    longest_run_m=run_m,
                    geom=shape,
                )
            )
            centre = shape.representative_point()
            own = {"region_id": REGION, "body_id": body_id, "name": name}
            connection.execute(hover_point.insert().values(**own, clear_radius_m=area_m2 / 10, geom=centre))
            if run_m is not None:
                line = shapely.LineString([(centre.x - 0.01, centre.y), (centre.x + 0.01, centre.y)])
                connection.execute(
                    run.insert().values(**own, ordinal=0, search="longest", length_m=run_m, geom=line)
                )
        connection.execute(
            evidence.insert().values(
                region_id=REGION,
                body_id="A1",
                kind="soundings",
                points=12,
                oldest_on=date(2019, 5, 1),
                newest_on=date(2021, 6, 2),
                origin="by hand",
                geom=shapely.Point(10.05, -39.95),
            )
        )
        for number, (first, last) in enumerate(
            ((date(2026, 1, 1), date(2026, 1, 31)), (date(2026, 3, 1), None), (None, None))
        ):
            connection.execute(
                closure.insert().values(
                    region_id=REGION,
                    closure_id=f"C{number}",
                    name=f"closure {number}",
                    kind="no filling",
                    reason="birds",
                    valid_from=first,
                    valid_to=last,
                    origin="by hand",
                    added_at=MADE,
                    added_by="me",
                    withdrawn_at=None,
                    geom=shapely.box(10.0, -40.0, 11.0, -39.0),
                )
            )
        for number, retired in ((1, False), (2, True)):
            connection.execute(
                site.insert().values(
                    region_id=REGION,
                    site_id=f"S{number}",
                    name=f"site {number}",
                    status="open",
                    effect="note",
                    revision=1,
                    retired=retired,
                    created_at=MADE,
                    updated_at=MADE,
                    updated_by="me",
                    body_id="A1",
                    geom=shapely.Point(10.05, -39.95),
                )
            )
        bump(connection, "survey")


def features_app(engine: Engine, settings: Settings | None = None, region_id: str = REGION) -> FastAPI:
    """Give an app that serves nothing but the features of a region, by default those of the sample."""
    app = FastAPI()
    app.state.features = FeatureSource(engine, region_id, (10.0, -40.0))
    app.state.workspace = SimpleNamespace(store=SimpleNamespace(engine=engine))
    keep_rights(app, settings if settings is not None else Settings())
    app.include_router(router)
    app.include_router(editing_router)
    answer_with_problems(app)
    return app


@contextmanager
def listening(app: FastAPI) -> Iterator[str]:
    """Serve an app on a free port of loopback; give its address."""
    server = uvicorn.Server(uvicorn.Config(app, port=free_port(), log_level="error"))
    thread = Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive()
        thread.join(0.02)
    try:
        yield f"http://127.0.0.1:{server.config.port}"
    finally:
        server.should_exit = True
        thread.join(20)
