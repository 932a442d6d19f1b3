"""What some tests need beside Python and the pinned packages, and what brings it; the run's last lines count by it."""

import shutil
import subprocess
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from geo.base.errors import MissingLibrary
from tests.services import postgis

CHROMIUM = Path("/usr/bin/chromium")
# QGIS is a package of the system's Python, which no environment of ours sees.
QGIS_PYTHON = Path("/usr/bin/python3")
OGC_SUITE = Path(__file__).resolve().parents[1] / ".venv-ogc" / "bin" / "python"
_PREFIX = "needs "


def _program(name: str) -> Callable[[], bool]:
    return lambda: shutil.which(name) is not None


def _pango() -> bool:
    """True where the program itself can load what lays out its sheets."""
    from geo.export.sheets import paper

    try:
        paper._library()
    except MissingLibrary:
        return False
    return True


def _dejavu() -> bool:
    if shutil.which("fc-list") is None:
        return False
    fonts = subprocess.run(["fc-list", ":", "family"], capture_output=True, text=True, check=True).stdout
    return "DejaVu Sans" in fonts


def _qgis() -> bool:
    if not QGIS_PYTHON.exists():
        return False
    words = [str(QGIS_PYTHON), "-c", "import qgis.core"]
    return subprocess.run(words, capture_output=True, check=False).returncode == 0


def _shorelines() -> bool:
    from tests.real.shorelines import data_folder

    return data_folder() is not None


@dataclass(frozen=True)
class Need:
    """One thing that a machine may lack: how to see that it is there, and the command that brings it."""

    is_here: Callable[[], bool]
    brought_by: str


NEEDS = {
    "PostGIS": Need(
        lambda: postgis.why_absent() is None,
        f"apt install postgresql-NN-postgis-3 (NN: its version), or {postgis.URL_VARIABLE}",
    ),
    "Chromium": Need(CHROMIUM.exists, "apt install chromium"),
    "Pango": Need(
        _pango, "apt install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core"
    ),
    "QGIS": Need(_qgis, "apt install python3-qgis"),
    "ogr2ogr": Need(_program("ogr2ogr"), "apt install gdal-bin"),
    "curl": Need(_program("curl"), "apt install curl"),
    "pdftoppm": Need(_program("pdftoppm"), "apt install poppler-utils"),
    "DejaVu Sans": Need(_dejavu, "apt install fontconfig fonts-dejavu-core"),
    "setpriv": Need(_program("setpriv"), "apt install util-linux"),
    "Node.js": Need(_program("node"), "apt install nodejs"),
    "shoreline data": Need(_shorelines, "make setup"),
    "OGC suite": Need(OGC_SUITE.exists, "make setup"),
}


@cache
def _is_here(name: str) -> bool:
    return NEEDS[name].is_here()


def why_not(*names: str) -> str | None:
    """Give the reason to skip what needs all of these; None where all are here."""
    missing = [name for name in names if not _is_here(name)]
    return _PREFIX + ", ".join(missing) if missing else None


def needs(*names: str) -> pytest.MarkDecorator:
    """Give the mark of tests that are skipped where one of these is missing."""
    reason = why_not(*names)
    return pytest.mark.skipif(reason is not None, reason=str(reason))


def require(*names: str) -> None:
    """Skip the test that runs, or asks for the fixture that runs, where one of these is missing."""
    reason = why_not(*names)
    if reason is not None:
        pytest.skip(reason)


def table(reasons: Iterable[str]) -> list[str]:
    """Give a line for each reason of skipped tests, most frequent first: how many, what is missing, what brings it."""
    counted = Counter(reasons)
    lines = [f"{counted.total()} tests were skipped:"] if counted else []
    for reason, count in sorted(counted.items(), key=lambda one: (-one[1], one[0])):
        names = reason.removeprefix(_PREFIX).split(", ") if reason.startswith(_PREFIX) else []
        known = [NEEDS[name].brought_by for name in names if name in NEEDS]
        lines.append(f"{count:5}  {reason}{': ' if known else ''}{'; '.join(known)}")
    return lines
