"""Every table of the store, once, for both databases. Shapes are WGS 84; instants are UTC; empty means unknown.

Each table has `fid`, the whole-number key that a GeoPackage asks for, and a natural key (`info["key"]`) by which rows
are told apart when one store is copied into another. `info["layer"]` names the tables that a GIS shows as layers.
Columns of measurement carry their unit in the name, as everywhere.
"""

from functools import partial
from typing import Any

from sqlalchemy import Boolean, Column, Date, Double, Index, Integer, LargeBinary, MetaData, Table, Text
from sqlalchemy import UniqueConstraint as Unique

from geo.records import columns as exported
from services.store.column_types import Instant, JsonText
from services.store.geometry import Geometry

metadata = MetaData()
_PLAIN_TYPES = {"text": Text, "real": Double, "whole": Integer}


def _table(name: str, key: tuple[str, ...], *columns: Column, layer: str | None = None) -> Table:
    """Give a table with its fid, its natural key and, for a layer, the title under which a GIS shows it."""
    return Table(
        name,
        metadata,
        Column("fid", Integer, primary_key=True, autoincrement=True),
        *columns,
        Unique(*key, name=f"{name}_key"),
        info={"key": key, "layer": layer},
        sqlite_autoincrement=True,
    )


def _columns(type_: Any, *names: str, needed: bool = False) -> list[Column]:
    return [Column(name, type_, nullable=not needed) for name in names]


_texts, _wholes, _days = partial(_columns, Text), partial(_columns, Integer), partial(_columns, Date)
_moments, _documents, _bytes = (partial(_columns, one) for one in (Instant, JsonText, LargeBinary))
_flags = partial(_columns, Boolean(create_constraint=False), needed=True)


def _shape(kind: str) -> Column:
    return Column("geom", Geometry(kind), nullable=False)


def _as_exported(columns: tuple[exported.Column, ...], *left_out: str) -> list[Column]:
    """Give the columns of an exported layer but for the body id, which stands among the keys."""
    return [
        Column(one.name, _PLAIN_TYPES[one.kind]) for one in columns if one.name not in ("body_id", *left_out)
    ]


def _withdrawable() -> list[Column]:
    """Who entered a row of the day and when; who withdrew it, which is how it ends."""
    return [
        *_texts("origin", needed=True),
        *_moments("added_at", needed=True),
        *_texts("added_by", needed=True),
        *_moments("withdrawn_at"),
        *_texts("withdrawn_by"),
    ]


# How often the store was changed; who keeps something in memory compares the count with that of its making.
state = _table("store_state", ("name",), *_texts("name", needed=True), *_wholes("revision", needed=True))

region = _table(
    "region",
    ("region_id",),
    *_texts("region_id", needed=True),  # the region's name: what region.toml calls it
    *_texts("name", "vertical_datum", needed=True),
    *_texts("crs_wkt", needed=True),  # of the region's metric plane, in which survey records are written
    *_texts("input_fingerprint", needed=True),
    *_texts("survey_key"),  # the survey that the layers below show
    *_moments("updated_at", needed=True),
    _shape("POLYGON"),  # the box round its water
    layer="regions",
)

survey = _table(
    "survey",
    ("survey_key",),
    *_texts("survey_key", "region_id", "input_fingerprint", needed=True),
    *_documents("inputs", needed=True),  # each file with its SHA-256, and the levels of the day
    *_documents("parameters", needed=True),
    *_texts("program", "code_fingerprint", needed=True),
    *_moments("made_at", needed=True),
    Column("took_s", Double),
    *_wholes("bodies", needed=True),
)

# The whole record of one water body; shared by every survey in which neither its input nor the code changed.
body_survey = _table(
    "body_survey",
    ("body_key",),
    *_texts("body_key", "region_id", "body_id", needed=True),
    *_moments("made_at", needed=True),
    *_bytes("record", needed=True),
)

survey_body = _table(
    "survey_body",
    ("survey_key", "ordinal"),
    *_texts("survey_key", needed=True),
    *_wholes("ordinal", needed=True),
    *_texts("body_key", needed=True),
)

# The three layers below show the survey that counts today; older ones are kept as records only.
water_body = _table(
    "water_body",
    ("region_id", "body_id"),
    *_texts("region_id", "body_id", "body_key", needed=True),
    *_moments("surveyed_at", needed=True),
    *_as_exported(exported.LAYERS["water"], "verdict", "state"),
    _shape("GEOMETRY"),
    layer="water bodies",
)

run = _table(
    "run",
    ("region_id", "body_id", "ordinal"),
    *_texts("region_id", "body_id", needed=True),
    *_wholes("ordinal", needed=True),
    *_as_exported(exported.LAYERS["survey_runs"]),
    _shape("LINESTRING"),
    layer="runs",
)

hover_point = _table(
    "hover_point",
    ("region_id", "body_id"),
    *_texts("region_id", "body_id", needed=True),
    *_as_exported(exported.LAYERS["hover_points"]),
    _shape("POINT"),
    layer="hover points",
)

evidence = _table(
    "evidence",
    ("region_id", "body_id", "kind"),
    *_texts("region_id", "body_id", needed=True),
    *_texts("kind", needed=True),  # soundings, depth grid, depth contours, depth areas, stated depth
    *_wholes("points"),
    *_days("oldest_on", "newest_on"),
    *_texts("origin"),
    _shape("GEOMETRY"),
    layer="depth evidence",
)

# What may stand in its columns: `site_record.SiteFields`.
site = _table(
    "site",
    ("site_id",),
    *_texts("site_id", "region_id", needed=True),
    *_texts("body_id"),
    *_texts("name", needed=True),
    *_texts("place", "method"),
    *_texts("status", needed=True),
    *_days("valid_from", "valid_to"),
    *_texts("season_from", "season_to"),
    *_texts("effect", needed=True),
    Column("most_litres", Double),
    *_texts("hazards", "wires", "access", "owner", "permission"),
    *_days("permission_to"),
    *_texts("contact"),
    *_days("inspected_on"),
    *_texts("inspected_by"),
    *_days("inspection_due", "depth_evidence_to"),
    *_texts("note"),
    *_wholes("revision", needed=True),
    *_flags("retired"),
    *_moments("created_at", "updated_at", needed=True),
    *_texts("updated_by", needed=True),
    _shape("POINT"),
    layer="annotated sites",
)

site_change = _table(
    "site_change",
    ("site_id", "revision"),
    *_texts("site_id", needed=True),
    *_wholes("revision", needed=True),
    *_moments("changed_at", needed=True),
    *_texts("changed_by", needed=True),
    *_texts("action", needed=True),  # create, update, retire, restore, undo, photo added, photo retired
    *_documents("before"),
    *_documents("after", needed=True),
)

site_photo = _table(
    "site_photo",
    ("photo_id",),
    *_texts("photo_id", "site_id", "sha256", "media_type", needed=True),
    *_wholes("size_bytes", needed=True),
    *_texts("caption"),
    *_days("taken_on"),
    *_moments("added_at", needed=True),
    *_texts("added_by", needed=True),
    *_flags("retired"),
    *_bytes("content", needed=True),
)

closure = _table(
    "closure",
    ("region_id", "closure_id", "added_at"),
    *_texts("region_id", "closure_id", needed=True),
    *_texts("body_id"),
    *_texts("name", "kind", "reason", needed=True),
    *_days("valid_from", "valid_to"),
    *_withdrawable(),
    _shape("GEOMETRY"),
    layer="closures",
)

level = _table(
    "level",
    ("region_id", "body_id", "read_at", "added_at"),
    *_texts("region_id", "body_id", needed=True),
    Column("level_m", Double, nullable=False),
    *_moments("read_at", needed=True),
    *_moments("until"),
    *_withdrawable(),
)

ranking = _table(
    "ranking",
    ("ranking_id",),
    *_texts("ranking_id", needed=True),
    *_texts("region_id"),
    *_texts("survey_key", needed=True),
    *_moments("asked_at", needed=True),
    *_texts("program"),
    *_documents("question", "answer", needed=True),
)

# The records of a ranking beside its documents, so that a sheet prints exactly what was answered. Compressed.
kept_answer = _table(
    "kept_answer", ("ranking_id",), *_texts("ranking_id", needed=True), *_bytes("record", needed=True)
)

token = _table(
    "token",
    ("token_id",),
    *_texts("token_id", "name", "role", "hash", needed=True),
    *_moments("made_at", needed=True),
    *_moments("expires_at", "revoked_at"),
)

job = _table(
    "job",
    ("job_id",),
    *_texts("job_id", needed=True),
    *_texts("region_id"),
    *_texts("kind", needed=True),
    *_documents("question", needed=True),
    *_texts("state", needed=True),
    *_wholes("progress_done", "progress_total"),
    *_texts("progress_what"),
    *_documents("result", "problem"),
    *_texts("asked_by", needed=True),
    *_moments("asked_at", needed=True),
    *_moments("started_at", "beat_at", "ended_at"),
    *_flags("cancel_asked"),
)

Index("survey_body_by_key", survey_body.c.body_key)
Index("water_body_by_body", water_body.c.body_id)
Index("ranking_by_time", ranking.c.asked_at)
Index("level_by_body", level.c.region_id, level.c.body_id)
Index("site_by_region", site.c.region_id)
Index("photo_by_site", site_photo.c.site_id)

LAYERS: tuple[Table, ...] = tuple(t for t in metadata.sorted_tables if t.info["layer"] is not None)
