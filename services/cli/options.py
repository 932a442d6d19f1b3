"""Options that several commands share, each with its one sentence of help.

Those of a question are made from its model (`services.core.typed`), so that they are written once; only what a terminal
takes otherwise than the service, files above all, stands here.
"""

import inspect
from collections.abc import Callable, Collection
from functools import wraps
from pathlib import Path
from typing import Annotated, Any

import typer
from pydantic.fields import FieldInfo

from services.core.typed import TypedFire

RegionArg = Annotated[Path, typer.Argument(help="region folder, the one that holds region.toml")]
JsonOpt = Annotated[bool, typer.Option("--json", help="print one JSON document instead of tables")]
LEVEL_HELP = "another level of a water today, may be repeated: BODY=212.4 (metres) or BODY=696ft"
LevelOpt = Annotated[list[str] | None, typer.Option("--level", help=LEVEL_HELP)]
OutOpt = Annotated[Path | None, typer.Option("--out", help="folder for the files")]
FormatsOpt = Annotated[
    str | None,
    typer.Option(
        "--formats", help="any of gpkg,geojson,fgb,parquet,shp,kml,kmz,gpx,csv,png, separated by commas"
    ),
]
ByOpt = Annotated[str | None, typer.Option("--by", help="author recorded; default: who is logged in")]

# What a terminal takes otherwise than the service: type and help.
_AT_A_TERMINAL: dict[str, tuple[Any, str]] = {
    "fire": (str, "fire: id or name in the region, or a file with its outline"),
    "target": (
        str,
        "where loads go: edge (the nearest safe one), head, flank, middle, or a GeoJSON line of the active flank",
    ),
    "wind_profile": (
        str | None,
        "wind by height: power:0.14 (grows from --wind at 10 m above the ground), ground:300m=310/25kt,... or "
        "sea:3000ft=300/20kt,...; --wind then holds at the waters",
    ),
    "wind_field": (
        Path | None,
        "GeoTIFF of two bands, u and v in m/s, for the legs; --wind then holds at the waters",
    ),
    "levels": (list[str] | None, LEVEL_HELP),
}
_OWN_AIRCRAFT = "aircraft profile: a built-in name or the path of your own TOML file"


def asks(
    model: type[TypedFire],
    *,
    leave_out: Collection[str] = (),
    only_with_fire: Collection[str] = (),
    **defaults: Any,
) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command one option for each word of a question; it gets them together, as its parameter `typed`.

    Parameters: leave_out, words that this command does not take; only_with_fire, words that may be left out here, and
    count only with --fire; defaults, in place of those of the model.
    """
    fields = {name: field for name, field in model.model_fields.items() if name not in leave_out}

    def decorate(command: Callable[..., None]) -> Callable[..., None]:
        options = []
        for name, field in fields.items():
            hint, default = _option(name, field, only_with_fire)
            options.append(_parameter(name, hint, defaults.get(name, default)))
        own = [
            _parameter(one.name, one.annotation, one.default)
            for one in inspect.signature(command).parameters.values()
            if one.name != "typed"
        ]
        # What must be given comes first, and of that the fire.
        together = sorted(
            (*own[:1], *options, *own[1:]),
            key=lambda one: (one.default is not one.empty, one.name not in ("region", "fire")),
        )

        @wraps(command)
        def run(**given: Any) -> None:
            words = {name: given.pop(name) for name in fields}
            if "levels" in words:
                words["levels"] = words["levels"] or []
            # Not held against the limits of the service; what reads the words refuses what cannot be used.
            command(typed=model.model_construct(**words), **given)

        run.__signature__ = inspect.Signature(together)  # type: ignore[attr-defined]  # read by typer
        run.__annotations__ = {one.name: one.annotation for one in together}
        return run

    return decorate


def _parameter(name: str, hint: Any, default: Any) -> inspect.Parameter:
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=hint)


def _option(name: str, field: FieldInfo, only_with_fire: Collection[str]) -> tuple[Any, Any]:
    """Give the annotation and the default of the option for one word."""
    hint, words = _AT_A_TERMINAL.get(name, (field.annotation, _described(field)))
    if name == "aircraft" and not field.is_required():
        words = _OWN_AIRCRAFT
    default = inspect.Parameter.empty if field.is_required() else field.default
    if name == "levels":
        name, default = "level", None
    if name in only_with_fire:
        hint, default = str | None, None
        words = words if name == "fire" else f"with --fire: {words}"
    least = next((one.ge for one in field.metadata if hasattr(one, "ge")), None)
    return Annotated[hint, typer.Option(f"--{name.replace('_', '-')}", help=words, min=least)], default


def _described(field: FieldInfo) -> str:
    examples = [one for one in field.examples or () if isinstance(one, str)]
    return f"{field.description}: {' or '.join(examples)}" if examples else str(field.description)
