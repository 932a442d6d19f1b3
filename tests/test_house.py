"""The shape of the house: who may import whom, and what the documents must name. No numbers are tested here."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
STAGES = ("ingest", "survey", "suitability", "flight", "ranking", "export")
# These join the stages.
COMPOSERS = (
    "assumed.py",
    "closed_air.py",
    "day.py",
    "judge.py",
    "nearest.py",
    "pipeline.py",
    "views.py",
    "sheets.py",
    "sorties.py",
    "supply.py",
    "targets.py",
    "ways_round.py",
    "prospects.py",
    "shortlist.py",
)
SHARED = ("geo.records", "geo.errors", "geo.units", "geo.grid", "geo.geodesy", "geo.outliers", "geo.prepared")
FORBIDDEN_IN_GEO = ("services", "fastapi", "starlette", "uvicorn", "typer", "rich")


def imported_modules(path: Path) -> set[str]:
    """Every module that a file imports, at any depth, with the names taken from packages."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: import modules by their whole name"
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def allowed(module: str, stage: str) -> bool:
    """A stage may import the shared modules and itself; everything outside `geo` is not judged here."""
    if not module.startswith(("geo.", "services.")):
        return True
    return module.startswith((*SHARED, f"geo.{stage}."))


@pytest.mark.parametrize("stage", STAGES)
def test_stages_do_not_import_each_other(stage):
    """A stage hands on records; only geo.pipeline knows the order."""
    wrong = [
        f"{path.relative_to(ROOT)} imports {module}"
        for path in (ROOT / "geo" / stage).rglob("*.py")
        for module in imported_modules(path)
        if not allowed(module, stage)
    ]
    assert wrong == []


def test_shared_modules_import_no_stage():
    """Records and geodesy lie below all stages."""
    files = [*(ROOT / "geo" / "records").glob("*.py"), *(ROOT / "geo").glob("*.py")]
    wrong = [
        f"{path.name} imports {module}"
        for path in files
        if path.name not in COMPOSERS
        for module in imported_modules(path)
        if module.startswith(tuple(f"geo.{stage}" for stage in STAGES))
    ]
    assert wrong == []


def test_nothing_is_prepared_where_threads_could_meet_in_it():
    """GEOS' prepared geometries are not thread-safe (libgeos issue 825): `geo.prepared` has the lock."""
    wrong = [
        str(path.relative_to(ROOT))
        for path in [*(ROOT / "geo").rglob("*.py"), *(ROOT / "services").rglob("*.py")]
        if path.name != "prepared.py" and "shapely.prepare(" in path.read_text(encoding="utf-8")
    ]
    assert wrong == []


def test_geo_knows_no_service_and_prints_nothing():
    """`geo` computes; it neither serves nor talks."""
    for path in (ROOT / "geo").rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        modules = imported_modules(path)
        assert not [m for m in modules if m.split(".")[0] in FORBIDDEN_IN_GEO], path
        calls = [n for n in ast.walk(tree) if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)]
        assert not [n.lineno for n in calls if n.func.id == "print"], path


def test_store_file_is_opened_by_sqlite3_alone():
    """Two SQLite libraries on the store in one process lose commits; the store's modules must not know GDAL."""
    for path in (ROOT / "services" / "store").rglob("*.py"):
        modules = imported_modules(path)
        assert not [
            m for m in modules if m.split(".")[0] in ("pyogrio", "geopandas", "rasterio", "fiona", "osgeo")
        ], path


def test_locks_carry_hashes_and_no_address():
    """A lock pins by hash and names no index."""
    for name in ("requirements.lock", "requirements-data.lock"):
        text = (ROOT / name).read_text()
        assert "://" not in text and "--index" not in text
        pins = [line for line in text.splitlines() if "==" in line]
        assert pins and all(line.rstrip().endswith("\\") for line in pins)


def test_every_public_function_has_a_docstring():
    """The house style: what it gives, units, errors, source."""
    bare = []
    for path in (*(ROOT / "geo").rglob("*.py"), *(ROOT / "services").rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        assert path.name == "__init__.py" or ast.get_docstring(tree), f"{path}: module docstring"
        bare += [
            f"{path.relative_to(ROOT)}:{node.lineno} {node.name}"
            for node in tree.body
            if isinstance(node, ast.FunctionDef | ast.ClassDef)
            and not node.name.startswith("_")
            and ast.get_docstring(node) is None
        ]
    assert bare == []
