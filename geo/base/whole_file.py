"""Files that are written whole or not at all: a private name beside the target, flushed to disk, then swapped in."""

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


def _flush(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _flush_folder(folder: Path) -> None:
    # Windows cannot open a folder as a file; there the rename itself is the best that can be done.
    if os.name != "nt":
        _flush(folder)


@contextmanager
def private_folder(beside: Path) -> Iterator[Path]:
    """Give a new hidden folder inside `beside`, so on the same disk; it goes with all it holds at the end.

    Notes: `beside` is made where it is not there yet, and goes again where nothing was put into it.
    """
    made = not beside.exists()
    beside.mkdir(parents=True, exist_ok=True)
    folder = Path(tempfile.mkdtemp(prefix=".unfinished-", dir=beside))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        if made:
            with suppress(OSError):  # it holds something by now
                beside.rmdir()


def put_in_place(finished: Path, target: Path) -> Path:
    """Swap a finished file in under its name. The old file, if any, is there until the new one is whole on disk.

    Raises: OSError when the disk refuses; then the old file is as it was.
    """
    _flush(finished)
    # mkdtemp's folders are private to the user; the file itself gets the rights that any new file would get.
    os.replace(finished, target)
    _flush_folder(target.parent)
    return target


@contextmanager
def whole_file(target: Path) -> Iterator[Path]:
    """Give a private path with the target's own file name; after the block it becomes the target.

    If the block raises, the target stays as it was and nothing is left behind.

    Notes: everything a format's library puts beside its file (journals, side files) lies in the private folder and
    goes with it.
    """
    target = Path(target)
    with private_folder(target.parent) as folder:
        private = folder / target.name
        yield private
        put_in_place(private, target)


def write_whole(target: Path, write: Callable[[Path], object]) -> Path:
    """Let `write` make a file under a private path; give the target, which it then has become, as `whole_file`."""
    with whole_file(target) as private:
        write(private)
    return Path(target)


def write_whole_text(target: Path, text: str) -> Path:
    """Write a text as UTF-8, whole or not at all. Raises: OSError when the disk refuses."""
    return write_whole(target, lambda private: private.write_text(text, encoding="utf-8"))
