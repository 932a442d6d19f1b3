"""The page's modules as one classic script: a browser that opens a page from disk loads no modules.

Each module becomes a function that gives its exports, in the order of the imports. Only the forms that our modules use
are understood; anything else is refused, so that nothing is dropped in silence.
"""

import re
from collections.abc import Mapping
from pathlib import Path

from geo.base.errors import FetchwaterError

_IMPORT = re.compile(r'^import \{([^}]*)\} from "\./(\w+)\.js";$', re.MULTILINE)
_EXPORT = re.compile(r"^export ((?:async function|function\*?|class|const) (\w+))", re.MULTILINE)
_LEFT = re.compile(r"^\s*(?:import|export)\b.*$|\bimport\s*\(|\bimport\.meta\b", re.MULTILINE)
_NAME = re.compile(r"(\w+)(?: as (\w+))?")


class CannotBundle(FetchwaterError):
    """A module uses a form that the bundle does not understand."""


def classic_script(folder: Path, entry: str, instead: Mapping[str, str] | None = None) -> str:
    """Give a module and all that it imports as one classic script.

    Parameters: folder of the modules; entry, a module's name without .js; instead, modules that take another's place.
    Raises: CannotBundle for a form that is not understood, a ring of imports, or a module that is not there.
    """
    made: dict[str, str] = {}
    _add(folder, entry, dict(instead or {}), made, ())
    return '(() => {\n"use strict";\n' + "\n".join(made.values()) + "\n})();\n"


def _add(
    folder: Path, name: str, instead: dict[str, str], made: dict[str, str], above: tuple[str, ...]
) -> None:
    if name in made:
        return
    if name in above:
        raise CannotBundle(f"modules import each other in a ring: {' -> '.join((*above, name))}")
    path = folder / f"{name}.js"
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as problem:
        raise CannotBundle(f"{path}: {problem.strerror}") from problem
    exported = [found[2] for found in _EXPORT.finditer(text)]
    for found in _IMPORT.finditer(text):
        _add(folder, instead.get(found[2], found[2]), instead, made, (*above, name))
    body = _IMPORT.sub(lambda found: _taken(found, instead, path), text)
    body = _EXPORT.sub(r"\1", body)
    left = _LEFT.search(body)
    if left is not None:
        raise CannotBundle(f"{path}: {left[0].strip()!r} is not understood")
    made[name] = f"const module_{name} = (() => {{\n{body}\nreturn {{ {', '.join(exported)} }};\n}})();"


def _taken(found: re.Match[str], instead: dict[str, str], path: Path) -> str:
    names = []
    for part in filter(None, (one.strip() for one in found[1].split(","))):
        match = _NAME.fullmatch(part)
        if match is None:
            raise CannotBundle(f"{path}: import of {part!r} is not understood")
        names.append(match[1] if match[2] is None else f"{match[1]}: {match[2]}")
    return f"const {{ {', '.join(names)} }} = module_{instead.get(found[2], found[2])};"
