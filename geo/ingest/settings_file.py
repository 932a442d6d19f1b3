"""Reads region.toml. What is wrong in it is told, left out, and the rest is used to look for more faults."""

import copy
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any, get_args, get_origin

from pydantic import ValidationError

from geo.ingest.checks.report import FileReport, Report
from geo.ingest.settings import FILE_NAME, RegionSettings

MAX_BYTES = 1024 * 1024
UNKNOWN_KEY = "the key is unknown"
UNDECLARED_DATUM = ""  # no user can write it: an empty text is refused
# What stands in for a general key that is wrong, so that the sections can still be read. Nothing is made of it.
STAND_INS = {"name": "?", "vertical_datum": "?", "metric_crs": "auto"}


def read_settings(folder: Path, report: Report) -> RegionSettings | None:
    """Give the settings of a region folder, None (with faults) when the file cannot be read at all.

    Notes: with faults, the settings are those that are left without the wrong keys and, where a section cannot do
    without them, without the section; `vertical_datum` is then UNDECLARED_DATUM where it was wrong and `water` may be
    None. The report blocks, so that no region is made of them.
    """
    data = _parsed(folder, report.about(FILE_NAME))
    return None if data is None else settings_from(data, report)


def settings_from(data: dict[str, Any], report: Report) -> RegionSettings:
    """Give the settings of a parsed region.toml; of one with faults what is left without them."""
    try:
        return RegionSettings.model_validate(data)
    except ValidationError as invalid:
        errors = invalid.errors(include_url=False)
    # What stands at a column that is none of ours is not judged beside.
    strangers = {_place(error) for error in errors if error["loc"] != _place(error)}
    for error in errors:
        if error["loc"] not in strangers:
            _report_error(report.about(FILE_NAME), error, data)
    return _what_is_left(data, errors, report)


def _parsed(folder: Path, here: FileReport) -> dict[str, Any] | None:
    path = folder / FILE_NAME
    if not path.is_file():
        here.add("refuse", f"there is no {FILE_NAME} in {folder}", "name a region folder, or write the file")
        return None
    try:
        if path.stat().st_size > MAX_BYTES:
            here.add("refuse", "the file is over 1 MiB", "keep data out of it", value=path.stat().st_size)
            return None
        return tomllib.loads(path.read_text("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        here.add("refuse", f"the file is not TOML: {error}", "mend it there")
    except OSError as error:
        here.add("refuse", f"the file cannot be opened ({error.strerror})", "check who may read it")
    return None


def _what_is_left(data: dict[str, Any], errors: list[Any], report: Report) -> RegionSettings:
    left = copy.deepcopy(data)
    wrong_names = {error["loc"][0] for error in errors if len(error["loc"]) == 1}
    for error in errors:
        _leave_out(left, _place(error), report)
    left.update({key: value for key, value in STAND_INS.items() if key in wrong_names})
    try:
        settings = RegionSettings.model_validate({"water": None, **left})
    except ValidationError as invalid:
        for error in invalid.errors(include_url=False):
            left.pop(str(error["loc"][0]), None)
        settings = RegionSettings.model_validate({"water": None, **left})
    if "vertical_datum" in wrong_names:
        return settings.model_copy(update={"vertical_datum": UNDECLARED_DATUM})
    return settings


def _leave_out(left: dict[str, Any], place: tuple[int | str, ...], report: Report) -> None:
    """Take a wrong key out, and settle what would be asked because it is not there."""
    section = left.get(str(place[0]))
    if len(place) > 1 and isinstance(section, dict):
        report.settled.add((None, ".".join(str(key) for key in place)))
        if len(place) == 2 and isinstance(section.get("file"), str):
            report.settled.add((section["file"], str(place[-1])))
    inner: Any = left
    for key in place[:-1]:
        inner = inner.get(key) if isinstance(inner, dict) else None
    if isinstance(inner, dict):
        inner.pop(place[-1], None)


def _keys_known(section: tuple[int | str, ...]) -> str:
    """Name the keys of a section, or of the whole description for an empty place."""
    model: Any = RegionSettings
    for name in section:
        # One of a list of sections, whose model was taken with the list, or a user's own name in a table of them.
        if isinstance(name, int) or name not in model.model_fields:
            continue
        annotation = model.model_fields[name].annotation
        parts = get_args(annotation) or (annotation,)
        model = parts[-1] if get_origin(annotation) is dict else parts[0]
    return ", ".join(model.model_fields)


def _value_at(data: dict[str, Any], place: Sequence[str | int]) -> Any:
    found: Any = data
    for key in place:
        found = found[key]
    return found


def _report_error(report: FileReport, error: Any, data: dict[str, Any]) -> None:
    place, kind = _place(error), error["type"]
    name, value = ".".join(str(key) for key in place), error["input"]
    if kind == "extra_forbidden":
        report.add("refuse", UNKNOWN_KEY, f"use one of: {_keys_known(place[:-1])}", field=name, value=value)
    elif len(place) < len(error["loc"]):
        fix = f"use one of: {error['ctx']['expected']}".replace("'", "")
        report.add("refuse", UNKNOWN_KEY, fix, field=name, value=_value_at(data, place))
    elif kind != "missing":
        rule = error["msg"][0].lower() + error["msg"][1:]
        report.add("refuse", rule, "mend the value", field=name, value=value)
    elif place[-1] == "vertical_datum":
        fix = 'declare it, for example vertical_datum = "EGM2008"'
        report.add("ask", "heights need a named vertical datum", fix, field=name)
    else:
        report.add("refuse", "the key is missing", f"add {name} to {FILE_NAME}", field=name)


def _place(error: Any) -> tuple[int | str, ...]:
    """Give where an error is; the library marks one of a key itself (no column of ours) by "[key]"."""
    place = error["loc"]
    return place[:-1] if place[-1] == "[key]" else place
