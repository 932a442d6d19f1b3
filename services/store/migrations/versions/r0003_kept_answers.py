"""Rankings keep their records beside their documents, so that a sheet prints exactly what was answered.

Rankings that were asked before stay without one: they can be read, and their sheet asks for a new question.
"""

from alembic import op

from services.store.geopackage import add_to_contents
from services.store.migrations.frozen import table

revision = "0003"
down_revision = "0002"

_TABLES = {
    "kept answers": table(
        "kept_answer",
        "ranking_id",
        """ranking_id text!, record bytes!""",
    ),
}


def upgrade() -> None:
    """Add the table of the records."""
    connection = op.get_bind()
    for title, made in _TABLES.items():
        made.create(connection)
        if connection.dialect.name == "sqlite":
            add_to_contents(connection, made, title)
