"""Every fault of a request as a problem document (RFC 9457); `services.errors.STATUS_TABLE` has the statuses."""

from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException
from starlette.routing import Match
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from geo.base.errors import FetchwaterError
from services.core.problems import PROBLEM_SCHEMA, problem
from services.errors import classify

PROBLEM = "application/problem+json"
# What any route may answer beside its own; each is in the OpenAPI document.
_STATUSES = (400, 401, 403, 404, 412, 413, 415, 422, 428, 429, 503)
PROBLEMS: dict[int | str, dict[str, Any]] = {
    status: {"description": HTTPStatus(status).phrase, "content": {PROBLEM: {"schema": PROBLEM_SCHEMA}}}
    for status in _STATUSES
}
_VERBS = ("GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE")
# What the framework says where bytes are no text.
_UNREADABLE = "There was an error parsing the body"


def _answer(
    path: str, status: int, title: str, headers: dict[str, str] | None = None, **more: Any
) -> JSONResponse:
    body = {"type": "about:blank", "title": title, "status": status, "instance": path} | more
    return JSONResponse(body, status, headers, PROBLEM)


def _own(request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, FetchwaterError)
    body = problem(error, request.url.path)
    # What to sign in with, or how long to wait.
    return JSONResponse(body, classify(error)[1], getattr(error, "headers", None), PROBLEM)


def _http(request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, HTTPException)
    more = {}
    if error.detail == _UNREADABLE:
        more["detail"] = "the body is no JSON in UTF-8, or is nested too deep. Fix: send plain JSON in UTF-8"
    headers = dict(error.headers or {})
    if error.status_code == 405 and error.detail == HTTPStatus(405).phrase:
        headers["Allow"] = ", ".join(_allowed(request))
    return _answer(request.url.path, error.status_code, error.detail, headers, **more)


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
    detail = "; ".join(f"{fault['field']}: {fault['rule']}" for fault in faults)
    return _answer(request.url.path, status, "The request does not fit", detail=detail, errors=faults)


def _internal(request: Request, error: Exception) -> JSONResponse:
    # What went wrong inside is for the log, never for the client.
    detail = "the reason is in the log of the service. Fix: tell who runs it the time and what was asked"
    return _answer(request.url.path, 500, "The service met a fault of its own", detail=detail)


def answer_with_problems(app: FastAPI) -> None:
    """Make an app answer every fault with a problem document."""
    app.add_exception_handler(FetchwaterError, _own)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(Exception, _internal)


class LimitedApp(FastAPI):
    """FastAPI with a limit on the body whose refusal is a problem document."""

    def build_middleware_stack(self) -> ASGIApp:
        """Give the library's stack; its limit answers 413 in plain text before any handler is asked."""
        within = super().build_middleware_stack()

        async def limited(scope: Scope, receive: Receive, send: Send) -> None:
            replaced = False

            async def told(message: Message) -> None:
                nonlocal replaced
                if message["type"] == "http.response.start" and message["status"] == 413:
                    replaced = True
                    await _too_large(scope["path"], self.max_body_size)(scope, receive, send)
                elif not replaced:
                    await send(message)

            await within(scope, receive, told)

        return limited


def _too_large(path: str, limit_bytes: int | None) -> JSONResponse:
    detail = (
        f"the body is over the limit of {limit_bytes} bytes. Fix: send less, or set FETCHWATER_MAX_BODY_BYTES"
    )
    return _answer(path, 413, "The request body is too large", detail=detail)
