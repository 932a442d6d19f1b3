"""Create, replace, update and delete of annotated sites as GeoJSON features (Part 4, OGC 20-002r1).

Nothing is overwritten blindly: an edit names by If-Match the state that it changes. A deleted site is retired: its
history stays and it can be brought back.
"""

import math
from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends, Header, HTTPException, Request, Response
from fastapi.exceptions import RequestValidationError
from pydantic import ValidationError
from shapely import Point
from shapely.geometry import shape as shape_of

from services.http.etags import etag, revision_named
from services.http.rights import PLANNERS, Planner
from services.ogc import geojson, links, parameters
from services.ogc.crs import find, to_lon_lat
from services.ogc.layer import READING_VERBS, FeatureLayer
from services.ogc.source import FeatureSource
from services.store import sites
from services.store.site_record import SiteFields


def _only_editable(request: Request, layer_id: str) -> None:
    """Refuse the verbs of editing where a layer has none. Raises: HTTPException 405, NoSuchThing."""
    if not request.app.state.features.layer(layer_id).editable:
        raise HTTPException(
            405, f"{layer_id} cannot be edited here; only sites can", {"Allow": READING_VERBS}
        )


router = APIRouter(
    prefix="/ogc/collections/{layer_id}/items",
    include_in_schema=False,
    dependencies=[PLANNERS, Depends(_only_editable)],
)
Feature = Annotated[dict[str, Any], Body()]
IfMatch = Annotated[str | None, Header()]
ContentCrs = Annotated[str | None, Header()]


def _editable(request: Request, layer_id: str) -> tuple[FeatureSource, FeatureLayer]:
    parameters.refuse_unknown(request.query_params, ())
    source: FeatureSource = request.app.state.features
    return source, source.layer(layer_id)


def _wrong(field: str, rule: str) -> RequestValidationError:
    return RequestValidationError([{"loc": ("body", field), "msg": rule, "type": "value_error"}])


def _position(geometry: object, source: FeatureSource, content_crs: str | None) -> dict[str, float]:
    crs = find(None if content_crs is None else content_crs.strip("<> "), source.systems, "Content-Crs")
    if not isinstance(geometry, dict) or geometry.get("type") != "Point":
        raise _wrong("geometry", "a site is a Point")
    at = geometry.get("coordinates")
    if not isinstance(at, list) or len(at) not in (2, 3):
        raise _wrong("geometry.coordinates", "needs two numbers")
    if any(isinstance(one, bool) or not isinstance(one, int | float) or not math.isfinite(one) for one in at):
        raise _wrong("geometry.coordinates", "needs two finite numbers")
    point = to_lon_lat(shape_of({"type": "Point", "coordinates": at[:2]}), crs, "geometry.coordinates")
    assert isinstance(point, Point)
    return {"longitude_deg": point.x, "latitude_deg": point.y}


def _attributes(layer: FeatureLayer, given: object) -> dict[str, Any]:
    """What was written, without the attributes that only the store writes, which a client may send back as read."""
    if given is None:
        return {}
    if not isinstance(given, dict):
        raise _wrong("properties", "needs an object")
    own = {name for name in layer.names if name not in SiteFields.model_fields}
    return {name: value for name, value in given.items() if name not in own}


def _fields(values: dict[str, Any]) -> SiteFields:
    try:
        return SiteFields.model_validate({name: value for name, value in values.items() if value is not None})
    except ValidationError as error:
        faults = [{**one, "loc": ("body", "properties", *one["loc"])} for one in error.errors()]
        raise RequestValidationError(faults) from error


def _feature_fields(
    layer: FeatureLayer, source: FeatureSource, feature: dict[str, Any], content_crs: str | None
) -> SiteFields:
    if feature.get("type") != "Feature":
        raise _wrong("type", "a GeoJSON Feature is expected")
    place = _position(feature.get("geometry"), source, content_crs)
    return _fields(_attributes(layer, feature.get("properties")) | place)


def _present(
    source: FeatureSource, layer: FeatureLayer, site_id: str, if_match: str | None
) -> tuple[Any, int]:
    # Looked up as it is served: a site of another region, or a retired one, is not there.
    row = source.item(layer, site_id)
    present = geojson.properties(layer, row)
    return row, revision_named(if_match, present["revision"])


@router.post("", status_code=201)
def create(
    request: Request, layer_id: str, feature: Feature, who: Planner, content_crs: ContentCrs = None
) -> Response:
    """Keep a new site; Location says where."""
    source, layer = _editable(request, layer_id)
    made = sites.create(
        source.engine, source.region_id, _feature_fields(layer, source, feature, content_crs), who
    )
    row = source.item(layer, made.site_id)
    root = links.root_of(request)
    address = links.item_address(root, layer_id, made.site_id)
    found = [*links.both_ways(address, "json", links.GEOJSON, made.site_id)]
    text = geojson.feature(layer, row, source.systems[0], found)
    return Response(text, 201, {"Location": address, "ETag": etag(made.revision)}, links.GEOJSON)


@router.put("/{feature_id:path}", status_code=204)
def replace(
    request: Request,
    layer_id: str,
    feature_id: str,
    feature: Feature,
    who: Planner,
    if_match: IfMatch = None,
    content_crs: ContentCrs = None,
) -> Response:
    """Put a whole feature in the place of another."""
    source, layer = _editable(request, layer_id)
    _, revision = _present(source, layer, feature_id, if_match)
    fields = _feature_fields(layer, source, feature, content_crs)
    done = sites.update_site(source.engine, feature_id, fields, revision, who)
    return Response(None, 204, {"ETag": etag(done.revision)})


@router.patch("/{feature_id:path}", status_code=204)
def update(
    request: Request,
    layer_id: str,
    feature_id: str,
    patch: Feature,
    who: Planner,
    if_match: IfMatch = None,
    content_crs: ContentCrs = None,
) -> Response:
    """Change some attributes, or the place: a merge patch (RFC 7396), null empties an attribute."""
    source, layer = _editable(request, layer_id)
    row, revision = _present(source, layer, feature_id, if_match)
    values = {
        name: value
        for name, value in geojson.properties(layer, row).items()
        if name in SiteFields.model_fields
    }
    point = row[len(layer.key)]
    values |= {"longitude_deg": point.x, "latitude_deg": point.y} | _attributes(
        layer, patch.get("properties")
    )
    if "geometry" in patch:
        values |= _position(patch["geometry"], source, content_crs)
    done = sites.update_site(source.engine, feature_id, _fields(values), revision, who)
    return Response(None, 204, {"ETag": etag(done.revision)})


@router.delete("/{feature_id:path}", status_code=204)
def delete(
    request: Request, layer_id: str, feature_id: str, who: Planner, if_match: IfMatch = None
) -> Response:
    """Retire a site."""
    source, layer = _editable(request, layer_id)
    _, revision = _present(source, layer, feature_id, if_match)
    sites.retire(source.engine, feature_id, revision, who)
    return Response(None, 204)
