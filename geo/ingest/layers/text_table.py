"""A CSV table of words, without places: levels and closures of the day."""

from collections.abc import Sequence

from geo.base.errors import BadInput
from geo.base.fault import Fault
from geo.ingest.files.csv_table import text_rows
from geo.ingest.files.refusal import Refusal


def table_rows(data: bytes, file: str, columns: Sequence[str]) -> list[tuple[int, dict[str, str]]]:
    """Give the rows of a CSV table as text by column, each with its line in the file.

    Parameters: columns, those that are known; file, where a refusal says that the table stands.
    Raises: BadInput for what is no sound table, and for each column that is not known.
    """
    try:
        rows = text_rows(data)
    except Refusal as refusal:
        words = {key: value for key, value in refusal.fault.items() if value is not None}
        raise BadInput([Fault(file=file, **words)]) from refusal
    unknown = sorted(set(rows[0][1]) - set(columns))
    if unknown:
        rule, fix = "the column is not known", f"known are {', '.join(columns)}"
        raise BadInput([Fault("refuse", file, rule, fix, field=name) for name in unknown])
    return rows
