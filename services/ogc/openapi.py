"""The API definition of the features: OpenAPI 3.0, its paths relative to the landing page.

It is written here and not taken from the web framework, because that emits OpenAPI 3.1, which conformance class oas30
does not allow and which its own switch to 3.0 does not cure (the result is invalid).
"""

from services.core.problems import PROBLEM_SCHEMA
from services.http.error_answers import PROBLEM
from services.ogc.crs import Crs
from services.ogc.layer import FeatureLayer, Property
from services.ogc.links import GEOJSON, HTML, JSON, OPENAPI, SCHEMA
from services.ogc.parameters import DEFAULT_LIMIT, ITEMS_PARAMETERS, MOST_FEATURES, MOST_OFFSET

_LINKED = {"type": "object", "required": ["links"], "properties": {"links": {"type": "array"}}}
_FEATURE = {
    "type": "object",
    "required": ["type", "geometry", "properties"],
    "properties": {
        "type": {"type": "string", "enum": ["Feature"]},
        "id": {"type": "string"},
        "geometry": {"type": "object", "nullable": True},
        "properties": {"type": "object", "nullable": True},
        "links": {"type": "array", "items": {"type": "object"}},
    },
}
_COLLECTION_OF_FEATURES = {
    "type": "object",
    "required": ["type", "features"],
    "properties": {
        "type": {"type": "string", "enum": ["FeatureCollection"]},
        "features": {"type": "array", "items": {"$ref": "#/components/schemas/feature"}},
        "links": {"type": "array", "items": {"type": "object"}},
        "timeStamp": {"type": "string", "format": "date-time"},
        "numberMatched": {"type": "integer", "minimum": 0},
        "numberReturned": {"type": "integer", "minimum": 0},
    },
}


def definition(
    root: str, layers: tuple[FeatureLayer, ...], systems: tuple[Crs, ...], data_version: str
) -> dict:
    """Give the OpenAPI 3.0 document of the features at `root`."""
    paths: dict[str, dict] = {
        "/": _get("getLandingPage", "Landing page", {JSON: _LINKED, HTML: None}, [_ref("f")]),
        "/conformance": _get(
            "getConformance", "Conformance classes", {JSON: {"type": "object"}, HTML: None}, [_ref("f")]
        ),
        "/api": _get("getApi", "This document", {OPENAPI: {"type": "object"}}, []),
        "/collections": _get("getCollections", "All layers", {JSON: _LINKED, HTML: None}, [_ref("f")]),
    }
    for layer in layers:
        paths |= _layer_paths(layer)
    return {
        "openapi": "3.0.3",
        "info": {
            "title": "Fetchwater features",
            "version": data_version,
            "description": "Surveyed water sources as OGC API - Features. Advisory only: the pilot in command decides.",
        },
        "servers": [{"url": root}],
        "paths": paths,
        "components": {
            "schemas": {
                "feature": _FEATURE,
                "featureCollection": _COLLECTION_OF_FEATURES,
                "problem": PROBLEM_SCHEMA,
            },
            "parameters": _parameters(systems),
            "responses": {
                "Problem": {
                    "description": "What was wrong, with the field and the fix (RFC 9457)",
                    "content": {PROBLEM: {"schema": {"$ref": "#/components/schemas/problem"}}},
                }
            },
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
        },
    }


def _ref(name: str) -> dict:
    return {"$ref": f"#/components/parameters/{name}"}


def _query(name: str, schema: dict, text: str) -> dict:
    return {
        "name": name,
        "in": "query",
        "required": False,
        "style": "form",
        "explode": False,
        "description": text,
        "schema": schema,
    }


def _parameters(systems: tuple[Crs, ...]) -> dict:
    uris = {"type": "string", "format": "uri", "enum": [crs.uri for crs in systems]}
    text = {"type": "string"}
    box = {"type": "array", "items": {"type": "number"}, "minItems": 4, "maxItems": 6}
    languages = {**text, "enum": ["cql2-text", "cql2-json"], "default": "cql2-text"}
    limits = {"type": "integer", "minimum": 1, "maximum": MOST_FEATURES, "default": DEFAULT_LIMIT}
    offsets = {"type": "integer", "minimum": 0, "maximum": MOST_OFFSET, "default": 0}
    queries: dict[str, tuple[dict, str]] = {
        "f": ({**text, "enum": ["json", "html"]}, "format of the answer"),
        "limit": (limits, "features on a page"),
        "offset": (offsets, "features left out before the page"),
        "bbox": (box, "west, south, east, north; west above east crosses the antimeridian"),
        "bbox-crs": (uris, "system of bbox"),
        "crs": (uris, "system of the answer"),
        "datetime": (text, "a time or an interval (RFC 3339)"),
        "filter": (text, "a CQL2 filter"),
        "filter-lang": (languages, "language of the filter"),
        "filter-crs": (uris, "system of the filter's shapes"),
    }
    return {name: _query(name, *about) for name, about in queries.items()} | {
        "featureId": _other("featureId", "path", True, "id of a feature"),
        "If-Match": _other("If-Match", "header", False, "the ETag under which the feature was read"),
    }


def _other(name: str, place: str, required: bool, text: str) -> dict:
    return {
        "name": name,
        "in": place,
        "required": required,
        "description": text,
        "schema": {"type": "string"},
    }


def _problems(*statuses: int) -> dict:
    # 401, 403 and 429 follow the settings of rights, so that any request may meet them.
    return {
        str(code): {"$ref": "#/components/responses/Problem"}
        for code in sorted({*statuses, 400, 401, 403, 429})
    }


def _get(
    name: str, text: str, content: dict[str, dict | None], parameters: list[dict], *problems: int
) -> dict:
    described = {media: {} if schema is None else {"schema": schema} for media, schema in content.items()}
    answers = {"200": {"description": text, "content": described}} | _problems(*problems)
    return {"get": {"operationId": name, "summary": text, "parameters": parameters, "responses": answers}}


def _layer_paths(layer: FeatureLayer) -> dict[str, dict]:
    base, name = f"/collections/{layer.layer_id}", layer.layer_id
    one, many = ({"$ref": f"#/components/schemas/{kind}"} for kind in ("feature", "featureCollection"))
    asked = [_ref(parameter) for parameter in ITEMS_PARAMETERS]
    asked += [_query(p.name, _query_schema(p), p.meaning) for p in layer.properties]
    items = _get(f"get_{name}_items", f"Features of {layer.title}", {GEOJSON: many, HTML: None}, asked, 404)
    reading = [_ref("featureId"), _ref("f"), _ref("crs")]
    item = _get(f"get_{name}_item", f"One feature of {layer.title}", {GEOJSON: one, HTML: None}, reading, 404)
    if layer.editable:
        items["post"] = _editing(f"create_{name}", "Create", [], "201", GEOJSON, one)
        at = [_ref("featureId"), _ref("If-Match")]
        item["put"] = _editing(f"replace_{name}", "Replace", at, "204", GEOJSON, one)
        item["patch"] = _editing(
            f"update_{name}", "Update", at, "204", "application/merge-patch+json", {"type": "object"}
        )
        item["delete"] = _editing(f"delete_{name}", "Delete (kept, and can be brought back)", at, "204")
    return {
        base: _get(f"get_{name}", layer.title, {JSON: {"type": "object"}, HTML: None}, [_ref("f")], 404),
        f"{base}/queryables": _get(
            f"get_{name}_queryables",
            "What can be asked",
            {SCHEMA: {"type": "object"}, HTML: None},
            [_ref("f")],
            404,
        ),
        f"{base}/items": items,
        f"{base}/items/{{featureId}}": item,
    }


def _query_schema(one: Property) -> dict:
    return {key: value for key, value in one.schema.items() if key in ("type", "format")}


def _editing(
    name: str,
    text: str,
    parameters: list[dict],
    status: str,
    media: str | None = None,
    schema: dict | None = None,
) -> dict:
    body = (
        {} if media is None else {"requestBody": {"required": True, "content": {media: {"schema": schema}}}}
    )
    done = {
        status: {
            "description": "Done; ETag names the new state" if status != "201" else "Created; see Location"
        }
    }
    return {
        "operationId": name,
        "summary": text,
        "parameters": parameters,
        "security": [{}, {"token": []}],
        "responses": done | _problems(404, 405, 412, 413, 415, 422, 428),
    } | body
