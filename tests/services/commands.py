"""Commands run in this process, where their numbers and words are tested; whole processes are tested in test_cli."""

from collections.abc import Callable
from pathlib import Path

from click.testing import Result
from typer.testing import CliRunner

from services.cli.main import app


def commands_on(data_dir: Path) -> Callable[..., Result]:
    """Give what runs one command line, word by word, on the store of a folder."""
    environment = {"FETCHWATER_DATA_DIR": str(data_dir), "COLUMNS": "150"}
    return lambda *words: CliRunner().invoke(app, list(map(str, words)), env=environment)
