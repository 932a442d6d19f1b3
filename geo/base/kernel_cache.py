"""Compiled kernels that are never older than their sources.

numba keeps what it compiled under a digest of the one file that defines a kernel. What it compiled holds code and
constants of other modules too: after a change in one of those, old code would run without a word. Importing this
module makes numba keep the kernels of each file in a folder whose name is a digest of that file and of every file of
this house that it imports, directly or through others. Each package with kernels imports it in its `__init__.py`.

Source: numba's manual, "Notes on Caching": changes of symbols that another file defines are not recognised. Its setting
CACHE_LOCATOR_CLASSES names locators of one's own.
"""

import re
import shutil
from collections.abc import Iterator
from functools import cache
from hashlib import sha256
from pathlib import Path

from numba.core import caching, config

HOUSE = Path(__file__).resolve().parents[2]


# Read by their lines, because a syntax tree of each file would take a tenth of a second of every command.
FROM = re.compile(rb"^[ \t]*from[ \t]+([\w.]+)[ \t]+import[ \t]+(\([^)]*\)|[^\n]*)", re.MULTILINE)
IMPORT = re.compile(rb"^[ \t]*import[ \t]+([^\n#]*)", re.MULTILINE)
NAME = re.compile(r"[\w.]+")


def imported_names(source: bytes) -> Iterator[str]:
    """Give every module that a source imports by its whole name, and the names taken from it, which may be modules."""
    for line in IMPORT.findall(source):
        yield from NAME.findall(line.decode())
    for module, names in FROM.findall(source):
        yield module.decode()
        yield from (f"{module.decode()}.{name}" for name in NAME.findall(names.decode()))


@cache
def _imported_files(path: Path) -> frozenset[Path]:
    places = {HOUSE.joinpath(*name.split(".")) for name in imported_names(path.read_bytes())}
    files = {file for place in places for file in (place.with_suffix(".py"), place / "__init__.py")}
    return frozenset(file for file in files if file.is_file())


@cache
def source_digest(path: Path) -> str:
    """Give a digest of a file and of every file of this house that it imports, directly or through others.

    Raises: OSError when one cannot be read.
    """
    found, waiting = {path}, [path]
    while waiting:
        new = _imported_files(waiting.pop()) - found
        found |= new
        waiting.extend(new)
    total = sha256()
    for one in sorted(found):
        total.update(f"{one.name}\n".encode() + sha256(one.read_bytes()).digest())
    return total.hexdigest()[:16]


class _UnderDigest:
    """What turns one of numba's locators into one whose folder is named after all sources of a kernel's file."""

    _py_file: str

    def get_cache_path(self) -> str:
        """Give the folder of the kernels of this file, as they are today."""
        file = Path(self._py_file).resolve()
        above = super().get_cache_path()  # type: ignore[misc]  # numba's locator, which stands beside this class
        return str(Path(above) / f"kernels.{file.stem}.{source_digest(file)}")

    @classmethod
    def from_function(cls, py_func: object, py_file: str) -> "_UnderDigest | None":
        """Give the locator, or None where the folder cannot be written; folders of older sources go."""
        made = super().from_function(py_func, py_file)  # type: ignore[misc]
        if made is not None:
            own = Path(made.get_cache_path())
            for other in own.parent.glob(f"kernels.{Path(py_file).stem}.*"):
                if other != own:
                    shutil.rmtree(other, ignore_errors=True)
        return made


class NamedFolder(_UnderDigest, caching.UserProvidedCacheLocator):
    """Under the folder that NUMBA_CACHE_DIR names."""


class BesideSource(_UnderDigest, caching.InTreeCacheLocator):
    """In `__pycache__` beside the source."""


class UsersFolder(_UnderDigest, caching.UserWideCacheLocator):
    """In the user's own cache folder, where the source cannot be written to."""


# numba makes the names of its settings as it runs. Its own locators of notebooks and archives stay, for other code.
config.CACHE_LOCATOR_CLASSES = ",".join(  # type: ignore[attr-defined]
    [f"{__name__}.{one.__name__}" for one in (NamedFolder, BesideSource, UsersFolder)]
    + [caching.IPythonCacheLocator.__name__, caching.ZipCacheLocator.__name__]
)
