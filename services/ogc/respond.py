"""The answers' outer form: JSON or HTML by `f` or by Accept, with the headers that the standard asks for."""

import json
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from services.errors import BadQuery
from services.ogc.crs import Crs
from services.ogc.html_pages import render
from services.ogc.links import HTML, JSON


def form_of(request: Request) -> str:
    """Give "json" or "html": what `f` says, else what Accept prefers.

    Raises: BadQuery for another `f`.
    """
    asked = request.query_params.get("f")
    if asked is not None:
        if asked not in ("json", "html"):
            raise BadQuery("f", "format not known", "json or html")
        return asked
    accepted = request.headers.get("accept", "*/*").lower()
    at = {kind: accepted.find(kind) for kind in ("text/html", "json")}
    return "html" if at["text/html"] >= 0 and (at["json"] < 0 or at["text/html"] < at["json"]) else "json"


def answer(
    form: str, page: str, body: dict[str, Any], media_type: str = JSON, beside: dict[str, Any] | None = None
) -> Response:
    """Give a resource as JSON, or as the HTML page of that name, which may need more than the resource holds."""
    if form == "html":
        return Response(render(page, body | (beside or {})), 200, _headers(), HTML)
    return Response(json.dumps(body, ensure_ascii=False, allow_nan=False), 200, _headers(), media_type)


def text_answer(text: str, media_type: str, crs: Crs | None = None, etag: str | None = None) -> Response:
    """Give a ready text, with Content-Crs (Part 2, /req/crs/ogc-crs-header) and ETag where they apply."""
    more = {} if crs is None else {"Content-Crs": f"<{crs.uri}>"}
    more |= {} if etag is None else {"ETag": etag}
    return Response(text, 200, _headers() | more, media_type)


def _headers() -> dict[str, str]:
    # The same address answers in two formats, and shows contacts to planners only.
    return {"Vary": "Accept, Authorization"}
