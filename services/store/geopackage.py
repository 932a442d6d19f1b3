"""What makes a SQLite file a GeoPackage 1.3 (OGC 12-128r17): its own tables, and an R*Tree with triggers per layer.

Written through SQLAlchemy, so that no second SQLite library touches the file.
"""

from sqlalchemy import Connection, Table

from services.store.column_types import instant_text, now
from services.store.geometry import SRID, Geometry

APPLICATION_ID = 0x47504B47  # "GPKG"
USER_VERSION = 10300
_RTREE_DEFINITION = "http://www.geopackage.org/spec120/#extension_rtree"

# EPSG:4326 as WKT 1; a GeoPackage stores longitude first. Requirement 11 asks for the two undefined systems too.
_WGS_84 = (
    'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],'
    'AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,'
    'AUTHORITY["EPSG","9122"]],AXIS["Latitude",NORTH],AXIS["Longitude",EAST],AUTHORITY["EPSG","4326"]]'
)
_SYSTEMS = (
    ("WGS 84 geodetic", SRID, "EPSG", 4326, _WGS_84, "longitude and latitude in degrees on WGS 84"),
    *(
        (
            f"Undefined {kind} SRS",
            number,
            "NONE",
            number,
            "undefined",
            f"undefined {kind} coordinate reference system",
        )
        for kind, number in (("Cartesian", -1), ("geographic", 0))
    ),
)
# The definitions of annex C of the standard.
_TABLES = (
    """CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY,
    organization TEXT NOT NULL, organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL,
    description TEXT)""",
    """CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL,
    identifier TEXT UNIQUE, description TEXT DEFAULT '',
    last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
    min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
    CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id))""",
    """CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL,
    geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
    CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
    CONSTRAINT uk_gc_table_name UNIQUE (table_name),
    CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
    CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id))""",
    """CREATE TABLE gpkg_extensions (table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL,
    definition TEXT NOT NULL, scope TEXT NOT NULL,
    CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name))""",
)
# Annex F.3 of the standard, with the table and its geometry column put in. fid is the key of each of our tables.
_RTREE = (
    "CREATE VIRTUAL TABLE rtree_{t}_{c} USING rtree(id, minx, maxx, miny, maxy)",
    """CREATE TRIGGER rtree_{t}_{c}_insert AFTER INSERT ON {t}
    WHEN (new.{c} NOT NULL AND NOT ST_IsEmpty(NEW.{c})) BEGIN
    INSERT OR REPLACE INTO rtree_{t}_{c} VALUES ({box}); END""",
    """CREATE TRIGGER rtree_{t}_{c}_update1 AFTER UPDATE OF {c} ON {t}
    WHEN OLD.fid = NEW.fid AND (NEW.{c} NOTNULL AND NOT ST_IsEmpty(NEW.{c})) BEGIN
    INSERT OR REPLACE INTO rtree_{t}_{c} VALUES ({box}); END""",
    """CREATE TRIGGER rtree_{t}_{c}_update2 AFTER UPDATE OF {c} ON {t}
    WHEN OLD.fid = NEW.fid AND (NEW.{c} ISNULL OR ST_IsEmpty(NEW.{c})) BEGIN
    DELETE FROM rtree_{t}_{c} WHERE id = OLD.fid; END""",
    """CREATE TRIGGER rtree_{t}_{c}_update3 AFTER UPDATE ON {t}
    WHEN OLD.fid != NEW.fid AND (NEW.{c} NOTNULL AND NOT ST_IsEmpty(NEW.{c})) BEGIN
    DELETE FROM rtree_{t}_{c} WHERE id = OLD.fid;
    INSERT OR REPLACE INTO rtree_{t}_{c} VALUES ({box}); END""",
    """CREATE TRIGGER rtree_{t}_{c}_update4 AFTER UPDATE ON {t}
    WHEN OLD.fid != NEW.fid AND (NEW.{c} ISNULL OR ST_IsEmpty(NEW.{c})) BEGIN
    DELETE FROM rtree_{t}_{c} WHERE id IN (OLD.fid, NEW.fid); END""",
    """CREATE TRIGGER rtree_{t}_{c}_delete AFTER DELETE ON {t} WHEN old.{c} NOT NULL BEGIN
    DELETE FROM rtree_{t}_{c} WHERE id = OLD.fid; END""",
)
_BOX = "NEW.fid, ST_MinX(NEW.{c}), ST_MaxX(NEW.{c}), ST_MinY(NEW.{c}), ST_MaxY(NEW.{c})"


def geometry_column(table: Table) -> str | None:
    """Give the name of a table's geometry column, None where it has none."""
    return next((column.name for column in table.columns if isinstance(column.type, Geometry)), None)


def make_geopackage(connection: Connection) -> None:
    """Write the GeoPackage's own tables and marks into an open SQLite transaction."""
    for definition in _TABLES:
        connection.exec_driver_sql(definition)
    for system in _SYSTEMS:
        connection.exec_driver_sql("INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, ?)", system)
    connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")
    connection.exec_driver_sql(f"PRAGMA user_version={USER_VERSION}")


def add_to_contents(connection: Connection, table: Table, title: str) -> None:
    """List a table among the contents: as a layer with its R*Tree where it has a geometry, else as plain attributes."""
    column = geometry_column(table)
    kind, srs = ("attributes", None) if column is None else ("features", SRID)
    connection.exec_driver_sql(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, last_change, srs_id) VALUES (?, ?, ?, ?, ?)",
        (table.name, kind, title, instant_text(now()), srs),
    )
    if column is None:
        return
    shaped = table.c[column].type
    assert isinstance(shaped, Geometry)
    connection.exec_driver_sql(
        "INSERT INTO gpkg_geometry_columns VALUES (?, ?, ?, ?, 0, 0)", (table.name, column, shaped.kind, SRID)
    )
    connection.exec_driver_sql(
        "INSERT INTO gpkg_extensions VALUES (?, ?, 'gpkg_rtree_index', ?, 'write-only')",
        (table.name, column, _RTREE_DEFINITION),
    )
    for statement in rtree_statements(table.name, column):
        connection.exec_driver_sql(statement)


def rtree_statements(table: str, column: str) -> tuple[str, ...]:
    """Give the statements that make the R*Tree of a layer and keep it in step."""
    box = _BOX.format(c=column)
    return tuple(statement.format(t=table, c=column, box=box) for statement in _RTREE)
