"""The same resources as plain HTML pages, for people who look in with a browser."""

from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import jinja2


@cache
def _templates() -> jinja2.Environment:
    made = jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["figure"] = figure
    made.filters["kind"] = kind
    return made


def render(name: str, body: dict[str, Any]) -> str:
    """Give the page of a resource; every text of the data is escaped."""
    return _templates().get_template(f"{name}.html").render(body)


def figure(value: Any) -> str:
    """Give a value for reading: figures with four digits and more are grouped, empty is a dash."""
    if value is None:
        return "–"
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M} UTC"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        size = abs(value)
        return f"{value:,.0f}" if size >= 1000.0 else f"{value:.1f}" if size >= 10.0 else f"{value:.3g}"
    return str(value)


def kind(schema: dict[str, Any]) -> str:
    """Give the kind of a JSON Schema in words: string, list of string, one of a, b, number 1 to 50."""
    if "anyOf" in schema:
        return " or ".join(kind(one) for one in schema["anyOf"] if one.get("type") != "null")
    if "enum" in schema:
        return "one of " + ", ".join(str(one) for one in schema["enum"])
    if schema.get("type") == "array":
        return f"list of {kind(schema.get('items', {}))}"
    ends = [schema.get(name) for name in ("minimum", "maximum")]
    limits = "" if None in ends else f" {ends[0]} to {ends[1]}"
    return f"{schema.get('format') or schema.get('type') or schema.get('const') or 'object'}{limits}"
