"""The shape of the house: who may import whom, and what the documents must name. No numbers are tested here."""

import ast
import importlib
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
GEO_SHARED = ("geo.base", "geo.records")
SERVICES_SHARED = (*GEO_SHARED, "services.errors", "services.settings", "services.store")
# What each room may import of this house, beside itself. There are no exceptions.
MAY_IMPORT = {
    "geo/base": (),
    "geo/records": ("geo.base",),
    "geo/ingest": GEO_SHARED,
    "geo/survey": GEO_SHARED,
    "geo/suitability": GEO_SHARED,
    "geo/flight": GEO_SHARED,
    "geo/ranking": GEO_SHARED,
    "geo/export": GEO_SHARED,
    "geo/search": (*GEO_SHARED, "geo.suitability", "geo.flight", "geo.ranking"),
    "geo/today": (*GEO_SHARED, "geo.ingest"),
    "geo/products": (*GEO_SHARED, "geo.export"),
    "geo/pipeline.py": ("geo",),
    "services/errors.py": ("geo.base",),
    "services/settings.py": ("geo.base",),
    "services/store": (*GEO_SHARED, "services.errors", "services.settings"),
    "services/core": (*SERVICES_SHARED, "geo.pipeline"),
    "services/http": (*SERVICES_SHARED, "services.core"),
    "services/ogc": (*SERVICES_SHARED, "services.core", "services.http"),
    "services/pages": (*SERVICES_SHARED, "services.core", "services.http"),
    "services/app.py": (*SERVICES_SHARED, "services.core", "services.http", "services.ogc", "services.pages"),
    "services/cli": (*SERVICES_SHARED, "services.core", "services.app"),
    "services/__main__.py": ("services.cli",),
}
MOST_LINES_OF_BODY, MOST_PARAMETERS, MOST_COMPLEXITY, MOST_LINES_OF_MODULE = 40, 8, 12, 350
# Doors for callers outside this house, who name these parameters: they keep their signature.
DOORS = {"usable_run": 10, "depth_field": 11}
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


def files_of(room: str) -> list[Path]:
    """The Python files of a room: a folder, or one module."""
    place = ROOT / room
    return [place] if place.suffix else sorted(place.rglob("*.py"))


def within(module: str, rooms: tuple[str, ...]) -> bool:
    """True when a module is one of these rooms or lies in one; what is not of this house is not judged here."""
    if module.split(".", maxsplit=1)[0] not in ("geo", "services"):
        return True
    return any(module == room or module.startswith(f"{room}.") for room in rooms)


@pytest.mark.parametrize("room", MAY_IMPORT)
def test_each_room_imports_only_what_it_may(room):
    """Stages hand on records and never meet; only `geo.pipeline` knows the order; services see geo through it alone."""
    allowed = (*MAY_IMPORT[room], room.removesuffix(".py").replace("/", "."))
    wrong = [
        f"{path.relative_to(ROOT)} imports {module}"
        for path in files_of(room)
        for module in sorted(imported_modules(path))
        if not within(module, allowed)
    ]
    assert wrong == []


def test_every_module_lies_in_a_room():
    """A new folder or a module beside the rooms needs a rule of its own."""
    judged = {path for room in MAY_IMPORT for path in files_of(room)}
    house = {path for root in ("geo", "services") for path in (ROOT / root).rglob("*.py")}
    empty = {path for path in house - judged if not path.read_text(encoding="utf-8").strip()}
    assert house - judged - empty == set()


def test_nothing_is_prepared_where_threads_could_meet_in_it():
    """GEOS' prepared geometries are not thread-safe (libgeos issue 825): `geo.base.prepared` has the lock."""
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
    for name in ("requirements.lock", "requirements-test.lock", "requirements-data.lock"):
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
            # A signature for the type checker alone: the function below it has the docstring.
            and not any(ast.unparse(mark) == "overload" for mark in node.decorator_list)
            and ast.get_docstring(node) is None
        ]
    assert bare == []


Function = ast.FunctionDef | ast.AsyncFunctionDef


@cache
def functions() -> list[tuple[str, Function]]:
    """Every function of the house, methods and inner ones too, with where it stands."""
    return [
        (f"{path.relative_to(ROOT)} {node.name}", node)
        for root in ("geo", "services")
        for path in sorted((ROOT / root).rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, Function)
    ]


def lines_of_body(function: Function) -> int:
    """Lines from the first statement after the docstring to the last."""
    documented = ast.get_docstring(function) is not None and len(function.body) > 1
    return (function.end_lineno or 0) - function.body[1 if documented else 0].lineno + 1


def parameters(function: Function) -> int:
    """Named parameters; `self` and `cls` are not counted."""
    given = function.args
    names = [one.arg for one in (*given.posonlyargs, *given.args)]
    return len(names) + len(given.kwonlyargs) - (names[:1] in (["self"], ["cls"]))


def complexity(function: Function) -> int:
    """Cyclomatic complexity after McCabe 1976, IEEE Trans. Softw. Eng. SE-2(4):308-320: decisions plus one."""
    branches = (
        ast.If, ast.For, ast.While, ast.ExceptHandler, ast.IfExp, ast.comprehension, ast.Assert, ast.match_case
    )  # fmt: skip
    nodes = list(ast.walk(function))
    joined = sum(len(node.values) - 1 for node in nodes if isinstance(node, ast.BoolOp))
    return 1 + joined + sum(isinstance(node, branches) for node in nodes)


@pytest.mark.parametrize(
    ("measure", "most"),
    [(lines_of_body, MOST_LINES_OF_BODY), (parameters, MOST_PARAMETERS), (complexity, MOST_COMPLEXITY)],
)
def test_functions_stay_small(measure: Callable[[Function], int], most: int):
    """A function that is longer, wider or more tangled than this is two."""
    sizes = [(place, measure(function)) for place, function in functions()]
    doors = DOORS if measure is parameters else {}
    seen = {place.split()[1]: size for place, size in sizes if place.split()[1] in doors}
    assert seen == doors, "a door that is none any more"
    wrong = [f"{place}: {size}" for place, size in sizes if size > doors.get(place.split()[1], most)]
    assert not wrong, "\n".join(wrong)


def test_modules_stay_small():
    """A module fits into one sitting."""
    sizes = {
        str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines())
        for root in ("geo", "services")
        for path in (ROOT / root).rglob("*.py")
    }
    wrong = [f"{place}: {size}" for place, size in sizes.items() if size > MOST_LINES_OF_MODULE]
    assert not wrong, "\n".join(wrong)


def test_public_functions_that_raise_say_so():
    """The docstring of a public function with a `raise` of its own names what it raises."""
    silent = [
        place
        for place, function in functions()
        if not function.name.startswith("_")
        and any(isinstance(node, ast.Raise) and node.exc is not None for node in ast.walk(function))
        and "Raises" not in (ast.get_docstring(function) or "")
    ]
    assert not silent, "\n".join(silent)


# What programs outside this repository call; renaming one breaks them.
CALLED_FROM_OUTSIDE = {
    "geo.pipeline": "load check settings_of survey assess fire fire_asked target in_wind_field rank answer fleet "
    "summary export_ranking export_survey export_runs survey_layers water_features outline_in_degrees plot_body "
    "plot_cycle",
    "geo.survey.runs": "longest_run run_rose usable_run",
    "geo.survey.depth": "depth_field run_depth_probability",
    "geo.flight.wind": "ground_speed",
    "geo.flight.atmosphere": "density_altitude_m pressure_altitude_m",
}


@pytest.mark.parametrize("module", CALLED_FROM_OUTSIDE)
def test_the_doors_for_outside_callers_stay(module):
    """A room may change behind its door."""
    found = importlib.import_module(module)
    assert [
        name for name in CALLED_FROM_OUTSIDE[module].split() if not callable(getattr(found, name, None))
    ] == []


def test_the_pipeline_stays_on_a_page():
    """The whole product is to be read at one sitting."""
    assert len((ROOT / "geo" / "pipeline.py").read_text(encoding="utf-8").splitlines()) <= 250
