"""The service's own OpenAPI document, and the page /docs made of it: every request with its fields."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, JSONResponse

from services.http.rights import READERS
from services.ogc.html_pages import render

router = APIRouter(include_in_schema=False, dependencies=[READERS])


@router.get("/openapi.json")
async def openapi_document(request: Request) -> JSONResponse:
    """The document, OpenAPI 3.1."""
    return JSONResponse(request.app.openapi())


@router.get("/docs")
def reference(request: Request) -> HTMLResponse:
    """The page."""
    document = request.app.openapi()
    schemas = document.get("components", {}).get("schemas", {})
    paths = {
        path: {verb: one | {"fields": _fields(one, schemas)} for verb, one in verbs.items()}
        for path, verbs in document["paths"].items()
    }
    return HTMLResponse(render("reference", {"info": document["info"], "paths": paths, "links": []}))


def _fields(operation: dict[str, Any], schemas: dict[str, Any]) -> list[dict[str, Any]]:
    """The fields of a request's JSON body, where it has one."""
    content = operation.get("requestBody", {}).get("content", {}).get("application/json", {})
    schema = content.get("schema", {})
    schema = schemas.get(schema.get("$ref", "").rpartition("/")[2], schema)
    needed = schema.get("required", [])
    return [
        {"name": name, "schema": one, "needed": name in needed}
        for name, one in schema.get("properties", {}).items()
    ]
