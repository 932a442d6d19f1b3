"""OGC API - Features, Parts 1 to 4, under /ogc. Sources: 17-069r4, 18-058r1, 19-079r2, 20-002r1, 21-065r2."""

from datetime import date, datetime
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from services.http.etags import etag
from services.http.parameter_checks import refuse_unknown
from services.http.rights import READERS, sees_contacts
from services.ogc import geojson, links, openapi, parameters
from services.ogc.conformance import CLASSES
from services.ogc.crs import find
from services.ogc.html_pages import render
from services.ogc.layer import READING_VERBS, FeatureLayer
from services.ogc.respond import answer, form_of, text_answer
from services.ogc.source import FeatureSource
from services.store.column_types import instant_text

# Its own OpenAPI 3.0 document describes these routes; the framework's 3.1 document leaves them out.
router = APIRouter(prefix="/ogc", include_in_schema=False, dependencies=[READERS])
TITLE = "Fetchwater features"
ADVICE = "Surveyed water sources. Advisory only: the pilot in command decides."


def source_of(request: Request) -> FeatureSource:
    """Give the features that this process serves, as who asks may see them."""
    source: FeatureSource = request.app.state.features
    return source if sees_contacts(request) else source.for_readers


def _begin(request: Request, *known: str) -> tuple[FeatureSource, str, str]:
    refuse_unknown(request.query_params, ("f", *known))
    return source_of(request), form_of(request), links.root_of(request)


@router.get("")
@router.get("/")
def landing(request: Request) -> Response:
    """The landing page: where everything is."""
    _, form, root = _begin(request)
    body = {
        "title": TITLE,
        "description": ADVICE,
        "links": [
            *links.both_ways(f"{root}/", form, links.JSON, "this page"),
            links.link(f"{root}/api", "service-desc", links.OPENAPI, "the API definition, OpenAPI 3.0"),
            links.link(
                f"{str(request.base_url).rstrip('/')}/docs", "service-doc", links.HTML, "the API for people"
            ),
            links.link(f"{root}/conformance", "conformance", links.JSON, "conformance classes"),
            links.link(f"{root}/collections", "data", links.JSON, "all layers"),
        ],
    }
    return answer(form, "landing", body)


@router.get("/conformance")
def conformance(request: Request) -> Response:
    """The conformance classes that are met."""
    _, form, root = _begin(request)
    body = {
        "conformsTo": list(CLASSES),
        "links": links.both_ways(f"{root}/conformance", form, links.JSON, "this page"),
    }
    return answer(form, "conformance", body)


@router.get("/api")
def definition(request: Request) -> Response:
    """The OpenAPI 3.0 document of these routes."""
    refuse_unknown(request.query_params, ())
    source = source_of(request)
    body = openapi.definition(links.root_of(request), source.layers, source.systems, source.data_version())
    return answer("json", "", body, links.OPENAPI)


@router.get("/collections")
def collections(request: Request) -> Response:
    """All layers."""
    source, form, root = _begin(request)
    body = {
        "links": links.both_ways(f"{root}/collections", form, links.JSON, "all layers"),
        "collections": [_collection(source, layer, root, "json") for layer in source.layers],
        "crs": [crs.uri for crs in source.systems],
    }
    return answer(form, "collections", body)


@router.get("/collections/{layer_id}")
def collection(request: Request, layer_id: str) -> Response:
    """One layer: what it is, where and when, and its links."""
    source, form, root = _begin(request)
    return answer(form, "collection", _collection(source, source.layer(layer_id), root, form))


def _collection(source: FeatureSource, layer: FeatureLayer, root: str, form: str) -> dict[str, Any]:
    address = f"{root}/collections/{layer.layer_id}"
    box, times = source.extent(layer)
    found: dict[str, Any] = {
        "id": layer.layer_id,
        "title": layer.title,
        "description": layer.description,
        "itemType": "feature",
        "crs": [crs.uri for crs in source.systems],
        "storageCrs": source.systems[0].uri,
        "extent": {},
        "links": [
            *links.both_ways(address, form, links.JSON, layer.title),
            links.link(f"{address}/items", "items", links.GEOJSON, f"{layer.title} as GeoJSON"),
            links.link(f"{address}/items?f=html", "items", links.HTML, f"{layer.title} as a page"),
            links.link(
                f"{address}/queryables",
                "http://www.opengis.net/def/rel/ogc/1.0/queryables",
                links.SCHEMA,
                "queryables",
            ),
        ],
    }
    if box is not None:
        found["extent"]["spatial"] = {
            "bbox": [[round(side, 6) for side in box]],
            "crs": source.systems[0].uri,
        }
    if times is not None:
        found["extent"]["temporal"] = {"interval": [[_instant(time) for time in times]]}
    return found


def _instant(moment: date | None) -> str | None:
    # The extent's times are RFC 3339 date-times; a day begins at midnight UTC.
    if moment is None:
        return None
    return instant_text(moment) if isinstance(moment, datetime) else f"{moment.isoformat()}T00:00:00Z"


@router.get("/collections/{layer_id}/queryables")
def queryables(request: Request, layer_id: str) -> Response:
    """What a filter may ask, as JSON Schema (Part 3, 6.2)."""
    source, form, root = _begin(request)
    layer = source.layer(layer_id)
    shapes = {
        "geometry": {"title": "geometry", "format": layer.geometry_type, "description": "its shape, WGS 84"}
    }
    body = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"{root}/collections/{layer_id}/queryables",
        "type": "object",
        "title": layer.title,
        "properties": shapes | {one.name: one.schema for one in layer.properties},
        "additionalProperties": False,
    }
    return answer(form, "queryables", body, links.SCHEMA, {"layer_id": layer_id})


@router.get("/collections/{layer_id}/items")
def items(request: Request, layer_id: str) -> Response:
    """A page of features."""
    source, form, root = source_of(request), form_of(request), links.root_of(request)
    layer = source.layer(layer_id)
    query = parameters.items_query(request.query_params, layer, source.systems)
    page = source.items(layer, query)
    found = links.page_links(f"{root}/collections/{layer_id}/items", query, page.matched, form)
    if form == "json":
        return text_answer(
            geojson.collection(layer, page.rows, query.crs, page.matched, found), links.GEOJSON, query.crs
        )
    body = {
        "title": layer.title,
        "layer_id": layer_id,
        "root": root,
        "matched": page.matched,
        "first": query.offset + 1,
        # Every feature served is of one region: its name would fill the first column.
        "columns": [one for one in layer.properties if one.name != "region_id"],
        "rows": [(geojson.identifier(layer, row), geojson.properties(layer, row)) for row in page.rows],
        "links": found,
    }
    return text_answer(render("items", body), links.HTML, query.crs)


@router.get("/collections/{layer_id}/items/{feature_id:path}")
def item(request: Request, layer_id: str, feature_id: str) -> Response:
    """One feature; of a site with the ETag that an edit must name."""
    source, form, root = _begin(request, "crs")
    layer = source.layer(layer_id)
    crs = find(request.query_params.get("crs"), source.systems, "crs")
    row = source.item(layer, feature_id)
    address = links.item_address(root, layer_id, feature_id)
    found = [
        *links.both_ways(address, form, links.GEOJSON, feature_id),
        links.link(f"{root}/collections/{layer_id}", "collection", links.JSON, layer.title),
    ]
    values = geojson.properties(layer, row)
    state = etag(values["revision"]) if layer.editable else None
    if form == "json":
        return text_answer(geojson.feature(layer, row, crs, found), links.GEOJSON, crs, state)
    shape = row[len(layer.key)]
    body = {
        "title": layer.title,
        "layer_id": layer_id,
        "root": root,
        "feature_id": feature_id,
        "columns": layer.properties,
        "values": values,
        "place": shape.representative_point(),
        "shape": shape.geom_type,
        "links": found,
    }
    return text_answer(render("item", body), links.HTML, crs, state)


@router.options("/collections/{layer_id}/items")
@router.options("/collections/{layer_id}/items/{feature_id:path}")
def verbs(request: Request, layer_id: str, feature_id: str = "") -> Response:
    """Say which verbs a layer or feature takes."""
    layer = request.app.state.features.layer(layer_id)
    editing = ("PUT, PATCH, DELETE" if feature_id else "POST") if layer.editable else ""
    return Response(None, 204, {"Allow": ", ".join(filter(None, (READING_VERBS, editing)))})
