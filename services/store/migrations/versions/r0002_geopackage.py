"""One store for many hands: a GeoPackage or PostGIS with layers, sites, closures, levels, photos and every body apart.

Surveys and rankings of the first store are carried over. Their bodies' records stay as they were written.
"""

import json
from datetime import datetime

from alembic import op
from sqlalchemy import Connection, text

from services.store.geopackage import add_to_contents, make_geopackage
from services.store.migrations.frozen import table

revision = "0002"
down_revision = "0001"

_TABLES = {
    "store state": table(
        "store_state",
        "name",
        """name text!, revision int!""",
    ),
    "regions": table(
        "region",
        "region_id",
        """region_id text!, name text!, vertical_datum text!, crs_wkt text!, input_fingerprint text!,
        survey_key text, updated_at instant!, geom POLYGON!""",
    ),
    "survey": table(
        "survey",
        "survey_key",
        """survey_key text!, region_id text!, input_fingerprint text!, inputs json!, parameters json!, program
        text!, code_fingerprint text!, made_at instant!, took_s real, bodies int!""",
    ),
    "body survey": table(
        "body_survey",
        "body_key",
        """body_key text!, region_id text!, body_id text!, made_at instant!, record bytes!""",
    ),
    "survey body": table(
        "survey_body",
        "survey_key ordinal",
        """survey_key text!, ordinal int!, body_key text!""",
        "survey_body_by_key: body_key",
    ),
    "water bodies": table(
        "water_body",
        "region_id body_id",
        """region_id text!, body_id text!, body_key text!, surveyed_at instant!, name text, kind text, area_m2
        real, area_today_m2 real, perimeter_m real, shoreline_development real, elevation_m real,
        elevation_origin text, level_change_m real, salinity_class text, salinity_reason text, mean_depth_m
        real, volume_m3 real, longest_run_m real, longest_run_true_deg real, run_depth_95_m real,
        hover_clear_radius_m real, hover_depth_95_m real, levels text, next_sounding_ddm text, next_sounding
        text, greatest_depth text, remarks text, geom GEOMETRY!""",
        "water_body_by_body: body_id",
    ),
    "runs": table(
        "run",
        "region_id body_id ordinal",
        """region_id text!, body_id text!, ordinal int!, name text, search text, length_m real, upper_bound_m
        real, heading_true_deg real,
        corridor_width_m real, depth_95_m real, depth_evidence text, start_excess_m real, end_excess_m real,
        start_what text, end_what text, usable_ahead_m real, usable_back_m real, limited_by text, geom
        LINESTRING!""",
    ),
    "hover points": table(
        "hover_point",
        "region_id body_id",
        """region_id text!, body_id text!, name text, clear_radius_m real, limited_by text, depth_95_m real,
        depth_evidence text, position_ddm text, geom POINT!""",
    ),
    "depth evidence": table(
        "evidence",
        "region_id body_id kind",
        """region_id text!, body_id text!, kind text!, points int, oldest_on date, newest_on date, origin text,
        geom GEOMETRY!""",
    ),
    "annotated sites": table(
        "site",
        "site_id",
        """site_id text!, region_id text!, body_id text, name text!, place text, method text, status text!,
        valid_from date, valid_to date, season_from text, season_to text, effect text!, most_litres real,
        hazards text, wires text, access text, owner text, permission text, permission_to date, contact
        text, inspected_on date, inspected_by text, inspection_due date, depth_evidence_to date, note text,
        revision int!, retired flag!, created_at instant!, updated_at instant!, updated_by text!, geom
        POINT!""",
        "site_by_region: region_id",
    ),
    "site change": table(
        "site_change",
        "site_id revision",
        """site_id text!, revision int!, changed_at instant!, changed_by text!, action text!, before json,
        after json!""",
    ),
    "site photo": table(
        "site_photo",
        "photo_id",
        """photo_id text!, site_id text!, sha256 text!, media_type text!, size_bytes int!, caption text,
        taken_on date, added_at instant!, added_by text!, retired flag!, content bytes!""",
        "photo_by_site: site_id",
    ),
    "closures": table(
        "closure",
        "region_id closure_id added_at",
        """region_id text!, closure_id text!, body_id text, name text!, kind text!, reason text!, valid_from
        date, valid_to date, origin text!, added_at instant!, added_by text!, withdrawn_at instant,
        withdrawn_by text, geom GEOMETRY!""",
    ),
    "level": table(
        "level",
        "region_id body_id read_at added_at",
        """region_id text!, body_id text!, level_m real!, read_at instant!, until instant, origin text!,
        added_at instant!, added_by text!, withdrawn_at instant, withdrawn_by text""",
        "level_by_body: region_id body_id",
    ),
    "ranking": table(
        "ranking",
        "ranking_id",
        """ranking_id text!, region_id text, survey_key text!, asked_at instant!, program text, question json!,
        answer json!""",
        "ranking_by_time: asked_at",
    ),
    "token": table(
        "token",
        "token_id",
        """token_id text!, name text!, role text!, hash text!, made_at instant!, expires_at instant, revoked_at
        instant""",
    ),
    "job": table(
        "job",
        "job_id",
        """job_id text!, region_id text, kind text!, question json!, state text!, progress_done int,
        progress_total int, progress_what text, result json, problem json, asked_by text!, asked_at
        instant!, started_at instant, beat_at instant, ended_at instant, cancel_asked flag!""",
    ),
}

_BY_NAME = {made.name: made for made in _TABLES.values()}


def upgrade() -> None:
    """Make the tables of today and move the old rows into them."""
    connection = op.get_bind()
    op.rename_table("survey", "first_survey")
    op.rename_table("ranking", "first_ranking")
    _make_tables(connection)
    _move_surveys(connection)
    _move_rankings(connection)
    op.drop_table("first_survey")
    op.drop_table("first_ranking")


def _make_tables(connection: Connection) -> None:
    embedded = connection.dialect.name == "sqlite"
    if embedded:
        make_geopackage(connection)
    else:
        connection.execute(text("CREATE EXTENSION IF NOT EXISTS postgis"))
    for title, made in _TABLES.items():
        made.create(connection)
        if embedded:
            add_to_contents(connection, made, title)
        elif "geom" in made.c:
            connection.execute(text(f"CREATE INDEX {made.name}_geom ON {made.name} USING gist (geom)"))
    connection.execute(_BY_NAME["store_state"].insert().values(name="day", revision=0))


def _move_surveys(connection: Connection) -> None:
    for row in connection.execute(text("SELECT * FROM first_survey ORDER BY made_at, key")).mappings().all():
        made_at = datetime.fromisoformat(row["made_at"])
        bodies = json.loads(row["record"])["bodies"]
        connection.execute(
            _BY_NAME["survey"]
            .insert()
            .values(
                survey_key=row["key"],
                region_id=row["region_name"],
                input_fingerprint=row["fingerprint"],
                inputs={},
                parameters=json.loads(row["settings"]),
                program=row["program"],
                code_fingerprint="unknown",
                made_at=made_at,
                bodies=len(bodies),
            )
        )
        for ordinal, body in enumerate(bodies):
            key = f"{row['key']}/{ordinal}"
            record = json.dumps(body).encode()
            connection.execute(
                _BY_NAME["body_survey"]
                .insert()
                .values(
                    body_key=key,
                    region_id=row["region_name"],
                    body_id=body["body_id"],
                    made_at=made_at,
                    record=record,
                )
            )
            connection.execute(
                _BY_NAME["survey_body"].insert().values(survey_key=row["key"], ordinal=ordinal, body_key=key)
            )


def _move_rankings(connection: Connection) -> None:
    regions = dict(connection.execute(text("SELECT key, region_name FROM first_survey")).all())
    for row in connection.execute(text("SELECT * FROM first_ranking ORDER BY asked_at")).mappings().all():
        connection.execute(
            _BY_NAME["ranking"]
            .insert()
            .values(
                ranking_id=row["ranking_id"],
                region_id=regions.get(row["survey_key"]),
                survey_key=row["survey_key"],
                asked_at=datetime.fromisoformat(row["asked_at"]),
                question=json.loads(row["question"]),
                answer=json.loads(row["answer"]),
            )
        )
