"""What commands share: a region folder opened, its question read, the store closed again, errors as messages."""

import getpass
import json as json_module
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:  # everything heavy is loaded when it is needed, so that --help answers at once
    from geo.records.question import RankingQuestion
    from services.core.typed import TypedFleet, TypedRanking
    from services.core.workspace import Workspace
    from services.store.store import Store


def answers_errors(command: Callable[..., None]) -> Callable[..., None]:
    """Turn the program's own errors into one clear message on stderr and the exit code of the table."""

    @wraps(command)
    def run(*args: Any, **kwargs: Any) -> None:
        from geo.base.errors import FetchwaterError
        from services.core.problems import problem
        from services.errors import classify

        try:
            command(*args, **kwargs)
        except FetchwaterError as error:
            if kwargs.get("json"):
                print(json_module.dumps(problem(error, f"fetchwater {command.__name__}")), file=sys.stderr)
            else:
                print(error, file=sys.stderr)
            raise typer.Exit(classify(error)[0]) from error

    return run


def print_json(value: object) -> None:
    """Print one JSON document."""
    print(json_module.dumps(value, ensure_ascii=False, allow_nan=False))


def author(by: str | None) -> str:
    """Give who is recorded as the author of a change: as named, else who is logged in."""
    return by if by is not None else getpass.getuser()


@contextmanager
def opened_store() -> Iterator["Store"]:
    """Open the store of the settings, and close it when the work is done."""
    from services.settings import read_settings
    from services.store.store import open_store

    store = open_store(read_settings())
    try:
        yield store
    finally:
        store.close()


@contextmanager
def opened_folder(
    folder: Path, *, quiet: bool, levels: "list[tuple[str, float]] | None" = None
) -> Iterator["Workspace"]:
    """Open a region folder with the store of the settings, surveying what is not known yet behind a bar.

    Parameters: levels, other levels of waters today [m] by id or name.
    """
    from services.cli.tables import progress_bar
    from services.core.workspace import open_workspace

    with opened_store() as store:
        with progress_bar(quiet) as progress:
            workspace = open_workspace(folder, store, progress, levels or ())
        yield workspace


@contextmanager
def opened_for(
    typed: "TypedRanking | TypedFleet", folder: Path, *, quiet: bool
) -> Iterator[tuple["Workspace", "RankingQuestion"]]:
    """Open a region folder for a typed question; give the workspace at its levels, and the question read.

    Raises: BadArgument, BadInput for a word that cannot be used: before the survey, where that can be told.
    """
    from services.core.question import check_words, levels_of, ranking_question

    check_words(typed, files=True)
    with opened_folder(folder, quiet=quiet, levels=levels_of(typed)) as workspace:
        yield workspace, ranking_question(typed, workspace, files=True)
