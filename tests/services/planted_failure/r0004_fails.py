"""A second migration, for the tests alone, that stops half way."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Change the store, then stop.

    Raises: RuntimeError always.
    """
    op.add_column("token", sa.Column("planted", sa.Text))
    op.execute("DELETE FROM site")
    raise RuntimeError("the power fails here")
