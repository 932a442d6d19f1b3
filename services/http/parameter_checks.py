"""What is refused of every request before its route reads it: parameters that it does not have, doubled JSON names."""

import json
from collections.abc import Iterable
from typing import Any

from fastapi import Request
from fastapi.exceptions import RequestValidationError
from starlette.datastructures import QueryParams

from services.errors import BadQuery


async def refuse_unknown_parameters(request: Request) -> None:
    """Refuse a query parameter that the route does not have, or that comes twice where one is meant.

    Not a plain function: that would go through the few computing threads, and /health would wait for them.
    Raises: BadQuery naming it and the known ones.
    """
    route = request.scope["route"]
    if not request.query_params or not getattr(route, "include_in_schema", False):
        return
    described = request.app.openapi()["paths"][route.path_format][request.method.lower()]
    known = (one["name"] for one in described.get("parameters", ()) if one["in"] == "query")
    refuse_unknown(request.query_params, known)


def refuse_unknown(given: QueryParams, known: Iterable[str]) -> None:
    """Refuse a parameter that is not among those known, or that is given twice (Core /req/core/query-param-unknown).

    Raises: BadQuery naming the parameter and the known ones.
    """
    names = sorted(known)
    for name in given:
        if name not in names:
            cure = f"known are {', '.join(names)}" if names else "leave it out: this takes no parameters"
            raise BadQuery(name[:60], "unknown parameter", cure)
        if len(given.getlist(name)) > 1:
            raise BadQuery(name, "given more than once", "give it once")


async def refuse_doubled_names(request: Request) -> None:
    """Refuse a JSON body in which an object has a name twice: readers differ in which of the two counts (RFC 8259, 4).

    Raises: RequestValidationError naming it.
    """
    if "json" in request.headers.get("content-type", "") and (content := await request.body()):
        json.loads(content, object_pairs_hook=_each_once)


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise RequestValidationError(
            [{"loc": ("body", twice), "msg": "stands twice in one object; keep one", "type": "value_error"}]
        )
    return found
