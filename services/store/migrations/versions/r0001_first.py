"""The first store: surveys as whole records, and rankings. Its file was fetchwater.sqlite, its mark user_version 1."""

from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the two tables of the first store."""
    blob = "BLOB" if op.get_bind().dialect.name == "sqlite" else "BYTEA"
    op.execute(
        "CREATE TABLE survey (key TEXT PRIMARY KEY, region_name TEXT NOT NULL, fingerprint TEXT NOT NULL, "
        f"settings TEXT NOT NULL, program TEXT NOT NULL, made_at TEXT NOT NULL, record {blob} NOT NULL)"
    )
    op.execute(
        "CREATE TABLE ranking (ranking_id TEXT PRIMARY KEY, survey_key TEXT NOT NULL, asked_at TEXT NOT NULL, "
        "question TEXT NOT NULL, answer TEXT NOT NULL)"
    )
