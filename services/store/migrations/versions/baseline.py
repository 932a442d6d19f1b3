"""The schema that the first release begins with.

A new store is made whole from `tables.py` and marked with the newest revision, so nothing is done here. The next change
of a table is a file beside this one, with this revision as its `down_revision`; stores made before it run it once.
"""

revision = (
    "0003"  # the number that trial stores of the same schema carry, so that they open without a migration
)
down_revision = None


def upgrade() -> None:
    """Leave the store as it is: `upgrade.make_store` made its tables."""
