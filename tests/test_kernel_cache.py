"""Compiled kernels are never older than their sources: a change in what a kernel's module imports is noticed.

The reference is the plain Python of the changed source: what it gives is what the compiled caller must give.
That numba alone does not notice it stands in its developer manual, "Notes on Caching", limitations.
"""

import importlib
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from numba.core.dispatcher import Dispatcher

from geo.base.kernel_cache import imported_names
from tests.test_house import ROOT, imported_modules

KERNEL_FILES = sorted(
    file for file in (ROOT / "geo").rglob("*.py") if "from numba import" in file.read_text()
)
FACTOR = "FACTOR = {factor}\n"
CALLEE = (
    "from numba import njit\nfrom geo.rates import FACTOR\n\n"
    "@njit(cache=True)\ndef times(x):\n    return {sign}FACTOR * x\n"
)
CALLER = (
    "import json\nimport geo.base.kernel_cache\nfrom numba import njit\nfrom geo.callee import times\n\n"
    "@njit(cache=True)\ndef twice(x):\n    return 2 * times(x)\n\n"
    "if __name__ == 'geo.caller':\n"
    "    print(json.dumps([twice(10), sum(twice.stats.cache_hits.values()), twice._cache.cache_path]))\n"
)


@pytest.fixture
def house(tmp_path):
    """A house of its own with one kernel that calls a second, which takes a constant from a third file."""
    (tmp_path / "geo" / "base").mkdir(parents=True)
    for file in ("geo/__init__.py", "geo/base/__init__.py"):
        (tmp_path / file).touch()
    (tmp_path / "geo/base/kernel_cache.py").write_bytes((ROOT / "geo/base/kernel_cache.py").read_bytes())
    (tmp_path / "geo/rates.py").write_text(FACTOR.format(factor=3))
    (tmp_path / "geo/callee.py").write_text(CALLEE.format(sign=""))
    (tmp_path / "geo/caller.py").write_text(CALLER)
    return tmp_path


def ask(house: Path) -> tuple[int, int, Path]:
    """What the caller gives in a new process, how many kernels came from the cache, and where they lie."""
    left_out = ("NUMBA_CACHE_DIR", "PYTHONPATH")
    environment = {name: value for name, value in os.environ.items() if name not in left_out}
    environment |= {"PYTHONDONTWRITEBYTECODE": "1", "XDG_CACHE_HOME": str(house / "home")}
    words = [sys.executable, "-c", "import sys; sys.path.insert(0, '.'); import geo.caller"]
    done = subprocess.run(words, cwd=house, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    value, hits, place = json.loads(done.stdout)
    return value, hits, Path(place)


def folders(place: Path) -> list[str]:
    return sorted(one.name for one in place.parent.glob("kernels.*"))


def test_a_change_of_what_a_kernel_calls_or_holds_is_noticed(house):
    value, hits, first = ask(house)
    assert (value, hits) == (60, 0)
    assert ask(house) == (60, 1, first), "what was compiled is used again"
    (house / "geo/callee.py").write_text(CALLEE.format(sign="-"))
    value, hits, second = ask(house)
    assert (value, hits) == (-60, 0)
    (house / "geo/rates.py").write_text(FACTOR.format(factor=5))
    value, hits, third = ask(house)
    assert (value, hits) == (-100, 0)
    assert len({first, second, third}) == 3
    # One folder for each file with kernels: those of older sources are gone.
    assert third.name in folders(third) and len(folders(third)) == 2


def test_where_the_source_cannot_be_written_beside_the_users_folder_is_used(house):
    (house / "geo/__pycache__").touch()
    value, hits, place = ask(house)
    assert (value, hits) == (60, 0) and place.is_relative_to(house / "home")
    assert ask(house) == (60, 1, place)


@pytest.mark.parametrize("file", KERNEL_FILES, ids=lambda file: file.stem)
def test_every_kernel_of_the_house_is_kept_under_all_its_sources(file):
    module = importlib.import_module(".".join(file.relative_to(ROOT).with_suffix("").parts))
    kept = [one._cache.cache_path for one in vars(module).values() if isinstance(one, Dispatcher)]
    assert kept and all(Path(place).name.startswith("kernels.") for place in kept if place is not None)


def test_every_import_is_seen():
    """Held against Python's own parser over all files of the house."""
    files = sorted((ROOT / "geo").rglob("*.py"))
    missed = {file.name: imported_modules(file) - set(imported_names(file.read_bytes())) for file in files}
    assert len(files) > 100 and {name: one for name, one in missed.items() if one} == {}
    source = b"def f():\n    from a.b import (\n        c,  # one\n        d as e,\n    )\n    import g.h as i, j\n"
    assert {"a.b", "a.b.c", "a.b.d", "g.h", "j"} <= set(imported_names(source))
