"""Alembic's entry: runs the migrations on the connection that `upgrade.py` hands over, in its transaction."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], target_metadata=None)
with context.begin_transaction():
    context.run_migrations()
