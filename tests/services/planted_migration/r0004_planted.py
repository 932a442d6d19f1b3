"""A second migration, for the tests alone: tokens and sites gain a column that is filled from the old ones."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add the columns and fill them."""
    op.add_column("token", sa.Column("planted", sa.Text))
    op.add_column("site", sa.Column("planted", sa.Text))
    op.execute("UPDATE token SET planted = name || ' as ' || role")
    op.execute("UPDATE site SET planted = name")
