"""Create, replace, update and delete of annotated sites as GeoJSON features (Part 4, OGC 20-002r1).

Nothing is overwritten blindly: an edit names by If-Match the state that it changes. A deleted site is retired: its
history stays and it can be brought back.
"""

import math
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Body, Depends, Header, HTTPException, Request, Response
from fastapi.exceptions import RequestValidationError
from pydantic import ValidationError
from shapely import Point
from shapely.geometry import shape as shape_of

from services.http.etags import etag, revision_named
from services.http.parameter_checks import refuse_unknown
from services.http.rights import PLANNERS, Planner
from services.ogc import geojson, links
from services.ogc.crs import Crs, find, to_lon_lat
from services.ogc.layer import READING_VERBS, FeatureLayer
from services.ogc.source import FeatureSource
from services.store import sites
from services.store.site_record import SiteFields, SiteRecord

router = APIRouter(
    prefix="/ogc/collections/{layer_id}/items", include_in_schema=False, dependencies=[PLANNERS]
)
Feature = Annotated[dict[str, Any], Body()]
IfMatch = Annotated[str | None, Header()]


def _wrong(field: str, rule: str) -> RequestValidationError:
    return RequestValidationError([{"loc": ("body", field), "msg": rule, "type": "value_error"}])


@dataclass(frozen=True)
class _Edit:
    """One edit: the features as planners see them, the layer, and the system of the positions that were sent."""

    source: FeatureSource
    layer: FeatureLayer
    crs: Crs

    def present(self, site_id: str, if_match: str | None) -> tuple[Any, int]:
        """Give a feature's row and the revision that the edit means to change."""
        # Looked up as it is served: a site of another region, or a retired one, is not there.
        row = self.source.item(self.layer, site_id)
        return row, revision_named(if_match, geojson.properties(self.layer, row)["revision"])

    def position(self, geometry: object) -> dict[str, float]:
        """Give the place of a point. Raises: RequestValidationError, BadQuery for what is no point on Earth."""
        if not isinstance(geometry, dict) or geometry.get("type") != "Point":
            raise _wrong("geometry", "a site is a Point")
        at = geometry.get("coordinates")
        if not isinstance(at, list) or len(at) not in (2, 3):
            raise _wrong("geometry.coordinates", "needs two numbers")
        if any(
            isinstance(one, bool) or not isinstance(one, int | float) or not math.isfinite(one) for one in at
        ):
            raise _wrong("geometry.coordinates", "needs two finite numbers")
        point = to_lon_lat(
            shape_of({"type": "Point", "coordinates": at[:2]}), self.crs, "geometry.coordinates"
        )
        assert isinstance(point, Point)
        return {"longitude_deg": point.x, "latitude_deg": point.y}

    def attributes(self, given: object) -> dict[str, Any]:
        """Give what was written, without what only the store writes, which a client may send back as read.

        Raises: RequestValidationError for what is no object.
        """
        if given is None:
            return {}
        if not isinstance(given, dict):
            raise _wrong("properties", "needs an object")
        own = {name for name in self.layer.names if name not in SiteFields.model_fields}
        return {name: value for name, value in given.items() if name not in own}

    def fields(self, feature: dict[str, Any]) -> SiteFields:
        """Give what a whole feature says of a site. Raises: RequestValidationError, BadQuery."""
        if feature.get("type") != "Feature":
            raise _wrong("type", "a GeoJSON Feature is expected")
        place = self.position(feature.get("geometry"))
        return _checked(self.attributes(feature.get("properties")) | place)


async def _edit(
    request: Request, layer_id: str, content_crs: Annotated[str | None, Header()] = None
) -> _Edit:
    """Give what an edit needs. Raises: HTTPException 405 where a layer has none; BadQuery, NoSuchThing."""
    source: FeatureSource = request.app.state.features
    layer = source.layer(layer_id)
    if not layer.editable:
        raise HTTPException(
            405, f"{layer_id} cannot be edited here; only sites can", {"Allow": READING_VERBS}
        )
    refuse_unknown(request.query_params, ())
    crs = find(None if content_crs is None else content_crs.strip("<> "), source.systems, "Content-Crs")
    return _Edit(source, layer, crs)


Edit = Annotated[_Edit, Depends(_edit)]


def _checked(values: dict[str, Any]) -> SiteFields:
    try:
        return SiteFields.model_validate({name: value for name, value in values.items() if value is not None})
    except ValidationError as error:
        faults = [{**one, "loc": ("body", "properties", *one["loc"])} for one in error.errors()]
        raise RequestValidationError(faults) from error


def _changed(site: SiteRecord) -> Response:
    return Response(None, 204, {"ETag": etag(site.revision)})


@router.post("", status_code=201)
def create(request: Request, edit: Edit, feature: Feature, who: Planner) -> Response:
    """Keep a new site; Location says where."""
    source, layer = edit.source, edit.layer
    made = sites.create(source.engine, source.region_id, edit.fields(feature), who)
    address = links.item_address(links.root_of(request), layer.layer_id, made.site_id)
    found = links.both_ways(address, "json", links.GEOJSON, made.site_id)
    text = geojson.feature(layer, source.item(layer, made.site_id), source.systems[0], found)
    return Response(text, 201, {"Location": address, "ETag": etag(made.revision)}, links.GEOJSON)


@router.put("/{feature_id:path}", status_code=204)
def replace(
    edit: Edit, feature_id: str, feature: Feature, who: Planner, if_match: IfMatch = None
) -> Response:
    """Put a whole feature in the place of another."""
    _, revision = edit.present(feature_id, if_match)
    return _changed(sites.update_site(edit.source.engine, feature_id, edit.fields(feature), revision, who))


@router.patch("/{feature_id:path}", status_code=204)
def update(edit: Edit, feature_id: str, patch: Feature, who: Planner, if_match: IfMatch = None) -> Response:
    """Change some attributes, or the place: a merge patch (RFC 7396), null empties an attribute."""
    row, revision = edit.present(feature_id, if_match)
    point = row[len(edit.layer.key)]
    present = geojson.properties(edit.layer, row)
    values = {name: value for name, value in present.items() if name in SiteFields.model_fields}
    values |= {"longitude_deg": point.x, "latitude_deg": point.y}
    values |= edit.attributes(patch.get("properties"))
    if "geometry" in patch:
        values |= edit.position(patch["geometry"])
    return _changed(sites.update_site(edit.source.engine, feature_id, _checked(values), revision, who))


@router.delete("/{feature_id:path}", status_code=204)
def delete(edit: Edit, feature_id: str, who: Planner, if_match: IfMatch = None) -> Response:
    """Retire a site."""
    _, revision = edit.present(feature_id, if_match)
    sites.retire(edit.source.engine, feature_id, revision, who)
    return Response(None, 204)
