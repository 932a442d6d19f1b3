"""Every table of the store, once, for both databases. Shapes are WGS 84; instants are UTC; empty means unknown.

Each table has `fid`, the whole-number key that a GeoPackage asks for, and a natural key (`info["key"]`) by which rows
are told apart when one store is copied into another. `info["layer"]` names the tables that a GIS shows as layers.
Columns of measurement carry their unit in the name, as everywhere.
"""

from sqlalchemy import (
    Boolean,
    Column,
    Date,
    Double,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

from services.store.column_types import Instant, JsonText
from services.store.geometry import Geometry

metadata = MetaData()


def _table(name: str, key: tuple[str, ...], *columns: Column, layer: str | None = None) -> Table:
    """Give a table with its fid, its natural key and, for a layer, the title under which a GIS shows it."""
    return Table(
        name,
        metadata,
        Column("fid", Integer, primary_key=True, autoincrement=True),
        *columns,
        UniqueConstraint(*key, name=f"{name}_key"),
        info={"key": key, "layer": layer},
        sqlite_autoincrement=True,
    )


def _text(name: str, *, needed: bool = False) -> Column:
    return Column(name, Text, nullable=not needed)


def _texts(*names: str, needed: bool = False) -> list[Column]:
    return [_text(name, needed=needed) for name in names]


def _reals(*names: str) -> list[Column]:
    return [Column(name, Double) for name in names]


# One row that says how often the store was changed; whoever keeps something in memory asks it whether that still holds.
state = _table(
    "store_state",
    ("name",),
    _text("name", needed=True),
    Column("revision", Integer, nullable=False),
)

region = _table(
    "region",
    ("region_id",),
    _text("region_id", needed=True),  # the region's name: what region.toml calls it
    *_texts("name", "vertical_datum", needed=True),
    _text("crs_wkt", needed=True),  # of the region's metric plane, in which survey records are written
    _text("input_fingerprint", needed=True),
    _text("survey_key"),  # the survey that the layers below show
    Column("updated_at", Instant, nullable=False),
    Column("geom", Geometry("POLYGON"), nullable=False),  # the box round its water
    layer="regions",
)

survey = _table(
    "survey",
    ("survey_key",),
    *_texts("survey_key", "region_id", "input_fingerprint", needed=True),
    Column("inputs", JsonText, nullable=False),  # each file with its SHA-256, and the levels of the day
    Column("parameters", JsonText, nullable=False),
    *_texts("program", "code_fingerprint", needed=True),
    Column("made_at", Instant, nullable=False),
    *_reals("took_s"),
    Column("bodies", Integer, nullable=False),
)

# The whole record of one water body; shared by every survey in which neither its input nor the code changed.
body_survey = _table(
    "body_survey",
    ("body_key",),
    *_texts("body_key", "region_id", "body_id", needed=True),
    Column("made_at", Instant, nullable=False),
    Column("record", LargeBinary, nullable=False),
)

survey_body = _table(
    "survey_body",
    ("survey_key", "ordinal"),
    _text("survey_key", needed=True),
    Column("ordinal", Integer, nullable=False),
    _text("body_key", needed=True),
)

# The three layers below show the survey that counts today; older ones are kept as records only.
water_body = _table(
    "water_body",
    ("region_id", "body_id"),
    *_texts("region_id", "body_id", "body_key", needed=True),
    Column("surveyed_at", Instant, nullable=False),
    *_texts("name", "kind"),
    *_reals("area_m2", "area_today_m2", "perimeter_m", "shoreline_development", "elevation_m"),
    _text("elevation_origin"),
    *_reals("level_change_m"),
    *_texts("salinity_class", "salinity_reason"),
    *_reals("mean_depth_m", "volume_m3", "longest_run_m", "longest_run_true_deg"),
    *_reals("run_depth_95_m", "hover_clear_radius_m", "hover_depth_95_m"),
    *_texts("levels", "next_sounding_ddm", "next_sounding", "greatest_depth", "remarks"),
    Column("geom", Geometry("GEOMETRY"), nullable=False),
    layer="water bodies",
)

run = _table(
    "run",
    ("region_id", "body_id", "ordinal"),
    *_texts("region_id", "body_id", needed=True),
    Column("ordinal", Integer, nullable=False),
    *_texts("name", "search"),
    *_reals("length_m", "upper_bound_m", "heading_true_deg", "corridor_width_m", "depth_95_m"),
    _text("depth_evidence"),
    *_reals("start_excess_m", "end_excess_m"),
    *_texts("start_what", "end_what"),
    *_reals("usable_ahead_m", "usable_back_m"),
    _text("limited_by"),
    Column("geom", Geometry("LINESTRING"), nullable=False),
    layer="runs",
)

hover_point = _table(
    "hover_point",
    ("region_id", "body_id"),
    *_texts("region_id", "body_id", needed=True),
    _text("name"),
    *_reals("clear_radius_m"),
    _text("limited_by"),
    *_reals("depth_95_m"),
    *_texts("depth_evidence", "position_ddm"),
    Column("geom", Geometry("POINT"), nullable=False),
    layer="hover points",
)

evidence = _table(
    "evidence",
    ("region_id", "body_id", "kind"),
    *_texts("region_id", "body_id", needed=True),
    _text("kind", needed=True),  # soundings, depth grid, depth contours, depth areas, stated depth
    Column("points", Integer),
    Column("oldest_on", Date),
    Column("newest_on", Date),
    _text("origin"),
    Column("geom", Geometry("GEOMETRY"), nullable=False),
    layer="depth evidence",
)

site = _table(
    "site",
    ("site_id",),
    *_texts("site_id", "region_id", needed=True),
    _text("body_id"),
    _text("name", needed=True),
    *_texts("place", "method"),
    _text("status", needed=True),  # open, closed, seasonal, unknown
    Column("valid_from", Date),
    Column("valid_to", Date),
    _text("season_from"),  # MM-DD
    _text("season_to"),
    _text("effect", needed=True),  # confirm, limit, veto, note
    *_reals("most_litres"),
    *_texts("hazards", "wires", "access", "owner"),
    _text("permission"),  # granted, not needed, refused
    Column("permission_to", Date),
    _text("contact"),
    Column("inspected_on", Date),
    _text("inspected_by"),
    Column("inspection_due", Date),
    Column("depth_evidence_to", Date),
    _text("note"),
    Column("revision", Integer, nullable=False),
    Column("retired", Boolean(create_constraint=False), nullable=False),
    Column("created_at", Instant, nullable=False),
    Column("updated_at", Instant, nullable=False),
    _text("updated_by", needed=True),
    Column("geom", Geometry("POINT"), nullable=False),
    layer="annotated sites",
)

site_change = _table(
    "site_change",
    ("site_id", "revision"),
    _text("site_id", needed=True),
    Column("revision", Integer, nullable=False),
    Column("changed_at", Instant, nullable=False),
    _text("changed_by", needed=True),
    _text("action", needed=True),  # create, update, retire, restore, undo, photo added, photo retired
    Column("before", JsonText),
    Column("after", JsonText, nullable=False),
)

site_photo = _table(
    "site_photo",
    ("photo_id",),
    *_texts("photo_id", "site_id", "sha256", "media_type", needed=True),
    Column("size_bytes", Integer, nullable=False),
    _text("caption"),
    Column("taken_on", Date),
    Column("added_at", Instant, nullable=False),
    _text("added_by", needed=True),
    Column("retired", Boolean(create_constraint=False), nullable=False),
    Column("content", LargeBinary, nullable=False),
)

closure = _table(
    "closure",
    ("region_id", "closure_id", "added_at"),
    *_texts("region_id", "closure_id", needed=True),
    _text("body_id"),
    _text("name", needed=True),
    _text("kind", needed=True),  # no filling, no flying
    _text("reason", needed=True),
    Column("valid_from", Date),
    Column("valid_to", Date),
    _text("origin", needed=True),
    Column("added_at", Instant, nullable=False),
    _text("added_by", needed=True),
    Column("withdrawn_at", Instant),
    _text("withdrawn_by"),
    Column("geom", Geometry("GEOMETRY"), nullable=False),
    layer="closures",
)

level = _table(
    "level",
    ("region_id", "body_id", "read_at", "added_at"),
    *_texts("region_id", "body_id", needed=True),
    Column("level_m", Double, nullable=False),
    Column("read_at", Instant, nullable=False),
    Column("until", Instant),
    _text("origin", needed=True),
    Column("added_at", Instant, nullable=False),
    _text("added_by", needed=True),
    Column("withdrawn_at", Instant),
    _text("withdrawn_by"),
)

ranking = _table(
    "ranking",
    ("ranking_id",),
    _text("ranking_id", needed=True),
    _text("region_id"),
    _text("survey_key", needed=True),
    Column("asked_at", Instant, nullable=False),
    _text("program"),
    Column("question", JsonText, nullable=False),
    Column("answer", JsonText, nullable=False),
)

# The records of a ranking beside its documents, so that a sheet prints exactly what was answered. Compressed.
kept_answer = _table(
    "kept_answer",
    ("ranking_id",),
    _text("ranking_id", needed=True),
    Column("record", LargeBinary, nullable=False),
)

token = _table(
    "token",
    ("token_id",),
    *_texts("token_id", "name", needed=True),
    _text("role", needed=True),  # reader, planner, administrator
    _text("hash", needed=True),
    Column("made_at", Instant, nullable=False),
    Column("expires_at", Instant),
    Column("revoked_at", Instant),
)

job = _table(
    "job",
    ("job_id",),
    _text("job_id", needed=True),
    _text("region_id"),
    _text("kind", needed=True),
    Column("question", JsonText, nullable=False),
    _text("state", needed=True),
    Column("progress_done", Integer),
    Column("progress_total", Integer),
    _text("progress_what"),
    Column("result", JsonText),
    Column("problem", JsonText),
    _text("asked_by", needed=True),
    Column("asked_at", Instant, nullable=False),
    Column("started_at", Instant),
    Column("beat_at", Instant),
    Column("ended_at", Instant),
    Column("cancel_asked", Boolean(create_constraint=False), nullable=False),
)

Index("survey_body_by_key", survey_body.c.body_key)
Index("water_body_by_body", water_body.c.body_id)
Index("ranking_by_time", ranking.c.asked_at)
Index("level_by_body", level.c.region_id, level.c.body_id)
Index("site_by_region", site.c.region_id)
Index("photo_by_site", site_photo.c.site_id)

LAYERS: tuple[Table, ...] = tuple(t for t in metadata.sorted_tables if t.info["layer"] is not None)
