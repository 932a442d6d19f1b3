"""Every fault of a request as a problem document (RFC 9457), and the refusal of parameters that nobody answers to."""

import json
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException
from starlette.routing import Match

from geo.base.errors import FetchwaterError
from services.core.problems import PROBLEM_SCHEMA, classify, headers_of, problem
from services.errors import BadQuery
from services.http.body_limit import PROBLEM

# What any route may answer beside its own; each is in the OpenAPI document.
_VERBS = ("GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE")
_STATUSES = (400, 401, 403, 404, 412, 413, 415, 422, 428, 429, 503)
PROBLEMS: dict[int | str, dict[str, Any]] = {
    status: {"description": HTTPStatus(status).phrase, "content": {PROBLEM: {"schema": PROBLEM_SCHEMA}}}
    for status in _STATUSES
}


# What the framework says where bytes are no text.
_UNREADABLE = "There was an error parsing the body"


async def refuse_unknown_parameters(request: Request) -> None:
    """Refuse a query parameter that the route does not have, or that comes twice where one is meant.

    Not a plain function: that would go through the few computing threads, and /health would wait for them.
    Raises: BadQuery naming it and the known ones.
    """
    route = request.scope["route"]
    if not request.query_params or not getattr(route, "include_in_schema", False):
        return
    described = request.app.openapi()["paths"][route.path_format][request.method.lower()]
    known = sorted(one["name"] for one in described.get("parameters", ()) if one["in"] == "query")
    for name in request.query_params:
        if name not in known:
            cure = f"known are {', '.join(known)}" if known else "leave it out: this takes no parameters"
            raise BadQuery(name[:60], "unknown parameter", cure)
        if len(request.query_params.getlist(name)) > 1:
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


def _own(request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, FetchwaterError)
    body = problem(error, request.url.path)
    return JSONResponse(body, classify(error)[1], headers_of(error), PROBLEM)


def _http(request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, HTTPException)
    body = {
        "type": "about:blank",
        "title": error.detail,
        "status": error.status_code,
        "instance": request.url.path,
    }
    if error.detail == _UNREADABLE:
        body["detail"] = "the body is no JSON in UTF-8, or is nested too deep. Fix: send plain JSON in UTF-8"
    headers = dict(error.headers or {})
    if error.status_code == 405 and error.detail == HTTPStatus(405).phrase:
        headers["Allow"] = ", ".join(_allowed(request))
    return JSONResponse(body, error.status_code, headers, PROBLEM)


def _allowed(request: Request) -> list[str]:
    # The framework names only the verbs of the first route with this path (RFC 9110, 15.5.6 wants all).
    described = request.app.openapi()["paths"]
    path = getattr(request.scope.get("route"), "path_format", None)
    if path in described:
        found = {method.upper() for method in described[path]}
        return sorted(found | ({"HEAD"} if "GET" in found else set()))

    def served(method: str) -> bool:
        scope = {**request.scope, "method": "GET" if method == "HEAD" else method}
        return any(route.matches(scope)[0] is Match.FULL for route in request.app.router.routes)

    return [method for method in _VERBS if served(method)]


def _invalid(request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, RequestValidationError)
    # The value sent is left out on purpose: a large or secret input must not be echoed.
    faults = [
        {"field": ".".join(str(part) for part in e["loc"])[:200], "rule": e["msg"]}
        for e in error.errors()[:100]
    ]
    # A query that does not fit is 400, as for the features (Core, /req/core/query-param-invalid); a body is 422.
    status = 400 if any(e["loc"] and e["loc"][0] == "query" for e in error.errors()) else 422
    body = {
        "type": "about:blank",
        "title": "The request does not fit",
        "status": status,
        "detail": "; ".join(f"{fault['field']}: {fault['rule']}" for fault in faults),
        "instance": request.url.path,
        "errors": faults,
    }
    return JSONResponse(body, status, None, PROBLEM)


def _internal(request: Request, error: Exception) -> JSONResponse:
    # What went wrong inside is for the log, never for the client.
    body = {
        "type": "about:blank",
        "title": "The service met a fault of its own",
        "status": 500,
        "detail": "the reason is in the log of the service. Fix: tell who runs it the time and what was asked",
        "instance": request.url.path,
    }
    return JSONResponse(body, 500, None, PROBLEM)


def answer_with_problems(app: FastAPI) -> None:
    """Make an app answer every fault with a problem document."""
    app.add_exception_handler(FetchwaterError, _own)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(Exception, _internal)
